"""What rates are uncertain by because usage rates are only estimated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from claimlens.analysis.count_tables import Counts, SegmentChunk
from claimlens.analysis.cover import Cover
from claimlens.stats.exposure import Chances, Stays, passed
from claimlens.stats.survival import ShareFailed
from claimlens.stats.widened import widened

__all__ = ["with_usage_error"]

Floats = NDArray[np.float64]


def with_usage_error(
    share: ShareFailed,
    counts: Counts,
    chunk: SegmentChunk,
    cover: Cover,
    *,
    confidence: float,
) -> ShareFailed:
    """Widen the limits of shares failed by the error of the usage rates.

    The exposure behind a share is weighted by the share of units still within
    their distance limit, which the usage rates of each model tell. Their errors
    are carried to the share to first order (the delta method; the failed units are
    taken to be as the others), added to its variance, and the effective number of
    units becomes what gives that variance.

    Parameters
    ----------
    share : ShareFailed
        Of the segments of the chunk.
    counts : Counts
        The chunk is from.
    chunk : SegmentChunk
        Failures and exposure.
    cover : Cover
        Limits by distance, usage rates and their covariance.
    confidence : float
        Two-sided level of the limits.

    Returns
    -------
    ShareFailed
        The same shares, their limits no narrower.
    """
    return widened(
        share, _variance(share.at, counts, chunk, cover), confidence=confidence
    )


def _variance(at: Floats, counts: Counts, chunk: SegmentChunk, cover: Cover) -> Floats:
    """Return the variance that usage rates add to each share, shape (s, K)."""
    passed = chunk.exposed + chunk.failures
    with np.errstate(divide="ignore", invalid="ignore"):
        # S = prod e / (e + d), so that d ln S / d e = d / (e (e + d))
        pull = np.where(
            (chunk.failures > 0) & (chunk.exposed > 0),
            chunk.failures / (chunk.exposed * passed),
            0.0,
        )
        log_left = np.where(passed > 0, np.log1p(-chunk.failures / passed), 0.0)
        # of those watched on a day, a share has failed before
        still = np.where(chunk.watched > 0, chunk.exposed / chunk.watched, 0.0)
    left = np.exp(np.cumsum(log_left, axis=1))
    last = np.searchsorted(counts.ages, at, side="right") - 1
    variance = np.zeros((len(chunk.rows), len(at)))
    for model, covariance in _estimated(cover).items():
        own = counts.stays.take(_of_model(counts, cover, model))
        values, axes = np.linalg.eigh(covariance)
        for value, axis in zip(values, axes.T, strict=True):
            step = np.sqrt(max(value, 0.0)) * axis
            there, back = (
                _watched(
                    own,
                    replace(
                        counts.chances,
                        covered=cover.moved(model, sign * step, len(counts.ages)),
                    ),
                    counts.unit_of_segment[chunk.rows],
                )
                for sign in (1.0, -1.0)
            )
            moved = left * np.cumsum(pull * still * (there - back) / 2.0, axis=1)
            variance += np.where(last >= 0, moved[:, np.maximum(last, 0)], 0.0) ** 2
    return variance


def _estimated(cover: Cover) -> dict[str, Floats]:
    """Return the covariance of each model whose rates are estimated."""
    return {
        each.model: each.usage.covariance
        for each in cover.classes
        if each.usage.covariance.any()
    }


def _of_model(counts: Counts, cover: Cover, model: str) -> NDArray[np.bool_]:
    """Tell which stays are of one model, on a cover with a limit."""
    classes = [n + 1 for n, each in enumerate(cover.classes) if each.model == model]
    return np.isin(counts.stays.distance, classes)


def _watched(stays: Stays, chances: Chances, unit_rows: NDArray[np.intp]) -> Floats:
    """Return the weighted units of each segment by age."""
    rows, place = np.unique(unit_rows, return_inverse=True)
    number = np.full(max(stays.row.max(initial=0), rows.max()) + 1, -1, dtype=np.intp)
    number[rows] = np.arange(len(rows))
    mine = stays.take(number[stays.row] >= 0)
    return passed(replace(mine, row=number[mine.row]), chances, len(rows))[place]
