"""Signals through files: planted faults, states, acknowledgements, odd registers."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fleet_maker import Fleet, shuffled, workspace_of
from rising_maker import Planted, add_claim, rising_fleet

from claimlens import handover
from claimlens.analysis.months import month_no
from claimlens.analysis.question import ask
from claimlens.analysis.rising import judge_production
from claimlens.analysis.signals import SIGNAL_COLUMNS
from claimlens.errors import InputError
from claimlens.start import open_workspace
from claimlens.workspace import Workspace

AS_OF = date(2025, 3, 31)
# told in full at once, so that every cut-off weighs alike
PLAIN = '[classify]\nlanguages = ["en"]\n[rates]\nlag_claims = 1000000\n'
BAD = Planted(
    component="motor", first=date(2024, 2, 1), last=date(2024, 5, 1), times=8.0
)


@pytest.fixture(scope="module")
def fleet() -> Fleet:
    return rising_fleet(1, BAD)


@pytest.fixture(scope="module")
def workspace(fleet: Fleet, tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    return workspace_of(fleet, tmp_path_factory.mktemp("signals") / "ws", PLAIN)


@pytest.fixture(scope="module")
def table(workspace: Workspace) -> pd.DataFrame:
    return workspace.signals(as_of=AS_OF)


def standing(table: pd.DataFrame, component: str = "motor") -> pd.Series:
    """Return the row of a component over all models."""
    own = table[(table["component"] == component) & table["model"].isna()]
    assert len(own) == 1
    return own.iloc[0]


def test_a_planted_fault_is_an_alarm_and_nothing_else_is(table: pd.DataFrame) -> None:
    row = table.iloc[0]
    assert (row["component"], row["level"]) == ("motor", "alarm")
    assert set(table.loc[table["level"] == "alarm", "component"]) == {"motor"}
    months = pd.period_range(row["from_date"], row["to_date"], freq="M")[:-1]
    true = pd.period_range("2024-02", "2024-04", freq="M")
    assert len(set(months) & set(true)) / len(set(months) | set(true)) >= 0.7
    assert row["lower"] < row["rate_ratio"] < row["upper"]
    assert 1 < row["shrunk_ratio"] < row["rate_ratio"]
    assert pd.Timestamp("2024-03-31") <= row["since"] <= pd.Timestamp("2024-12-31")


def test_what_a_signal_says_is_a_recount_of_its_units(
    table: pd.DataFrame, fleet: Fleet
) -> None:
    row = standing(table)
    units = {
        unit["serial"]: unit
        for unit in fleet.units
        if row["from_date"].date() <= unit["build_date"] < row["to_date"].date()
        and unit["in_service_date"] <= AS_OF
    }
    component = {label["claim_no"]: label["component"] for label in fleet.labels}
    behind = [
        claim
        for claim in fleet.claims
        if claim["serial"] in units
        and component[claim["claim_no"]] == "motor"
        and claim["reported_on"] <= AS_OF
    ]
    assert row["units"] == len(units)
    assert row["claims"] == len({claim["serial"] for claim in behind})
    assert row["cost"] == pytest.approx(40.50 * len(behind))
    assert row["currency"] == "EUR"
    told = dict(part.rsplit(" ", 1) for part in row["models"].split(", "))
    assert sum(map(int, told.values())) == len(behind)


def test_one_model_of_a_fault_of_all_is_its_detail(table: pd.DataFrame) -> None:
    parts = table[(table["component"] == "motor") & table["model"].notna()]
    assert len(parts)
    assert set(parts["detail_of"]) == {"all models"}
    assert pd.isna(standing(table)["detail_of"])


def test_nothing_was_said_before_the_failures_came(workspace: Workspace) -> None:
    before = workspace.signals(as_of=date(2024, 2, 29))
    assert "alarm" not in set(before["level"])
    assert (before["from_date"] < pd.Timestamp(2024, 2, 1)).all()


def test_earlier_month_ends_are_judged_as_they_were_then(workspace: Workspace) -> None:
    """From the newest warehouse and cut-off as from that of the day."""
    earlier = date(2024, 9, 30)
    now, then = (
        {month.cutoff: month for month in _months(workspace, day)}
        for day in (AS_OF, earlier)
    )
    shared = sorted(set(now) & set(then))
    assert month_no(earlier) in shared
    assert len(shared) > 24
    for cutoff in shared:
        for name in ("level", "first", "last", "observed"):
            assert (
                getattr(now[cutoff], name).tolist()
                == getattr(then[cutoff], name).tolist()
            ), (cutoff, name)
        np.testing.assert_allclose(
            now[cutoff].evidence, then[cutoff].evidence, atol=1e-9
        )


def _months(workspace: Workspace, day: date):  # type: ignore[no-untyped-def]
    with workspace._reading(ask(as_of=day)) as (session, scope):
        _, [kind] = judge_production(session, workspace.settings, scope)
    return kind.months


def test_within_a_month_the_end_of_the_month_before_is_judged(
    workspace: Workspace, table: pd.DataFrame
) -> None:
    within = workspace.signals(as_of=date(2025, 4, 17))
    assert within["note"].str.contains("end of the month before, 2025-03-31").all()
    assert standing(within)["claims"] == standing(table)["claims"]


def test_filters_and_json(workspace: Workspace, table: pd.DataFrame) -> None:
    one = workspace.signals(as_of=AS_OF, model="Trike", component="motor")
    assert set(one["component"]) == {"motor"}
    assert one["model"].isna().all(), "one model is all that is asked for"
    part = standing(one)
    assert 0 < part["claims"] < standing(table)["claims"]
    for frame in (table, one):
        text = handover.to_json(handover.records(frame))
        assert "NaN" not in text
        assert "NaT" not in text
        assert len(json.loads(text)) == len(frame)


def test_the_order_of_rows_in_files_does_not_matter(
    fleet: Fleet, table: pd.DataFrame, tmp_path: Path
) -> None:
    other = workspace_of(shuffled(fleet, 3), tmp_path / "ws", PLAIN)
    pd.testing.assert_frame_equal(other.signals(as_of=AS_OF), table)


def test_a_cover_of_its_own_a_part_without_cover_and_a_distance_limit(
    tmp_path: Path,
) -> None:
    """A limit that nobody reaches changes nothing; one component is not covered."""
    settings = (
        PLAIN
        + "[coverage]\nmonths = 24\ndistance = 900000\n"
        + '[[coverage.terms]]\ncomponent = "motor"\nmonths = 12\n'
        + '[[coverage.terms]]\ncomponent = "rear light"\nmonths = 0\n'
    )
    made = rising_fleet(1, BAD)
    for claim in made.claims:
        claim |= {"usage": 1200, "usage_unit": "km"}
    workspace = workspace_of(made, tmp_path / "ws", settings)
    table = workspace.signals(as_of=AS_OF)
    row = standing(table)
    assert row["level"] == "alarm"
    assert "rear light" not in set(table["component"])
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        production, rising = judge_production(session, workspace.settings, scope)
    assert [
        [production.components[place] for place in kind.places] for kind in rising
    ] == [["display"], ["motor"], ["rear light"]]


def test_units_without_dates_are_guessed_and_counted(tmp_path: Path) -> None:
    made = rising_fleet(1, BAD)
    for number, unit in enumerate(made.units):
        if number % 10 == 0:
            unit["in_service_date"] = None
        if number % 10 == 5:
            unit["build_date"] = None
    table = workspace_of(made, tmp_path / "ws", PLAIN).signals(as_of=AS_OF)
    row = standing(table)
    assert row["level"] == "alarm"
    assert "192 units have no build date" in row["note"]


def test_no_register_and_no_claims(tmp_path: Path) -> None:
    bare = workspace_of(Fleet(units=[], claims=rising_fleet(1).claims), tmp_path / "a")
    with pytest.raises(InputError, match="no unit register"):
        bare.signals(as_of=AS_OF)
    silent = rising_fleet(2, months=3, a_month=3, rates=())
    add_claim(silent, silent.units[0], "motor", date(2021, 5, 1), date(2021, 5, 9))
    silent.claims[0]["status"] = "cancelled"
    table = workspace_of(silent, tmp_path / "b").signals(as_of=AS_OF)
    assert table.empty
    assert list(table.columns) == list(SIGNAL_COLUMNS)


def test_an_acknowledged_signal_stays_silent_until_it_grows_or_its_day(
    tmp_path: Path,
) -> None:
    workspace = workspace_of(rising_fleet(1, BAD), tmp_path / "ws", PLAIN)
    seen = workspace.signals(as_of=AS_OF)
    first = standing(seen)["since"].date()
    with pytest.raises(InputError, match="No signal stands for 'frame'"):
        workspace.acknowledge("frame", by="A. Lead", reason="known", as_of=AS_OF)
    with pytest.raises(InputError, match="needs --by"):
        workspace.acknowledge("motor", by=" ", reason="known", as_of=AS_OF)
    with pytest.raises(InputError, match="would be over"):
        workspace.acknowledge(
            "motor", by="A. Lead", reason="known", until="2025-01-01", as_of=AS_OF
        )
    early = workspace.acknowledge("MOTOR", by="A. Lead", reason="seen", as_of=first)
    assert early["state"].tolist() == ["acknowledged"]
    # far more evidence since the day on which somebody knew of it
    assert standing(workspace.signals(as_of=AS_OF))["state"] != "acknowledged"
    told = workspace.acknowledge(
        "motor", by="B. Lead", reason="lot 7 held", until="2025-05-15", as_of=AS_OF
    )
    again = open_workspace(workspace.folder).signals(as_of=AS_OF)
    for row in (told.iloc[0], standing(again)):
        assert row["state"] == "acknowledged"
        assert row["acknowledged_by"] == "B. Lead"
        assert row["acknowledged_why"] == "lot 7 held"
        assert row["acknowledged_until"] == pd.Timestamp(2025, 5, 15)
    assert standing(workspace.signals(as_of=date(2025, 4, 30)))["state"] == (
        "acknowledged"
    )
    assert standing(workspace.signals(as_of=date(2025, 5, 31)))["state"] != (
        "acknowledged"
    )
    # what was said later is not known earlier
    assert standing(workspace.signals(as_of=date(2025, 2, 28)))["state"] != (
        "acknowledged"
    )


def test_claims_of_one_dealer_ask_for_a_look_at_the_source(tmp_path: Path) -> None:
    made = rising_fleet(3)
    inside = [u for u in made.units if u["build_lot"] in {"L2402", "L2403"}]
    for unit in inside[:16]:
        unit["dealer"] = "D-odd"
        day = date(2024, 8, 1)
        claim = add_claim(made, unit, "display", day, date(2024, 8, 20))
        claim["dealer"] = "D-odd"
    table = workspace_of(made, tmp_path / "ws", PLAIN).signals(as_of=AS_OF)
    row = standing(table, "display")
    assert "come from dealer D-odd: check the source first" in row["note"]


def test_production_that_ended_years_ago_rises_no_more(tmp_path: Path) -> None:
    made = rising_fleet(5, months=20)
    table = workspace_of(made, tmp_path / "ws", PLAIN).signals(as_of=AS_OF)
    assert "new" not in set(table["state"])
    assert not (table["state"] == "growing").any()
