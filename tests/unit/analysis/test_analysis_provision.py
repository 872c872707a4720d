"""The movement of the provision and the run-off table, held against a recount."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from cost_maker import AS_OF, Recount, cost_fleet
from fleet_maker import Fleet, workspace_of

from claimlens.analysis.months import month_no
from claimlens.errors import InputError
from claimlens.stats.run_off import chain_ladder
from claimlens.workspace import Workspace

SINCE = date(2024, 12, 31)
LINES = ["opening", "new sales", "paid", "re-estimate", "closing"]
RATES = """[currency]
report = "EUR"
[currency.rates]
"2024-12" = { CHF = 1.00 }
"2025-01" = { CHF = 1.02 }
"2025-02" = { CHF = 1.04 }
"2025-03" = { CHF = 1.06 }
"2025-04" = { CHF = 1.08 }
"2025-05" = { CHF = 1.10 }
"2025-06" = { CHF = 1.20 }
"""


@pytest.fixture(scope="module")
def fleet() -> Fleet:
    return cost_fleet()


@pytest.fixture(scope="module")
def workspace(fleet: Fleet, tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    return workspace_of(fleet, tmp_path_factory.mktemp("provision") / "ws")


@pytest.fixture(scope="module")
def moved(workspace: Workspace) -> pd.DataFrame:
    return workspace.provision(since=SINCE, as_of=AS_OF)


def amount(table: pd.DataFrame, line: str) -> Decimal:
    [value] = table.loc[table["line"] == line, "amount"]
    assert isinstance(value, Decimal)
    return value


def test_the_lines_add_up_to_the_closing_to_the_cent(moved: pd.DataFrame) -> None:
    assert moved["line"].tolist() == LINES
    assert sum(moved["amount"].iloc[:-1]) == amount(moved, "closing")
    assert amount(moved, "paid") < 0 < amount(moved, "new sales")


def test_opening_and_closing_are_the_reserves_of_their_days(
    workspace: Workspace, moved: pd.DataFrame
) -> None:
    opening = workspace.reserve(as_of=SINCE).iloc[-1]
    assert amount(moved, "opening") == opening["amount"]
    assert moved["lower95"].iloc[0] == opening["lower95"]
    closing = workspace.reserve(as_of=AS_OF).iloc[-1]
    # ages are averaged within rows, and the movement tells new units apart
    assert float(amount(moved, "closing")) == pytest.approx(
        float(closing["amount"]), rel=1e-3
    )
    assert moved["lower80"].iloc[1:-1].isna().all()


def test_paid_and_sold_are_those_counted_by_hand(
    fleet: Fleet, moved: pd.DataFrame
) -> None:
    recount = Recount(fleet)
    rows = [row for row in recount.of("settled") if row["closed_on"] > SINCE]  # type: ignore[operator]
    means = [
        round(recount.leaning_mean(str(row["component"]), str(row["model"])), 2)
        for row in rows
        if row["cost_total"] is None
    ]
    assert means
    paid = float(sum(recount.costs(rows))) + sum(means)
    assert float(-amount(moved, "paid")) == pytest.approx(paid, abs=0.01 * len(means))
    assert f"{len(means)} paid claims have no cost" in moved["note"].iloc[0]
    sold = sum(SINCE < row["ship_date"] <= AS_OF for row in fleet.units)  # type: ignore[operator]
    assert set(moved["units_sold"]) == {sold}
    per_unit = amount(moved, "new sales") / sold
    assert abs(moved["per_unit_sold"].iloc[1] - per_unit) <= Decimal("0.005")


def test_new_sales_are_what_the_units_sold_since_cost(
    fleet: Fleet, workspace: Workspace, moved: pd.DataFrame
) -> None:
    """Model years of units sold before and since are apart from 2025 on."""
    by_year = workspace.provision(since=SINCE, by="model_year", as_of=AS_OF)
    new = by_year[by_year["line"] == "new sales"].set_index("model_year")["amount"]
    assert set(new[new > 0].index) <= {2024, 2025}
    outstanding = workspace.reserve(by="model_year", as_of=AS_OF)
    [held] = outstanding.loc[
        (outstanding["model_year"] == 2025) & (outstanding["part"] == "total"), "amount"
    ]
    recount = Recount(fleet)
    paid = recount.costs(recount.of("settled", model_year=2025))
    assert float(new[2025]) >= float(held + sum(paid)) - 0.05
    for _, rows in by_year.groupby("model_year"):
        assert sum(rows["amount"].iloc[:-1]) == rows["amount"].iloc[-1]
    for line in LINES:
        parts = by_year.loc[by_year["line"] == line, "amount"]
        assert float(sum(parts)) == pytest.approx(
            float(amount(moved, line)), rel=2e-3, abs=30
        )


def test_rates_that_move_are_told_apart_from_the_estimate(tmp_path: Path) -> None:
    fleet = cost_fleet(3, currencies=("CHF",))
    table = workspace_of(fleet, tmp_path / "ws", RATES).provision(
        since=SINCE, as_of=AS_OF
    )
    assert table["line"].tolist() == [LINES[0], "exchange rates", *LINES[1:]]
    assert sum(table["amount"].iloc[:-1]) == amount(table, "closing")
    moved = float(amount(table, "exchange rates") / amount(table, "opening"))
    assert moved == pytest.approx(0.2, abs=1e-4)
    recount = Recount(fleet)
    rows = [row for row in recount.of("settled") if row["closed_on"] > SINCE]  # type: ignore[operator]
    rates = {1: "1.02", 2: "1.04", 3: "1.06", 4: "1.08", 5: "1.10", 6: "1.20"}
    paid = sum(
        Decimal(str(row["cost_total"])) * Decimal(rates[row["closed_on"].month])  # type: ignore[attr-defined]
        for row in rows
        if row["cost_total"] is not None
    )
    missing = sum(row["cost_total"] is None for row in rows)
    assert float(-amount(table, "paid")) >= float(paid) - 0.005 * len(rows)
    assert missing or float(-amount(table, "paid")) == pytest.approx(
        float(paid), abs=0.005 * len(rows)
    )


def sales_file(folder: Path, text: str) -> Path:
    path = folder / "sales.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_shares_of_sales_are_of_the_months_between(
    workspace: Workspace, tmp_path: Path
) -> None:
    months = "".join(f"2025-{month:02d},{month}000.50,EUR\n" for month in range(1, 7))
    path = sales_file(
        tmp_path, f"month,value,currency\n2024-12,777,EUR\n{months}2025-07,888,EUR\n"
    )
    table = workspace.provision(since=SINCE, as_of=AS_OF, sales=path)
    value = Decimal("21003.00")
    assert set(table["sales"]) == {value}
    for row in table.itertuples():
        assert row.share_of_sales == pytest.approx(float(row.amount / value))


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("month,amount\n2025-01,5\n", "no column value"),
        ("month,value\n2025-13,5\n", "row 2, column month: '2025-13' is no month"),
        ("month,value\n2025-01,much\n", "row 2, column value: 'much' is no number"),
        ("month,value\n2025-01,-5\n", "row 2, column value: -5 is negative"),
        ("month,value\n2025-01,\n", "column value: nothing stands there"),
        ("month,value\n2025-01,5\n2025-02,5\n", "no sales value for 2025-03"),
    ],
)
def test_a_file_of_sales_that_cannot_be_used_says_why(
    text: str, problem: str, workspace: Workspace, tmp_path: Path
) -> None:
    with pytest.raises(InputError, match=problem):
        workspace.provision(since=SINCE, as_of=AS_OF, sales=sales_file(tmp_path, text))


def test_days_out_of_order_and_keys_unknown_are_refused(
    workspace: Workspace, tmp_path: Path
) -> None:
    with pytest.raises(InputError, match="must lie before the cut-off"):
        workspace.provision(since=AS_OF, as_of=AS_OF)
    with pytest.raises(InputError, match="not told by 'component'"):
        workspace.provision(since=SINCE, as_of=AS_OF, by="component")
    path = sales_file(tmp_path, "month,value\n2025-01,5\n")
    with pytest.raises(InputError, match="ends none"):
        workspace.provision(since=date(2025, 1, 15), as_of=AS_OF, sales=path)


def recounted(fleet: Fleet, months: int) -> np.ndarray:
    """Return the cumulative triangle of claims, counted one by one."""
    last = month_no(AS_OF)
    started = {row["serial"]: row["in_service_date"] for row in fleet.units}
    cells: list[tuple[int, int]] = []
    for row in Recount(fleet).rows:
        if row["state"] == "refused":
            continue
        back = (last - month_no(started[row["serial"]])) // months  # type: ignore[arg-type]
        cells.append((back, back - (last - month_no(row["reported_on"])) // months))  # type: ignore[arg-type]
    size = max(back for back, _ in cells) + 1
    total = np.zeros((size, size))
    for back, development in cells:
        total[size - 1 - back, development:] += 1
    total[np.add.outer(np.arange(size), np.arange(size)) >= size] = np.nan
    return total


@pytest.mark.parametrize("months", [3, 12])
def test_the_run_off_is_the_chain_ladder_of_the_claims(
    months: int, fleet: Fleet, workspace: Workspace
) -> None:
    triangle = recounted(fleet, months)
    ours = chain_ladder(triangle)
    table = workspace.run_off(months=months, as_of=AS_OF)
    size = len(triangle)
    cells = table.iloc[:-1]
    assert len(cells) == size * size
    seen = np.where(cells["is_expected"], np.nan, cells["claims"]).reshape(size, size)
    np.testing.assert_array_equal(seen, triangle)
    last = cells[cells["months"] == size * months]
    np.testing.assert_allclose(last["claims"], ours.final)
    np.testing.assert_allclose(last["claims_to_come"].astype(float), ours.to_come)
    np.testing.assert_allclose(last["claims_error"].astype(float), ours.standard_error)
    first = cells.iloc[:size]
    np.testing.assert_allclose(first["claims_factor"].iloc[1:], ours.factors)
    total = table.iloc[-1]
    assert total["claims_to_come"] == pytest.approx(ours.total_to_come)
    assert total["claims_error"] == pytest.approx(ours.total_standard_error)
    assert pd.isna(total["service_from"])


def test_the_cost_of_the_run_off_is_that_of_its_claims(
    fleet: Fleet, workspace: Workspace
) -> None:
    table = workspace.run_off(months=12, as_of=AS_OF)
    cells = table.iloc[:-1]
    latest = cells[~cells["is_expected"]].groupby("service_from").last()
    recount = Recount(fleet)
    known = recount.costs(recount.of("settled"))
    taken = sum(row["state"] == "open" for row in recount.rows) + sum(
        row["cost_total"] is None for row in recount.of("settled")
    )
    assert f"{taken} claims without a cost yet" in table["note"].iloc[0]
    # means of components lie between those of the dearest and the cheapest
    rest = float(sum(latest["cost"]) - sum(known))
    assert 20 * taken < rest < 600 * taken
    ends = cells[cells["cost_to_come"].notna()]
    assert sum(ends["cost_to_come"]) == pytest.approx(
        table["cost_to_come"].iloc[-1], abs=Decimal("0.05")
    )


def test_costs_that_fall_below_nothing_are_not_run_off(workspace: Workspace) -> None:
    """In quarters a cell of the fleet holds nothing but money that came back."""
    table = workspace.run_off(months=3, as_of=AS_OF)
    assert table["cost"].isna().all()
    assert "cost is not told" in table["note"].iloc[0]
    assert table["claims"].notna().all()


def test_the_run_off_refuses_what_tells_nothing(workspace: Workspace) -> None:
    with pytest.raises(InputError, match="holds 1 to 24 months"):
        workspace.run_off(months=25, as_of=AS_OF)
    with pytest.raises(InputError, match="no growth to run off"):
        workspace.run_off(months=24, as_of=date(2023, 6, 30))
