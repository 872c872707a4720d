"""Count and estimate unit by unit, in plain Python, from the written definitions.

Nothing of claimlens is used here: this is the second opinion. The definitions:

- A failure on day ``d`` of service counts for age ``t`` when ``d < t``; a unit
  watched through day ``d`` is old enough for ``t`` when ``d + 1 >= t`` (ages in
  days, 30.4375 to the month).
- A unit is watched from its in-service date to the earliest of cut-off, end of
  cover (calendar months, last day included) and retirement.
- The first counted failure of a unit and component is the failure; claims not more
  than three days after the one before are the same event; later events are repeats.
- Not counted: cancelled, denied, without or with an unknown serial, reported before
  failed, failed before in service, outside cover or reported more than 60 days after
  its end, goodwill, misuse, transport damage, no fault found.
- A unit without an in-service date stands for all dates that are possible: its day
  of shipping plus each sales lag, up to its first failure or the cut-off, with the
  lag's share as weight. Of a unit with a claim the weights add up to 1, since it was
  sold; of one without they add up to its chance of having been sold (Lawless 1998).
  A region's lags weigh n / (n + 50) against those of all n dated units, those of a
  model in a region likewise against the region's (a rule of claimlens).
- A supplier's parts are counted one by one: each unit and component that carries one.
- A failure of yesterday is hardly in the data yet: each day of a unit counts as much
  as the share of failures of that day that can have been reported by now. The share
  reported within l days is the reverse-time product limit over the claims inside cover
  (whatever an inspection found) of the last two years with a failure date of their
  own (Lagakos et al. 1988, Biometrika 75, 515-523; Kalbfleisch, Lawless, Robinson
  1991, Technometrics 33, 273-285); claims without one lie at their report. Days of
  which less than 20 % is reported count nothing. Fewer claims than the settings ask
  for tell nothing: every day counts in full.
- A failure without an in-service date lies below an age with chance w: the share
  failed has the more variance, sum w (1 - w) times (share / failures) squared.
- Share failed: Kaplan, Meier (1958), J. Am. Stat. Assoc. 53, 457-481; effective size
  F(1 - F)/V with Greenwood's V (Dorey, Korn 1987, Stat. Med. 6, 679-687); interval:
  Wilson (1927), J. Am. Stat. Assoc. 22, 209-212.
"""

from __future__ import annotations

import calendar
import math
from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta

from fleet_maker import Fleet, Row

MONTH = 30.4375
Z = 1.959963984540054  # 97.5 % point of the normal distribution (scipy norm.ppf)

GRAVITY = (
    "confirmed fault",
    "misuse",
    "transport damage",
    "other",
    "no fault found",
)
UNIT_KEYS = ("model", "model_year", "region", "generation", "build_month")


@dataclass
class Rules:
    """Terms of cover and what counts, as the settings say them."""

    months: int = 24
    late_report_days: int = 60
    same_event_days: int = 3
    tolerance_days: int = 0
    lag_claims: int = 20
    terms: list[dict[str, object]] = field(default_factory=list)
    counted_too: tuple[str, ...] = ()

    def cover_months(self, model: object, component: str, region: str) -> int:
        """Return the months of the most exact term; component before model."""
        best, months = -1, self.months
        for term in self.terms:
            place = {"model": model, "component": component, "region": region}
            if any(term[k] != v for k, v in place.items() if k in term):
                continue
            exactness = (
                4 * ("component" in term) + 2 * ("model" in term) + ("region" in term)
            )
            if exactness >= best:  # of equals the later one
                best, months = exactness, int(str(term["months"]))
        return months


def add_months(day: date, months: int) -> date:
    """Add calendar months; the last day of a shorter month where needed."""
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(day.day, last))


def wilson(x: float, n: float) -> tuple[float, float]:
    """Return the Wilson interval of x of n."""
    if n == 0:
        return 0.0, 1.0
    p = x / n
    centre = (p + Z**2 / (2 * n)) / (1 + Z**2 / n)
    half = Z * math.sqrt(p * (1 - p) / n + Z**2 / (4 * n**2)) / (1 + Z**2 / n)
    lower = 0.0 if x == 0 else centre - half
    upper = 1.0 if x == n else centre + half
    return lower, upper


@dataclass
class _Seen:
    """One claim with what the counting needs."""

    row: Row
    unit: Row | None
    failed: date
    component: str
    mode: str
    klass: str = ""


