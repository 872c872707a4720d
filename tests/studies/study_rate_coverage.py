"""Does the interval of the share failed by 12 months hold its level?

Units in service over 24 months at a level pace; claims over units sold, for
comparison, is what nobody should compute.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from fleets import draw, report, scale_for, weibull_cdf

from claimlens.stats import intervals, survival

MONTHS = np.arange(1.0, 25.0)


def study(repeats: int = 4000, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return coverage for fleets of several sizes, rates and shapes."""
    rows = []
    for shape in (0.7, 1.0, 2.0):
        for units in (192, 1008, 4992):
            for rate in (0.005, 0.02, 0.05):
                rng = np.random.default_rng([seed, units, int(rate * 1e4)])
                planned = np.full(24, units / 24)
                whole = np.zeros(24)
                whole[11] = 1.0
                scale = scale_for(whole, MONTHS, shape, rate)
                cdf = weibull_cdf(MONTHS, shape, scale)
                fails, left = draw(rng, repeats, planned, cdf)
                found = survival.share_failed(MONTHS, fails, left, [12.0])
                lower, upper = found.lower[:, 0], found.upper[:, 0]
                naive = intervals.wilson(fails.sum(axis=1), float(units))
                rows.append(
                    {
                        "shape": shape,
                        "units": units,
                        "share by 12 months": rate,
                        "coverage": float(np.mean((lower <= rate) & (rate <= upper))),
                        "below": float(np.mean(rate < lower)),
                        "above": float(np.mean(rate > upper)),
                        "claims / sold": float(
                            np.mean((naive[0] <= rate) & (rate <= naive[1]))
                        ),
                    }
                )
    return rows


if __name__ == "__main__":
    report("Coverage of the 95 % interval of the share failed by 12 months", study)
