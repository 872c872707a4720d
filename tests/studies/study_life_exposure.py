"""Do lives stay true where failures are late, hidden or begin late?

Weekly cells over two years. Late reports: half of the failures are reported within
4 weeks, 90 per cent within 13. Late entries: half of the units were in use before
recording began. Distance: cover ends by distance for a growing share of the units.
Each is fitted from weighted exposure and, beside it, as if it were not there.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any

import numpy as np
from fleets import Floats, percent, report, weibull_cdf

from claimlens.stats import weibull

WEEKS = np.arange(1.0, 105.0)


@dataclass(frozen=True, slots=True)
class World:
    """Groups of units by the week in which they leave, and what of them is seen."""

    name: str
    reported: Floats
    covered: Floats
    entry: Floats

    def weights(self, group: int) -> Floats:
        """Return the chance that a failure in each week is in the data."""
        left = group - np.arange(group + 1)
        chance = self.reported[left] * self.covered[: group + 1]
        chance[: int(self.entry[group])] = 0.0
        return np.pad(chance, (0, WEEKS.size - group - 1))


def worlds() -> list[World]:
    """Return the three worlds."""
    week = np.arange(WEEKS.size)
    none, all_of_it = np.zeros(WEEKS.size), np.ones(WEEKS.size)
    late = -np.expm1(-(((week + 1) / 6.5) ** 0.8))
    entry = np.where(week % 2 == 0, week // 2, 0).astype(float)
    return [
        World("late reports", late, all_of_it, none),
        World("late entries", all_of_it, all_of_it, entry),
        World("distance", all_of_it, 1.0 - 0.7 * (week / 103) ** 2, none),
    ]


def study(repeats: int = 4000, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return coverage and bias by world, shape and failures."""
    return [
        _row(world, repeats, seed, shape, failures)
        for world in worlds()
        for failures in (10, 60)
        for shape in (0.5, 1.0, 3.0)
    ]


def _row(
    world: World, repeats: int, seed: int, shape: float, failures: int
) -> dict[str, Any]:
    rng = np.random.default_rng([seed, len(world.name), failures, int(10 * shape)])
    units = round(failures / 104 / 0.02)
    scale = _scale(world, units, shape, failures)
    steps = np.diff(weibull_cdf(np.r_[0.0, WEEKS], shape, scale))
    alive = 1.0 - weibull_cdf(np.r_[0.0, WEEKS[:-1]], shape, scale)
    fails, exposed, plain = np.zeros((3, repeats, WEEKS.size))
    for group in range(WEEKS.size):
        weight = world.weights(group)
        # of units that are alive at their entry
        seen = weight * steps / alive[int(world.entry[group])]
        drawn = rng.multinomial(units, np.append(seen, 1.0 - seen.sum()), size=repeats)
        stayed = units - np.cumsum(drawn[:, :-1], axis=1)
        fails += drawn[:, :-1]
        exposed += weight * stayed
        plain += (np.arange(WEEKS.size) <= group) * stayed
    low = WEEKS - 1
    start = time.perf_counter()
    fit = weibull.fit(WEEKS, fails, None, lower=low, exposed=exposed)
    ends = fit.quantile_interval(0.1)
    taken = time.perf_counter() - start
    kept = np.asarray(fit.converged)
    naive = weibull.fit(WEEKS, fails, None, lower=low, exposed=plain)
    life = scale * (-np.log(0.9)) ** (1 / shape)
    return {
        "world": world.name,
        "failures": failures,
        "shape": shape,
        "fitted": int(kept.sum()),
        "shape covered": percent(_within(fit.shape_interval, shape)[kept]),
        "B10 covered": percent(_within(ends, life)[kept]),
        "median shape / truth": _middle(fit.shape, kept) / shape,
        "median B1 / truth": _middle(fit.quantile(0.01), kept)
        / (scale * (-np.log(0.99)) ** (1 / shape)),
        "not weighted: shape covered": percent(
            _within(naive.shape_interval, shape)[kept]
        ),
        "not weighted: shape / truth": _middle(naive.shape, kept) / shape,
        "ms a fit": 1000 * taken / repeats,
    }


def _scale(world: World, units: int, shape: float, failures: int) -> float:
    """Return the scale at which so many failures are seen in the mean."""
    low, high = 1.0, 1e9
    for _ in range(80):
        middle = float(np.sqrt(low * high))
        steps = np.diff(weibull_cdf(np.r_[0.0, WEEKS], shape, middle))
        total = sum(
            units * (world.weights(group) * steps).sum() for group in range(WEEKS.size)
        )
        low, high = (middle, high) if total > failures else (low, middle)
    return float(np.sqrt(low * high))


def _within(interval: Any, truth: float) -> Any:
    low, high = (np.asarray(end) for end in interval)
    return (low <= truth) & (truth <= high)


def _middle(values: Any, kept: Any) -> float:
    return float(np.median(np.asarray(values)[kept]))


if __name__ == "__main__":
    report("Lives from weighted exposure, 95 % limits", study)
