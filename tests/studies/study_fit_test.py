"""Does the fit test keep its size, and what does it find?"""

from __future__ import annotations

from typing import Any

import numpy as np
from fleets import draw, passed, report, scale_for, weibull_cdf

from claimlens.stats import weibull

MONTHS = np.arange(1.0, 25.0)


def study(repeats: int = 150, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return how often a Weibull life is refused at 5 per cent."""
    planned = np.full(24, 120.0)
    rows = []
    for shape in (0.5, 1.0, 2.0):
        scale = scale_for(planned, MONTHS, shape, 45)
        cdf = weibull_cdf(MONTHS, shape, scale)
        rows.append(_row(f"Weibull, shape {shape}", planned, cdf, repeats, seed))
    for scale in (6.0, 12.0, 24.0):
        cdf = 86 / 2880 * weibull_cdf(MONTHS, 1.5, scale)
        name = f"86 of 2,880 units bad, scale {scale:g} months"
        rows.append(_row(name, planned, cdf, repeats, seed))
    return rows


def _row(name: str, planned: Any, cdf: Any, repeats: int, seed: int) -> dict[str, Any]:
    rng = np.random.default_rng([seed, int(1e6 * cdf[5])])
    fails, left = draw(rng, repeats, planned, cdf)
    exposed = passed(fails, left)
    watched = passed(np.zeros_like(planned), planned)
    p = [
        weibull.fit_test(
            MONTHS, fails[i], exposed[i], watched, lower=MONTHS - 1, seed=i, width=None
        ).p
        for i in range(repeats)
    ]
    return {
        "truth": name,
        "repeats": repeats,
        "failures": float(fails.sum() / repeats),
        "refused": float(np.mean(np.array(p) <= 0.05)),
        "mean p": float(np.nanmean(p)),
    }


if __name__ == "__main__":
    report("Weibull lives refused by the bootstrap test at 5 %", study)
