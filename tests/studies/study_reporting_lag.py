"""Do completed counts hold the final ones, and is the share reported right?"""

from __future__ import annotations

from typing import Any

import numpy as np
from fleets import report
from numpy.typing import NDArray

from claimlens.stats.completion import complete_counts
from claimlens.stats.lag import lag_table

Floats = NDArray[np.float64]

MONTHS, LONGEST = 24, 12
TRUE_SHARE = np.array([0.35, 0.75, 0.90, 0.95, 0.98, 1.0])
_OPEN = 5  # months of which reports are still to come


def draw(
    rng: np.random.Generator, rate: float, repeats: int
) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Draw triangles of counts.

    Returns
    -------
    final : ndarray, shape (repeats, MONTHS)
        Claims of each month of failure, oldest first.
    counts : ndarray, shape (repeats, MONTHS, LONGEST + 1)
        Those seen by the end of the last month, by lag.
    horizons : ndarray, shape (MONTHS,)
    """
    final = rng.poisson(rate, (repeats, MONTHS))
    counts = np.zeros((repeats, MONTHS, LONGEST + 1))
    counts[:, :, : TRUE_SHARE.size] = rng.multinomial(
        final, np.diff(TRUE_SHARE, prepend=0.0)
    )
    horizons = np.arange(MONTHS)[::-1]
    counts[:, np.arange(LONGEST + 1) > horizons[:, None]] = 0.0
    return final.astype(float), counts, horizons


def study(repeats: int = 4000, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return bias of the share and coverage of the limits, by claims a month."""
    rows = []
    for rate in (5, 20, 100):
        rng = np.random.default_rng([seed, rate])
        final, counts, horizons = draw(rng, rate, repeats)
        covered = np.empty((repeats, _OPEN))
        shares = np.empty((repeats, LONGEST + 1))
        spread = np.empty((repeats, LONGEST + 1))
        for i in range(repeats):
            table = lag_table(counts[i], horizons)
            shares[i], spread[i] = table.share, table.log_variance
            lower, upper = (limit[:_OPEN] for limit in table.limits(0.95))
            covered[i] = (lower <= TRUE_SHARE[:_OPEN]) & (TRUE_SHARE[:_OPEN] <= upper)
        row: dict[str, Any] = {"claims a month": rate, "repeats": repeats}
        for lag in range(3):
            row[f"G({lag})"] = float(shares[:, lag].mean())
        row["95% limits of G"] = float(covered.mean())
        for level in (0.95, 0.90):
            inside = np.empty((repeats, _OPEN))
            for lag in range(_OPEN):
                month = MONTHS - 1 - lag
                found = complete_counts(
                    counts[:, month].sum(axis=1), shares[:, lag], spread[:, lag], level
                )
                truth = final[:, month]
                inside[:, lag] = (found.lower <= truth) & (truth <= found.upper)
            row[f"{level:.0%} limits of counts"] = float(inside.mean())
            if level == 0.95:
                for lag in range(_OPEN):
                    row[f"{lag} months ago"] = float(inside[:, lag].mean())
        rows.append(row)
    return rows


if __name__ == "__main__":
    report("Completed counts: 24 months, reported 35/75/90/95/98/100 %", study)
