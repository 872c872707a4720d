"""Cover and watch against a second opinion that walks through each unit's claims."""

from __future__ import annotations

import calendar
from collections import defaultdict
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from fleet_maker import Fleet, Row, random_fleet, workspace_of

from claimlens.analysis.question import ask
from claimlens.errors import SettingsError
from claimlens.workspace import Workspace

AS_OF = date(2024, 11, 20)
MILE = 1.609344

TERMS = """
[coverage]
months = 18
distance = 6000
restart = "part"
restart_months = 9
[[coverage.terms]]
model = "Scooter"
months = 12
distance = "none"
[[coverage.terms]]
component = "battery pack"
months = 30
restart = "repair"
[[coverage.terms]]
component = "battery pack"
region = "South"
distance = 9000
[[coverage.terms]]
model = "Trike"
model_year = 2023
months = 20
[[coverage.terms]]
component = "rear light"
months = 0
[[coverage.extensions]]
region = "North"
in_service_from = 2023-03-01
at_least_months = 24
[[coverage.extensions]]
model = "Scooter"
in_service_to = 2023-06-30
more_months = 3
"""
AFTER_REPAIRS = """
[[coverage.extensions]]
region = "South"
after_repair_months = 12
[[coverage.extensions]]
component = "motor"
after_repair_months = 14
whole_unit = true
in_service_from = 2022-09-01
[[coverage.extensions]]
add_repair_days = true
model_year = 2023
whole_unit = true
[[coverage.extensions]]
component = "display"
add_repair_days = true
"""


def add_months(day: date, months: int) -> date:
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(day.day, last))


def with_repairs(fleet: Fleet, seed: int) -> Fleet:
    """Give claims what cover asks for: end of repair, part, distance."""
    rng = np.random.default_rng(seed)
    rates = {
        str(unit["serial"]).upper(): rng.lognormal(2.3, 0.6) for unit in fleet.units
    }
    start = {
        str(unit["serial"]).upper(): unit["in_service_date"] for unit in fleet.units
    }
    for claim in fleet.claims:
        reported = claim["reported_on"]
        assert isinstance(reported, date)
        if rng.random() < 0.7:
            claim["closed_on"] = reported + timedelta(days=int(rng.integers(0, 70)))
        if rng.random() < 0.5:
            claim["decided_on"] = reported + timedelta(days=int(rng.integers(0, 20)))
        if rng.random() < 0.5:
            claim["part_no"] = f"P-{rng.integers(4)}"
        serial = str(claim["serial"] or "").upper()
        began = start.get(serial)
        if began is None or rng.random() < 0.2:
            continue
        failed = claim["failed_on"] or reported
        days = max((failed - began).days, 1)  # type: ignore[operator]
        km = rates[serial] * days
        luck = rng.random()
        if luck < 0.05:
            km *= 1000
        elif luck < 0.1:
            km *= 0.3
        elif luck < 0.13:
            km = 0.0
        unit = ("km", "Miles", None, "hours")[
            int(rng.choice(4, p=(0.5, 0.3, 0.15, 0.05)))
        ]
        claim["usage"] = round(km / MILE if unit == "Miles" else km, 1)
        claim["usage_unit"] = unit
    return fleet


