"""Engineering changes through files: both sides recounted, verdicts, clear errors."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from brute_force import MONTH, add_months
from fleet_maker import Fleet, Row, workspace_of, write_csv
from rising_maker import Planted, rising_fleet

from claimlens import handover
from claimlens.analysis import change as change_module
from claimlens.analysis.change import CHANGE_COLUMNS, find_change
from claimlens.analysis.change_counts import change_counts
from claimlens.analysis.change_stretch import signalled_months
from claimlens.analysis.events import put_events
from claimlens.analysis.question import ask
from claimlens.analysis.reporting_classes import put_reporting_classes
from claimlens.errors import InputError
from claimlens.workspace import Workspace

AS_OF = date(2025, 3, 31)
START = date(2023, 1, 1)
PLAIN = '[classify]\nlanguages = ["en"]\n[rates]\nlag_claims = 1000000\n'
RATES = (("motor", 0.006), ("display", 0.004), ("rear light", 0.003))
BETTER = Planted(component="motor", first=START, last=date(2030, 1, 1), times=0.3)
BAD = Planted(
    component="display", first=date(2022, 6, 1), last=date(2022, 9, 1), times=9
)
CHANGES: list[Row] = [
    {"change_no": "EC-1", "component": "motor", "effective_build_date": START},
    {"change_no": "EC-2", "component": "rear light", "effective_serial": "s00960"},
    {"change_no": "EC-3", "component": "display", "effective_build_date": START},
    {"change_no": "EC-4", "component": "rear light"},
    {"change_no": "EC-5", "component": "rear light", "effective_serial": "X9"},
    {
        "change_no": "EC-6",
        "component": "rear light",
        "effective_build_date": "2024-12-30",
    },
    {
        "change_no": "EC-7",
        "component": "rear light",
        "effective_build_date": "2021-01-05",
    },
    {"change_no": "EC-8", "component": "motor", "effective_build_date": "2023-03-01"},
    {
        "change_no": "EC-9",
        "component": "motor",
        "model": "Trike",
        "effective_build_date": START,
    },
]


@pytest.fixture(scope="module")
def fleet() -> Fleet:
    return rising_fleet(21, BETTER, BAD, rates=RATES)


def retrofits(fleet: Fleet) -> list[Row]:
    """Change 60 older units in the field, in the tenth month of their service."""
    old = [unit for unit in fleet.units if unit["build_date"] < date(2022, 11, 1)]
    return [
        {
            "serial": str(unit["serial"]).lower(),
            "change_no": "ec-1",
            "done_on": unit["in_service_date"] + timedelta(days=280),
        }
        for unit in old[::12][:60]
    ]


@pytest.fixture(scope="module")
def workspace(fleet: Fleet, tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    folder = tmp_path_factory.mktemp("change") / "ws"
    workspace = workspace_of(fleet, folder, PLAIN, load=False)
    write_csv(folder / "inbox" / "changes.csv", CHANGES)
    write_csv(folder / "inbox" / "unit_changes.csv", retrofits(fleet))
    workspace.ingest()
    return workspace


def test_a_change_that_helped_is_told(workspace: Workspace) -> None:
    [row] = workspace.change("ec-1", as_of=AS_OF).to_dict("records")
    assert row["verdict"] == "improved"
    assert row["lower"] < 0.3 < row["upper"] < 1
    assert row["control"] == "other components"
    assert row["control_lower"] < row["control_ratio"] < row["control_upper"]
    assert row["field_changes"] == 60
    assert 0 < row["field_share"] < 0.1
    assert "EC-8" in row["note"]
    assert pd.isna(row["verdict_by"])


def test_both_sides_are_a_recount_of_their_units(
    workspace: Workspace, fleet: Fleet
) -> None:
    """A unit changed in the field counts as before until that day, as after from it."""
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        found, _ = find_change(session, "EC-1")
        put_events(session, workspace.settings)
        put_reporting_classes(session, scope)
        session.run("intermediate/int_built")
        counts = change_counts(session, workspace.settings, scope, found)
    done = {str(row["serial"]).upper(): row["done_on"] for row in retrofits(fleet)}
    months = {"before": 0.0, "after": 0.0}
    failures = {"before": 0, "after": 0}
    units = {"before": 0, "after": 0}
    first = _first_failures(fleet)
    for unit in fleet.units:
        started, built = unit["in_service_date"], unit["build_date"]
        if started > AS_OF:
            continue
        last = (min(AS_OF, add_months(started, 24)) - started).days
        split = (done[unit["serial"]] - started).days if unit["serial"] in done else 999
        sides = {}
        if date(2021, 12, 2) <= built < date(2022, 12, 2):
            sides["before"] = (0, min(last, split - 1))
        if built >= date(2023, 1, 31):
            sides["after"] = (0, last)
        elif split <= last:
            sides["after"] = (split, last)
        for side, (start, stop) in sides.items():
            units[side] += 1
            months[side] += (stop + 1 - start) / MONTH
            age = (first.get(unit["serial"], date.max) - started).days
            failures[side] += start <= age <= stop
    for name, side in (("before", counts.before), ("after", counts.after)):
        assert side.units == units[name]
        assert side.unit_months.sum() == pytest.approx(months[name])
        assert side.failures.sum() == failures[name]
    assert failures["before"] > 20


def _first_failures(fleet: Fleet) -> dict[object, date]:
    """Return the day of each unit's first motor failure known at the cut-off."""
    component = {label["claim_no"]: label["component"] for label in fleet.labels}
    found: dict[object, date] = {}
    for claim in fleet.claims:
        if component[claim["claim_no"]] == "motor" and claim["reported_on"] <= AS_OF:
            day = claim["failed_on"]
            found[claim["serial"]] = min(found.get(claim["serial"], day), day)
    return found


