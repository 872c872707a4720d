"""Words whose share of the texts grew beyond chance.

Of each word it is counted how many recent texts hold it, and how many earlier ones.
Given both together, and no growth, the recent ones are hypergeometric [1]_; the tail
counts half the chance of exactly what was seen (mid-p). Thousands of words are looked
at at once: the false discovery rate over all of them is held [2]_.

References
----------
.. [1] Fisher (1922), J. R. Stat. Soc. 85, 87-94 (the exact test of a 2 x 2 table).
.. [2] Benjamini, Hochberg (1995), J. R. Stat. Soc. B 57, 289-300.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import counts_of, refuse

__all__ = ["RisingWords", "rising_words"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class RisingWords:
    """Growth of W words; arrays of shape (W,).

    Parameters
    ----------
    ratio : ndarray
        Share of recent texts over that of earlier ones, drawn towards 1 by half a
        text on either side.
    p_value : ndarray
        One-sided.
    adjusted : ndarray
        The same adjusted for the false discovery rate over all words that could
        have been found.
    """

    ratio: Floats
    p_value: Floats
    adjusted: Floats


def rising_words(
    recent: ArrayLike,
    earlier: ArrayLike,
    recent_texts: ArrayLike,
    earlier_texts: ArrayLike,
) -> RisingWords:
    """Test each word for growth.

    Parameters
    ----------
    recent, earlier : array_like, shape (W,)
        Texts that hold the word.
    recent_texts, earlier_texts : array_like, shape (W,) or scalar
        All texts of its group (language, window).

    Returns
    -------
    RisingWords

    Raises
    ------
    InputError
        If a count is negative or above that of all texts.

    Notes
    -----
    A word whose texts are so few that even all of them recent would be no surprise
    cannot be found and does not count among those that are looked at (Gilbert (2005),
    Appl. Stat. 54, 143-158, after Tarone (1990), Biometrics 46, 515-522).
    """
    x, y = counts_of("recent", recent), counts_of("earlier", earlier)
    n = np.broadcast_to(counts_of("recent_texts", recent_texts), x.shape)
    m = np.broadcast_to(counts_of("earlier_texts", earlier_texts), x.shape)
    if x.shape != y.shape:
        raise refuse("recent and earlier must have one shape", x.shape)
    if (x > n).any() or (y > m).any():
        raise refuse("a word cannot be in more texts than there are", float(x.max()))
    p_value = _tail(x, x + y, n, m)
    least = _tail(np.minimum(x + y, n), x + y, n, m)
    share_recent = (x + 0.5) / (n + 1.0)
    share_earlier = (y + 0.5) / (m + 1.0)
    return RisingWords(
        ratio=share_recent / share_earlier,
        p_value=p_value,
        adjusted=_adjusted(p_value, least),
    )


def _tail(x: Floats, both: Floats, n: Floats, m: Floats) -> Floats:
    """Return the mid-p chance of at least x recent texts among both."""
    held = scipy.stats.hypergeom(n + m, n, both)
    tail = held.sf(x) + 0.5 * held.pmf(x)
    return np.asarray(np.clip(np.nan_to_num(tail, nan=1.0), 0.0, 1.0))


def _adjusted(p_value: Floats, least: Floats) -> Floats:
    """Adjust over the words that could be found at all."""
    adjusted = np.ones(p_value.shape)
    # the least p-value that counts depends on how many count: from the strictest on
    order = np.argsort(least, kind="stable")
    sizes = np.arange(1, least.size + 1)
    testable = least[order] * sizes <= _LEVEL
    if not testable.any():
        return adjusted
    chosen = order[: int(np.flatnonzero(testable).max()) + 1]
    adjusted[chosen] = scipy.stats.false_discovery_control(p_value[chosen])
    return adjusted


# a word whose best p-value times the words looked at exceeds this cannot be found
_LEVEL = 0.05
