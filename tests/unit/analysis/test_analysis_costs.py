"""Cost per claim and the reserve, held against a recount claim by claim."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from cost_maker import AS_OF, COMPONENTS, Recount, cost_fleet
from fleet_maker import Fleet, workspace_of

from claimlens import handover
from claimlens.analysis.outstanding import outstanding
from claimlens.analysis.outstanding_sums import PARTS, Outstanding
from claimlens.analysis.question import ask
from claimlens.analysis.reserve import LIFE, SO_FAR
from claimlens.analysis.severity import cost_per_claim
from claimlens.errors import InputError
from claimlens.workspace import Workspace

RATES = '[currency]\nreport = "EUR"\n[currency.rates."2025-06"]\nCHF = 1.10\n'


@pytest.fixture(scope="module")
def fleet() -> Fleet:
    return cost_fleet()


@pytest.fixture(scope="module")
def workspace(fleet: Fleet, tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    return workspace_of(fleet, tmp_path_factory.mktemp("costs") / "ws")


@pytest.fixture(scope="module")
def reserve(workspace: Workspace) -> pd.DataFrame:
    return workspace.reserve(as_of=AS_OF)


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> tuple[Fleet, Path]:
    """Return a fleet that costs in two currencies, and where to put it."""
    folder = tmp_path_factory.mktemp("two")
    return cost_fleet(3, currencies=("EUR", "CHF")), folder


def amounts_of(table: pd.DataFrame, part: str) -> list[Decimal]:
    return table.loc[table["part"] == part, "amount"].tolist()


def found_in(workspace: Workspace, by: list[str]) -> Outstanding:
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        return outstanding(session, workspace.settings, scope, by=by)


def test_costs_per_claim_are_those_added_up_by_hand(
    fleet: Fleet, workspace: Workspace
) -> None:
    recount = Recount(fleet)
    table = workspace.severity(as_of=AS_OF).set_index("component")
    for name in COMPONENTS:
        rows = recount.recent(recount.of("settled", component=name))
        costs = recount.costs(rows)
        row = table.loc[name]
        assert row["claims"] == len(costs)
        assert row["total"] == sum(costs)
        assert row["mean"] == pytest.approx(
            sum(costs) / len(costs), abs=Decimal("0.01")
        )
        assert row["lower"] < row["mean"] < row["upper"]
        assert row["zero_cost"] == sum(cost == 0 for cost in costs)
        assert row["negative_cost"] == sum(cost < 0 for cost in costs)
        assert row["without_cost"] == len(rows) - len(costs)
        assert row["still_open"] == len(recount.of("open", component=name))
        assert row["largest"] == max(costs)
    assert table["without_cost"].sum() > 0
    assert table["note"].str.contains("not taken for 0").any()


def test_costs_by_year_and_model_lean_on_their_component(
    fleet: Fleet, workspace: Workspace
) -> None:
    recount = Recount(fleet)
    table = workspace.severity(by="component,model", as_of=AS_OF)
    for row in table.itertuples():
        leaning = recount.leaning_mean(str(row.component), str(row.model))
        assert float(row.leaning_mean) == pytest.approx(leaning, abs=0.01)
    years = workspace.severity(by="year", as_of=AS_OF)
    costs = recount.costs(recount.of("settled"))
    assert sum(years["total"]) == sum(costs)
    assert years["claims"].sum() == len(costs)
    assert years["year"].is_monotonic_increasing


def test_a_claim_that_makes_much_of_the_total_is_named(tmp_path: Path) -> None:
    fleet = cost_fleet(5, n_units=60)
    [dear] = [row for row in fleet.claims if row["claim_no"] == "C0003"]
    dear |= {"status": "closed", "cost_total": "90000.00"}
    dear["closed_on"] = dear["reported_on"]
    table = workspace_of(fleet, tmp_path / "ws").severity(by="year", as_of=AS_OF)
    [row] = table[table["largest_claim"] == "C0003"].to_dict("records")
    assert "claim C0003 alone is 9" in row["note"]


def test_the_parts_of_the_reserve_add_up_to_the_cent(reserve: pd.DataFrame) -> None:
    assert reserve["part"].tolist() == [*PARTS, "total"]
    *parts, total = reserve["amount"]
    assert sum(parts) == total
    assert reserve["claims"].iloc[:-1].sum() == pytest.approx(
        reserve["claims"].iloc[-1]
    )
    for row in reserve.itertuples():
        assert all(isinstance(value, Decimal) for value in row[3:8])
        assert row.lower95 <= row.lower80 <= row.upper80 <= row.upper95
        assert str(row.note).startswith("estimate from claims data, not an accounting")


def test_every_draw_is_whole_cents_about_the_mean(workspace: Workspace) -> None:
    found = found_in(workspace, [])
    [one] = found.sums.values()
    assert one.drawn.dtype == np.int64
    assert one.drawn.shape == (4, 4_000)
    # the mean of the draws is that of the parts, but for chance
    error = one.drawn.std(axis=1) / np.sqrt(4_000)
    np.testing.assert_array_less(
        np.abs(one.drawn.mean(axis=1) - one.mean), 5 * error + 1
    )


@pytest.mark.parametrize("by", ["model_year", "component", "model,region"])
def test_segments_add_up_to_the_whole(
    by: str, workspace: Workspace, reserve: pd.DataFrame
) -> None:
    table = workspace.reserve(by=by, as_of=AS_OF)
    for part in (*PARTS, "total"):
        [whole] = amounts_of(reserve, part)
        # rows average ages within bands, which moves the rate by a little
        assert float(sum(amounts_of(table, part))) == pytest.approx(
            float(whole), rel=2e-3, abs=0.05
        )


def test_open_claims_cost_the_mean_where_they_are_paid(
    fleet: Fleet, workspace: Workspace
) -> None:
    recount = Recount(fleet)
    n_paid = len(recount.recent(recount.of("settled")))
    n_refused = len(recount.recent(recount.of("refused")))
    share = (n_paid + 0.5) / (n_paid + n_refused + 1.0)
    table = workspace.reserve(by="component", as_of=AS_OF)
    rows = table[table["part"] == "reported and open"].set_index("component")
    for name in COMPONENTS:
        expected = sum(
            share * recount.leaning_mean(name, str(row["model"]))
            for row in recount.of("open", component=name)
        )
        assert float(rows.loc[name, "amount"]) == pytest.approx(expected, abs=0.01)
        number = len(recount.of("open", component=name))
        assert rows.loc[name, "claims"] == pytest.approx(share * number)


def test_claims_to_come_are_those_of_the_forecast_at_their_mean_cost(
    fleet: Fleet, workspace: Workspace
) -> None:
    """Cover ends within 36 months, so that the forecast sees all of them."""
    recount = Recount(fleet)
    forecast = workspace.forecast(
        by="component,model", months=36, total=True, as_of=AS_OF
    )
    table = workspace.reserve(by="component,model", as_of=AS_OF)
    later = table[table["part"].isin(PARTS[1:])].groupby(["component", "model"])
    for row in forecast.itertuples():
        name, model = str(row.component), str(row.model)
        found = later.get_group((name, model))
        # ages are averaged within rows, and the reserve has more of them
        assert found["claims"].sum() == pytest.approx(float(row.claims), rel=1e-4)
        cost = found["claims"].sum() * recount.leaning_mean(name, model)
        assert float(sum(found["amount"])) == pytest.approx(cost, abs=0.03)


def test_what_was_paid_makes_the_cost_over_the_life_of_the_fleet(
    fleet: Fleet, workspace: Workspace
) -> None:
    recount = Recount(fleet)
    table = workspace.reserve(by="component", life=True, as_of=AS_OF)
    assert table["part"].tolist() == 3 * [*PARTS, "total", SO_FAR, LIFE]
    for name, rows in table.set_index("part").groupby("component"):
        settled = recount.of("settled", component=name)
        means = [
            round(recount.leaning_mean(str(name), str(row["model"])), 2)
            for row in settled
            if row["cost_total"] is None
        ]
        paid = float(sum(recount.costs(settled))) + sum(means)
        assert float(rows.loc[SO_FAR, "amount"]) == pytest.approx(paid, abs=0.05)
        assert rows.loc[SO_FAR, "claims"] == len(settled)
        for column in ("amount", "lower95", "upper80"):
            whole = rows.loc["total", column] + rows.loc[SO_FAR, "amount"]
            # a limit that falls between two draws is rounded on its own
            slack = Decimal(0) if column == "amount" else Decimal("0.01")
            assert abs(rows.loc[LIFE, column] - whole) <= slack


def test_a_model_year_whose_cover_is_over_says_so(workspace: Workspace) -> None:
    """By then what was open is all that there is to pay."""
    table = workspace.reserve(by="model_year,component", as_of=date(2028, 12, 31))
    total = table[table["part"] == "total"]
    shut = total[total["claims"] < 1e-6]
    assert 0 < len(shut) < len(total)
    assert set(shut["amount"]) == {Decimal(0)}
    says = total["note"].str.startswith("nothing open or under cover")
    assert says.tolist() == (total["claims"] < 1e-6).tolist()


def test_an_approved_claim_has_its_amount_and_no_band(tmp_path: Path) -> None:
    fleet = cost_fleet(6, n_units=60)
    for row in fleet.claims:
        if row["status"] == "open":
            row["status"] = "cancelled"
            row["closed_on"] = row["reported_on"]
        elif row["closed_on"] > AS_OF:  # type: ignore[operator]
            row |= {"decided_on": AS_OF, "status": "closed", "cost_total": "10.01"}
    recount = Recount(fleet)
    table = workspace_of(fleet, tmp_path / "ws").reserve(as_of=AS_OF)
    row = table.iloc[0]
    number = len(recount.of("open"))
    assert number > 0
    assert row["claims"] == number
    assert (
        row["amount"] == row["lower95"] == row["upper95"] == number * Decimal("10.01")
    )


def test_a_missing_cost_is_not_nothing(fleet: Fleet, tmp_path: Path) -> None:
    """Costs that are taken away leave the reserve where it was, but for chance."""
    fewer = Fleet(units=fleet.units, claims=[], labels=fleet.labels)
    fewer.claims = [
        row | ({"cost_total": None} if number % 2 else {})
        for number, row in enumerate(fleet.claims)
    ]
    full = workspace_of(fleet, tmp_path / "full").reserve(as_of=AS_OF)
    half = workspace_of(fewer, tmp_path / "half").reserve(as_of=AS_OF)
    assert "have no cost: taken at their component's mean" in half["note"].iloc[0]
    assert half["claims"].tolist() == full["claims"].tolist()
    ratio = float(half["amount"].iloc[-1]) / float(full["amount"].iloc[-1])
    assert 0.75 < ratio < 1.25


def test_without_a_report_currency_each_stands_for_itself(
    two: tuple[Fleet, Path],
) -> None:
    fleet, folder = two
    workspace = workspace_of(fleet, folder / "own")
    recount = Recount(fleet)
    severity = workspace.severity(by="", as_of=AS_OF).set_index("currency")
    table = workspace.reserve(as_of=AS_OF)
    assert set(table["currency"]) == set(severity.index) == {"CHF", "EUR"}
    for currency, rows in table.groupby("currency"):
        *parts, total = rows["amount"]
        assert sum(parts) == total > 0
        settled = recount.recent(recount.of("settled", currency=currency))
        assert severity.loc[currency, "total"] == sum(recount.costs(settled))
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        told = cost_per_claim(session, workspace.settings, scope)
    assert {one.mean for one in told.values()} == {None}
    assert "set report under [currency]" in told["motor"].note
    with pytest.raises(InputError, match="which region will"):
        workspace.reserve(by="region", as_of=AS_OF)
    with pytest.raises(InputError, match="do not add up"):
        workspace.run_off(as_of=AS_OF)


def test_costs_are_turned_at_the_rate_of_the_cut_off(two: tuple[Fleet, Path]) -> None:
    fleet, folder = two
    workspace = workspace_of(fleet, folder / "turned", RATES)
    recount = Recount(fleet)
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        told = cost_per_claim(session, workspace.settings, scope)
    assert set(told) == set(COMPONENTS)
    for name, one in told.items():
        rows = recount.recent(recount.of("settled", component=name))
        costs = [
            cost * (Decimal("1.10") if row["currency"] == "CHF" else 1)
            for row in rows
            for cost in recount.costs([row])
        ]
        assert one.currency == "EUR"
        assert float(one.mean or 0) == pytest.approx(
            float(sum(costs) / len(costs)), abs=0.01
        )
    assert set(workspace.reserve(as_of=AS_OF)["currency"]) == {"EUR"}


def test_a_currency_without_a_rate_is_an_error_that_names_the_month(
    two: tuple[Fleet, Path],
) -> None:
    fleet, folder = two
    workspace = workspace_of(fleet, folder / "bare", '[currency]\nreport = "EUR"\n')
    for work in (workspace.reserve, workspace.run_off):
        with pytest.raises(InputError, match="no rate for CHF in 2025-06"):
            work(as_of=AS_OF)
    # each currency for itself needs none
    assert len(workspace.severity(by="", as_of=AS_OF)) == 2


def test_what_comes_after_the_cut_off_moves_no_cent(
    fleet: Fleet, workspace: Workspace, tmp_path: Path
) -> None:
    """Claims settled later are open at the cut-off, whatever came of them."""
    cut = date(2025, 2, 28)
    blind = Fleet(units=fleet.units, claims=[], labels=fleet.labels)
    for row in fleet.claims:
        closed = row["closed_on"]
        is_later = isinstance(closed, date) and closed > cut
        hidden = {"status": "open", "closed_on": None, "cost_total": None}
        blind.claims.append(row | (hidden if is_later else {}))
    other = workspace_of(blind, tmp_path / "ws")
    for given in ("", "component"):
        mine = workspace.reserve(by=given, as_of=cut)
        theirs = other.reserve(by=given, as_of=cut)
        assert handover.to_csv(mine) == handover.to_csv(theirs)


def test_a_question_that_cannot_be_answered_says_what_to_do(
    workspace: Workspace,
) -> None:
    with pytest.raises(InputError, match="not told by 'dealer'"):
        workspace.reserve(by="dealer", as_of=AS_OF)
    with pytest.raises(InputError, match="one of them twice"):
        workspace.reserve(by="model,model", as_of=AS_OF)
    with pytest.raises(InputError, match="not told by 'colour'"):
        workspace.severity(by="colour", as_of=AS_OF)
    with pytest.raises(InputError, match="one supplier alone"):
        workspace.severity(as_of=AS_OF, supplier="Orla Cells")


def test_claims_without_any_cost_are_an_error(fleet: Fleet, tmp_path: Path) -> None:
    bare = Fleet(units=fleet.units, claims=[], labels=fleet.labels)
    bare.claims = [row | {"cost_total": None} for row in fleet.claims]
    workspace = workspace_of(bare, tmp_path / "ws")
    for work in (workspace.reserve, workspace.severity, workspace.run_off):
        with pytest.raises(InputError, match="No settled claim in sight has a cost"):
            work(as_of=AS_OF)
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        told = cost_per_claim(session, workspace.settings, scope)
    assert {one.note for one in told.values()} == {"no settled claim has a cost"}
