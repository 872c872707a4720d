"""How often is a limited share of prone units seen where there is none, and found?

2,880 units of staggered ages in monthly cells. All units prone: lives of three
shapes with about 60 failures. And 86 prone units with lives of shape 1.5.
"""

from __future__ import annotations

import time
from typing import Any

import numpy as np
from fleets import draw, passed, report, scale_for, weibull_cdf

from claimlens.stats import weibull

MONTHS = np.arange(1.0, 25.0)
PLANNED = np.full(24, 120.0)
SHARE = 86 / 2880


def study(repeats: int = 120, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return how often a limited share is shown, and what its limits hold."""
    rows = []
    for shape in (0.7, 1.0, 2.0):
        scale = scale_for(PLANNED, MONTHS, shape, 60)
        cdf = weibull_cdf(MONTHS, shape, scale)
        rows.append(_row(f"all prone, shape {shape}", cdf, 1.0, repeats, seed))
    for scale in (6.0, 12.0, 24.0):
        cdf = SHARE * weibull_cdf(MONTHS, 1.5, scale)
        name = f"86 of 2,880 prone, scale {scale:g} months"
        rows.append(_row(name, cdf, SHARE, repeats, seed))
    return rows


def _row(name: str, cdf: Any, truth: float, repeats: int, seed: int) -> dict[str, Any]:
    rng = np.random.default_rng([seed, int(1e6 * cdf[5])])
    fails, left = draw(rng, repeats, PLANNED, cdf)
    exposed, watched = passed(fails, left), passed(np.zeros_like(PLANNED), PLANNED)
    start = time.perf_counter()
    found = [
        weibull.limited_share(
            MONTHS,
            fails[i],
            None,
            lower=MONTHS - 1,
            exposed=exposed[i],
            watched=watched,
            seed=i,
            width=None,
        )
        for i in range(repeats)
    ]
    taken = time.perf_counter() - start
    asked = [one for one in found if not np.isnan(one.p)]
    held = [
        one.share_interval[0] <= truth <= one.share_interval[1] + 1e-12 for one in asked
    ]
    return {
        "truth": name,
        "fleets": len(asked),
        "failures": float(fails.sum() / repeats),
        "ratio above 2.706": float(np.mean([one.ratio > 2.706 for one in asked])),
        "bootstrap p <= 0.05": float(np.mean([one.p <= 0.05 for one in asked])),
        "share shown": float(np.mean([one.shown for one in asked])),
        "share covered": float(np.mean(held)),
        "median share / truth": float(np.median([one.share for one in asked]) / truth),
        "ms a fleet": 1000 * taken / repeats,
    }


if __name__ == "__main__":
    report("A limited share of prone units, against none", study)
