"""Claims to come, asked on the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

from claimlens.cli import app

CUT = "2025-04-30"


def asked(folder: Path, *more: str) -> list[dict[str, object]]:
    """Return the records of a forecast."""
    arguments = ["forecast", "--workspace", str(folder), "--format", "json", *more]
    result = CliRunner().invoke(app, arguments)
    assert result.exit_code == 0, result.output
    return list(json.loads(result.stdout))


@pytest.fixture(scope="module")
def together(filled: Path) -> list[dict[str, object]]:
    """Return the forecast of all claims together."""
    return asked(filled, "--as-of", CUT, "--months", "6")


def claims_of(rows: list[dict[str, object]]) -> float:
    return sum(float(str(row["claims"])) for row in rows)


def test_rows_carry_the_keys_of_the_contract(
    together: list[dict[str, object]],
) -> None:
    assert list(together[0]) == [
        "month", "claims", "lower80", "upper80", "lower95", "upper95", "cost",
        "currency", "note", "as_of",
    ]  # fmt: skip
    assert [row["month"] for row in together] == [
        f"2025-{month:02d}-01" for month in range(5, 11)
    ]
    for row in together:
        limits = [row[name] for name in ("lower95", "lower80", "upper80", "upper95")]
        assert limits == sorted(limits, key=lambda value: float(str(value)))
        assert float(str(row["claims"])) > 0


@pytest.mark.parametrize("by", ["component", "model,component", "failure_mode"])
def test_parts_add_up_to_the_whole_in_the_mean(
    by: str, filled: Path, together: list[dict[str, object]]
) -> None:
    parts = asked(filled, "--as-of", CUT, "--months", "6", "--by", by)
    assert len(parts) > len(together)
    assert claims_of(parts) == pytest.approx(claims_of(together), rel=1e-9)


def test_the_band_of_a_total_is_narrower_than_the_bands_of_its_months(
    filled: Path, together: list[dict[str, object]]
) -> None:
    [total] = asked(filled, "--as-of", CUT, "--months", "6", "--total")
    assert total["month"] is None
    assert float(str(total["claims"])) == pytest.approx(claims_of(together))
    width = float(str(total["upper80"])) - float(str(total["lower80"]))
    widths = [
        float(str(row["upper80"])) - float(str(row["lower80"])) for row in together
    ]
    assert max(widths) < width < sum(widths)


def test_the_same_question_has_the_same_answer(
    filled: Path, together: list[dict[str, object]]
) -> None:
    assert asked(filled, "--as-of", CUT, "--months", "6") == together


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--months", "0"], "1 to 36 months ahead; got 0"),
        (["--months", "37"], "1 to 36 months ahead; got 37"),
        (["--by", "colour"], "not told by 'colour'"),
        (["--by", "model,model"], "one of them twice"),
        (["--supplier", "Anyone"], "--by supplier tells them apart"),
    ],
)
def test_a_question_that_has_no_answer_is_refused(
    more: list[str], said: str, filled: Path
) -> None:
    result = CliRunner().invoke(app, ["forecast", "--workspace", str(filled), *more])
    assert result.exit_code == 2
    assert said in " ".join(result.output.split())


def sold(folder: Path, text: str, *more: str) -> list[dict[str, object]]:
    path = folder / "sales.csv"
    path.write_text("model,month,quantity\n" + text, encoding="utf-8")
    return asked(folder, "--as-of", CUT, "--sales", str(path), *more)


def test_planned_sales_bring_claims(
    filled: Path, together: list[dict[str, object]]
) -> None:
    few = sold(filled, "Zellip S2,2025-06,500\n", "--months", "6")
    many = sold(filled, "Zellip S2,2025-06,1000\n", "--months", "6")
    assert claims_of(many) > claims_of(few) > claims_of(together)
    # what is sold in June fails from June on, at a rate that does not hang on number
    stock = 2 * claims_of(few) - claims_of(many)
    assert stock == pytest.approx(claims_of(together), rel=0.05)


def test_planned_sales_take_the_place_of_stock(filled: Path) -> None:
    nothing = sold(filled, "".join(f"Zellip S2,2025-{m:02d},0\n" for m in range(5, 9)))
    assert claims_of(nothing) <= claims_of(asked(filled, "--as-of", CUT))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("Zelip S2,2025-06,5", "did you mean 'Zellip S2'?"),
        ("Zellip S2,June,5", "column month: 'June' is no month"),
        ("Zellip S2,2025-06,-5", "column quantity: -5 is negative"),
        ("Zellip S2,2025-06,", "column quantity: nothing stands there"),
    ],
)
def test_planned_sales_that_cannot_be_read_are_refused(
    line: str, said: str, filled: Path
) -> None:
    path = filled / "sales.csv"
    path.write_text(f"model,month,quantity\n{line}\n", encoding="utf-8")
    result = CliRunner().invoke(
        app, ["forecast", "--workspace", str(filled), "--sales", str(path)]
    )
    assert result.exit_code == 2
    told = " ".join(result.output.split())
    assert "sales.csv, row 2, column" in told
    assert said in told


def test_a_longer_cover_a_change_undone_and_sales_are_set_side_by_side(
    filled: Path,
) -> None:
    path = filled / "sales.csv"
    path.write_text("model,month,quantity\nZellip S2,2025-06,500\n", encoding="utf-8")
    rows = asked(
        filled, "--as-of", CUT, "--compare", "--coverage", "36", "--without", "EC-0231",
        "--sales", str(path), "--months", "6",
    )  # fmt: skip
    assert [row["scenario"] for row in rows] == [
        "as it is", "sales of sales.csv", "cover of 36 months", "without EC-0231",
    ]  # fmt: skip
    first, sales, cover, without = (float(str(row["claims"])) for row in rows)
    assert min(sales, cover, without) > first
    assert [row["more_claims"] for row in rows] == pytest.approx(
        [0.0, sales - first, cover - first, without - first]
    )
    # what the scenarios share is not in the difference
    last = rows[-1]
    width = float(str(last["more_upper95"])) - float(str(last["more_lower95"]))
    whole = float(str(last["upper95"])) - float(str(last["lower95"]))
    assert 0 < width < 1.5 * whole


def test_a_shorter_cover_brings_fewer_claims(filled: Path) -> None:
    arguments = ("--as-of", CUT, "--months", "12")
    [short] = asked(filled, *arguments, "--total", "--coverage", "12")
    [now] = asked(filled, *arguments, "--total")
    assert 0 < float(str(short["claims"])) < float(str(now["claims"]))
    assert "every cover is taken as 12 months" in str(short["note"])


def test_earlier_forecasts_are_set_against_what_came(filled: Path) -> None:
    rows = asked(filled, "--backtest")
    assert [row["months_back"] for row in rows] == [6, 12]
    for row in rows:
        assert 0 <= float(str(row["inside80"])) <= float(str(row["inside95"])) <= 1
        error = abs(float(str(row["expected"])) - float(str(row["actual"])))
        assert row["error"] == pytest.approx(error)
        best = min(
            float(str(row[name])) for name in ("error_last_three", "error_last_year")
        )
        assert (row["verdict"] == "better than both naive forecasts") == (error <= best)


def test_a_backtest_by_component_adds_up_to_that_of_all(filled: Path) -> None:
    [_, whole] = asked(filled, "--backtest")
    parts = asked(filled, "--backtest", "--by", "component")
    for name in ("expected", "actual"):
        of_year = [float(str(row[name])) for row in parts if row["months_back"] == 12]
        assert sum(of_year) == pytest.approx(float(str(whole[name])))


def test_an_answer_is_written_as_a_workbook(filled: Path, tmp_path: Path) -> None:
    path = tmp_path / "ahead.xlsx"
    arguments = [
        "forecast", "--workspace", str(filled), "--as-of", CUT, "--months", "6",
        "--output", str(path),
    ]  # fmt: skip
    result = CliRunner().invoke(app, arguments)
    assert result.exit_code == 0, result.output
    read = pd.read_excel(path, engine="calamine")
    rows = asked(filled, "--as-of", CUT, "--months", "6")
    assert list(read.columns) == list(rows[0])
    assert read["claims"].tolist() == pytest.approx([row["claims"] for row in rows])
    again = CliRunner().invoke(app, arguments)
    assert again.exit_code != 0
    assert "--replace" in again.output


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--backtest", "--months", "6"], "--months has no meaning with --backtest"),
        (["--compare", "--by", "model"], "--by has no meaning with --compare"),
        (["--coverage", "0"], "A cover lasts 1 to 120 months; got 0"),
        (["--coverage", "12", "--coverage", "36"], "--coverage is given 2 times"),
        (["--without", "EC-9"], "There is no engineering change 'EC-9'"),
    ],
)
def test_scenarios_that_make_no_sense_are_refused(
    more: list[str], said: str, filled: Path
) -> None:
    result = CliRunner().invoke(app, ["forecast", "--workspace", str(filled), *more])
    assert result.exit_code == 2
    assert said in " ".join(result.output.split())