class Oracle:
    """The answers for one fleet, one cut-off and one set of filters."""

    def __init__(
        self,
        fleet: Fleet,
        as_of: date,
        rules: Rules | None = None,
        filters: dict[str, list[str]] | None = None,
        lags: dict[int, float] | None = None,
        *,
        lags_of: Callable[[Row], dict[int, float]] | None = None,
    ) -> None:
        self.as_of = as_of
        self.lags = lags or {}
        self.lags_of = lags_of or (lambda unit: self.lags)
        self.rules = rules or Rules()
        self.filters = filters or {}
        self.register = {str(u["serial"]).upper(): u for u in fleet.units}
        self.labels = {label["claim_no"]: label for label in fleet.labels}
        self.findings = self._latest_findings(fleet.findings)
        known = [self._seen(claim) for claim in fleet.claims if self._known(claim)]
        self.claims_of: dict[str, list[_Seen]] = defaultdict(list)
        for seen in known:
            if seen.unit is not None:
                self.claims_of[str(seen.unit["serial"])].append(seen)
        for seen in known:
            seen.klass = self._class(seen)
        self.claims = [seen for seen in known if self._wanted_claim(seen)]
        self.carrier = {
            (str(row["serial"]), row["component"]): row["supplier"]
            for row in fleet.fitted_parts
        }
        self.units = [unit for unit in fleet.units if self._wanted(unit)]
        self.reported = self._share_reported(known)

    def _share_reported(self, known: list[_Seen]) -> list[float]:
        """Return the share reported within 0, 1, .. 366 days, of all claims."""
        pairs, n_assumed = [], 0
        for seen in known:
            days_ago = (self.as_of - seen.failed).days
            lag = (seen.row["reported_on"] - seen.failed).days  # type: ignore[operator]
            # an inspection comes later than the report and has no say in it
            inside = seen.klass == "counted" or seen.klass in GRAVITY
            if not inside or days_ago > 732 or lag > 366:
                continue
            if seen.row["failed_on"] is None:
                n_assumed += 1
                continue
            assert seen.unit is not None
            until = self.reported_to(seen.unit, seen.component)
            pairs.append((lag, min((until - seen.failed).days, 366)))
        if len(pairs) < self.rules.lag_claims:
            return [1.0]
        share, shares = 1.0, [1.0]
        for day in range(366, 0, -1):
            ended = sum(lag == day for lag, _ in pairs)
            could = sum(lag <= day <= horizon for lag, horizon in pairs)
            share *= 1 - (ended / could if could else 0.0)
            shares.append(share)
        shares.reverse()
        assumed = n_assumed / (n_assumed + len(pairs))
        mixed = [assumed + (1 - assumed) * value for value in shares]
        return [0.0 if value < 0.2 else value for value in mixed]

    def reported_to(
        self, unit: Row, component: str, started: date | None = None
    ) -> date:
        """Return until when a report of a unit's component still counts."""
        if "outside coverage" in self.rules.counted_too:
            return self.as_of
        end = self.cover_end(unit, component, started or self.likely_start(unit))
        late = timedelta(days=self.rules.late_report_days)
        return min(self.as_of, end + late)

    def starts(self, unit: Row) -> list[tuple[date, float]]:
        """Return each possible in-service date with its weight."""
        dated = unit["in_service_date"]
        if dated is not None:
            return [(dated, 1.0)] if dated <= self.as_of else []  # type: ignore[list-item,operator]
        failures = [seen.failed for seen in self.claims_of[str(unit["serial"])]]
        latest = min([self.as_of, *failures])
        possible = [
            (unit["ship_date"] + timedelta(days=lag), share)  # type: ignore[operator]
            for lag, share in self.lags_of(unit).items()
        ]
        possible = [(day, share) for day, share in possible if day <= latest]
        whole = sum(share for _, share in possible) if failures else 1.0
        return [(day, share / whole) for day, share in possible]

    def likely_start(self, unit: Row) -> date:
        """Return the registered in-service date, or that by the median lag."""
        if unit["in_service_date"] is not None:
            return unit["in_service_date"]  # type: ignore[return-value]
        reached = 0.0
        for lag, share in sorted(self.lags.items()):
            reached += share
            if reached >= 0.5:
                return unit["ship_date"] + timedelta(days=lag)  # type: ignore[operator,no-any-return]
        raise AssertionError("no lag")

    def _known(self, claim: Row) -> bool:
        return claim["reported_on"] <= self.as_of  # type: ignore[operator,no-any-return]

    def _latest_findings(self, rows: list[Row]) -> dict[object, str]:
        """Return each claim's finding: of each part the last, of those the gravest."""
        last: dict[tuple[object, object], Row] = {}
        for row in rows:
            if row["inspected_on"] > self.as_of:  # type: ignore[operator]
                continue
            key = (row["claim_no"], row["part_no"])
            before = last.get(key)
            if before is None or row["inspected_on"] > before["inspected_on"]:  # type: ignore[operator]
                last[key] = row
        found: dict[object, str] = {}
        for (claim_no, _), row in last.items():
            words = [str(row["finding"]), found.get(claim_no, "no fault found")]
            found[claim_no] = min(words, key=GRAVITY.index)
        return found

    def _seen(self, claim: Row) -> _Seen:
        label = self.labels.get(claim["claim_no"], {})
        failed = claim["failed_on"]
        if failed is None or failed > self.as_of:  # type: ignore[operator]
            failed = claim["reported_on"]
        return _Seen(
            claim,
            self.register.get(str(claim["serial"] or "").upper()),
            failed,  # type: ignore[arg-type]
            str(label.get("component", "unclassified")),
            str(label.get("failure_mode", "unclassified")),
        )

    def _wanted(self, unit: Row) -> bool:
        for name in ("model", "model_year", "region"):
            asked = self.filters.get(name)
            if asked and str(unit[name] or "") not in asked:
                return False
        return True

    def _wanted_claim(self, seen: _Seen) -> bool:
        if seen.unit is None:
            return not self.filters
        return self._wanted(seen.unit)

    def _class(self, seen: _Seen) -> str:
        """Return the first reason for which a claim is left out, or 'counted'."""
        reasons = [self._not_usable(seen)]
        if not reasons[0]:
            reasons += [self._out_of_time(seen), self._excused(seen)]
        return next((reason for reason in reasons if reason), "counted")

    def _not_usable(self, seen: _Seen) -> str:
        claim = seen.row
        reported = claim["reported_on"]
        tests = (
            (claim["status"] == "cancelled", "cancelled"),
            (claim["status"] == "denied", "denied"),
            (claim["serial"] is None, "no serial"),
            (seen.unit is None, "unknown serial"),
            (reported < (claim["failed_on"] or reported), "reported before failed"),  # type: ignore[operator]
        )
        return next((reason for is_so, reason in tests if is_so), "")

    def _out_of_time(self, seen: _Seen) -> str:
        assert seen.unit is not None
        started = self.likely_start(seen.unit)
        tolerance = timedelta(days=self.rules.tolerance_days)
        is_dated = seen.unit["in_service_date"] is not None
        if is_dated and seen.failed < started - tolerance:
            return "before delivery"
        end = self.cover_end(seen.unit, seen.component, started)
        late = end + timedelta(days=self.rules.late_report_days)
        is_outside = seen.failed > end or seen.row["reported_on"] > late  # type: ignore[operator]
        if is_outside and "outside coverage" not in self.rules.counted_too:
            return "outside coverage"
        return ""

    def _excused(self, seen: _Seen) -> str:
        said = (self.findings.get(seen.row["claim_no"]), seen.mode)
        words = ["goodwill"] if seen.row["goodwill"] == "yes" else []
        words += [
            word
            for word in ("misuse", "transport damage", "no fault found")
            if word in said
        ]
        left_out = [word for word in words if word not in self.rules.counted_too]
        return left_out[0] if left_out else ""

    def cover_end(self, unit: Row, component: str, started: date) -> date:
        """Return the last covered day of a unit's component."""
        months = self.rules.cover_months(
            unit["model"], component, str(unit["region"] or "")
        )
        return add_months(started, months)

    def classes(self) -> Counter[str]:
        """Return the number of claims in sight by class."""
        return Counter(seen.klass for seen in self.claims)

    def planned_days(self, unit: Row, component: str, started: date) -> int | None:
        """Return through which day a unit is watched; None where never."""
        months = self.rules.cover_months(
            unit["model"], component, str(unit["region"] or "")
        )
        if months == 0:
            return None
        ends = [self.as_of]
        if "outside coverage" not in self.rules.counted_too:
            ends.append(self.cover_end(unit, component, started))
        retired = unit.get("retired_on")
        in_service = unit["in_service_date"]
        if retired is not None and (in_service is None or retired >= in_service):  # type: ignore[operator]
            failures = [seen.failed for seen in self.claims_of[str(unit["serial"])]]
            # a retirement that a later failure contradicts is not believed
            if all(day <= retired for day in failures):  # type: ignore[operator]
                ends.append(retired)  # type: ignore[arg-type]
        days = (min(ends) - started).days
        return days if days >= 0 else None

    def segments(self, by: tuple[str, ...]) -> list[dict[str, object]]:
        """Return every unit group crossed with every thing that can fail."""
        asked = self.filters.get("component")
        kinds = {(seen.component, seen.mode) for seen in self.claims}
        if asked:
            kinds = {kind for kind in kinds if kind[0] in asked}
            kinds |= {
                (name, "unclassified")
                for name in asked
                if name not in {kind[0] for kind in kinds}
            }
        failing = {
            tuple(
                (name, kind[0] if name == "component" else kind[1])
                for name in by
                if name in ("component", "failure_mode")
            )
            for kind in kinds
        } or {()}
        if not set(by) & {"component", "failure_mode"}:
            failing = {()}
        found: list[dict[str, object]] = []
        for what in failing:
            component = self._cover_component(dict(what))
            groups = {
                tuple((name, _key(unit, name)) for name in by if name in UNIT_KEYS)
                for unit in self.units
                for started, _ in self.starts(unit)
                if self.planned_days(unit, component, started) is not None
            }
            if not groups and not set(by) & set(UNIT_KEYS):
                groups = {()}  # never covered: a row that says so
            found += [dict((*group, *what)) for group in groups]
        return found

    def _cover_component(self, what: dict[str, object]) -> str:
        """Return whose cover a segment runs on; '' is the unit's own."""
        if "component" in what:
            return str(what["component"])
        asked = self.filters.get("component", [])
        return asked[0] if len(asked) == 1 else ""

    def events(self, unit: Row, what: dict[str, object]) -> list[date]:
        """Return the days on which a unit's events began."""
        asked = self.filters.get("component")
        days = sorted(
            seen.failed
            for seen in self.claims_of[str(unit["serial"])]
            if seen.klass == "counted"
            and (not asked or seen.component in asked)
            and what.get("component", seen.component) == seen.component
            and what.get("failure_mode", seen.mode) == seen.mode
        )
        return [
            day
            for previous, day in zip([None, *days], days, strict=False)
            if previous is None or (day - previous).days > self.rules.same_event_days
        ]

    def histories(self, segment: dict[str, object]) -> list[History]:
        """Return the history of each unit (or carried part) of a segment."""
        what = {k: v for k, v in segment.items() if k in ("component", "failure_mode")}
        rows = []
        for unit in self.units:
            if any(_key(unit, k) != segment[k] for k in segment if k in UNIT_KEYS):
                continue
            if "supplier" not in segment:
                rows += self._history(unit, what, self._cover_component(what))
                continue
            for (serial, component), supplier in self.carrier.items():
                if serial != unit["serial"] or supplier != segment["supplier"]:
                    continue
                if what.get("component", component) == component:
                    own = {**what, "component": component}
                    rows += self._history(unit, own, str(component))
        return rows

    def _history(self, unit: Row, what: dict[str, object], cover: str) -> list[History]:
        rows = []
        for started, weight in self.starts(unit):
            planned = self.planned_days(unit, cover, started)
            if planned is None:
                continue
            days = [max((day - started).days, 0) for day in self.events(unit, what)]
            seen = [day for day in days if day <= planned]
            first = seen[0] if seen else None
            until = (self.reported_to(unit, cover, started) - started).days
            rows.append(
                History(
                    *(planned, first, tuple(seen[1:]), weight, until, self.reported),
                    unit=str(unit["serial"]),
                )
            )
        return rows

    def rate(self, segment: dict[str, object], months: float) -> dict[str, object]:
        """Return every figure of a row of ``rates``."""
        return rate_of(self.histories(segment), months)


