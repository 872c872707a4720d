"""A share of the whole from strata that were sampled unequally."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import counts_of, refuse
from claimlens.stats.intervals import wilson

__all__ = ["StratifiedShare", "stratified_share"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class StratifiedShare:
    """A share of a whole population from strata, with limits; 0 to 1 each."""

    value: Floats
    lower: Floats
    upper: Floats


def stratified_share(
    successes: ArrayLike,
    reviewed: ArrayLike,
    sizes: ArrayLike,
    confidence: float = 0.95,
    *,
    effective: ArrayLike | None = None,
) -> StratifiedShare:
    """Estimate a share of the whole from strata that were sampled unequally.

    Parameters
    ----------
    successes, reviewed : array_like, shape (..., H)
        Rows with the property and rows looked at, in each of H strata.
    sizes : array_like, shape (..., H)
        Rows of each stratum, at least ``reviewed``. A stratum that was looked at
        whole adds nothing to the width.
    confidence : float, default 0.95
        Two-sided level.
    effective : array_like, shape (..., H), optional
        Effective number of rows looked at, where these had unequal weights; not
        above ``reviewed``.

    Returns
    -------
    StratifiedShare
        Shape (...): sum of N_h p_h / N; NaN with limits 0 and 1 where a stratum
        that has rows was not looked at. The limits square and add the Wilson
        distances of the strata, each on n (N - 1) / (N - n) rows.

    Raises
    ------
    InputError
        If a count is negative or not finite, or exceeds the one around it.

    References
    ----------
    .. [1] Horvitz, Thompson (1952), J. Am. Stat. Assoc. 47, 663-685.
    .. [2] Cochran (1977), Sampling Techniques, 3rd ed., sections 3.2 and 5.10.
    .. [3] Newcombe (1998), Stat. Med. 17, 873-890, method 10; Zou, Donner (2008),
       Stat. Med. 27, 1693-1702.
    """
    x, n, size = np.broadcast_arrays(
        counts_of("successes", successes),
        counts_of("reviewed", reviewed),
        counts_of("sizes", sizes),
    )
    seen = np.broadcast_to(
        n if effective is None else counts_of("effective", effective), n.shape
    )
    slack = 1 + 1e-9
    if (x > n * slack).any() or (n > size * slack).any() or (seen > n * slack).any():
        raise refuse(
            "successes must not exceed the rows reviewed, nor these the size of the "
            "stratum, nor the effective number the rows reviewed",
            "more",
        )
    total = size.sum(axis=-1)
    known = np.all((n > 0) | (size == 0), axis=-1) & (total > 0)
    weight = size / np.maximum(total, 1e-300)[..., None]
    p = np.minimum(np.divide(x, n, out=np.zeros(n.shape), where=n > 0), 1.0)
    open_rows = np.maximum(size - n, 0.0)
    whole = open_rows <= 1e-9 * size
    trials = np.divide(
        seen * np.maximum(size - 1.0, 0.0),
        open_rows,
        out=np.zeros(n.shape),
        where=~whole,
    )
    low, high = wilson(p * trials, trials, confidence)
    down = np.where(whole, 0.0, weight * (p - low))
    up = np.where(whole, 0.0, weight * (high - p))
    value = (weight * p).sum(axis=-1)
    lower = np.maximum(value - np.sqrt((down * down).sum(axis=-1)), 0.0)
    upper = np.minimum(value + np.sqrt((up * up).sum(axis=-1)), 1.0)
    return StratifiedShare(
        value=np.where(known, value, np.nan),
        lower=np.where(known, lower, 0.0),
        upper=np.where(known, upper, 1.0),
    )
