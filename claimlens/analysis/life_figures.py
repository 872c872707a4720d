"""Figures of fitted lives in months, none of them far beyond what was observed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.counts import DAYS_PER_MONTH, Counts, SegmentChunk
from claimlens.analysis.life_few import few_failures, no_fit_limits
from claimlens.analysis.life_shapes import Held
from claimlens.analysis.life_terms import BEYOND, LifeAsked
from claimlens.analysis.notes import joined
from claimlens.analysis.scope import Scope
from claimlens.settings import Settings
from claimlens.stats import weibull

__all__ = ["FIGURES", "ChunkLives", "chunk_lives"]

FIGURES = (
    "shape",
    "shape_lower",
    "shape_upper",
    "scale_months",
    "scale_lower",
    "scale_upper",
    "b1_months",
    "b1_lower",
    "b1_upper",
    "b10_months",
    "b10_lower",
    "b10_upper",
)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChunkLives:
    """Lives of a chunk of s segments, without their patterns.

    Parameters
    ----------
    table : pandas.DataFrame
        One row a segment.
    shares : ndarray, shape (s, k, 3)
        Share failed by each age asked for, with its limits.
    """

    table: pd.DataFrame
    shares: Floats


def chunk_lives(
    counts: Counts,
    chunk: SegmentChunk,
    *,
    asked: LifeAsked,
    held: Held,
    settings: Settings,
    scope: Scope,
) -> ChunkLives:
    """Fit the segments of one chunk.

    Parameters
    ----------
    counts : Counts
        Of all segments.
    chunk : SegmentChunk
        Of the s segments.
    asked : LifeAsked
        What is asked.
    held : Held
        Shapes known from elsewhere.
    settings : Settings
        Confidence, and from how many failures on B-lives are given.
    scope : Scope
        With the notes that every figure carries.

    Returns
    -------
    ChunkLives
        With notes; patterns are to come.
    """
    units, failures = chunk.planned.sum(axis=1), chunk.failures.sum(axis=1)
    table = counts.segments.iloc[chunk.rows].reset_index(drop=True)
    table["units"] = np.rint(units).astype(np.int64)
    table["failures"] = np.rint(failures).astype(np.int64)
    for name in FIGURES:
        table[name] = np.nan
    shares = np.full((len(table), len(asked.at), 3), np.nan)
    # a shape is held segment by segment; NaN where it is free
    shape, notes = held.of_chunk(chunk, asked)
    for i in range(len(table)):
        if not notes[i]:
            notes[i] = _unfit(counts, chunk, i)
    few = (failures < asked.fewest - 0.5) & np.isnan(shape)
    few &= np.array([not note for note in notes], dtype=bool)
    for i, words in few_failures(
        counts, chunk, np.flatnonzero(few), asked=asked, held=held, settings=settings
    ).items():
        notes[i] = words
    for chosen, known in _kinds(shape, notes):
        fit = weibull.fit(
            counts.ages,
            chunk.failures[chosen],
            None,
            lower=counts.ages - 1.0,
            exposed=chunk.exposed[chosen],
            shape=shape[chosen] if known else None,
            confidence=settings.rates.confidence,
        )
        told = np.atleast_1d(fit.note)
        oldest = chunk.oldest(counts.ages)[chosen]
        beyond = _put_figures(table, chosen, fit, oldest, settings, known=known)
        if asked.at:
            shares[chosen] = _shares(fit, asked, oldest)
        for place, i in enumerate(chosen):
            parts = (held.words(chunk, i, asked), str(told[place]), beyond[place])
            notes[i] = joined(parts)
    if asked.at and few.any():
        rows = np.flatnonzero(few)
        shares[rows, :, 1:] = no_fit_limits(counts, chunk, rows, asked, settings)
    table["note"] = _with_standing(counts, chunk, notes, scope)
    table["as_of"] = pd.Timestamp(scope.as_of)
    return ChunkLives(table=table, shares=shares)


def _kinds(shape: Floats, notes: list[str]) -> list[tuple[NDArray[np.intp], bool]]:
    """Return the segments to be fitted: with a free shape, with a held one."""
    sound = np.array([not note for note in notes], dtype=bool)
    free = np.flatnonzero(sound & np.isnan(shape))
    held = np.flatnonzero(sound & ~np.isnan(shape))
    return [(rows, known) for rows, known in ((free, False), (held, True)) if rows.size]


def _unfit(counts: Counts, chunk: SegmentChunk, i: int) -> str:
    """Say why nothing at all can be said of a segment; empty where it can."""
    failed = chunk.failures[i].sum()
    if chunk.planned[i].sum() == 0:
        if not failed:
            return "no unit in service"
        return (
            "claims only: which units carry this part is not known"
            if counts.grouping.of_parts
            else "units are not known"
        )
    if not failed and not (chunk.exposed[i] > 0).any():
        return "no unit was watched"
    return ""


def _put_figures(
    table: pd.DataFrame,
    chosen: NDArray[np.intp],
    fit: weibull.WeibullFit,
    oldest: Floats,
    settings: Settings,
    *,
    known: bool,
) -> list[str]:
    """Write the fitted figures in months; return what lies beyond observation."""
    shares = (0.01, 0.10)
    low, high = (np.asarray(end) for end in fit.quantile_interval(shares))
    lives = np.asarray(fit.quantile(shares))
    scale_low, scale_high = (np.asarray(end) for end in fit.scale_interval)
    figures = {
        "shape": np.asarray(fit.shape),
        "scale_months": np.asarray(fit.scale) / DAYS_PER_MONTH,
        "scale_lower": scale_low / DAYS_PER_MONTH,
        "scale_upper": scale_high / DAYS_PER_MONTH,
    }
    if not known:
        figures["shape_lower"] = np.asarray(fit.shape_interval[0])
        figures["shape_upper"] = np.asarray(fit.shape_interval[1])
    failed = table["failures"].to_numpy()[chosen]
    # with a known shape the limits are exact for any number of failures
    enough = known | (failed >= settings.life.quantile_failures)
    farthest = BEYOND * oldest
    for k, name in enumerate(("b1", "b10")):
        life, end = lives[..., k], high[..., k]
        for suffix, values in (
            ("months", np.where(life <= farthest, life, np.nan)),
            # that a life is longer than this is all that can be said
            ("lower", np.minimum(low[..., k], farthest)),
            ("upper", np.where(end <= farthest, end, np.nan)),
        ):
            figures[f"{name}_{suffix}"] = np.where(
                enough, values / DAYS_PER_MONTH, np.nan
            )
    for name, values in figures.items():
        # an open limit is no number; the note says that it is open
        table.loc[chosen, name] = np.where(np.isfinite(values), values, np.nan)
    return [
        _beyond(lives[i], high[i], oldest[i], bool(enough[i]))
        for i in range(len(chosen))
    ]


def _beyond(lives: Floats, upper: Floats, oldest: float, enough: bool) -> str:
    """Say which B-lives lie beyond the oldest unit, and which are not given."""
    months = f"{oldest / DAYS_PER_MONTH:.1f} months"
    parts = []
    if not enough or np.isnan(lives).all():
        return ""
    for name, life, end in zip(("B1", "B10"), lives, upper, strict=True):
        if life > BEYOND * oldest:
            parts.append(f"{name} > {months}, the oldest unit")
        elif life > oldest:
            parts.append(f"{name} lies beyond the oldest unit ({months})")
        elif end > BEYOND * oldest:
            parts.append(f"upper limit of {name} far beyond the oldest unit ({months})")
    return "; ".join(parts)


def _shares(fit: weibull.WeibullFit, asked: LifeAsked, oldest: Floats) -> Floats:
    """Return share failed and its limits, (s, k, 3); none far beyond observation."""
    days = np.asarray(asked.at) * DAYS_PER_MONTH
    low, high = fit.cdf_interval(days)
    found = np.stack(
        [
            np.asarray(part).reshape(len(oldest), -1)
            for part in (fit.cdf(days), low, high)
        ],
        axis=-1,
    )
    return np.where((days <= BEYOND * oldest[:, None])[..., None], found, np.nan)


def _with_standing(
    counts: Counts, chunk: SegmentChunk, notes: list[str], scope: Scope
) -> list[str]:
    """Add what holds for every figure, and for the units behind it."""
    undated = counts.estimated[counts.unit_of_segment[chunk.rows]]
    how = "left out" if scope.dates_at_random else "estimated"
    recent = _too_recent(counts, chunk)
    return [
        joined(
            (
                *scope.notes,
                note,
                _left_out(late),
                f"{n:.0f} units without an in-service date {how}" if n >= 0.5 else "",
            )
        )
        for note, late, n in zip(notes, recent, undated, strict=True)
    ]


def _too_recent(counts: Counts, chunk: SegmentChunk) -> Floats:
    """Return the first failures of each segment that conclude nothing yet."""
    found = np.zeros(len(chunk.rows))
    events = counts.events
    late = events[
        events["is_first"] & ~events["is_known"] & events["segment"].isin(chunk.rows)
    ]
    place = np.searchsorted(chunk.rows, late["segment"].to_numpy())
    np.add.at(found, place, late["n"].to_numpy(dtype=np.float64))
    return found


def _left_out(late: float) -> str:
    """Say how many failures are too recent to conclude from; nothing for none."""
    if late < 0.5:
        return ""
    plural = "s" if late >= 1.5 else ""
    return f"{late:.0f} failure{plural} too recent to allow for late reports left out"
