"""Do bad young batches pass for an early-life fault?

Eight build quarters with a hazard that does not depend on age; the last two
are five times as bad. And the price: how often the right word is said where
shape is what it seems and no quarter is bad.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from fleets import draw, passed, report, scale_for, weibull_cdf

from claimlens.stats import weibull

MONTHS = np.arange(1.0, 25.0)


def study(repeats: int = 400, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return how often each verdict is reached."""
    rows = [
        _row(repeats, seed, shape=1.0, failures=failures, factor=5.0)
        for failures in (50, 200)
    ]
    rows += [
        _row(repeats // 2, seed, shape=shape, failures=failures, factor=1.0)
        for shape in (0.5, 2.0)
        for failures in (15, 30, 60)
    ]
    return rows


def _row(
    repeats: int, seed: int, *, shape: float, failures: int, factor: float
) -> dict[str, Any]:
    rng = np.random.default_rng([seed, failures, int(10 * shape), int(factor)])
    ages = 24 - 3 * np.arange(8)
    planned = np.zeros((8, 24))
    planned[np.arange(8), ages - 1] = failures * 4
    rates = np.where(np.arange(8) >= 6, factor, 1.0)
    # a quarter that is worse by a factor of hazard has this scale
    weights = (planned * rates[:, None]).sum(axis=0)
    base = scale_for(weights, MONTHS, shape, failures)
    drawn = [
        draw(rng, repeats, row, weibull_cdf(MONTHS, shape, base * rate ** (-1 / shape)))
        for row, rate in zip(planned, rates, strict=True)
    ]
    fails, left = (np.stack([one[i] for one in drawn], axis=1) for i in (0, 1))
    pooled = weibull.fit(MONTHS, fails.sum(axis=1), left.sum(axis=1), lower=MONTHS - 1)
    low, high = (np.asarray(end) for end in pooled.shape_interval)
    words = [
        _word(fails[i], left[i], planned.sum(axis=0), (low[i], high[i]), i)
        for i in range(repeats)
    ]
    return {
        "shape": shape,
        "failures": failures,
        "last two quarters": f"x {factor:g}",
        "repeats": repeats,
        "pooled below 1": float(np.mean(high < 1)),
        "pooled above 1": float(np.mean(low > 1)),
        **{
            word: float(np.mean([one == word for one in words]))
            for word in ("early-life", "wear-out", "random", "undecided")
        },
    }


def _word(
    fails: Any, left: Any, planned: Any, interval: tuple[float, float], seed: int
) -> str:
    """Return the word as a report would say it."""
    common = weibull.common_shape(MONTHS, fails, left, lower=MONTHS - 1)
    r = float(fails.sum())
    # the costly test only where the word hangs on it
    if weibull.pattern(interval, r, 1.0, common.shape_interval).word == "undecided":
        return "undecided"
    test = weibull.fit_test(
        MONTHS,
        fails.sum(axis=0),
        passed(fails, left).sum(axis=0),
        passed(np.zeros_like(planned), planned),
        lower=MONTHS - 1,
        seed=seed,
        width=None,
    )
    return weibull.pattern(interval, r, test.p, common.shape_interval).word


if __name__ == "__main__":
    report("Pattern words with and without bad build quarters", study)
