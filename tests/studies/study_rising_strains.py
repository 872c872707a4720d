"""What becomes of false signals where the world is not as the rule takes it?"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from fleets import report
from rising_fleets import Plan, draw_fleet
from study_rising_false import quiet

from claimlens.stats.rising import rising_faults

FASTER = np.array([0.55, 0.85, 0.95, 0.98, 0.99, 1.0])
PLAN = Plan()
STRAINS: tuple[tuple[str, Plan], ...] = (
    *(
        (f"noise {noise:g} between months", replace(PLAN, units=units, noise=noise))
        for noise in (0.05, 0.1)
        for units in (300.0, 1000.0, 3000.0, 30000.0)
    ),
    ("sold 2.5 months after build", replace(PLAN, units=1000.0, sales_lag=2.5)),
    ("reported faster than assumed", replace(PLAN, units=3000.0, reported=FASTER)),
    ("reported slower than assumed", replace(PLAN, units=3000.0, assumed=FASTER)),
    ("seasons of 40 and 30 %", replace(PLAN, units=3000.0, season=0.4, own_season=0.3)),
    ("models differ by sigma 1", replace(PLAN, units=3000.0, cells=1.0)),
    ("three years of production", replace(PLAN, units=1000.0, builds=36)),
    ("two years of production", replace(PLAN, units=1000.0, builds=26)),
    (
        "12 components, 4 models",
        replace(PLAN, units=400.0, components=12, models=4),
    ),
    ("6 components, 2 models", replace(PLAN, units=100.0, components=6, models=2)),
)


def study(repeats: int = 5, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return new signals a month of quiet fleets under strain."""
    wanted = ("watch", "watch foretold", "alarm", "error of watch", "standing alarm")
    rows = []
    for name, plan in STRAINS:
        found = quiet(repeats, seed, plan)
        rows.append(
            {
                "strain": name,
                "units a month": int(plan.units),
                **{key: found[key] for key in wanted},
            }
        )
    return rows


def early_reports(repeats: int = 8, seed: int = 20240608) -> list[dict[str, Any]]:
    """Return what is said of one component whose newest claims came at once."""
    rows = []
    for units in (300.0, 3000.0, 30000.0):
        plan = replace(PLAN, units=units)
        early = replace(plan, at_once=(0, plan.builds - 6, plan.builds - 1))
        levels: dict[str, list[int]] = {"as the others": [], "at once": []}
        beyond = []
        for number in range(repeats):
            for name, one in (("as the others", plan), ("at once", early)):
                fleet = draw_fleet((seed, int(units), number), one)
                month = rising_faults(fleet.views, [plan.builds - 1])[0]
                levels[name].append(int(month.level[0]))
                if name == "at once":
                    beyond.append(month.evidence[0] >= month.alarm[0])
        rows.append(
            {
                "units a month": int(units),
                "fleets": repeats,
                "signals, as the others": int(
                    np.sum(np.array(levels["as the others"]) > 0)
                ),
                "signals, at once": int(np.sum(np.array(levels["at once"]) > 0)),
                "alarms, at once": int(np.sum(np.array(levels["at once"]) > 1)),
                "alarms without the rule": int(np.sum(beyond)),
            }
        )
    return rows


if __name__ == "__main__":
    report("Quiet fleets under strain", study)
    report("One component reported at once", early_reports)