class Walk:
    """Cover by the written rules, one unit and one claim after the other."""

    def __init__(self, fleet: Fleet, *, repairs: bool, late: int = 60) -> None:
        self.repairs = repairs
        self.late = late
        self.units = {str(unit["serial"]).upper(): unit for unit in fleet.units}
        labels = {label["claim_no"]: label for label in fleet.labels}
        found: dict[Any, dict[Any, Row]] = defaultdict(dict)
        for row in fleet.findings:
            if row["inspected_on"] > AS_OF:  # type: ignore[operator]
                continue
            last = found[row["claim_no"]].get(row["part_no"])
            if last is None or row["inspected_on"] > last["inspected_on"]:  # type: ignore[operator]
                found[row["claim_no"]][row["part_no"]] = row
        order = ["confirmed fault", "misuse", "transport damage", "other"]
        self.claims = []
        for claim in fleet.claims:
            failed = claim["failed_on"] or claim["reported_on"]
            if max(failed, claim["reported_on"]) > AS_OF:  # type: ignore[type-var]
                continue
            words = [str(row["finding"]) for row in found[claim["claim_no"]].values()]
            label = labels.get(claim["claim_no"], {})
            ranked = sorted(words, key=[*order, "no fault found"].index)
            self.claims.append(
                {
                    **claim,
                    "failed": failed,
                    "component": label.get("component", "unclassified"),
                    "said": {label.get("failure_mode"), *ranked[:1]},
                    "key": str(claim["serial"] or "").upper(),
                }
            )
        self.read_distances()

    def read_distances(self) -> None:
        for claim in self.claims:
            unit = self.units.get(claim["key"])
            reading, word = claim.get("usage"), claim.get("usage_unit")
            per = {"km": 1.0, None: 1.0, "Miles": MILE}.get(word)
            claim["km"] = None
            if reading is None or per is None or reading <= 0:
                continue
            km = reading * per
            if unit is not None:
                days = max((claim["failed"] - unit["in_service_date"]).days, 1)
                if km > 1000 * days:
                    continue
            claim["km"] = km
        raw = {claim["claim_no"]: claim["km"] for claim in self.claims}
        for claim in self.claims:
            if raw[claim["claim_no"]] is None or not claim["key"]:
                continue
            for other in self.claims:
                if other["key"] != claim["key"] or raw[other["claim_no"]] is None:
                    continue
                gap = (other["failed"] - claim["failed"]).days
                more = raw[other["claim_no"]] - raw[claim["claim_no"]]
                if gap * more < 0:
                    claim["km"] = None

    def terms(self, unit: Row, component: str) -> tuple[int, float | None, str, int]:
        """Return months, limit, what restarts, and for how long."""
        scooter, trike23 = (
            unit["model"] == "Scooter",
            unit["model"] == "Trike" and unit["model_year"] == 2023,
        )
        months, limit = 18, 6000.0 if not scooter else None
        if scooter:
            months = 12
        if trike23:
            months = 20
        restart, lasting = "part", 9
        if component == "battery pack":
            months, restart, lasting = 30, "repair", 0
            if unit["region"] == "South":
                limit = 9000.0
        if component == "rear light":
            months = 0
        started = unit["in_service_date"]
        if unit["region"] == "North" and started >= date(2023, 3, 1):  # type: ignore[operator]
            months = max(months, 24)
        if scooter and started <= date(2023, 6, 30) and months:  # type: ignore[operator]
            months += 3
        return months, limit, restart, lasting or months

    def is_usable(self, claim: dict[str, Any]) -> bool:
        unit = self.units.get(claim["key"])
        return (
            claim["status"] not in ("cancelled", "denied")
            and unit is not None
            and claim["failed"] <= claim["reported_on"]
            and claim["failed"] >= unit["in_service_date"]
        )

    def repaired(self, claim: dict[str, Any]) -> date | None:
        if not self.is_usable(claim) or claim["goodwill"] == "yes":
            return None
        if claim["said"] & {"misuse", "transport damage", "no fault found"}:
            return None
        closed, decided = claim.get("closed_on"), claim.get("decided_on")
        if closed is not None:
            return closed if closed <= AS_OF else None
        if claim["status"] == "open":
            return None
        if decided is not None:
            return decided if decided <= AS_OF else None
        return claim["reported_on"]  # type: ignore[no-any-return]

    def settle(self, serial: str) -> tuple[set[str], dict[str, set[date]], Any, Any]:
        """Return covered claims, days and ends that repairs added, by component."""
        unit = self.units[serial]
        mine = [claim for claim in self.claims if claim["key"] == serial]
        covered: set[str] = set()
        while True:
            days: dict[str, set[date]] = defaultdict(set)
            until: dict[str, date] = {}
            replaced: list[tuple[dict[str, Any], date]] = []
            for claim in mine:
                done = self.repaired(claim)
                if claim["claim_no"] not in covered or done is None:
                    continue
                self._add(unit, claim, done, days, until)
                _, _, restart, lasting = self.terms(unit, claim["component"])
                if restart == "repair" or claim.get("part_no") is not None:
                    replaced.append((claim, add_months(done, lasting)))
            now = {
                str(claim["claim_no"])
                for claim in mine
                if self._inside(unit, claim, days, until, replaced)
            }
            if now == covered:
                return covered, days, until, replaced
            covered = now

    def _add(
        self,
        unit: Row,
        claim: dict[str, Any],
        done: date,
        days: dict[str, set[date]],
        until: dict[str, date],
    ) -> None:
        if not self.repairs:
            return
        component = claim["component"]
        stay = {
            claim["reported_on"] + timedelta(days=n)
            for n in range((done - claim["reported_on"]).days)
        }
        if unit["region"] == "South":
            end = add_months(done, 12)
            until[component] = max(end, until.get(component, end))
        if component == "motor" and unit["in_service_date"] >= date(2022, 9, 1):  # type: ignore[operator]
            end = add_months(done, 14)
            until[""] = max(end, until.get("", end))
        if unit["model_year"] == 2023:
            days[""] |= stay
        if component == "display":
            days[component] |= stay

    def _inside(
        self,
        unit: Row,
        claim: dict[str, Any],
        days: dict[str, set[date]],
        until: dict[str, date],
        replaced: list[tuple[dict[str, Any], date]],
    ) -> bool:
        component = claim["component"]
        months, limit, _, _ = self.terms(unit, component)
        if months == 0:
            return False
        end = add_months(unit["in_service_date"], months) + timedelta(  # type: ignore[arg-type]
            days=len(days[""]) + len(days[component])
        )
        end = max([end, *(until[k] for k in ("", component) if k in until)])
        late = timedelta(days=self.late)
        if (
            claim["failed"] <= end
            and claim["reported_on"] <= end + late
            and (limit is None or claim["km"] is None or claim["km"] <= limit)
        ):
            return True
        for earlier, last in replaced:
            if (
                earlier["component"] == component
                and earlier["failed"] < claim["failed"] <= last
                and claim["reported_on"] <= last + late
            ):
                if limit is None or claim["km"] is None or earlier["km"] is None:
                    return True
                if claim["km"] - earlier["km"] <= limit:
                    return True
        return False

    def watched(self, serial: str, component: str) -> int | None:
        """Return the last watched day of a unit for the first failures of one part."""
        unit = self.units[serial]
        months = self.terms(unit, component)[0]
        if months == 0:
            return None
        started = unit["in_service_date"]
        _, days, until, _ = self.settle(serial)
        end = add_months(started, months) + timedelta(days=len(days[""]))  # type: ignore[arg-type]
        ends = [AS_OF, max(end, until.get("", end))]
        retired = unit["retired_on"]
        failures = [c["failed"] for c in self.claims if c["key"] == serial]
        if retired is not None and retired >= max([started, *failures]):  # type: ignore[operator]
            ends.append(retired)  # type: ignore[arg-type]
        days_watched = (min(ends) - started).days  # type: ignore[operator]
        return days_watched if days_watched >= 0 else None


