"""Does the interval of a 12-month rate hold its level while reports are still coming?

Growing fleets: production rises by 5 % a month over three years, so most units are
young. Of the failures of a month, 35, 75, 90, 95, 98 and 100 % are reported within
0 to 5 months. The lag is estimated anew in every run, from all claims of the fleet
(twenty times those of the component looked at, since the lag is shared); exposure is
weighted with it. For comparison: the same counts with every unit counted in full.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from functools import partial
from typing import Any

import numpy as np
from fleets import Floats, report, weibull_cdf
from numpy.typing import NDArray

from claimlens.stats.exposure import Chances, Stays, passed, passed_after
from claimlens.stats.lag import share_within
from claimlens.stats.survival import share_failed

MONTH = 30.4375
AT = 366
HORIZON = 1096
LONGEST = 366
KNOWN = np.interp(
    np.arange(LONGEST + 1.0),
    np.arange(6) * MONTH + MONTH / 2,
    [0.35, 0.75, 0.90, 0.95, 0.98, 1.0],
    left=0.35,
)
"""Share reported within so many days (0.35 at once: the month's middle)."""
RATE = 0.02
FEWEST = 3


def cohorts(units: float) -> tuple[NDArray[np.intp], Floats]:
    """Return for each week of production the days watched and the units."""
    watched = np.arange(HORIZON - 1, 0, -7)
    growth = 1.05 ** ((HORIZON - watched) / MONTH)
    return watched, np.maximum(np.rint(units * growth / growth.sum()), 1.0)


def lags(rng: np.random.Generator, size: int) -> NDArray[np.intp]:
    """Draw days from failure to report."""
    return np.searchsorted(KNOWN, rng.uniform(size=size), side="left")


def share_known(lag: NDArray[np.intp], left: NDArray[np.intp]) -> Floats:
    """Return the share reported by days, as the pipeline estimates it."""
    known = share_within(lag, left, np.ones(lag.size), LONGEST)
    return np.where(known < 0.2, 0.0, known)


def failures_of(
    rng: np.random.Generator, shape: float, watched: NDArray[np.intp], n: Floats
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Draw reported failures: days watched of the unit, day of failure, lag."""
    scale = AT / (-np.log1p(-RATE)) ** (1 / shape)
    failed = rng.binomial(n.astype(int), weibull_cdf(watched + 1.0, shape, scale))
    unit = np.repeat(watched, failed)
    whole = weibull_cdf(unit + 1.0, shape, scale)
    within = rng.uniform(size=unit.size) * whole
    age = np.ceil(scale * (-np.log1p(-within)) ** (1 / shape)).astype(int) - 1
    lag = lags(rng, unit.size)
    seen = age + lag <= unit
    return unit[seen], age[seen], lag[seen]


def _stays(watched: NDArray[np.intp], n: Floats) -> Stays:
    none = np.zeros(watched.size, dtype=np.intp)
    last_day = np.minimum(watched, AT - 1)
    return Stays(
        row=none,
        last_day=last_day,
        seen_after=watched - last_day,
        reporting=none,
        distance=none,
        n=n,
    )


def _figures(
    reported: Floats,
    cohort: tuple[NDArray[np.intp], Floats],
    seen: tuple[NDArray[np.intp], NDArray[np.intp]],
) -> list[float]:
    """Return the share failed by 12 months and its limits."""
    unit, age = seen
    chances = Chances(reported=reported[None], covered=np.ones((1, AT)))
    exposed = passed(_stays(*cohort), chances, 1)
    exposed -= passed_after(_stays(unit, np.ones(unit.size)), age, chances, 1)
    usable = reported[np.minimum(unit - age, reported.size - 1)] > 0
    found = share_failed(
        np.arange(1.0, AT + 1),
        np.bincount(age[usable], minlength=AT)[None],
        None,
        [float(AT)],
        exposed=np.maximum(exposed, 0.0),
        units=cohort[1].sum(),
    )
    return [found.share[0, 0], found.lower[0, 0], found.upper[0, 0]]


def study(
    repeats: int = 4000, seed: int = 20240607, workers: int = 1
) -> list[dict[str, Any]]:
    """Return coverage and bias for few and many failures."""
    cells = [
        (expected, shape, repeats, seed)
        for expected in (5, 30, 300)
        for shape in (0.7, 1.0, 2.0)
    ]
    if workers == 1:
        return [_cell(cell) for cell in cells]
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(_cell, cells))


def _cell(cell: tuple[int, float, int, int]) -> dict[str, Any]:
    """Return one row of the study."""
    expected, shape, repeats, seed = cell
    rng = np.random.default_rng([seed, expected, int(10 * shape)])
    scale = AT / (-np.log1p(-RATE)) ** (1 / shape)
    watched, unit = cohorts(1e6)
    by_12 = weibull_cdf(np.minimum(watched + 1.0, AT), shape, scale)
    watched, n = cohorts(expected / (unit * by_12).sum() * 1e6)
    # claims of the whole fleet, of which each run knows some
    unit, age, lag = failures_of(rng, shape, watched, n * (4e5 / n.sum() + 20))
    left = unit - age
    figures, failed = np.zeros((repeats, 6)), np.zeros(repeats)
    for run in range(repeats):
        some = rng.integers(0, lag.size, 20 * expected)
        known = share_known(lag[some], left[some])
        seen_unit, seen_age, _ = failures_of(rng, shape, watched, n)
        early = seen_age < AT
        seen = seen_unit[early], seen_age[early]
        failed[run] = early.sum()
        figures[run, :3] = _figures(known, (watched, n), seen)
        figures[run, 3:] = _figures(np.ones(1), (watched, n), seen)
    enough = figures[failed >= FEWEST]
    return {
        "failures expected": expected,
        "shape": shape,
        "units": int(n.sum()),
        "coverage": _holds(enough[:, 1:3]),
        "mean / truth": float(figures[:, 0].mean() / RATE),
        "unweighted coverage": _holds(enough[:, 4:6]),
        "unweighted mean / truth": float(figures[:, 3].mean() / RATE),
    }


def _holds(limits: Floats) -> float:
    return float(np.mean((limits[:, 0] <= RATE) & (limits[:, 1] >= RATE)))


if __name__ == "__main__":
    report(
        "12-month rate in growing fleets while reports are still coming",
        partial(study, workers=2),
    )
