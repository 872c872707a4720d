"""Pointwise limits of the share failed, for the probability plot."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import refuse
from claimlens.stats.weibull.result import WeibullFit

__all__ = ["band"]

Floats = NDArray[np.float64]


def band(fit: WeibullFit, t: ArrayLike) -> tuple[Floats, Floats]:
    """Return `WeibullFit.cdf_interval` at a row of ages, always as arrays.

    Parameters
    ----------
    fit : WeibullFit
        Of one segment or several.
    t : array_like, shape (K,)
        Ages of at least 0.

    Returns
    -------
    lower : ndarray, shape (K,) or (S, K)
        Share failed; NaN where the segment has no fit.
    upper : ndarray, shape (K,) or (S, K)
        Share failed; NaN likewise.

    Raises
    ------
    InputError
        If an age is negative or not finite, or ``t`` is no row.
    """
    if np.ndim(t) != 1:
        raise refuse("t must be one row of ages", f"shape {np.shape(t)}")
    lower, upper = fit.cdf_interval(t)
    return np.asarray(lower), np.asarray(upper)
