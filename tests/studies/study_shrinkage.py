"""Are shrunken ratios closer to the truth, and do their limits hold it?"""

from __future__ import annotations

from typing import Any

import numpy as np
from fleets import report
from scipy import stats

from claimlens.stats import shrinkage


def study(repeats: int = 300, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return error, rank correlation and coverage for groups of two spreads."""
    rows = []
    for groups, alpha in ((40, 4.0), (12, 4.0), (40, 20.0)):
        rng = np.random.default_rng([seed, groups, int(alpha)])
        error, ranks, held, alphas = [], [], [], []
        for i in range(repeats):
            expected = rng.lognormal(np.log(2.5), 1.0, groups)
            truth = rng.gamma(alpha, 1 / alpha, groups)
            observed = rng.poisson(truth * expected)
            found = shrinkage.shrink(observed, expected, seed=i, draws=50)
            raw = observed / expected
            error.append([((one - truth) ** 2).mean() for one in (raw, found.ratio)])
            ranks.append([stats.spearmanr(one, truth)[0] for one in (raw, found.ratio)])
            held.append(((found.lower <= truth) & (truth <= found.upper)).mean())
            alphas.append(found.alpha)
        raw_error, error_after = np.mean(error, axis=0)
        raw_rank, rank_after = np.nanmean(ranks, axis=0)
        rows.append(
            {
                "groups": groups,
                "alpha": alpha,
                "squared error raw": float(raw_error),
                "shrunk": float(error_after),
                "rank correlation raw": float(raw_rank),
                "after": float(rank_after),
                "90 % limits hold": float(np.mean(held)),
                "median alpha": float(np.median(alphas)),
            }
        )
    return rows


if __name__ == "__main__":
    report("Gamma-Poisson shrinkage of observed over expected", study)
