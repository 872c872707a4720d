"""The pattern word of a fitted life, and the evidence that it needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.counts import Counts, SegmentChunk
from claimlens.analysis.life_terms import share_text
from claimlens.analysis.notes import joined
from claimlens.settings import Settings
from claimlens.stats import weibull
from claimlens.stats.seeds import seed_for

__all__ = ["PRONE_COLUMNS", "add_patterns", "quarter_intervals"]

PRONE_COLUMNS = ("prone_share", "prone_lower", "prone_upper", "prone_p")

_BLOCK = 200


def quarter_intervals(
    counts: Counts,
    finer: Counts | None,
    fitted: NDArray[np.intp],
    confidence: float,
) -> dict[int, tuple[float, float]]:
    """Find the limits of the shape common to the build quarters of each segment.

    Parameters
    ----------
    counts : Counts
        Of the segments.
    finer : Counts or None
        Grouped by build month in addition.
    fitted : ndarray of int
        Segments that are asked for.
    confidence : float
        Two-sided level.

    Returns
    -------
    dict of int to pair of float
        Limits by segment; a segment without build months is not among them.
    """
    if finer is None or not fitted.size:
        return {}
    number = _segment_of(counts, finer)
    number = np.where(np.isin(number, fitted), number, -1)
    months = pd.to_datetime(finer.segments["build_month"])
    quarter = (months.dt.year * 4 + months.dt.quarter).fillna(-1).to_numpy(dtype=int)
    merging = weibull.merge_cells(finer.ages, finer.ages - 1.0)
    left = np.bincount(number[number >= 0], minlength=len(counts.segments))
    waiting: dict[int, dict[int, NDArray[np.float64]]] = {}
    found = {}
    for chunk in finer.chunks():
        failed = merging.added(chunk.failures)
        exposed = merging.exposed(chunk.exposed, chunk.failures)
        for place, row in enumerate(chunk.rows):
            segment = int(number[row])
            if segment < 0:
                continue
            mine = waiting.setdefault(segment, {})
            both = np.stack([failed[place], exposed[place]])
            mine[quarter[row]] = mine.get(quarter[row], 0.0) + both
            left[segment] -= 1
            if left[segment] == 0:
                table = np.stack(list(waiting.pop(segment).values()))
                found[segment] = weibull.common_shape(
                    merging.upper,
                    table[:, 0],
                    None,
                    lower=merging.lower,
                    exposed=table[:, 1],
                    confidence=confidence,
                ).shape_interval
    return found


def _segment_of(counts: Counts, finer: Counts) -> NDArray[np.intp]:
    """Return the segment that each finer segment belongs to."""
    keys = list(counts.by)
    if not keys:
        return np.zeros(len(finer.segments), dtype=np.intp)
    numbered = counts.segments.assign(segment_no=np.arange(len(counts.segments)))
    placed = finer.segments.merge(numbered, on=keys, how="left")["segment_no"]
    return np.asarray(placed.fillna(-1), dtype=np.intp)


def add_patterns(
    counts: Counts,
    table: pd.DataFrame,
    fitted: NDArray[np.intp],
    quarters: dict[int, tuple[float, float]],
    settings: Settings,
) -> None:
    """Test each fit and give the pattern word where all evidence agrees.

    Parameters
    ----------
    counts : Counts
        Of all segments.
    table : pandas.DataFrame
        One row a segment, changed in place: ``pattern``, ``fit_p_value``, the
        columns of prone units and ``note``.
    fitted : ndarray of int
        Segments with an estimated shape.
    quarters : dict
        Limits of the shape common to their build quarters.
    settings : Settings
        Limits and seed.
    """
    for start in range(0, fitted.size, _BLOCK):
        block = fitted[start : start + _BLOCK]
        chunk = counts.take(block)
        for place, segment in enumerate(block):
            keys = [f"{name}={table.loc[segment, name]}" for name in counts.by]
            evidence = _evidence(counts.ages, chunk, place, keys, settings)
            _judge(table, int(segment), evidence, quarters, settings)


@dataclass(frozen=True, slots=True)
class _Evidence:
    """What tests say of one fit; None where they were not made."""

    fit_p: float | None
    untested: str
    limited: weibull.LimitedShare | None


def _evidence(
    ages: NDArray[np.float64],
    chunk: SegmentChunk,
    place: int,
    keys: Sequence[str],
    settings: Settings,
) -> _Evidence:
    """Test one fit, and ask whether only a share of the units is prone."""
    failed = round(float(chunk.failures[place].sum()))
    if failed < settings.life.quantile_failures:
        return _Evidence(None, "", None)
    test = weibull.fit_test(
        ages,
        chunk.failures[place],
        chunk.exposed[place],
        chunk.watched[place],
        lower=ages - 1.0,
        seed=seed_for(settings.life.seed, "life", *keys),
        draws=settings.life.bootstrap,
    )
    limited = weibull.limited_share(
        ages,
        chunk.failures[place],
        None,
        lower=ages - 1.0,
        exposed=chunk.exposed[place],
        watched=chunk.watched[place],
        seed=seed_for(settings.life.seed, "prone", *keys),
        confidence=settings.rates.confidence,
        draws=settings.life.bootstrap,
    )
    return _Evidence(None if np.isnan(test.p) else test.p, test.note, limited)


def _judge(
    table: pd.DataFrame,
    segment: int,
    evidence: _Evidence,
    quarters: dict[int, tuple[float, float]],
    settings: Settings,
) -> None:
    """Write the word of one segment, and why."""
    row = table.loc[segment]
    failed = int(row["failures"])
    lower = row["shape_lower"] if pd.notna(row["shape_lower"]) else 0.0
    upper = row["shape_upper"] if pd.notna(row["shape_upper"]) else np.inf
    notes = [row["note"], evidence.untested if evidence.fit_p is None else ""]
    if failed < settings.life.min_failures:
        word, reason = None, f"{failed} failures, too few for a pattern"
    else:
        judged = weibull.pattern(
            (float(lower), float(upper)),
            failed,
            evidence.fit_p,
            quarters.get(segment),
        )
        word, reason = judged.word, judged.reason
    if failed < settings.life.quantile_failures:
        notes.append(f"B-lives need {settings.life.quantile_failures} failures")
    table.loc[segment, "pattern"] = word
    if evidence.fit_p is not None:
        table.loc[segment, "fit_p_value"] = evidence.fit_p
    prone = _put_prone(table, segment, evidence.limited)
    table.loc[segment, "note"] = joined(dict.fromkeys((*notes, reason, prone)))


def _put_prone(
    table: pd.DataFrame, segment: int, limited: weibull.LimitedShare | None
) -> str:
    """Write the share of prone units; return the sentence about it."""
    if limited is None or np.isnan(limited.p):
        return ""
    figures = (limited.share, *limited.share_interval, limited.p)
    for name, value in zip(PRONE_COLUMNS, figures, strict=True):
        table.loc[segment, name] = value
    if limited.shown:
        low, high = (share_text(end) for end in limited.share_interval)
        return (
            f"only a share of the units is prone: {share_text(limited.share)} ({low} "
            f"to {high}), p {limited.p:.2g}"
        )
    return limited.note if limited.p <= 0.05 else ""