@dataclass(frozen=True)
class History:
    """One unit: through which day it is watched, its failure, its repeats."""

    planned: int
    first: int | None
    repeats: tuple[int, ...] = ()
    weight: float = 1.0
    reported_to: int = 10**6
    reported: list[float] = field(default_factory=lambda: [1.0])
    unit: str = ""

    def chance(self, day: int) -> float:
        """Return the chance that a failure on this day is reported by now."""
        return self.reported[min(self.reported_to - day, len(self.reported) - 1)]

    def chances(self) -> list[float]:
        """Return the chance of every day watched, times the unit's weight."""
        # on most days it is the last one of the list: asked for once
        longest = len(self.reported) - 1
        old = min(max(self.reported_to - longest, 0), self.planned + 1)
        return [self.weight * self.reported[longest]] * old + [
            self.weight * self.chance(day) for day in range(old, self.planned + 1)
        ]


def rate_of(rows: list[History], months: float) -> dict[str, object]:
    """Return every figure of a row of ``rates`` from unit histories."""
    t = months * MONTH
    old = [row for row in rows if row.planned + 1 >= t]
    n_old = sum(row.weight for row in old)
    failed_old = sum(r.weight for r in old if r.first is not None and r.first < t)
    plain = wilson(failed_old, n_old)
    out: dict[str, object] = {
        "units": sum(row.weight for row in rows),
        "units_old_enough": n_old,
        "claims": sum(r.weight for r in rows if r.first is not None and r.first < t),
        "repeats": sum(row.weight for row in rows for day in row.repeats if day < t),
        "plain_rate": failed_old / n_old if old else None,
        "plain_lower": plain[0] if old else None,
        "plain_upper": plain[1] if old else None,
    }
    share, size, reached = kaplan_meier(rows, t)
    known = reached and bool(old)
    lower, upper = wilson(share * size, size) if known else (None, None)
    extra = missing_information(rows, t, share)
    if known and extra > 0 and 0 < share < 1:
        size = share * (1 - share) / (share * (1 - share) / size + extra)
        wider = wilson(share * size, size)
        lower, upper = min(lower, wider[0]), max(upper, wider[1])  # type: ignore[type-var]
    out["rate"] = share if known else None
    out["lower"] = lower
    out["upper"] = 1.0 if known and share == 1.0 else upper
    out["effective_n"] = size if known else None
    return out


