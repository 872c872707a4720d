"""Whether a rate is old enough to trust, and what its reader must know."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claimlens.analysis.count_tables import DAYS_PER_MONTH, Counts, SegmentChunk
from claimlens.analysis.notes import (
    early_life_missing,
    joined,
    no_units,
    watched_too_short,
)
from claimlens.analysis.scope import Scope
from claimlens.settings import Settings
from claimlens.stats.survival import ShareFailed

__all__ = ["judge"]

Floats = NDArray[np.float64]

# months of age over which reports must have arrived
_SPAN = 3


def judge(
    counts: Counts,
    chunk: SegmentChunk,
    share: ShareFailed,
    reached: NDArray[np.bool_],
    *,
    settings: Settings,
    scope: Scope,
) -> tuple[NDArray[np.bool_], list[str]]:
    """Judge each figure, and say in words what a reader must know.

    Parameters
    ----------
    counts : Counts
        Of all segments.
    chunk : SegmentChunk
        Of the s segments judged.
    share : ShareFailed
        Their shares failed at k ages.
    reached : ndarray of bool, shape (s, k)
        Where there is a figure.
    settings : Settings
        When a figure is mature.
    scope : Scope
        With the notes that every figure carries.

    Returns
    -------
    mature : ndarray of bool, shape (s, k)
        Whether the figure can be trusted.
    notes : list of str
        One for each figure, segment by segment.
    """
    rule = settings.rates
    effective = np.nan_to_num(share.effective_n)
    complete = _completeness(counts, chunk, share.at)
    mature = (
        reached
        & (effective >= rule.mature_units)
        & (share.at_risk_last >= rule.mature_units)
        & (complete >= rule.mature_completeness)
    )
    estimated = counts.estimated[counts.unit_of_segment[chunk.rows]]
    notes: list[str] = []
    for i in range(mature.shape[0]):
        standing = [*scope.notes, scope.reporting.note]
        if estimated[i] >= 0.5:
            standing.append(
                f"{estimated[i]:.0f} units with an estimated in-service date"
            )
        for k in range(mature.shape[1]):
            if not reached[i, k]:
                why = _unreached(counts, chunk, i, share.at[k])
            elif share.at_risk_last[i, k] < rule.mature_units:
                why = (
                    f"too young: {share.at_risk_last[i, k]:.0f} units at risk in the "
                    f"last month, {rule.mature_units} needed"
                )
            elif effective[i, k] < rule.mature_units:
                why = (
                    f"too few units: effective size {effective[i, k]:.0f}, "
                    f"{rule.mature_units} needed"
                )
            elif not mature[i, k]:
                why = (
                    f"reports still arriving: {complete[i, k]:.0%} of the failures of "
                    f"the last {_SPAN} months of age are known, "
                    f"{rule.mature_completeness:.0%} needed"
                )
            else:
                why = ""
            notes.append(joined((why, *standing)))
    return mature, notes


def _completeness(counts: Counts, chunk: SegmentChunk, at: Floats) -> Floats:
    """Return the share of failures of the last months of age that is known."""
    start = np.maximum(at - _SPAN * DAYS_PER_MONTH, 0.0)

    def between(table: Floats) -> Floats:
        added = np.concatenate(
            [np.zeros((table.shape[0], 1)), np.cumsum(table, axis=1)], axis=1
        )
        upto = np.searchsorted(counts.ages, at, side="right")
        since = np.searchsorted(counts.ages, start, side="right")
        return np.asarray(added[:, upto] - added[:, since])

    known, present = between(chunk.watched), between(chunk.present)
    return np.divide(known, present, out=np.ones_like(known), where=present > 0)


def _unreached(counts: Counts, chunk: SegmentChunk, i: int, day: float) -> str:
    """Say why no unit tells the share failed by a day."""
    planned, ages = chunk.planned[i], counts.ages
    oldest = float(np.where(planned > 0, ages, 0.0).max(initial=0.0))
    if oldest == 0:
        return no_units(of_parts=counts.grouping.of_parts)
    if oldest < day:
        return watched_too_short(oldest)
    below = ages <= day
    if (chunk.present[i, below] <= 0).any():
        first = float(ages[below][chunk.present[i, below] > 0].min(initial=np.inf))
        if first > 1 and np.isfinite(first):
            return early_life_missing(first)
        return "at some age before, no unit was watched"
    if (chunk.watched[i, below] <= 0).any():
        return "the failures of the oldest units are mostly not reported yet"
    return "the units that are old enough had failed while younger ones were few"
