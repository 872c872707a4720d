"""What the monthly page says of claims to come is what the commands say."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from fleet_maker import Fleet, Row, workspace_of
from forecast_maker import AS_OF, PLAIN, small_fleet

from claimlens.analysis.monthly_to_come import to_come_inputs
from claimlens.analysis.question import ask
from claimlens.monthly_inputs import ToCome
from claimlens.workspace import Workspace

LIMITS = ["lower80", "upper80", "lower95", "upper95"]


@pytest.fixture(scope="module")
def fleet() -> Fleet:
    return small_fleet()


@pytest.fixture(scope="module")
def workspace(fleet: Fleet, tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    return workspace_of(fleet, tmp_path_factory.mktemp("to_come") / "ws", PLAIN)


def gathered(workspace: Workspace, as_of: date) -> ToCome:
    question = ask(as_of=as_of)
    past = workspace._past(question)
    with workspace._reading(question) as (session, scope):
        return to_come_inputs(session, workspace.settings, scope, past)


@pytest.fixture(scope="module")
def to_come(workspace: Workspace) -> ToCome:
    return gathered(workspace, AS_OF)


def test_months_and_their_sum_are_those_of_the_command(
    workspace: Workspace, to_come: ToCome
) -> None:
    asked = workspace.forecast(as_of=AS_OF)
    months = to_come.months_to_come
    assert list(months["month"]) == list(asked["month"])
    assert months["expected"].to_numpy() == pytest.approx(asked["claims"].to_numpy())
    for limit in LIMITS:
        assert months[limit].to_numpy() == pytest.approx(asked[limit].to_numpy())
    [total] = workspace.forecast(as_of=AS_OF, total=True).to_dict("records")
    last = months.iloc[-1]
    assert last["total"] == pytest.approx(total["claims"])
    assert [last[f"total_{limit}"] for limit in LIMITS] == pytest.approx(
        [total[limit] for limit in LIMITS]
    )


def test_components_are_those_of_the_command(
    workspace: Workspace, to_come: ToCome
) -> None:
    asked = workspace.forecast(as_of=AS_OF, by="component", total=True)
    asked = asked.set_index("component")
    shown = to_come.components_to_come.set_index("component")
    assert list(shown.index) == ["motor", "display", "rear light"]
    asked = asked.loc[shown.index]
    assert shown["expected"].to_numpy() == pytest.approx(asked["claims"].to_numpy())
    for limit in LIMITS:
        assert shown[limit].to_numpy() == pytest.approx(asked[limit].to_numpy())
    total = to_come.months_to_come["expected"].sum()
    assert shown["expected"].sum() == pytest.approx(total)


def test_history_counts_the_claims_of_whole_months(
    fleet: Fleet, to_come: ToCome
) -> None:
    """Every claim of the fleet lies inside the cover and is counted once."""
    reported = pd.to_datetime(pd.Series([row["reported_on"] for row in fleet.claims]))
    by_month = reported.dt.to_period("M").value_counts()
    history = to_come.claims_so_far
    assert len(history) == 24
    assert history["month"].iloc[-1] == pd.Timestamp(2023, 6, 1)
    expected = [by_month[month] for month in history["month"].dt.to_period("M")]
    assert list(history["reported"]) == expected
    last_year = reported[reported >= "2022-07-01"]
    assert to_come.components_to_come["reported"].sum() == len(last_year)


def test_earlier_forecasts_are_those_of_the_command(
    workspace: Workspace, to_come: ToCome
) -> None:
    asked = workspace.backtest(as_of=AS_OF)
    assert list(to_come.backtests["months_back"]) == [6, 12]
    for name in ("expected", "actual", *LIMITS, "error", "inside95"):
        shown = to_come.backtests[name].to_numpy()
        assert shown == pytest.approx(asked[name].to_numpy())
    assert to_come.not_tested == ""
    months = to_come.backtest_months
    sums = months.groupby("months_back")[["expected", "actual"]].sum()
    assert sums["actual"].to_numpy() == pytest.approx(asked["actual"].to_numpy())
    assert sums["expected"].to_numpy() == pytest.approx(asked["expected"].to_numpy())
    assert months["month"].max() == pd.Timestamp(2023, 6, 1)


def test_assumptions_are_counted(fleet: Fleet, to_come: ToCome) -> None:
    """Units go into service 30 days after they were built; the cover is 24 months."""
    taken = to_come.assumptions
    assert taken is not None
    begun = pd.Series([row["in_service_date"] for row in fleet.units])
    begun = pd.to_datetime(begun)
    cut_off = pd.Timestamp(AS_OF)
    covered = (begun <= cut_off) & (begun + pd.DateOffset(months=24) > cut_off)
    assert taken.units_under_cover == pytest.approx(int(covered.sum()), abs=1)
    assert taken.units_under_cover + taken.units_to_enter <= len(fleet.units)
    assert taken.oldest_seen == taken.oldest_used == 24
    assert 0 < taken.reported[0] <= taken.reported[1] <= 1
    assert (taken.draws, taken.seed) == (4000, 20240607)


def test_the_month_of_the_cut_off_keeps_what_it_has(
    fleet: Fleet, workspace: Workspace
) -> None:
    as_of = date(2023, 6, 20)
    to_come = gathered(workspace, as_of)
    assert to_come.part_month
    june = [
        row
        for row in fleet.claims
        if date(2023, 6, 1) <= row["reported_on"] <= as_of  # type: ignore[operator]
    ]
    first = to_come.months_to_come.iloc[0]
    assert first["month"] == pd.Timestamp(2023, 6, 1)
    assert first["so_far"] == len(june) > 0
    assert to_come.claims_so_far["month"].iloc[-1] == pd.Timestamp(2023, 5, 1)
    assert (to_come.months_to_come["so_far"].iloc[1:] == 0).all()


def test_a_young_maker_gets_a_forecast_without_a_test(workspace: Workspace) -> None:
    to_come = gathered(workspace, date(2021, 11, 30))
    assert to_come.not_told == ""
    assert len(to_come.months_to_come) == 12
    assert list(to_come.backtests["months_back"]) == [6]
    assert to_come.not_tested.startswith(
        "No forecast can be made as of 12 months ago: The cut-off 2020-11-30 lies "
        "before the first claim"
    )


def test_the_first_weeks_leave_a_reason(fleet: Fleet, tmp_path: Path) -> None:
    """One unit, half a year in service, whose first claim has just come."""
    claim = next(
        row
        for row in fleet.claims
        if (row["reported_on"] - begun_on(fleet, row)).days < 180  # type: ignore[operator]
    )
    units = [unit for unit in fleet.units if unit["serial"] == claim["serial"]]
    one = workspace_of(Fleet(units=units, claims=[claim]), tmp_path / "ws", PLAIN)
    day = claim["reported_on"]
    assert isinstance(day, date)
    to_come = gathered(one, day)
    assert "months in all of which failures can have been reported" in to_come.not_told
    assert to_come.months_to_come.empty
    page = one.report_monthly(tmp_path / "page.html", as_of=day)
    assert to_come.not_told in page.read_text(encoding="utf-8")


def begun_on(fleet: Fleet, claim: Row) -> date:
    """Return the first day in service of the unit of a claim."""
    [day] = [
        unit["in_service_date"]
        for unit in fleet.units
        if unit["serial"] == claim["serial"]
    ]
    assert isinstance(day, date)
    return day


def test_claims_without_a_register_leave_a_reason(fleet: Fleet, tmp_path: Path) -> None:
    bare = workspace_of(Fleet(units=[], claims=fleet.claims), tmp_path / "ws", PLAIN)
    to_come = gathered(bare, AS_OF)
    assert to_come.not_told.startswith("No unit in sight has a day in service")
    assert to_come.backtests.empty
    assert to_come.assumptions is None
