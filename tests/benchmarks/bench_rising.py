"""Time of the rule for rising faults: one month-end, and two years of them."""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "studies"))

from rising_fleets import Plan, draw_fleet

from claimlens.stats.rising import rising_faults


def main() -> None:
    """Print seconds of processor time."""
    for wait in (0.0, 2.5):
        plan = Plan(units=3000.0, sales_lag=wait)
        fleet = draw_fleet((20240607,), plan)
        for months in (1, 24):
            start = time.process_time()
            rising_faults(fleet.views, range(plan.builds - months, plan.builds))
            print(
                f"sold {wait:g} months after build, {months} month-ends: "
                f"{time.process_time() - start:.2f} s"
            )


if __name__ == "__main__":
    main()
