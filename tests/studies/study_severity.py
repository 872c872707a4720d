"""Do limits of a mean cost hold the truth, and do drawn means?

The first table chose the method: the bootstrap-t of `mean_costs`, resamples taken
as they are (percentiles), or a bootstrap on the logarithms with the zeros kept
apart, which takes costs to be log-normal (generalised limits: Krishnamoorthy,
Mathew 2003, J. Stat. Plan. Inference 115, 103-121; Tian 2005, Stat. Med. 24,
3223-3232). The last two costs are not log-normal, as repairs seldom are: a cheap
repair or a dear part.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from fleets import report
from numpy.typing import NDArray

from claimlens.stats.severity import draw_means, mean_costs

Floats = NDArray[np.float64]

ZEROS = 0.1
LOG_NORMAL = (0.5, 1.0, 1.5)
_RESAMPLES = 999


def draw_costs(
    rng: np.random.Generator, kind: str | float, shape: tuple[int, ...]
) -> tuple[Floats, float]:
    """Draw costs, one in ten of them 0, and return their true mean."""
    if isinstance(kind, float):
        costs, mean = np.exp(kind * rng.standard_normal(shape)), np.exp(kind**2 / 2)
    elif kind == "gamma":
        costs, mean = rng.gamma(1.0, 1.0, shape), 1.0
    else:
        cheap = np.exp(0.4 * rng.standard_normal(shape))
        dear = 12 * np.exp(0.3 * rng.standard_normal(shape))
        costs = np.where(rng.random(shape) < 0.15, dear, cheap)
        mean = 0.15 * 12 * np.exp(0.3**2 / 2) + 0.85 * np.exp(0.4**2 / 2)
    costs[rng.random(shape) < ZEROS] = 0.0
    return costs, (1 - ZEROS) * float(mean)


def percentile_limits(rng: np.random.Generator, costs: Floats) -> tuple[Floats, Floats]:
    """Return limits from the means of resamples, one sample a row."""
    n = costs.shape[1]
    means = np.stack(
        [
            np.take_along_axis(costs, rng.integers(0, n, costs.shape), 1).mean(1)
            for _ in range(_RESAMPLES)
        ]
    )
    lower, upper = np.quantile(means, [0.025, 0.975], axis=0)
    return lower, upper


def log_limits(rng: np.random.Generator, costs: Floats) -> tuple[Floats, Floats]:
    """Return limits for log-normal costs with zeros, one sample a row."""
    some = costs > 0
    n = some.sum(axis=1)
    logs = np.log(np.where(some, costs, 1.0))
    enough = n > 1
    size = np.where(enough, n, 2)
    centre = logs.sum(axis=1) / size
    squares = (np.where(some, logs - centre[:, None], 0.0) ** 2).sum(axis=1)
    shape = (_RESAMPLES, len(costs))
    variance = squares / rng.chisquare(size - 1.0, shape)
    middle = centre + rng.standard_normal(shape) * np.sqrt(variance / size)
    share = rng.beta(n + 0.5, costs.shape[1] - n + 0.5, shape)
    means = share * np.exp(np.minimum(middle + variance / 2, 300.0))
    lower, upper = np.quantile(means, [0.025, 0.975], axis=0)
    return np.where(enough, lower, 0.0), np.where(enough, upper, np.inf)


def study(
    repeats: int = 1000,
    seed: int = 20240607,
    sizes: tuple[int, ...] = (5, 20, 100, 500),
) -> list[dict[str, Any]]:
    """Return coverage and median width of 95 % limits by cost and claims."""
    rows = []
    for place, kind in enumerate((*LOG_NORMAL, "gamma", "cheap or dear")):
        for n in sizes:
            rng = np.random.default_rng([seed, place, n])
            costs, truth = draw_costs(rng, kind, (repeats, n))
            groups = np.repeat(np.arange(repeats), n)
            found = mean_costs(costs.ravel(), groups, np.zeros(repeats), rng=rng)
            name = f"log-normal {kind}" if isinstance(kind, float) else kind
            row: dict[str, Any] = {"costs": name, "claims": n}
            row["no limits"] = float(np.isnan(found.upper).mean())
            known = np.isfinite(found.upper)
            for method, (lower, upper) in {
                "bootstrap-t": (found.lower[known], found.upper[known]),
                "percentiles": percentile_limits(rng, costs),
                "logarithms": log_limits(rng, costs),
            }.items():
                row[method] = float(((lower <= truth) & (truth <= upper)).mean())
                row[f"width, {method}"] = float(np.median(upper - lower) / truth)
            rows.append(row)
    return rows


def draws_study(repeats: int = 200, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return how often drawn means hold the true ones of groups that differ.

    Twelve groups of one pool, two each of 0 to 500 claims; their true means
    spread log-normally. A spread of 0.3 is what a weight of 20 claims expects of
    costs with log-normal sigma 1.
    """
    sizes = np.repeat([0, 2, 5, 20, 100, 500], 2)
    groups = np.repeat(np.arange(sizes.size), sizes)
    rows = []
    for place, (sigma, spread) in enumerate(
        ((0.5, 0.15), (1.0, 0.0), (1.0, 0.15), (1.0, 0.3), (1.0, 0.6), (1.5, 0.3))
    ):
        rng = np.random.default_rng([seed, place])
        held = np.empty((repeats, sizes.size))
        whole, bias = np.empty(repeats), np.empty(repeats)
        for i in range(repeats):
            factor = np.exp(spread * rng.standard_normal(sizes.size) - spread**2 / 2)
            costs, mean = draw_costs(rng, sigma, groups.shape)
            drawn = draw_means(
                costs * factor[groups],
                groups,
                np.zeros(sizes.size),
                rng=rng,
                draws=1000,
            )
            lower, upper = np.quantile(drawn, [0.025, 0.975], axis=0)
            truth = mean * factor
            held[i] = (lower <= truth) & (truth <= upper)
            # a forecast of as many claims again, by group
            total, due = drawn @ sizes, truth @ sizes
            low, high = np.quantile(total, [0.025, 0.975])
            whole[i] = low <= due <= high
            bias[i] = total.mean() / due
        row: dict[str, Any] = {"log-normal": sigma, "spread of groups": spread}
        for j in range(0, sizes.size, 2):
            row[f"{sizes[j]} claims"] = float(held[:, j : j + 2].mean())
        row |= {"sum": float(whole.mean()), "sum / truth": float(bias.mean())}
        rows.append(row)
    return rows


if __name__ == "__main__":
    report("95 % limits of a mean cost, one claim in ten free", study)
    print()
    report("95 % of drawn means", draws_study)
