"""Do the likelihood-ratio limits of the shape hold their level?

Few failures in monthly cells among staggered ages; and, with 200 failures of
shape 0.5, what midpoints of cells would do instead of the grouped likelihood.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from fleets import draw, report, scale_for, weibull_cdf

from claimlens.stats import weibull

MONTHS = np.arange(1.0, 25.0)


def study(repeats: int = 4000, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return coverage by failures and by likelihood."""
    rows = [
        _row(repeats, seed, shape, failures, midpoint=False)
        for failures in (3, 5, 10, 30)
        for shape in (0.7, 1.0, 2.0)
    ]
    quarter = max(repeats // 4, 50)
    rows += [
        _row(quarter, seed, 0.5, 200, midpoint=midpoint) for midpoint in (False, True)
    ]
    return rows


def _row(
    repeats: int, seed: int, shape: float, failures: int, *, midpoint: bool
) -> dict[str, Any]:
    rng = np.random.default_rng([seed, failures, int(10 * shape)])
    planned = np.full(24, max(2, round(failures / 24 / 0.06)))
    scale = scale_for(planned, MONTHS, shape, failures)
    fails, left = draw(rng, repeats, planned, weibull_cdf(MONTHS, shape, scale))
    if midpoint:
        # failures at the middle of the month, survivors at its end
        ages = np.r_[MONTHS - 0.5, MONTHS]
        none = np.zeros_like(fails)
        fit = weibull.fit(ages, np.hstack([fails, none]), np.hstack([none, left]))
    else:
        fit = weibull.fit(MONTHS, fails, left, lower=MONTHS - 1)
    kept = np.asarray(fit.converged)
    lower, upper = (np.asarray(end)[kept] for end in fit.shape_interval)
    estimate = np.asarray(fit.shape)[kept]
    return {
        "likelihood": "midpoints" if midpoint else "grouped",
        "failures": failures,
        "shape": shape,
        "fitted": int(kept.sum()),
        "coverage": float(np.mean((lower <= shape) & (shape <= upper))),
        "below": float(np.mean(shape < lower)),
        "above": float(np.mean(shape > upper)),
        "median estimate / truth": float(np.median(estimate) / shape),
    }


if __name__ == "__main__":
    report("Coverage of the 95 % likelihood-ratio interval of the shape", study)
