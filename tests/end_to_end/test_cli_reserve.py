"""Money asked for on the command line."""

from __future__ import annotations

import json
import warnings
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from claimlens.cli import app

with warnings.catch_warnings():
    # the reference library lags behind numpy and pandas; its warnings are not
    # ours to fix
    warnings.simplefilter("ignore")
    import chainladder

CUT = "2025-04-30"
PARTS = [
    "reported and open",
    "failed, not yet reported",
    "to fail under cover",
    "shipped, not yet sold",
    "total",
]

Rows = list[dict[str, object]]


def asked(folder: Path, *words: str) -> Rows:
    """Return the records of a question."""
    arguments = [*words, "--workspace", str(folder), "--format", "json"]
    result = CliRunner().invoke(app, arguments)
    assert result.exit_code == 0, result.output
    return list(json.loads(result.stdout))


def refused(folder: Path, *words: str) -> str:
    result = CliRunner().invoke(app, [*words, "--workspace", str(folder)])
    assert result.exit_code != 0
    return result.output


def number(row: dict[str, object], name: str) -> float:
    return float(str(row[name]))


@pytest.fixture(scope="module")
def rated(filled: Path) -> Path:
    """Return a workspace that reports in one currency, with invented rates."""
    months = [
        f"{year}-{month:02d}" for year in range(2018, 2027) for month in range(1, 13)
    ]
    rates = "".join(
        f'[currency.rates."{name}"]\nCHF = 1.05\nGBP = 1.17\nUSD = 0.92\n'
        for name in months
    )
    settings = filled / "claimlens.toml"
    told = settings.read_text(encoding="utf-8")
    assert "\n[currency]\n" in told
    told = told.replace("\n[currency]\n", '\n[currency]\nreport = "EUR"\n')
    settings.write_text(f"{told}\n{rates}", encoding="utf-8")
    return filled


@pytest.fixture(scope="module")
def reserve(rated: Path) -> Rows:
    """Return the reserve of the whole fleet."""
    return asked(rated, "reserve", "--as-of", CUT)


def test_a_reserve_tells_its_parts_and_their_sum(reserve: Rows) -> None:
    rows = reserve
    assert list(rows[0]) == [
        "part", "claims", "amount", "lower80", "upper80", "lower95", "upper95",
        "currency", "note", "as_of",
    ]  # fmt: skip
    assert [row["part"] for row in rows] == PARTS
    cents = [round(100 * number(row, "amount")) for row in rows]
    assert sum(cents[:-1]) == cents[-1] > 0
    assert "not an accounting opinion" in str(rows[0]["note"])
    assert {row["currency"] for row in rows} == {"EUR"}


def test_model_years_add_up_to_the_whole(rated: Path, reserve: Rows) -> None:
    [whole] = reserve[-1:]
    years = [
        row
        for row in asked(rated, "reserve", "--as-of", CUT, "--by", "model_year")
        if row["part"] == "total"
    ]
    assert len(years) > 3
    total = sum(number(row, "amount") for row in years)
    assert total == pytest.approx(number(whole, "amount"), rel=1e-3)
    width = sum(number(row, "upper80") - number(row, "lower80") for row in years)
    assert number(whole, "upper80") - number(whole, "lower80") < width


def test_a_movement_ends_at_the_reserve(
    rated: Path, reserve: Rows, tmp_path: Path
) -> None:
    sales = tmp_path / "sales.csv"
    lines = [f"2025-{month:02d},125000.00" for month in range(1, 5)]
    sales.write_text("month,value\n" + "\n".join(lines) + "\n", encoding="utf-8")
    rows = asked(
        rated, "reserve", "--movement", "--from", "2024-12-31", "--as-of", CUT,
        "--sales", str(sales),
    )  # fmt: skip
    by_line = {str(row["line"]): row for row in rows}
    assert list(by_line)[-4:] == ["new sales", "paid", "re-estimate", "closing"]
    cents = [round(100 * number(row, "amount")) for row in rows]
    assert sum(cents[:-1]) == cents[-1]
    [whole] = reserve[-1:]
    assert number(by_line["closing"], "amount") == pytest.approx(
        number(whole, "amount"), rel=1e-3
    )
    new = by_line["new sales"]
    assert number(new, "share_of_sales") == pytest.approx(
        number(new, "amount") / 500_000
    )


