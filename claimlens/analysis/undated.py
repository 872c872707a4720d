"""What rates are uncertain by because in-service dates are not known."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claimlens.analysis.count_tables import Counts, SegmentChunk
from claimlens.stats.survival import ShareFailed
from claimlens.stats.widened import widened

__all__ = ["with_undated_error"]

Floats = NDArray[np.float64]


def with_undated_error(
    share: ShareFailed, counts: Counts, chunk: SegmentChunk, *, confidence: float
) -> ShareFailed:
    """Widen the limits of shares failed by what undated failures leave open.

    A failed unit without an in-service date lies below an age with some chance w;
    the number of such units below it has the variance sum of w (1 - w), the
    information that the missing dates would have given. Each failure counts in the
    share by share / failures.

    Parameters
    ----------
    share : ShareFailed
        Of the segments of the chunk.
    counts : Counts
        The chunk is from.
    chunk : SegmentChunk
        Failures and exposure.
    confidence : float
        Two-sided level of the limits.

    Returns
    -------
    ShareFailed
        The same shares, their limits no narrower.

    References
    ----------
    .. [1] Orchard, Woodbury (1972), Proc. 6th Berkeley Symp. 1, 697-715
       (the missing information principle).
    """
    return widened(share, _variance(share, counts, chunk), confidence=confidence)


def _variance(share: ShareFailed, counts: Counts, chunk: SegmentChunk) -> Floats:
    """Return the variance of each share, shape (s, K)."""
    here = counts.events[
        counts.events["is_first"]
        & counts.events["is_known"]
        & counts.events["segment"].isin(chunk.rows)
        & (counts.events["unsure"] != 0)
    ]
    place = np.full(len(counts.segments), -1, dtype=np.intp)
    place[chunk.rows] = np.arange(len(chunk.rows))
    row = place[here["segment"].to_numpy()]
    age, unsure = here["age"].to_numpy(), here["unsure"].to_numpy()
    variance = np.zeros(share.share.shape)
    for k, day in enumerate(share.at):
        below = age <= day
        open_ = np.bincount(
            row[below], weights=unsure[below], minlength=len(chunk.rows)
        )
        failed = chunk.failures[:, counts.ages <= day].sum(axis=1)
        weight = np.divide(
            np.nan_to_num(share.share[:, k]),
            failed,
            out=np.zeros_like(failed),
            where=failed > 0,
        )
        variance[:, k] = np.maximum(open_, 0.0) * weight**2
    return variance