def test_a_change_by_serial_starts_with_that_unit(
    workspace: Workspace, fleet: Fleet
) -> None:
    [row] = workspace.change("EC-2", as_of=AS_OF).to_dict("records")
    assert row["starts_on"].date() == fleet.units[960]["build_date"]
    assert row["verdict"] in {"unchanged", "not shown"}
    assert row["lower"] < 1 < row["upper"]
    assert pd.isna(row["verdict_by"]) or row["verdict_by"] > pd.Timestamp(AS_OF)


def test_a_change_of_one_model_is_held_against_the_others(
    workspace: Workspace, fleet: Fleet
) -> None:
    [row] = workspace.change("EC-9", as_of=AS_OF).to_dict("records")
    assert row["control"] == "other models"
    built = [
        unit
        for unit in fleet.units
        if unit["model"] == "Trike"
        and date(2021, 12, 2) <= unit["build_date"] < date(2022, 12, 2)
    ]
    assert row["units_before"] == len(built)
    # the other model got better on the same day
    assert row["control_lower"] < 1 < row["control_upper"]


@pytest.mark.parametrize(
    ("number", "words"),
    [
        ("EC-11", "no engineering change 'EC-11'"),
        ("EC-4", "no build date to start from"),
        ("EC-5", "first serial X9 is not in the register"),
        ("EC-6", "built after the change EC-6 .* is in service yet"),
        ("EC-7", "in the year before the change EC-7"),
    ],
)
def test_what_cannot_be_judged_is_refused(
    number: str, words: str, workspace: Workspace
) -> None:
    with pytest.raises(InputError, match=words):
        workspace.change(number, as_of=AS_OF)


def test_without_a_list_of_changes(tmp_path: Path) -> None:
    made = rising_fleet(1, months=4, a_month=40)
    with pytest.raises(InputError, match="load a list of changes first"):
        workspace_of(made, tmp_path / "ws", PLAIN).change("EC-1", as_of=AS_OF)


def test_filters_and_json(workspace: Workspace) -> None:
    whole = workspace.change("EC-1", as_of=AS_OF)
    part = workspace.change("EC-1", as_of=AS_OF, region="North")
    assert 0 < part["units_before"].item() < whole["units_before"].item()
    for number in ("EC-1", "EC-2", "EC-3"):
        table = workspace.change(number, as_of=AS_OF)
        assert list(table.columns) == list(CHANGE_COLUMNS)
        text = handover.to_json(handover.records(table))
        assert "NaN" not in text
        assert "NaT" not in text
        assert len(json.loads(text)) == 1


def test_what_a_signal_spoke_of_before_a_change_does_not_speak_for_it(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """EC-3 did nothing, but was made after a bad stretch of displays."""
    [row] = workspace.change("EC-3", as_of=AS_OF).to_dict("records")
    assert row["upper"] < 1, "all months taken it looks like an improvement"
    assert row["verdict"] == "not shown"
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        found, _ = find_change(session, "EC-3")
        built = pd.date_range("2021-12-01", "2022-12-01", freq="MS")
        told = signalled_months(session, workspace.settings, scope, found, built)
    assert told[(built >= "2022-06-01") & (built < "2022-09-01")].all()
    assert told.sum() <= 6
    # also where the failures known today no longer show the stretch
    monkeypatch.setattr(
        change_module,
        "stretch_before",
        lambda settings, found, before: np.zeros(len(before.built), dtype=bool),
    )
    [alone] = workspace.change("EC-3", as_of=AS_OF).to_dict("records")
    assert alone["verdict"] == "not shown"
    assert alone["ratio_without_bad_months"] > alone["rate_ratio"]
    monkeypatch.setattr(
        change_module, "signalled_months", lambda *_, **__: np.zeros(13, dtype=bool)
    )
    [neither] = workspace.change("EC-3", as_of=AS_OF).to_dict("records")
    assert neither["verdict"] == "improved"