def tables(workspace: Workspace) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the claims with their class, and the watch."""
    with workspace._reading(ask(as_of=AS_OF)) as (session, _):
        run = session._connection.execute
        return run("from int_claims").df(), run("from int_watch").df()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("repairs", [False, True])
def test_classes_and_watch_equal_a_walk_through_every_unit(
    seed: int, repairs: bool, tmp_path: Path
) -> None:
    fleet = with_repairs(random_fleet(40 + seed, n_units=250), seed)
    settings = TERMS + (AFTER_REPAIRS if repairs else "")
    workspace = workspace_of(fleet, tmp_path / "ws", settings)
    claims, watch = tables(workspace)
    walk = Walk(fleet, repairs=repairs)
    covered = {claim_no for serial in walk.units for claim_no in walk.settle(serial)[0]}
    usable = [claim for claim in walk.claims if walk.is_usable(claim)]
    outside = {c["claim_no"] for c in usable if c["claim_no"] not in covered}
    seen = claims[claims["claim_class"] == "outside coverage"]
    assert set(seen["claim_no"]) == outside
    assert len(outside) > 5
    assert len(usable) - len(outside) > 30
    for cover_class in ("", "battery pack", "rear light"):
        mine = watch[watch["cover_class"] == cover_class]
        got = dict(zip(mine["serial_key"], mine["planned_days"], strict=True))
        wanted = {serial: walk.watched(serial, cover_class) for serial in walk.units}
        assert got == {key: day for key, day in wanted.items() if day is not None}


def test_the_random_fleets_hold_what_the_walk_is_there_to_judge() -> None:
    fleet = with_repairs(random_fleet(41, n_units=400), 1)
    with_law, without = Walk(fleet, repairs=True), Walk(fleet, repairs=False)
    n_law = sum(len(with_law.settle(serial)[0]) for serial in with_law.units)
    n_plain = sum(len(without.settle(serial)[0]) for serial in without.units)
    assert n_law > n_plain
    assert any(without.settle(serial)[3] for serial in without.units)
    assert any(claim["km"] is None and claim.get("usage") for claim in without.claims)


@pytest.mark.parametrize("recorded_from", [date(2023, 6, 15), date(2024, 2, 29)])
def test_units_are_watched_from_the_first_day_of_recording(
    recorded_from: date, tmp_path: Path
) -> None:
    fleet = random_fleet(77, n_units=150)
    settings = f"[counting]\nrecorded_from = {recorded_from}\n"
    workspace = workspace_of(fleet, tmp_path / "ws", settings)
    whole = workspace_of(fleet, tmp_path / "whole", "")
    claims, watch = tables(workspace)
    all_claims, all_watch = tables(whole)
    starts = watch["in_service_date"].dt.date
    entry = [max((recorded_from - start).days, 0) for start in starts]
    assert watch["entry_days"].tolist() == entry
    ends = all_watch.set_index("serial_key")
    last = ends["in_service_date"] + pd.to_timedelta(ends["planned_days"], unit="D")
    kept = ends.index[last >= pd.Timestamp(recorded_from)]
    assert set(watch["serial_key"]) == set(kept)
    before = claims["failed_on"] < pd.Timestamp(recorded_from)
    lost = claims["claim_class"] == "before recording"
    assert lost.sum() > 5
    assert not (lost & ~before).any()
    counted = set(claims.loc[claims["claim_class"] == "counted", "claim_no"])
    all_counted = all_claims[all_claims["claim_class"] == "counted"]
    later = all_counted["failed_on"] >= pd.Timestamp(recorded_from)
    assert counted == set(all_counted.loc[later, "claim_no"])


DAYS = [
    # in service, months, last covered day
    (date(2023, 1, 15), 24, date(2025, 1, 15)),
    (date(2023, 1, 31), 1, date(2023, 2, 28)),
    (date(2023, 12, 31), 2, date(2024, 2, 29)),
    (date(2024, 2, 29), 12, date(2025, 2, 28)),
    (date(2024, 2, 29), 24, date(2026, 2, 28)),
    (date(2022, 2, 28), 24, date(2024, 2, 28)),
]


@pytest.mark.parametrize(("started", "months", "last"), DAYS)
def test_the_last_day_is_covered_and_the_next_is_not(
    started: date, months: int, last: date, tmp_path: Path
) -> None:
    days = {"A": last, "B": last + timedelta(days=1)}
    units = [
        {"serial": s, "model": "Trike", "model_year": 2023, "in_service_date": started}
        for s in days
    ]
    claims: list[Row] = [
        {"claim_no": f"C{s}", "serial": s, "failed_on": day, "reported_on": day}
        for s, day in days.items()
    ]
    fleet = Fleet(units=units, claims=claims)  # type: ignore[arg-type]
    workspace = workspace_of(
        fleet, tmp_path / "ws", f"[coverage]\nmonths = {months}\nlate_report_days = 0\n"
    )
    with workspace._reading(ask(as_of=date(2027, 1, 1))) as (session, _):
        run = session._connection.execute
        rows = run("select claim_class from int_claims order by claim_no").fetchall()
        watched = run("select distinct planned_days from int_watch").fetchall()
    assert rows == [("counted",), ("outside coverage",)]
    assert watched == [((last - started).days,)]


@pytest.mark.parametrize("table", ["terms", "extensions"])
def test_a_component_that_there_is_not_is_refused(table: str, tmp_path: Path) -> None:
    word = "months = 3" if table == "terms" else "more_months = 3"
    fleet = random_fleet(1, n_units=5)
    workspace = workspace_of(
        fleet,
        tmp_path / "ws",
        f'[[coverage.{table}]]\ncomponent = "moter"\n{word}\n',
    )
    with pytest.raises(SettingsError, match=rf"coverage\.{table} is for 'moter'"):
        workspace.rates(as_of=AS_OF)
