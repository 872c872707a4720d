"""Do the likelihood-ratio limits of shape and B10 life hold their level?

Sales staggered over 24 months, failures in monthly cells, 1 per cent of the units
failing; runs with fewer than 3 failures are drawn again. Then 5 failures among 72
units, where B10 lies near the oldest age and the data seldom say that it is short:
its lower limit cannot miss, so that the interval covers up to 97.5 per cent. And,
with 200 failures of shape 0.5, what midpoints of cells would do instead of the
grouped likelihood.
"""

from __future__ import annotations

import time
from typing import Any

import numpy as np
from fleets import draw, report, scale_for, weibull_cdf

from claimlens.stats import weibull

MONTHS = np.arange(1.0, 25.0)
FEWEST = 3


def study(repeats: int = 4000, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return coverage by failures, shape and likelihood."""
    rows = [
        _row(repeats, seed, shape, failures, share=share)
        for failures, share in (
            (5, 0.01),
            (10, 0.01),
            (30, 0.01),
            (200, 0.01),
            (5, 0.07),
        )
        for shape in (0.5, 1.0, 3.0)
    ]
    return [
        *rows,
        _row(max(repeats // 4, 50), seed, 0.5, 200, share=0.07, midpoint=True),
    ]


def _row(
    repeats: int,
    seed: int,
    shape: float,
    failures: int,
    *,
    share: float,
    midpoint: bool = False,
) -> dict[str, Any]:
    rng = np.random.default_rng([seed, failures, int(10 * shape), int(100 * share)])
    planned = np.full(24, round(failures / 24 / share))
    scale = scale_for(planned, MONTHS, shape, failures)
    fails, left = _enough(rng, repeats, planned, weibull_cdf(MONTHS, shape, scale))
    start = time.perf_counter()
    if midpoint:
        # failures at the middle of the month, survivors at its end
        ages = np.r_[MONTHS - 0.5, MONTHS]
        none = np.zeros_like(fails)
        fit = weibull.fit(ages, np.hstack([fails, none]), np.hstack([none, left]))
    else:
        fit = weibull.fit(MONTHS, fails, left, lower=MONTHS - 1)
    low, high = (np.asarray(end) for end in fit.quantile_interval(0.1))
    taken = time.perf_counter() - start
    kept = np.asarray(fit.converged)
    lower, upper = (np.asarray(end)[kept] for end in fit.shape_interval)
    life = scale * (-np.log(0.9)) ** (1 / shape)
    estimate = np.asarray(fit.shape)[kept] / shape
    return {
        "likelihood": "midpoints" if midpoint else "grouped",
        "failures": failures,
        "units": int(planned.sum()),
        "shape": shape,
        "fitted": int(kept.sum()),
        "shape covered": float(np.mean((lower <= shape) & (shape <= upper))),
        "below": float(np.mean(shape < lower)),
        "above": float(np.mean(shape > upper)),
        "B10 covered": float(np.mean((low[kept] <= life) & (life <= high[kept]))),
        "B10 below": float(np.mean(life < low[kept])),
        "B10 above": float(np.mean(life > high[kept])),
        "median shape / truth": float(np.median(estimate)),
        "mean shape / truth": float(np.mean(estimate)),
        "ms a fit": 1000 * taken / repeats,
    }


def _enough(rng: np.random.Generator, repeats: int, planned: Any, cdf: Any) -> Any:
    """Draw fleets until there are enough with at least three failures."""
    fails, left = draw(rng, repeats, planned, cdf)
    while (few := np.flatnonzero(fails.sum(axis=1) < FEWEST)).size:
        fails[few], left[few] = draw(rng, few.size, planned, cdf)
    return fails, left


if __name__ == "__main__":
    report("Coverage of 95 % likelihood-ratio intervals of shape and B10", study)
