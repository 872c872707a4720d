"""Reserve and spares of the monthly page are those of the commands."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import cost_maker
import pandas as pd
import pytest
import spares_maker
from fleet_maker import Fleet, workspace_of
from forecast_maker import AS_OF, PLAIN, small_fleet

from claimlens.analysis.monthly_outstanding import reserve_inputs, spares_inputs
from claimlens.analysis.monthly_to_come import Past, to_come_inputs
from claimlens.analysis.question import ask
from claimlens.monthly_inputs import RESERVE_PARTS, RESERVE_TOTAL, Reserve, SpareParts
from claimlens.workspace import Workspace

FIGURES = ["claims", "amount", "lower80", "upper80", "lower95", "upper95"]


def gathered(workspace: Workspace, as_of: date) -> tuple[Reserve, SpareParts]:
    """Gather both behind a forecast in the same session, as the page does."""
    settings = workspace.settings
    with workspace._reading(ask(as_of=as_of)) as (session, scope):
        to_come_inputs(session, settings, scope, Past())
        reserve = reserve_inputs(session, settings, scope)
        return reserve, spares_inputs(session, settings, scope)


@pytest.fixture(scope="module")
def costly(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    fleet = cost_maker.cost_fleet(3, currencies=("EUR", "CHF"))
    return workspace_of(fleet, tmp_path_factory.mktemp("costly") / "ws")


@pytest.fixture(scope="module")
def reserve(costly: Workspace) -> Reserve:
    return gathered(costly, cost_maker.AS_OF)[0]


def test_model_years_are_those_of_the_command(
    costly: Workspace, reserve: Reserve
) -> None:
    asked = costly.reserve(by="model_year", as_of=cost_maker.AS_OF)
    shown = reserve.reserve_years
    for name in ("part", "currency"):
        assert list(shown[name]) == list(asked[name])
    for name in ("model_year", *FIGURES):
        assert list(shown[name]) == [float(value) for value in asked[name]]
    assert set(shown["part"]) == {*RESERVE_PARTS, RESERVE_TOTAL}


def test_all_model_years_are_added_draw_by_draw(
    costly: Workspace, reserve: Reserve
) -> None:
    """Amounts are those of the command; the band is narrower than that of sums."""
    asked = costly.reserve(as_of=cost_maker.AS_OF)
    for currency in ("CHF", "EUR"):
        years, whole, command = (
            frame[
                (frame["currency"] == currency) & (frame["part"] == RESERVE_TOTAL)
            ].astype(dict.fromkeys(FIGURES, float))
            for frame in (reserve.reserve_years, reserve.reserve_all, asked)
        )
        [amount] = whole["amount"]
        assert amount == pytest.approx(years["amount"].sum(), abs=0.05)
        assert amount == pytest.approx(command["amount"].iloc[0], rel=0.002)
        width = float((whole["upper95"] - whole["lower95"]).iloc[0])
        of_command = float((command["upper95"] - command["lower95"]).iloc[0])
        assert width == pytest.approx(of_command, rel=0.06)
        assert width < float((years["upper95"] - years["lower95"]).sum())


def test_the_reserve_says_what_it_rests_on(reserve: Reserve) -> None:
    assert any("draws with seed" in one for one in reserve.taken_for_granted)
    assert reserve.not_told == ""


def test_parts_are_those_of_the_command(tmp_path: Path) -> None:
    workspace, _, _ = spares_maker.spares_fleet(tmp_path / "ws")
    spares = gathered(workspace, spares_maker.AS_OF)[1]
    asked = workspace.spares(as_of=spares_maker.AS_OF).set_index("part_no")
    shown = spares.spare_parts.set_index("part_no")
    assert shown["demand_mean"].is_monotonic_decreasing
    assert set(shown.index) == set(asked.index[asked["demand_mean"] > 0])
    asked = asked.loc[shown.index]
    for name in ("demand_mean", "quantity_to_hold", "lead_time_days"):
        assert list(shown[name]) == [float(value) for value in asked[name]]
    assert pd.isna(shown["unit_cost"]).equals(pd.isna(asked["unit_cost"]))
    assert (spares.service_level, spares.review_months) == (0.95, 1.0)


def test_neither_costs_nor_parts_leave_a_reason(tmp_path: Path) -> None:
    fleet = small_fleet()
    for claim in fleet.claims:
        del claim["cost_total"]
    workspace = workspace_of(fleet, tmp_path / "ws", PLAIN)
    reserve, spares = gathered(workspace, AS_OF)
    assert "cost" in reserve.not_told
    assert reserve.reserve_all.empty
    assert spares.not_told == "Neither a parts list nor a claim names a part."
    assert spares.spare_parts.empty


def test_claims_without_a_register_leave_a_reason(tmp_path: Path) -> None:
    fleet = cost_maker.cost_fleet()
    bare = Fleet(units=[], claims=fleet.claims, labels=fleet.labels)
    workspace = workspace_of(bare, tmp_path / "ws")
    reserve, spares = gathered(workspace, cost_maker.AS_OF)
    assert reserve.not_told.startswith("No unit in sight has a day in service")
    assert spares.not_told
