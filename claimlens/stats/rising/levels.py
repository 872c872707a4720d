"""How much evidence makes a signal, and how often chance alone brings it.

The bars were set by simulation (``tests/studies/study_rising.py``), so that fleets
of every size see about the same number of false signals. The evidence is a mean over
runs: that of one run standing alone is about 2.9 plus its own logarithm below the
run's log-likelihood ratio, so the alarm bars stand near ratios of 7.5 for all models
and 9.5 for one, and watch begins near 3 and 6.5.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import counts_of, refuse
from claimlens.stats.rising.scan import LEAST_FAILURES, log_likelihood_ratio

__all__ = [
    "ALARM_ALL_MODELS",
    "ALARM_ONE_MODEL",
    "alarm_bar",
    "false_signals",
    "smallest_multiple",
    "watch_bar",
]

Floats = NDArray[np.float64]

ALARM_ALL_MODELS = 3.25
ALARM_ONE_MODEL = 4.75
# the more failures are expected, the more runs differ by chance: bars rise with them
_ALL_MODELS = (0.40, 0.25, 10.0)
_ONE_MODEL = (2.60, 0.30, 1.0)
# how far the ratio of counts after a year stands above the bar, less the logarithm of
# the bar, where a signal came within that year: runs that hold a part of the bad
# months speak too, and there are twelve month-ends for it
_ABOVE_BAR = 1.8
# new signals a month in a thousand rows, by failures expected of recent production;
# where many are, most small excesses could be early reports and are not called
_CHANCE_AT = (0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 1000.0)
_CHANCE_ALL_MODELS = (
    (5.0, 8.0, 14.0, 17.0, 22.0, 22.0, 17.0, 3.0),
    (0.5, 0.8, 1.2, 1.2, 1.5, 1.5, 1.5, 0.3),
)
_CHANCE_ONE_MODEL = (
    (0.06, 0.15, 0.45, 0.65, 0.65, 0.45, 0.25, 0.10),
    (0.01, 0.02, 0.08, 0.11, 0.13, 0.10, 0.10, 0.10),
)


def watch_bar(expected: ArrayLike, *, one_model: ArrayLike) -> Floats:
    """Return the evidence from which a row is watched.

    Parameters
    ----------
    expected : array_like, shape (R,)
        Failures expected of all recent production of the row.
    one_model : array_like of bool, shape (R,)
        Whether the row is of one model, of which there are many more.

    Returns
    -------
    ndarray, shape (R,)

    Raises
    ------
    InputError
        If a value is negative or not finite.
    """
    e = counts_of("expected", expected)
    bars = [a + b * np.log1p(e / c) for a, b, c in (_ALL_MODELS, _ONE_MODEL)]
    return np.where(np.asarray(one_model, dtype=bool), bars[1], bars[0])


def alarm_bar(one_model: ArrayLike) -> Floats:
    """Return the evidence from which a row is an alarm.

    Parameters
    ----------
    one_model : array_like of bool, shape (R,)
        Whether the row is of one model.

    Returns
    -------
    ndarray, shape (R,)
    """
    single = np.asarray(one_model, dtype=bool)
    return np.where(single, ALARM_ONE_MODEL, ALARM_ALL_MODELS)


def false_signals(expected: ArrayLike, *, one_model: ArrayLike) -> tuple[float, float]:
    """Return the new signals a month that chance alone brings.

    Parameters
    ----------
    expected : array_like, shape (R,)
        Failures expected of all recent production of each row.
    one_model : array_like of bool, shape (R,)
        Whether the row is of one model.

    Returns
    -------
    watch, alarm : float
        Lines at the bar for the first time in six months, over all rows: measured
        in fleets in which nothing rises, and interpolated between the logarithms
        of the expected failures.

    Raises
    ------
    InputError
        If a value is negative or not finite.
    """
    e = np.log(np.maximum(counts_of("expected", expected), 1e-6))
    single = np.asarray(one_model, dtype=bool)
    totals = []
    for pooled, alone in zip(_CHANCE_ALL_MODELS, _CHANCE_ONE_MODEL, strict=True):
        rate = np.where(
            single,
            np.interp(e, np.log(_CHANCE_AT), alone),
            np.interp(e, np.log(_CHANCE_AT), pooled),
        )
        totals.append(float(rate.sum()) / 1000.0)
    return totals[0], totals[1]


def smallest_multiple(
    expected: ArrayLike,
    recent: ArrayLike,
    uncertainty: ArrayLike,
    *,
    one_model: ArrayLike,
    chance: float = 0.8,
) -> Floats:
    """Return by how many times a rate must rise to be seen.

    Parameters
    ----------
    expected : array_like, shape (R,)
        Failures expected in the first year of three build months.
    recent : array_like, shape (R,)
        Failures expected of all recent production; sets the bar.
    uncertainty : array_like, shape (R,)
        Relative variance of the expectation.
    one_model : array_like of bool, shape (R,)
        Whether the row is of one model.
    chance : float, default 0.8
        With which the rise is to be seen within that year.

    Returns
    -------
    ndarray, shape (R,)
        Infinite where nothing is expected.

    Raises
    ------
    InputError
        If a value is negative or not finite, or a chance not between 0 and 1.
    """
    e = counts_of("expected", expected)
    v = counts_of("uncertainty", uncertainty)
    if not 0.0 < chance < 1.0:
        raise refuse("chance must lie strictly between 0 and 1", chance)
    bar = watch_bar(recent, one_model=one_model)
    needed = bar + _ABOVE_BAR + np.log(bar)
    low = np.full(e.shape, float(LEAST_FAILURES))
    high = np.maximum(low, 100.0 * (e + 1.0))
    # a ratio rises with the count: the smallest whole count that reaches it
    while (high - low > 0.5).any():
        middle = np.floor(0.5 * (low + high))
        reached = log_likelihood_ratio(middle, e, v) >= needed
        high, low = np.where(reached, middle, high), np.where(reached, low, middle + 1)
    with np.errstate(divide="ignore"):
        return np.asarray(special.gammaincinv(high, chance) / e)
