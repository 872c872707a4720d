"""How many false signals come where nothing rises, in fleets of every size?

Thirty components in thirteen models that differ, reports that come late, volume that
grows, and seasons in volume and in failure rates. A row counts as new when it was
below its bar in the six months before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from fleets import report
from numpy.typing import NDArray
from rising_fleets import Plan, draw_fleet

from claimlens.stats import signal_states
from claimlens.stats.rising import Month, false_signals, rising_faults

SIZES = (300, 1000, 3000, 30000)
# month-ends judged: six to begin with, eighteen that count
BEFORE, COUNTED = 6, 18


def study(
    repeats: int = 15,
    seed: int = 20240607,
    sizes: Sequence[float] = SIZES,
    plan: Plan | None = None,
) -> list[dict[str, Any]]:
    """Return new and standing signals a month by size of the fleet."""
    return [
        {
            "units a month": int(size),
            "fleets": repeats,
            **quiet(repeats, seed, replace(plan or Plan(), units=size)),
        }
        for size in sizes
    ]


def quiet(repeats: int, seed: int, plan: Plan) -> dict[str, float]:
    """Return the mean signals of fleets of one plan, and what is expected of them."""
    found = [
        _signals(
            rising_faults(
                draw_fleet((seed, int(plan.units), number), plan).views,
                range(plan.builds - BEFORE - COUNTED, plan.builds),
            ),
            plan,
        )
        for number in range(repeats)
    ]
    means = {name: float(np.mean([one[name] for one in found])) for name in found[0]}
    watches = [one["watch"] for one in found]
    means["error of watch"] = float(np.std(watches, ddof=1) / np.sqrt(repeats))
    return means


def _signals(months: Sequence[Month], plan: Plan) -> dict[str, float]:
    level = np.stack([month.level for month in months])
    watch, alarm = newly(level >= 1), newly(level >= 2)
    pooled = slice(0, plan.components)
    last = months[-1].recent
    foretold = false_signals(last, one_model=np.arange(last.size) >= plan.components)
    return {
        "watch, all models": watch[:, pooled].sum() / COUNTED,
        "watch, one model": watch[:, plan.components :].sum() / COUNTED,
        "watch": watch.sum() / COUNTED,
        "alarm": alarm.sum() / COUNTED,
        "watch foretold": foretold[0],
        "alarm foretold": foretold[1],
        "new lines": _lines(months, plan) / COUNTED,
        "standing watch": (level[BEFORE:] == 1).sum() / COUNTED,
        "standing alarm": (level[BEFORE:] == 2).sum() / COUNTED,
        "two alarms at once": float((level[BEFORE:] == 2).sum(axis=1).max() > 1),
    }


def newly(up: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return where a row is up and was not in the six months before."""
    return np.stack(
        [
            up[month] & ~up[month - BEFORE : month].any(axis=0)
            for month in range(BEFORE, len(up))
        ]
    )


def _lines(months: Sequence[Month], plan: Plan) -> int:
    """Count new signals that are not the detail of another one."""
    course = signal_states.signal_states(signal_states.history_of(months))
    row = np.arange(course.state.shape[1])
    cell = (row - plan.components) // max(plan.models, 1)
    parent = np.where(row < plan.components, row, cell)
    lines = 0
    for number, month in enumerate(months[BEFORE:], start=BEFORE):
        state = course.state[number]
        active = (state != "") & (state != "cleared")
        part = signal_states.details_of(parent, active, month.first, month.last)
        lines += int(((state == "new") & (part < 0)).sum())
    return lines


if __name__ == "__main__":
    report("New and standing signals a month where nothing rises", study)
