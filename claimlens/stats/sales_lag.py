"""Days from shipping to first use, of groups that tell much or little."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.errors import InputError
from claimlens.stats.lag import truncated_lag

__all__ = ["in_steps", "lag_of_group"]

Floats = NDArray[np.float64]

# what happens at lags that fewer units could have shown is left to the coarser
# group: one unit late in a short row would move all that lies before it
_FEWEST_AT_HORIZON = 20
# units at which a group weighs as much as the coarser one
_EVEN_UNITS = 50.0


def lag_of_group(
    lags: ArrayLike,
    horizons: ArrayLike,
    counts: ArrayLike,
    *,
    coarser: ArrayLike | None = None,
) -> Floats:
    """Estimate the sales lag of a group, leaning on a coarser group where it is thin.

    Up to the longest lag that 20 units of the group could have shown, the group's
    own distribution has the weight n / (n + 50), the coarser one the rest; beyond
    it the coarser one speaks alone.

    Parameters
    ----------
    lags : array_like of int, shape (n,)
        Days, at least 0 and at most the row's horizon.
    horizons : array_like of int, shape (n,)
        Longest lag that the row could have shown, days.
    counts : array_like of float, shape (n,)
        Units of each row.
    coarser : array_like of float, shape (m,), optional
        Chance of a lag of 0, 1, ... days in the coarser group; adds up to 1.

    Returns
    -------
    ndarray, shape (k,)
        Chance of a lag of 0, 1, ... days; adds up to 1. Empty for no units and no
        coarser group.

    Raises
    ------
    InputError
        As `claimlens.stats.lag.truncated_lag`.

    References
    ----------
    .. [1] Kalbfleisch, Lawless (1989), J. Am. Stat. Assoc. 84, 360-372.
    .. [2] Lawless, Kalbfleisch (1992), in Survival Analysis: State of the Art,
       141-152.
    """
    lag = np.asarray(lags, dtype=np.int64)
    horizon = np.asarray(horizons, dtype=np.int64)
    count = np.asarray(counts, dtype=np.float64)
    if not lag.shape == horizon.shape == count.shape or lag.ndim != 1:
        raise InputError("lags, horizons and counts must be arrays of one length.")
    base = None if coarser is None else np.asarray(coarser, dtype=np.float64)
    n_units = float(count.sum())
    if n_units <= 0:
        return np.zeros(0) if base is None else base
    edge = _edge(horizon, count)
    shown = lag <= edge
    support, chance = truncated_lag(
        lag[shown], np.minimum(horizon[shown], edge), count[shown]
    )
    size = max(edge + 1, 0 if base is None else base.size)
    own = np.zeros(size)
    own[support] = chance
    if base is None:
        return np.trim_zeros(own, "b")
    whole = np.pad(base, (0, size - base.size))
    within = np.arange(size) <= edge
    mass = float(whole[within].sum())
    n_shown = float(count[shown].sum())
    share = n_shown / (n_shown + _EVEN_UNITS)
    mixed = np.where(within, share * own * mass + (1.0 - share) * whole, whole)
    return np.trim_zeros(mixed, "b")


def _edge(horizon: NDArray[np.int64], count: Floats) -> int:
    """Return the longest lag that enough units could have shown."""
    order = np.argsort(-horizon, kind="stable")
    reached = np.cumsum(count[order])
    place = np.searchsorted(reached, min(_FEWEST_AT_HORIZON, float(reached[-1])))
    return int(horizon[order][min(int(place), horizon.size - 1)])


def in_steps(chance: ArrayLike, days: int) -> tuple[NDArray[np.int64], Floats]:
    """Gather a lag distribution into steps of some days.

    Parameters
    ----------
    chance : array_like of float, shape (k,)
        Chance of a lag of 0, 1, ... days.
    days : int
        Length of a step, at least 1.

    Returns
    -------
    lags : ndarray of int, shape (m,)
        Mean lag of each step that has a chance, to the day.
    weight : ndarray of float, shape (m,)
        Its chance.
    """
    by_day = np.asarray(chance, dtype=np.float64)
    step = np.arange(by_day.size) // days
    weight = np.bincount(step, weights=by_day).astype(np.float64)
    moment = np.bincount(step, weights=by_day * np.arange(by_day.size))
    held = weight > 0
    return np.rint(moment[held] / weight[held]).astype(np.int64), weight[held]
