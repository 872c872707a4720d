"""What the monthly page says of a small fleet with a fault planted in it."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fleet_maker import Fleet, Row, workspace_of, write_csv

from claimlens.analysis import production
from claimlens.analysis import rising as rising_module
from claimlens.analysis.monthly_rising import rising_inputs
from claimlens.analysis.production import Production
from claimlens.analysis.question import ask
from claimlens.analysis.rising import judge_production
from claimlens.analysis.signals import signals
from claimlens.monthly_inputs import Rising
from claimlens.workspace import Workspace

START, MONTHS, PER_MONTH = date(2022, 1, 1), 36, 40
AS_OF = date(2024, 12, 31)
BAD = ("2024-02", "2024-03")
CHANGE = date(2023, 3, 1)


def planted_fleet() -> Fleet:
    """Return three years of units; motors of two build months fail six times as often.

    Every unit enters service a month after it was built; a motor fails with 0.4 %,
    a display with 0.6 % a month before the change of March 2023 and a fifth of that
    after it.
    """
    rng = np.random.default_rng(20240607)
    units: list[Row] = []
    claims: list[Row] = []
    for number in range(MONTHS * PER_MONTH):
        built = _add_months(START, number // PER_MONTH)
        started = built + timedelta(days=30)
        serial = f"U{number:05d}"
        units.append(
            {
                "serial": serial,
                "model": ("Trike", "Scooter")[number % 2],
                "model_year": built.year,
                "build_date": built,
                "in_service_date": started,
                "region": "DE",
            }
        )
        bad = f"{built:%Y-%m}" in BAD
        display = 0.0012 if built >= CHANGE else 0.006
        for text, hazard in (
            ("motor dead", 0.03 if bad else 0.004),
            ("display dead", display),
        ):
            failed = started + timedelta(days=int(rng.exponential(1 / hazard) * 30.4))
            if failed <= AS_OF:
                claims.append(
                    {
                        "claim_no": f"C{len(claims):05d}",
                        "serial": serial,
                        "reported_on": failed,
                        "failed_on": failed,
                        "narrative": text,
                        "cost_labour": 50,
                        "currency": "EUR",
                    }
                )
    return Fleet(units, claims)


def _add_months(day: date, months: int) -> date:
    place = day.year * 12 + day.month - 1 + months
    return date(place // 12, place % 12 + 1, 1)


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    folder = tmp_path_factory.mktemp("rising") / "ws"
    made = workspace_of(planted_fleet(), folder, load=False)
    write_csv(
        folder / "inbox" / "changes.csv",
        [
            {
                "change_no": "DC-1",
                "component": "display",
                "effective_build_date": CHANGE,
                "description": "another seal",
            },
            {
                "change_no": "DC-0",
                "component": "motor",
                "effective_build_date": date(2019, 5, 1),
                "description": "older than the fleet",
            },
            {
                "change_no": "DC-2",
                "component": "motor",
                "effective_build_date": date(2025, 2, 1),
                "description": "still to come",
            },
        ],
    )
    made.ingest()
    return made


def gathered(workspace: Workspace) -> Rising:
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        return rising_inputs(session, workspace.settings, scope, workspace._terms)


@pytest.fixture(scope="module")
def rising(workspace: Workspace) -> Rising:
    return gathered(workspace)


def test_the_planted_fault_is_the_first_signal(rising: Rising) -> None:
    assert rising.judged_on == AS_OF
    assert rising.not_judged == ""
    first = rising.signals.iloc[0]
    assert (first["component"], first["level"]) == ("motor", "alarm")
    months = pd.period_range(
        first["from_date"], first["to_date"] - pd.Timedelta(days=1), freq="M"
    )
    assert set(BAD) & {str(month) for month in months}
    assert 0 < rising.chance_alarms < rising.chance_signals < 2


def test_a_course_ends_at_the_figures_of_its_signal(rising: Rising) -> None:
    first = rising.signals.iloc[0]
    own = rising.signal_months[rising.signal_months["component"] == "motor"]
    assert own["month"].iloc[0] == first["from_date"]
    assert own["month"].iloc[-1] == pd.Timestamp(2024, 12, 1)
    assert own["observed"].is_monotonic_increasing
    assert round(own["observed"].iloc[-1]) == first["claims"]
    assert own["expected"].iloc[-1] == pytest.approx(first["expected"], rel=0.02)
    reached = own[own["level"] != ""]["month"].iloc[0]
    assert (reached.year, reached.month) == (first["since"].year, first["since"].month)


def test_the_first_year_of_three_build_months_follows_the_truth(
    rising: Rising,
) -> None:
    """120 motors, 12 months at 0.4 %: 5.8; limits hold chance of about 60 failures."""
    spots = rising.blind_spots.set_index(["component", "model"])
    assert spots.loc[("motor", ""), "expected"] == pytest.approx(5.8, rel=0.5)
    assert set(spots.index.get_level_values("model")) == {"", "Trike", "Scooter"}
    assert "unclassified" not in spots.index.get_level_values("component")
    assert (spots["multiple"] > 1).all()
    whole = spots.loc[("motor", ""), "multiple"]
    assert (spots.loc["motor"].drop("")["multiple"] > whole).all()


def test_expected_of_sound_months_adds_up_outside_the_window(rising: Rising) -> None:
    assert "motor" in set(rising.windows["component"])
    own = rising.window_months[rising.window_months["component"] == "motor"]
    outside, inside = own[~own["inside"]], own[own["inside"]]
    # the rate is that of these months, so they are as expected together
    assert outside["expected"].sum() == pytest.approx(outside["observed"].sum())
    assert inside["observed"].sum() > 2.5 * inside["expected"].sum()
    assert own["units"].sum() == pytest.approx(MONTHS * PER_MONTH, rel=0.05)


def test_changes_are_judged_or_say_why_not(rising: Rising) -> None:
    frame = rising.design_changes.set_index("change_no")
    assert list(frame.index) == ["DC-2", "DC-1", "DC-0"], "the newest first"
    assert frame.loc["DC-1", "verdict"] == "improved"
    assert frame.loc["DC-1", "description"] == "another seal"
    assert frame.loc["DC-2", "reason"] == "begins after the cut-off"
    assert "older than 5 years" in frame.loc["DC-0", "reason"]
    assert (frame.loc[["DC-0", "DC-2"], "verdict"] == "").all()
    curves = rising.change_curves
    assert set(curves["change_no"]) == {"DC-1"}
    assert (curves[curves["months"] == 0]["share"] == 0).all()
    ends = curves.groupby("side")["share"].max()
    assert ends["before"] > 2 * ends["after"] > 0
    assert curves["months"].max() == frame.loc["DC-1", "at_months"]


def test_a_second_look_gives_the_same(workspace: Workspace, rising: Rising) -> None:
    again = gathered(workspace)
    for name in ("signals", "signal_months", "windows", "change_curves"):
        pd.testing.assert_frame_equal(getattr(again, name), getattr(rising, name))


def test_judged_before_or_now_the_signals_are_the_same(workspace: Workspace) -> None:
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        told = session.frame("marts/acknowledgements")
        settings = workspace.settings
        judged = judge_production(session, settings, scope)
        pd.testing.assert_frame_equal(
            signals(session, settings, scope, told, judged=judged),
            signals(session, settings, scope, told),
        )


def test_a_run_judges_production_once_and_writes_the_page_of_the_report(
    workspace: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = workspace.report_monthly().read_bytes()
    counted: list[object] = []

    def count_production(*given: object, **named: object) -> Production:
        counted.append(named)
        return production.count_production(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(rising_module, "count_production", count_production)
    outcome = workspace.run()
    assert outcome.report.read_bytes() == first
    assert [alarm.component for alarm in outcome.alarms] == ["motor"]
    assert len(counted) == 1
    page = first.decode("utf-8")
    assert "Alarm: motor, all models" in page
    assert 'id="signal-courses-figure"' in page
    assert "DC-1, display: improved" in page


def test_without_a_register_it_says_so(tmp_path: Path) -> None:
    fleet = planted_fleet()
    alone = workspace_of(Fleet([], fleet.claims[:60]), tmp_path / "ws")
    told = gathered(alone)
    assert told.judged_on is None
    assert told.not_judged.startswith("No unit register is loaded")
    assert told.no_changes == told.not_judged
    assert told.signals.empty


def test_a_young_maker_is_told_that_nothing_sets_the_level(tmp_path: Path) -> None:
    fleet = planted_fleet()
    young = [unit for unit in fleet.units if str(unit["build_date"]) >= "2024-08-01"]
    serials = {unit["serial"] for unit in young}
    claims = [claim for claim in fleet.claims if claim["serial"] in serials]
    told = gathered(workspace_of(Fleet(young, claims), tmp_path / "ws"))
    assert told.judged_on is None
    assert "older production" in told.not_judged
    assert told.no_changes.startswith("No list of engineering changes")
