"""Does a month look different from the year before it?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import counts_of, refuse
from claimlens.stats.paired_counts import shares_of

__all__ = [
    "WINDOW",
    "Divergence",
    "ShareChart",
    "class_divergence",
    "share_chart",
    "unseen_chart",
]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

#: Months before, against which a month is held (a rule of ours).
WINDOW = 12

_SIGMAS = 3.0
_CHANCE = 0.99


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareChart:
    """Shares by month with the limits that the months before set.

    Parameters
    ----------
    share : ndarray, shape (T,)
        NaN for a month without rows.
    centre, lower, upper : ndarray, shape (T,)
        NaN where too few months came before.
    dispersion : ndarray, shape (T,)
        By how much the months before vary more than chance alone lets them; at
        least 1.
    alarm : ndarray of bool, shape (T,)
        Outside the limits.
    """

    share: Floats
    centre: Floats
    lower: Floats
    upper: Floats
    dispersion: Floats
    alarm: Bools


@dataclass(frozen=True, slots=True, kw_only=True)
class Divergence:
    """How far the class shares of two sets of rows lie apart.

    Parameters
    ----------
    value : float
        Jensen-Shannon divergence to base 2, 0 to 1; NaN where a set is empty.
    by_chance : float
        What equal shares exceed once in a hundred times at these numbers.
    """

    value: float
    by_chance: float


def share_chart(
    counts: ArrayLike, totals: ArrayLike, *, window: int = WINDOW
) -> ShareChart:
    """Draw limits for a share by month: a p-chart that allows for overdispersion.

    Parameters
    ----------
    counts, totals : array_like, shape (T,)
        Rows with the property and all rows, by month, oldest first.
    window : int, default 12
        Months before each month that set its limits; with fewer there are none.

    Returns
    -------
    ShareChart
        centre +- 3 sqrt(p (1 - p) phi (1 / n + 1 / N)) and half a row beyond, with
        phi = Pearson chi-square / degrees of freedom of the window's N rows, at
        least 1. The variance takes p = (x + 1/2) / (N + 1), so that a window
        without a single case does not call the first one an alarm.

    Raises
    ------
    InputError
        If a count is negative or exceeds its total, or the window is below 2.

    References
    ----------
    .. [1] Shewhart (1931), Economic Control of Quality of Manufactured Product;
       ISO 7870-2 for charts of shares.
    .. [2] McCullagh, Nelder (1989), Generalized Linear Models, 2nd ed., section
       4.5, for the dispersion.
    """
    x, n = shares_of("counts", counts, "totals", totals)
    if x.ndim != 1 or window < 2:
        raise refuse("one row of months and a window of 2 or more", x.shape)
    months = x.size
    share = np.divide(x, n, out=np.full(months, np.nan), where=n > 0)
    columns = {
        name: np.full(months, np.nan)
        for name in ("centre", "lower", "upper", "dispersion")
    }
    for month in range(window, months):
        before_x, before_n = x[month - window : month], n[month - window : month]
        some = before_n > 0
        rows = before_n.sum()
        if n[month] == 0 or some.sum() < 2:
            continue
        p = before_x.sum() / rows
        smooth = (before_x.sum() + 0.5) / (rows + 1.0)
        variance = smooth * (1 - smooth)
        pearson = ((before_x - before_n * p)[some] ** 2 / before_n[some]).sum()
        phi = max(1.0, pearson / variance / (some.sum() - 1))
        spread = np.sqrt(variance * phi * (1 / n[month] + 1 / rows))
        reach = _SIGMAS * spread + 0.5 / n[month]
        columns["centre"][month] = p
        columns["lower"][month] = max(p - reach, 0.0)
        columns["upper"][month] = min(p + reach, 1.0)
        columns["dispersion"][month] = phi
    with np.errstate(invalid="ignore"):
        alarm = (share < columns["lower"]) | (share > columns["upper"])
    return ShareChart(share=share, alarm=alarm, **columns)


def unseen_chart(
    unseen: ArrayLike,
    words: ArrayLike,
    *,
    window: int = WINDOW,
    least: int = 3,
    factor: float = 2.0,
) -> ShareChart:
    """Watch the share of words that the year before each month did not hold.

    Parameters
    ----------
    unseen, words : array_like, shape (T,)
        Words that the months before did not hold, and all words, by month, oldest
        first; 0 of both for months whose year before is not known.
    window : int, default 12
        Months before whose mean share sets the limit.
    least : int, default 3
        Months with words among them that it takes.
    factor : float, default 2
        Alarm above that many times the mean.

    Returns
    -------
    ShareChart
        ``centre`` is the mean of the months before, ``lower`` 0.

    Notes
    -----
    The factor is a rule of ours; words cluster in texts, which rules a binomial
    limit out.
    """
    x, n = shares_of("unseen", unseen, "words", words)
    if x.ndim != 1 or window < 1:
        raise refuse("one row of months and a window of 1 or more", x.shape)
    share = np.divide(x, n, out=np.full(x.size, np.nan), where=n > 0)
    centre = np.full(x.size, np.nan)
    for month in range(x.size):
        before = share[max(month - window, 0) : month]
        known = before[~np.isnan(before)]
        if known.size >= least and n[month] > 0:
            centre[month] = known.mean()
    upper = np.minimum(factor * centre, 1.0)
    with np.errstate(invalid="ignore"):
        alarm = share > upper
    return ShareChart(
        share=share,
        centre=centre,
        lower=np.where(np.isnan(centre), np.nan, 0.0),
        upper=upper,
        dispersion=np.full(x.size, np.nan),
        alarm=alarm,
    )


def class_divergence(now: ArrayLike, before: ArrayLike) -> Divergence:
    """Measure how far the class shares of a month lie from those before it.

    Parameters
    ----------
    now, before : array_like, shape (C,)
        Rows by class.

    Returns
    -------
    Divergence
        The chance limit takes 8 ln 2 times the divergence of samples of n and m
        rows for (1/n + 1/m) times a chi-square of C - 1 degrees of freedom, C
        being the classes seen.

    Raises
    ------
    InputError
        If shapes differ or a count is negative.

    References
    ----------
    .. [1] Lin (1991), IEEE Trans. Inf. Theory 37, 145-151, equation 4.1.
    .. [2] Menendez, Pardo, Pardo, Pardo (1997), J. Franklin Inst. 334, 307-318,
       for its distribution.
    """
    a, b = counts_of("now", now), counts_of("before", before)
    if a.shape != b.shape or a.ndim != 1:
        raise refuse("both must be one row of the same classes", f"{a.shape}")
    n, m = a.sum(), b.sum()
    if n == 0 or m == 0:
        return Divergence(value=np.nan, by_chance=np.nan)
    p, q = a / n, b / m
    middle = (p + q) / 2
    entropy = special.entr(middle) - (special.entr(p) + special.entr(q)) / 2
    classes = int((middle > 0).sum())
    chance = special.chdtri(max(classes - 1, 1), 1 - _CHANCE)
    return Divergence(
        value=float(np.clip(entropy.sum() / np.log(2.0), 0.0, 1.0)),
        by_chance=float((1 / n + 1 / m) * chance / (8 * np.log(2.0))),
    )
