"""Do the robust limits of the mean cumulative function hold their level?"""

from __future__ import annotations

from typing import Any

import numpy as np
from fleets import report

from claimlens.stats import recurrence


def study(repeats: int = 1000, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return coverage at 12 months of 300 units with 0.3 events each."""
    rows = []
    for frailty in (0.0, 2.0, 3.0):
        rng = np.random.default_rng([seed, int(frailty)])
        robust, plain, z = [], [], 1.959963984540054
        for _ in range(repeats):
            ends = rng.uniform(6, 24, 300)
            prone = rng.gamma(1 / frailty, frailty, 300) if frailty else np.ones(300)
            number = rng.poisson(prone * 0.025 * ends)
            unit = np.repeat(np.arange(300), number)
            age = rng.uniform(size=unit.size) * ends[unit]
            found = recurrence.mean_cumulative(age, unit, ends)
            mean, lower, upper = (one[0] for one in found.at([12.0]))
            robust.append(lower <= 0.3 <= upper)
            early = found.ages <= 12.0
            error = np.sqrt((1 / found.at_risk[early] ** 2).sum())
            factor = np.exp(z * error / mean)
            plain.append(mean / factor <= 0.3 <= mean * factor)
        rows.append(
            {
                "frailty variance": frailty,
                "repeats": repeats,
                "robust": float(np.mean(robust)),
                "Poisson": float(np.mean(plain)),
            }
        )
    return rows


if __name__ == "__main__":
    report("Coverage of the 95 % interval of the mean cumulative function", study)