def test_the_run_off_is_that_of_the_reference_library(rated: Path) -> None:
    """Factors, totals and Mack's errors of the counts, by chainladder."""
    rows = asked(
        rated, "reserve", "--run-off", "--months", "12", "--as-of", "2025-06-30"
    )
    cells = pd.DataFrame(rows[:-1])
    # theirs knows rows of calendar years only, and none that starts with 0
    cells["year"] = pd.to_datetime(cells["service_from"]).dt.year
    assert (cells.loc[cells["months"] == 12, "claims"] > 0).all()
    seen = cells[~cells["is_expected"]]
    frame = pd.DataFrame(
        {
            "origin": seen["year"].map(lambda year: f"{year}-01-01"),
            "seen": [
                f"{year + months // 12 - 1}-12-31"
                for year, months in zip(seen["year"], seen["months"], strict=True)
            ],
            "total": seen["claims"],
        }
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        triangle = chainladder.Triangle(
            frame, origin="origin", development="seen", columns="total", cumulative=True
        )
        developed = chainladder.Development(sigma_interpolation="mack").fit_transform(
            triangle
        )
        model = chainladder.MackChainladder().fit(developed)
        factors = np.ravel(developed.ldf_.values)
        final = np.ravel(model.ultimate_.values)
        errors = np.ravel(model.mack_std_err_.values[..., -1])
        total = float(np.ravel(model.total_mack_std_err_)[0])
    size = len(final)
    assert size >= 5
    ours = cells.iloc[1:size]["claims_factor"].to_numpy(dtype=float)
    np.testing.assert_allclose(ours, factors, rtol=1e-9)
    last = cells[cells["months"] == 12 * size]
    np.testing.assert_allclose(last["claims"].astype(float), final, rtol=1e-9)
    np.testing.assert_allclose(
        last["claims_error"].astype(float), np.nan_to_num(errors), rtol=1e-6, atol=1e-9
    )
    assert number(rows[-1], "claims_error") == pytest.approx(total, rel=1e-6)


def test_a_change_saves_what_its_fault_would_have_cost(demo: Path) -> None:
    """The demo plants a change that helped, and one that did nothing."""
    rows = asked(demo, "reserve", "--life", "--without", "EC-0231,EC-0307")
    by_part = {str(row["part"]): row for row in rows}
    [total, helped] = by_part["total"], by_part["saved by EC-0231"]
    assert number(helped, "lower95") > 0
    assert number(by_part["without EC-0231"], "amount") == pytest.approx(
        number(total, "amount") + number(helped, "amount"), abs=0.005
    )
    nothing = by_part["saved by EC-0307"]
    assert number(nothing, "lower95") < 0 < number(nothing, "upper95")
    life = by_part["over the life of the fleet"]
    assert number(life, "amount") == pytest.approx(
        number(total, "amount") + number(by_part["paid so far"], "amount"), abs=0.005
    )
    # what is drawn of the one is drawn of the other
    width = number(total, "upper95") - number(total, "lower95")
    assert number(helped, "upper95") - number(helped, "lower95") < width / 5


def test_severity_keeps_currencies_apart(rated: Path) -> None:
    rows = asked(rated, "severity", "--as-of", CUT)
    assert len({row["currency"] for row in rows}) > 1
    keys = [(row["component"], row["currency"]) for row in rows]
    assert len(set(keys)) == len(keys)
    words = ["severity", "--by", "", "--as-of", CUT]
    text = CliRunner().invoke(app, [*words, "--workspace", str(rated)])
    # amounts keep their cents on the screen
    [total, *_] = [number(row, "total") for row in asked(rated, *words)]
    assert f"{total:.2f}" in text.stdout


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        (["--movement"], "needs the day of its opening"),
        (["--from", "2024-12-31"], "--from does not go with the rest"),
        (["--run-off", "--by", "model"], "--by does not go with the rest"),
        (["--months", "12"], "--months does not go with the rest"),
        (["--movement", "--life", "--from", "2024-12-31"], "--life does not go"),
        (["--run-off", "--without", "EC-1"], "--without does not go with the rest"),
        (["--without", "EC-1"], "EC-1"),
        (["--by", "colour"], "not told by 'colour'"),
    ],
)
def test_options_that_do_not_go_together_are_refused(
    words: list[str], problem: str, rated: Path
) -> None:
    assert problem in refused(rated, "reserve", *words)


def test_a_currency_without_a_rate_names_the_month(rated: Path) -> None:
    text = refused(rated, "reserve", "--movement", "--from", "2017-12-31")
    assert "before" in text
    settings = rated / "claimlens.toml"
    kept = settings.read_text(encoding="utf-8")
    settings.write_text(kept.replace('"2025-04"', '"2031-04"'), encoding="utf-8")
    try:
        assert "in 2025-04" in refused(rated, "reserve", "--as-of", CUT)
    finally:
        settings.write_text(kept, encoding="utf-8")
