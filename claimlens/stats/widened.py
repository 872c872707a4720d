"""A share failed whose variance has a further source."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.intervals import wilson
from claimlens.stats.survival import ShareFailed

__all__ = ["widened"]

Floats = NDArray[np.float64]


def widened(share: ShareFailed, variance: Floats, *, confidence: float) -> ShareFailed:
    """Add a variance to that of a share, and widen its limits.

    Parameters
    ----------
    share : ShareFailed
        Shares of any shape.
    variance : ndarray, same shape
        What comes on top of Greenwood's variance, at least 0.
    confidence : float
        Two-sided level of the limits.

    Returns
    -------
    ShareFailed
        The same shares, with the effective number of units that gives the whole
        variance (Dorey, Korn 1987, Stat. Med. 6, 679-687), and limits no narrower
        than before. Where the share is 0 or 1 nothing changes.
    """
    spread = share.share * (1.0 - share.share)
    size = share.effective_n
    with np.errstate(divide="ignore", invalid="ignore"):
        fewer = spread / (spread / size + variance)
    known = share.reached & (variance > 0) & (spread > 0) & np.isfinite(fewer)
    fewer = np.where(known, fewer, size)
    n = np.where(known, fewer, 1.0)
    lower, upper = wilson(np.where(known, share.share, 0.0) * n, n, confidence)
    return replace(
        share,
        lower=np.where(known, np.minimum(lower, share.lower), share.lower),
        upper=np.where(known, np.maximum(upper, share.upper), share.upper),
        effective_n=fewer,
    )
