"""Recount repairs unit by unit, in plain Python, from the written definitions.

A second opinion on ``repeats``: the facts of a unit (cover, classes, dates, chance of
a report) come from the second opinion on rates, everything else is counted anew.

- An event is a counted failure of one component (and failure mode, where grouped by
  it) in one unit; claims not more than three days after the one before belong to it.
- Mean events up to age t: over the days before t, events divided by units under
  observation, each unit-day weighted by the chance that a failure on it would be
  known; a failure does not end the observation. Variance: the squared sum, unit by
  unit, of its own events less those due, over the units of the day (Lawless, Nadeau
  1995, Technometrics 37, 158-168). Limits: mean * exp(-+ z * se / mean).
- A repair is followed from the day of its event to the next event of the component
  in the unit; share with one within n days by Kaplan and Meier, days weighted alike.
- Expected: first-failure hazards of the component in the segment, added up over the
  days after each repair up to 90 or the next event; as sure as the number of failures
  that have its relative variance. Limits of the ratio: exact, given both numbers.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date

from brute_force import UNIT_KEYS, History, Oracle, _key, _Seen, exposed, wilson
from fleet_maker import Row
from scipy import stats

MONTH = 30.4375
Z = 1.959963984540054  # 97.5 % point of the normal distribution (scipy norm.ppf)


@dataclass
class Story:
    """One unit (or carried part) from one possible date: when it could be seen."""

    history: History
    events: list[tuple[int, float]] = field(default_factory=list)

    def chance(self, day: int) -> float:
        """Return the weight of a day of age."""
        if not 0 <= day <= self.history.planned:
            return 0.0
        return self.history.chance(day)


@dataclass(frozen=True)
class Event:
    """Claims of one component that belong together."""

    began: date
    component: str
    cost: float
    currencies: frozenset[str]


class Recount:
    """Every figure of ``repeats`` for one fleet."""

    def __init__(self, oracle: Oracle) -> None:
        self.oracle = oracle

    def events(self, unit: Row, what: dict[str, object]) -> list[Event]:
        """Return the events of a unit, component by component."""
        asked = self.oracle.filters.get("component")
        kinds: dict[tuple[str, str], list[_Seen]] = defaultdict(list)
        for seen in self.oracle.claims_of[str(unit["serial"])]:
            mode = seen.mode if "failure_mode" in what else ""
            if (
                seen.klass == "counted"
                and (not asked or seen.component in asked)
                and what.get("component", seen.component) == seen.component
                and what.get("failure_mode", mode) == mode
            ):
                kinds[seen.component, mode].append(seen)
        found = []
        for (component, _), claims in kinds.items():
            claims.sort(key=lambda seen: seen.failed)
            groups: list[list[_Seen]] = []
            for seen in claims:
                near = groups and (seen.failed - groups[-1][-1].failed).days <= 3
                if near:
                    groups[-1].append(seen)
                else:
                    groups.append([seen])
            for group in groups:
                paid = [s.row for s in group if s.row["cost_total"] is not None]
                found.append(
                    Event(
                        group[0].failed,
                        component,
                        sum(float(str(row["cost_total"])) for row in paid),
                        frozenset(str(row["currency"]) for row in paid),
                    )
                )
        return sorted(found, key=lambda event: (event.began, event.component))

    def units(self, segment: dict[str, object]) -> list[tuple[Row, str | None]]:
        """Return units of a segment, with the component where parts are counted."""
        oracle, found = self.oracle, []
        for unit in oracle.units:
            if any(_key(unit, k) != segment[k] for k in segment if k in UNIT_KEYS):
                continue
            if "supplier" not in segment:
                found.append((unit, None))
                continue
            for (serial, component), supplier in oracle.carrier.items():
                mine = serial == unit["serial"] and supplier == segment["supplier"]
                if mine and segment.get("component", component) == component:
                    found.append((unit, str(component)))
        return found

    def story(
        self, unit: Row, cover: str, started: date, weight: float
    ) -> Story | None:
        """Return how a unit could be seen on a cover; None where never."""
        planned = self.oracle.planned_days(unit, cover, started)
        if planned is None:
            return None
        until = (self.oracle.reported_to(unit, cover, started) - started).days
        return Story(History(planned, None, (), weight, until, self.oracle.reported))

    def row(self, segment: dict[str, object], months: float) -> dict[str, object]:
        """Return every figure of one row."""
        what = {k: v for k, v in segment.items() if k in ("component", "failure_mode")}
        stories, costs, followed = [], [], []
        currencies: set[str] = set()
        for unit, part in self.units(segment):
            own = {**what, "component": part} if part else what
            for started, weight in self.oracle.starts(unit):
                cover = part or self.oracle._cover_component(what)
                story = self.story(unit, cover, started, weight)
                if story is None:
                    continue
                paid = Story(story.history)
                stories.append(story)
                costs.append(paid)
                events = self.events(unit, own)
                for event in events:
                    day = max((event.began - started).days, 0)
                    if day <= story.history.planned:
                        story.events.append((day, 1.0))
                        paid.events.append((day, event.cost))
                        if event.cost > 0:
                            currencies |= event.currencies
                followed += self.repairs(unit, events, started, weight)
        t = months * MONTH
        out: dict[str, object] = {"events": self.number(stories, t)}
        out["units"] = sum(story.history.weight for story in stories)
        for name, rows in (("mean_events", stories), ("mean_cost", costs)):
            mean, lower, upper = mean_of(rows, t)
            if name == "mean_cost" and len(currencies) > 1:
                mean = lower = upper = None
            if name == "mean_cost" and mean == 0:
                lower = upper = None
            out |= {name: mean, f"{name}_lower": lower, f"{name}_upper": upper}
        out |= self.success(segment, followed)
        return out

    def number(self, stories: list[Story], t: float) -> float:
        return sum(
            story.history.weight
            for story in stories
            for day, _ in story.events
            if day < t
        )

    def repairs(
        self, unit: Row, events: list[Event], started: date, weight: float
    ) -> list[tuple[Story, int, int, str]]:
        """Return each event with its age, the days to the next one, and component."""
        found = []
        for i, event in enumerate(events):
            story = self.story(unit, event.component, started, weight)
            day = max((event.began - started).days, 0)
            if story is None or day > story.history.planned:
                continue
            later = [e for e in events[i + 1 :] if e.component == event.component]
            gap = (later[0].began - event.began).days if later else 0
            if day + gap > story.history.planned:
                gap = 0
            found.append((story, day, gap, event.component))
        return found

    def success(
        self, segment: dict[str, object], repairs: list[tuple[Story, int, int, str]]
    ) -> dict[str, object]:
        """Return the figures of follow-up."""
        n = sum(s.history.weight for s, day, _, _ in repairs if s.chance(day + 1) > 0)
        out: dict[str, object] = {"repairs_followed": n}
        for window in (30, 90):
            known, share, size, reached = repeat_share(repairs, window, n)
            low, high = wilson(share * size, size)
            name, enough = f"repeat_{window}", round(n) >= 20 and reached
            out[f"repeated_{window}"] = known
            out[name] = share if enough else None
            out[f"{name}_lower"] = low if enough else None
            out[f"{name}_upper"] = high if enough else None
        for mine, other in (("", ""), ("_lower", "_upper"), ("_upper", "_lower")):
            repeat = out[f"repeat_90{other}"]
            out[f"first_time_fix{mine}"] = None if repeat is None else 1 - repeat  # type: ignore[operator]
        out |= self.against_expected(segment, repairs)
        return out

    def against_expected(
        self, segment: dict[str, object], repairs: list[tuple[Story, int, int, str]]
    ) -> dict[str, object]:
        """Return the figures of events after repair."""
        observed = expected = 0.0
        hazards: dict[str, list[tuple[float, float]]] = {}
        days: dict[tuple[str, int], float] = defaultdict(float)
        for story, day, gap, component in repairs:
            if component not in hazards:
                finer = {**segment, "component": component}
                hazards[component] = hazard(self.oracle.histories(finer))
            for x in range(1, (gap or 90) + 1):
                chance = story.chance(day + x)
                if x <= 90 and chance > 0:
                    days[component, day + x] += story.history.weight * chance
                    observed += story.history.weight * (x == gap)
        variance = 0.0
        for (component, day), weight in days.items():
            rate, at_risk = hazards[component][day]
            expected += weight * rate
            variance += weight**2 * rate / at_risk if at_risk else 0.0
        out: dict[str, object] = {"after_repair": observed, "expected": expected}
        names = ("ratio", "ratio_lower", "ratio_upper")
        if not expected > 0:
            return out | dict.fromkeys(names)
        # the observed among all events is binomial (Clopper, Pearson 1934)
        behind = expected**2 / variance
        low = stats.beta.ppf(0.025, observed, behind + 1) if observed else 0.0
        high = stats.beta.ppf(0.975, observed + 1, behind)
        scale = behind / expected
        limits = (low / (1 - low) * scale, high / (1 - high) * scale)
        return out | dict(zip(names, (observed / expected, *limits), strict=True))


def mean_of(
    stories: list[Story], t: float
) -> tuple[float | None, float | None, float | None]:
    """Return the mean up to age t with its limits."""
    longest = max((s.history.planned for s in stories), default=-1)
    units = [
        sum(s.history.weight * s.chance(day) for s in stories)
        for day in range(longest + 1)
    ]
    ended = max((day + 1 for day, n in enumerate(units) if n > 1e-9), default=0)
    if ended < math.ceil(t):
        return None, None, None
    added: dict[int, float] = defaultdict(float)
    for story in stories:
        for day, amount in story.events:
            if day < t and story.chance(day) > 0:
                added[day] += story.history.weight * amount
    mean = sum(total / units[day] for day, total in added.items())
    if not added:
        watched = sum(n for day, n in enumerate(units) if day < t)
        return 0.0, 0.0, math.ceil(t) * math.log(20) / watched
    variance = 0.0
    for story in stories:
        own = sum(
            amount / units[day]
            for day, amount in story.events
            if day < t and story.chance(day) > 0
        )
        due = sum(
            story.chance(day) * total / units[day] ** 2 for day, total in added.items()
        )
        variance += story.history.weight * (own - due) ** 2
    if mean <= 0 or variance <= 1e-14 * mean**2:
        return mean, None, None
    factor = math.exp(Z * math.sqrt(variance) / mean)
    return mean, mean / factor, mean * factor


def repeat_share(
    repairs: list[tuple[Story, int, int, str]], window: int, entered: float
) -> tuple[float, float, float, bool]:
    """Return repeats known, share, effective number and whether anyone got there."""
    survival, greenwood, inverse, known, size = 1.0, 0.0, 0.0, 0.0, 0.0
    reached = False
    for x in range(1, window + 1):
        failed = passed = 0.0
        for story, day, gap, _ in repairs:
            chance = story.chance(day + x)
            if gap == x and chance > 0:
                failed += story.history.weight
            if gap == 0 or x < gap:
                passed += story.history.weight * chance
            elif x > gap and story.chance(day + gap) > 0:
                # it stands for the repeats of its day that are not known yet, too
                own = story.chance(day + gap)
                passed += story.history.weight * (chance - chance / own)
        passed = max(passed, 0.0)
        at_risk = failed + passed
        if at_risk <= 0:
            break
        if passed > 0:
            greenwood += failed / (at_risk * passed)
        survival *= passed / at_risk
        known += failed
        inverse += 1 / at_risk
        size = x / inverse
        if greenwood > 0 and survival > 0:
            size = (1 - survival) / (survival * greenwood)
        size = min(size, entered)
        reached = x == window
    return known, 1 - survival, size, reached


def hazard(rows: list[History]) -> list[tuple[float, float]]:
    """Return the chance of a first failure on each day of age, and units at risk."""
    longest = max((row.planned for row in rows), default=-1)
    found = []
    for day, passed in enumerate(exposed(rows, longest + 1)):
        failed = sum(
            row.weight for row in rows if row.first == day and row.chance(day) > 0
        )
        found.append((failed / (failed + passed) if failed else 0.0, failed + passed))
    return found
