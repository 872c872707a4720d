"""How soon is a fault seen, and are its build months named?

A part shared by all models fails three or five times as often in units of three
build months, in a fleet of 300 units a month. It counts as seen when the component
over all models, or in one, is a signal whose run overlaps the bad months, at the
latest six or twelve months after the first of them. Also: is the multiple right that
the report says can be seen with 80 % chance?
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from fleets import report
from numpy.typing import NDArray
from rising_fleets import Fault, Plan, draw_fleet

from claimlens.stats.rising import Month, rising_faults, smallest_multiple

CLASSES = ((2.0, 4.0), (4.0, 8.0), (8.0, 16.0))
BAD_MONTHS = 3
OF_EACH = 2


def study(
    repeats: int = 40, seed: int = 20240607, times: Sequence[float] = (3.0, 5.0)
) -> list[dict[str, Any]]:
    """Return how often a fault is seen, by what would have failed anyway."""
    plan = Plan()
    rows = []
    for factor in times:
        found = [
            one
            for number in range(repeats)
            for one in _fleet((seed, number), plan, factor)
        ]
        for low, high in CLASSES:
            chosen = [one for one in found if low <= one["anyway"] < high]
            rows.append(
                {
                    "times": factor,
                    "expected anyway": f"{low:g}-{high:g}",
                    "faults": len(chosen),
                    **{
                        name: float(np.mean([one[name] for one in chosen]))
                        for name in chosen[0]
                        if name != "anyway"
                    },
                }
            )
    return rows


def _fleet(seed: Sequence[int], plan: Plan, factor: float) -> list[dict[str, float]]:
    """Plant faults in some components of one fleet, and look for them."""
    rng = np.random.default_rng([*seed, 1])
    truth = draw_fleet(seed, plan)
    first = plan.builds - 18 + rng.integers(0, 6, plan.components)
    anyway = np.array(
        [
            truth.first_year(component, start, start + BAD_MONTHS - 1)
            for component, start in enumerate(first)
        ]
    )
    likely = np.flatnonzero((anyway >= CLASSES[0][0]) & (anyway < CLASSES[-1][1]))
    faults = [
        Fault(
            component=component,
            first=int(first[component]),
            last=int(first[component]) + BAD_MONTHS - 1,
            times=factor,
        )
        for component in _chosen(rng.permutation(likely), anyway)
    ]
    begin = plan.builds - 18
    fleet = draw_fleet(seed, plan, faults)
    months = rising_faults(fleet.views, range(begin, plan.builds))
    return [
        {
            "anyway": float(anyway[fault.component]),
            **_seen(months[fault.first - begin :], fault, plan),
        }
        for fault in faults
    ]


def _chosen(components: NDArray[np.int64], anyway: NDArray[np.float64]) -> list[int]:
    """Return some components of every class."""
    chosen: list[int] = []
    for low, high in CLASSES:
        inside = (anyway[components] >= low) & (anyway[components] < high)
        chosen += components[inside][:OF_EACH].tolist()
    return chosen


def _seen(months: Sequence[Month], fault: Fault, plan: Plan) -> dict[str, float]:
    """Tell when a fault was seen; the first month-end is that of its first month."""
    component = fault.component
    cells = plan.components + component * plan.models + np.arange(plan.models)
    of_fault = np.append(component, cells)
    seen = [
        bool((_overlaps(month, fault) & month.level.astype(bool))[of_fault].any())
        for month in months[:13]
    ]
    alone = [
        bool(_overlaps(month, fault)[component] and month.level[component])
        for month in months[:13]
    ]
    year = months[min(12, len(months) - 1)]
    shared = _months_shared(year, fault)[component]
    return {
        "within 5": float(any(seen[:6])),
        "within 6 months": float(any(seen[:7])),
        "within 12 months": float(any(seen[:13])),
        "all models, 6": float(any(alone[:7])),
        "all models, 12": float(any(alone[:13])),
        "alarm within 12": float(
            any(month.level[component] == 2 for month in months[:13])
        ),
        "window right after 12": float(shared >= 0.7),
        "months shared": float(shared),
    }


def _overlaps(month: Month, fault: Fault) -> NDArray[np.bool_]:
    return (month.first <= fault.last) & (month.last >= fault.first)


def _months_shared(month: Month, fault: Fault) -> NDArray[np.float64]:
    """Return months in common over months in either."""
    common = np.minimum(month.last, fault.last) - np.maximum(month.first, fault.first)
    common = np.maximum(common + 1, 0)
    length = month.last - month.first + 1
    return np.asarray(common / (length + fault.last - fault.first + 1 - common))


def multiples(repeats: int = 30, seed: int = 20240608) -> list[dict[str, Any]]:
    """Return how often a rise by the multiple named is seen within a year."""
    plan = Plan()
    rows: list[tuple[float, bool]] = []
    for number in range(repeats):
        rng = np.random.default_rng([seed, number, 1])
        truth = draw_fleet((seed, number), plan)
        first = plan.builds - 15
        last = first + BAD_MONTHS - 1
        now = rising_faults(truth.views, [first])[0]
        component = np.arange(plan.components)
        anyway = np.array([truth.first_year(one, first, last) for one in component])
        multiple = smallest_multiple(
            anyway,
            now.recent[: plan.components],
            now.uncertainty[: plan.components],
            one_model=np.zeros(plan.components, dtype=bool),
        )
        for one in rng.permutation(np.flatnonzero(anyway > 1.0))[:4]:
            fault = Fault(
                component=int(one), first=first, last=last, times=float(multiple[one])
            )
            fleet = draw_fleet((seed, number), plan, [fault])
            months = rising_faults(fleet.views, range(first, first + 13))
            seen = any(
                _overlaps(month, fault)[one] and month.level[one] for month in months
            )
            rows.append((float(anyway[one]), seen))
    return [
        {
            "expected anyway": f"{low:g}-{high:g}",
            "faults": len(chosen),
            "seen within 12 months": float(np.mean(chosen)),
        }
        for low, high in ((1.0, 4.0), (4.0, 8.0), (8.0, 40.0))
        if (chosen := [seen for anyway, seen in rows if low <= anyway < high])
    ]


def small_maker(repeats: int = 24, seed: int = 20240609) -> list[dict[str, Any]]:
    """Return what is said of a small maker, with and without one fault of five times.

    Twelve components in five models, sold 2.5 months after build; the fault lies in
    three to five build months, ten to sixteen months before the cut-off.
    """
    plan = Plan(units=350.0, components=12, models=5, builds=66, sales_lag=2.5)
    cutoff = plan.builds - 1
    rows = []
    for number in range(repeats):
        truth = draw_fleet((seed, number), plan)
        quiet = rising_faults(truth.views, [cutoff])[0]
        by_rate = np.argsort(truth.hazard[:, :12].sum(axis=1))
        first = 50 + number % 6
        fault = Fault(
            component=int(by_rate[6 + number % 5]),
            first=first,
            last=first + 2 + number % 3,
            times=5.0,
        )
        fleet = draw_fleet((seed, number), plan, [fault])
        month = rising_faults(fleet.views, [cutoff])[0]
        one = fault.component
        cells = plan.components + one * plan.models + np.arange(plan.models)
        others = np.delete(month.level, np.append(one, cells))
        rows.append(
            {
                "expected": truth.first_year(one, fault.first, fault.last),
                "signal": float(month.level[one] > 0),
                "alarm": float(month.level[one] > 1),
                "window right": float(_months_shared(month, fault)[one] >= 0.7),
                "alarms elsewhere": float((others > 1).sum()),
                "alarms without the fault": float((quiet.level > 1).sum()),
            }
        )
    means = {name: float(np.mean([row[name] for row in rows])) for name in rows[0]}
    return [{"fleets": repeats, **means}]


if __name__ == "__main__":
    report("Planted faults at 300 units a month", study)
    report("A rise by the multiple that should be seen in 80 %", multiples)
    report("A small maker with one fault of five times, and without", small_maker)
