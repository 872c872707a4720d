"""How many rows truly belong to a class, given how often rows are misplaced."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import counts_of, refuse
from claimlens.stats.intervals import wilson

__all__ = ["TrueCounts", "audited_counts", "bounded_counts"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueCounts:
    """True numbers of rows by class, with limits.

    Parameters
    ----------
    value : ndarray
        Estimate; NaN where there is none.
    lower, upper : ndarray
        Limits; NaN where nothing is known of the class.
    """

    value: Floats
    lower: Floats
    upper: Floats


def audited_counts(
    n_in: ArrayLike,
    n_out: ArrayLike,
    *,
    share_in: ArrayLike,
    audited_in: ArrayLike,
    share_out: ArrayLike,
    audited_out: ArrayLike,
    confidence: float = 0.95,
) -> TrueCounts:
    """Estimate the true count of a class from an audit of both sides of it.

    Parameters
    ----------
    n_in, n_out : array_like
        Rows classified as the class, and all others.
    share_in, share_out : array_like
        Share truly of the class among the audited rows of either side, 0 to 1;
        ignored where nothing was audited there.
    audited_in, audited_out : array_like
        Audited rows of either side, or their effective number.
    confidence : float, default 0.95
        Two-sided level.

    Returns
    -------
    TrueCounts
        n_in p_in + n_out p_out; the limits square and add the Wilson distances of
        both shares. Where a side was not audited the value is NaN, and that side
        may hold anything from none to all of its rows.

    Raises
    ------
    InputError
        If a count is negative or not finite, or a share lies outside 0 to 1.

    References
    ----------
    .. [1] Rogan, Gladen (1978), Am. J. Epidemiol. 107, 71-76.
    .. [2] Newcombe (1998), Stat. Med. 17, 873-890, method 10, for the squares.
    """
    inside, outside = counts_of("n_in", n_in), counts_of("n_out", n_out)
    p, low_p, high_p, seen_in = _side("in", share_in, audited_in, confidence)
    q, low_q, high_q, seen_out = _side("out", share_out, audited_out, confidence)
    both = seen_in & seen_out
    down_in, up_in = inside * (p - low_p), inside * (high_p - p)
    down_out, up_out = outside * (q - low_q), outside * (high_q - q)
    value = inside * p + outside * q
    lower = np.where(
        both, value - np.hypot(down_in, down_out), inside * low_p + outside * low_q
    )
    upper = np.where(
        both, value + np.hypot(up_in, up_out), inside * high_p + outside * high_q
    )
    return TrueCounts(
        value=np.where(both, value, np.nan),
        lower=np.maximum(lower, 0.0),
        upper=np.minimum(upper, inside + outside),
    )


def bounded_counts(
    observed: ArrayLike,
    unclassified: ArrayLike,
    *,
    precision_lower: ArrayLike,
    precision_upper: ArrayLike,
    recall_lower: ArrayLike,
) -> TrueCounts:
    """Bound the true count of a class where the audit is too small to estimate it.

    Parameters
    ----------
    observed : array_like
        Rows classified as the class.
    unclassified : array_like
        Rows left unclassified, any of which may belong to it.
    precision_lower, precision_upper : array_like
        Limits of the precision; NaN where it is not measured.
    recall_lower : array_like
        Lower limit of the recall; NaN where it is not measured.

    Returns
    -------
    TrueCounts
        Without a value: observed x precision_lower to observed x precision_upper
        / recall_lower; to observed + unclassified where the recall is not
        measured (which takes it that rows of the class are missed, not taken for
        another class). NaN where the precision is not measured.

    Raises
    ------
    InputError
        If a count is negative or not finite.

    References
    ----------
    .. [1] Rogan, Gladen (1978), Am. J. Epidemiol. 107, 71-76: true = observed x
       precision / recall.
    """
    seen = counts_of("observed", observed)
    loose = counts_of("unclassified", unclassified)
    low, high, recall = (
        np.asarray(x, dtype=np.float64)
        for x in (precision_lower, precision_upper, recall_lower)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        upper = np.where(np.isnan(recall), seen + loose, seen * high / recall)
    # 0 / 0: nothing was classified so, and nothing is known of what was missed
    upper = np.where(np.isnan(upper) & ~np.isnan(high), seen + loose, upper)
    upper = np.where(np.isnan(high), np.nan, upper)
    lower = seen * low
    return TrueCounts(value=np.full(lower.shape, np.nan), lower=lower, upper=upper)


def _side(
    name: str, share: ArrayLike, audited: ArrayLike, confidence: float
) -> tuple[Floats, Floats, Floats, NDArray[np.bool_]]:
    n = counts_of(f"audited_{name}", audited)
    seen = n > 0
    p = np.where(seen, np.asarray(share, dtype=np.float64), 0.0)
    if not np.all((p >= 0) & (p <= 1)):
        raise refuse(f"share_{name} must lie between 0 and 1", repr(share)[:80])
    low, high = wilson(p * n, n, confidence)
    return p, np.asarray(low), np.asarray(high), seen
