"""Mid-p intervals: exact in form, close to their level on average.

The exact limits of a count miss the truth less often than asked, because counts come
in steps. Counting half the chance of exactly what was seen takes that away: the level
is met on average, and is missed by a little at single values.
"""

from __future__ import annotations

from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import confidence_of
from claimlens.stats.paired_counts import rates_of, shares_of
from claimlens.stats.tails import rate_limits, share_limits

__all__ = ["binomial_mid_p", "poisson_mid_p"]

Floats = NDArray[np.float64]


@overload
def binomial_mid_p(
    successes: float, trials: float, confidence: float = ...
) -> tuple[float, float]: ...
@overload
def binomial_mid_p(
    successes: ArrayLike, trials: ArrayLike, confidence: float = ...
) -> tuple[Floats, Floats]: ...
def binomial_mid_p(
    successes: ArrayLike, trials: ArrayLike, confidence: float = 0.95
) -> tuple[ArrayLike, ArrayLike]:
    """Compute the mid-p binomial interval of a share.

    Parameters
    ----------
    successes, trials : array_like
        Events and units observed; 0 trials give (0, 1). Need not be whole.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.

    Returns
    -------
    lower : float or ndarray
        Dimensionless; 0 where nothing happened.
    upper : float or ndarray
        Dimensionless; 1 where everything did.

    Raises
    ------
    InputError
        If a count is negative, not finite, or exceeds its trials.

    References
    ----------
    .. [1] Newcombe (1998), Stat. Med. 17, 857-872, method 6.
    .. [2] Berry, Armitage (1995), Statistician 44, 417-423.
    """
    x, n = shares_of("successes", successes, "trials", trials)
    tail = (1.0 - confidence_of(confidence)) / 2.0
    lower, upper = share_limits(x, n, tail, mid_p=True)
    return lower[()], upper[()]


@overload
def poisson_mid_p(
    events: float, exposure: float = ..., confidence: float = ...
) -> tuple[float, float]: ...
@overload
def poisson_mid_p(
    events: ArrayLike, exposure: ArrayLike = ..., confidence: float = ...
) -> tuple[Floats, Floats]: ...
def poisson_mid_p(
    events: ArrayLike, exposure: ArrayLike = 1.0, confidence: float = 0.95
) -> tuple[ArrayLike, ArrayLike]:
    """Compute the mid-p interval of a rate of events.

    Parameters
    ----------
    events : array_like
        Events counted; sums of weights are allowed.
    exposure : array_like, default 1.0
        Units of time under observation, or an expected count.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.

    Returns
    -------
    lower : float or ndarray
        Events per unit of exposure; exactly 0 without events.
    upper : float or ndarray
        Events per unit of exposure; inf where the exposure is 0, which says that
        nothing is known.

    Raises
    ------
    InputError
        If a value is negative or not finite, or there are events without exposure.

    References
    ----------
    .. [1] Lancaster (1961), J. Am. Stat. Assoc. 56, 223-234.
    .. [2] Cohen, Yang (1994), Stat. Med. 13, 2189-2203.
    """
    x, t = rates_of("events", events, "exposure", exposure)
    tail = (1.0 - confidence_of(confidence)) / 2.0
    lower, upper = rate_limits(x, t, tail, mid_p=True)
    return lower[()], upper[()]