def missing_information(rows: list[History], t: float, share: float) -> float:
    """Return the variance that undated failures add to a share."""
    failed: dict[str, float] = defaultdict(float)
    for row in rows:
        if row.first is not None and row.first < t and row.chance(row.first) > 0:
            failed[row.unit] += row.weight
    number = sum(failed.values())
    spread = sum(w * (1 - w) for w in failed.values() if w < 1 - 1e-12)
    return spread * (share / number) ** 2 if number else 0.0


def _key(unit: Row, name: str) -> object:
    if name == "build_month":
        built = unit["build_date"]
        return None if built is None else built.replace(day=1)  # type: ignore[attr-defined]
    if name == "region":
        return unit["region"] or ""
    return unit[name]


def exposed(rows: list[History], n_days: int) -> list[float]:
    """Return who passed each day without failing, weighted by the chance to see it.

    A known failure leaves for all failures of its day, those not yet known too.
    """
    total = [0.0] * n_days
    for row in rows:
        then = 1.0 if row.first is None else row.chance(row.first) or 1.0
        for day, chance in enumerate(row.chances()):
            if row.first is None or day < row.first:
                total[day] += chance
            elif day > row.first:
                total[day] += chance - chance / then
    return [max(n, 0.0) for n in total]


def kaplan_meier(rows: list[History], t: float) -> tuple[float, float, bool]:
    """Return share failed by ``t`` days, effective size, and whether reached."""
    longest = max((row.planned for row in rows), default=0)
    failing = [0.0] * (longest + 1)
    for row in rows:
        if row.first is not None and row.chance(row.first) > 0:
            failing[row.first] += row.weight
    at_risk = [
        stayed + failed
        for stayed, failed in zip(exposed(rows, longest + 1), failing, strict=True)
    ]
    entered = sum(row.weight for row in rows)
    survival, greenwood, inverse, size, watched = 1.0, 0.0, 0.0, entered, True
    for day in range(longest + 1):
        if day >= t:
            break
        if at_risk[day] < 1e-9:
            watched = False
            break
        if failing[day] > at_risk[day] * (1 - 1e-9):
            return 1.0, size, True  # none is left: all have failed for good
        if failing[day]:
            greenwood += failing[day] / (at_risk[day] * (at_risk[day] - failing[day]))
            survival *= 1 - failing[day] / at_risk[day]
        inverse += 1 / at_risk[day]
        raw = (day + 1) / inverse
        if greenwood:
            raw = (1 - survival) / (survival * greenwood)
        size = min(raw, entered)
    reached = watched and longest + 1 >= t
    return 1 - survival, size, reached
