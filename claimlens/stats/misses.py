"""Do bands miss as often as they promise? Tests of the number of misses."""

from __future__ import annotations

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of, counts_of, finite_of, refuse

__all__ = ["kupiec_ratio", "kupiec_region", "misses_p"]

Floats = NDArray[np.float64]

# two chances that differ by rounding count as equal, as in R and scipy
_ALIKE = 1.0 + 1e-7


def kupiec_ratio(misses: ArrayLike, periods: ArrayLike, chance: ArrayLike) -> Floats:
    """Compute Kupiec's likelihood ratio of misses seen against those promised.

    Parameters
    ----------
    misses : array_like
        Values outside their band; halves are allowed.
    periods : array_like of int
        Bands, at least ``misses``.
    chance : array_like
        Promised chance of a miss, strictly between 0 and 1: 0.05 of a 95 % band.

    Returns
    -------
    ndarray
        At least 0; chi-squared with 1 degree of freedom in large samples if the
        promise holds. All three broadcast.

    Raises
    ------
    InputError
        If there are more misses than periods, or a value is out of its range.

    References
    ----------
    .. [1] Kupiec (1995), J. Derivatives 3(2), 73-84.
    """
    x, n, p = _trials(misses, periods, chance)
    return _ratio(x, n, p)


def kupiec_region(
    periods: ArrayLike, chance: ArrayLike, significance: float = 0.05
) -> tuple[Floats, Floats]:
    """Find the whole numbers of misses that Kupiec's test does not reject.

    Parameters
    ----------
    periods : array_like of int
        Bands.
    chance : array_like
        Promised chance of a miss, strictly between 0 and 1.
    significance : float, default 0.05
        Level of the test, strictly between 0 and 1.

    Returns
    -------
    fewest, most : ndarray
        Both still not rejected; NaN where every number is rejected, which can
        be where ``significance`` is large.

    Raises
    ------
    InputError
        As `kupiec_ratio`.

    References
    ----------
    .. [1] Kupiec (1995), J. Derivatives 3(2), 73-84.
    """
    bar = float(special.chdtri(1.0, confidence_of(significance)))
    _, n, p = _trials(0.0, periods, chance)
    counts = np.arange(n.max(initial=0.0) + 1.0)
    possible = counts <= n[..., None]
    ratio = _ratio(np.minimum(counts, n[..., None]), n[..., None], p[..., None])
    kept = possible & (ratio < bar)
    fewest = np.where(kept, counts, np.inf).min(axis=-1)
    most = np.where(kept, counts, -np.inf).max(axis=-1)
    some = kept.any(axis=-1)
    return np.where(some, fewest, np.nan), np.where(some, most, np.nan)


def misses_p(
    misses: ArrayLike, periods: ArrayLike, chance: ArrayLike
) -> tuple[Floats, Floats]:
    """Compute exact p-values of the misses seen if bands hold their promise.

    Parameters
    ----------
    misses, periods, chance : array_like
        As for `kupiec_ratio`. Where a half is left, p is the mean of that with
        the half taken as a miss and that without.

    Returns
    -------
    two_sided : ndarray
        Chance of all numbers of misses that are no likelier than the one seen.
    upper : ndarray
        Chance of at least so many.

    Raises
    ------
    InputError
        As `kupiec_ratio`.
    """
    x, n, p = _trials(misses, periods, chance)
    whole = np.floor(x)
    part = x - whole
    two_sided, upper = _binomial_p(whole, n, p)
    two_more, upper_more = _binomial_p(np.minimum(whole + 1.0, n), n, p)
    return (
        (1.0 - part) * two_sided + part * two_more,
        (1.0 - part) * upper + part * upper_more,
    )


def _binomial_p(x: Floats, n: Floats, p: Floats) -> tuple[Floats, Floats]:
    counts = np.arange(n.max(initial=0.0) + 1.0)
    chance = scipy.stats.binom.pmf(counts, n[..., None], p[..., None])
    own = scipy.stats.binom.pmf(x, n, p)[..., None]
    no_likelier = np.where(chance <= own * _ALIKE, chance, 0.0).sum(axis=-1)
    return np.minimum(no_likelier, 1.0), np.asarray(scipy.stats.binom.sf(x - 1.0, n, p))


def _ratio(x: Floats, n: Floats, p: Floats) -> Floats:
    share = np.divide(x, n, out=np.zeros(np.broadcast(x, n).shape), where=n > 0)
    seen = special.xlogy(x, share) + special.xlog1py(n - x, -share)
    promised = special.xlogy(x, p) + special.xlog1py(n - x, -p)
    return np.asarray(np.maximum(2.0 * (seen - promised), 0.0))


def _trials(
    misses: ArrayLike, periods: ArrayLike, chance: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    x, n = counts_of("misses", misses), counts_of("periods", periods)
    p = finite_of("chance", chance)
    if (n % 1 != 0).any():
        raise refuse("periods must be whole numbers", n[n % 1 != 0].flat[0])
    if ((p <= 0) | (p >= 1)).any():
        raise refuse(
            "chance must lie strictly between 0 and 1",
            p[(p <= 0) | (p >= 1)].flat[0],
            "write the 5 per cent outside a 95 % band as 0.05",
        )
    try:
        x, n, p = np.broadcast_arrays(x, n, p)
    except ValueError:
        raise refuse(
            "misses, periods and chance must have one shape",
            f"shapes {x.shape}, {n.shape}, {p.shape}",
        ) from None
    if (x > n).any():
        raise refuse("misses must not exceed periods", x[x > n].flat[0])
    return x, n, p
