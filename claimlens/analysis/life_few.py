"""What can still be said of segments with few failures, or none.

With a known shape the limits of the scale are exact for any number of failures
(Nelson 1985, J. Qual. Technol. 17, 140-146). The shape is that of the same
component elsewhere where enough failures tell it; else the answer is given for a
level hazard and repeated for a falling and a rising one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claimlens.analysis.counts import DAYS_PER_MONTH, Counts, SegmentChunk
from claimlens.analysis.life_shapes import Held
from claimlens.analysis.life_terms import BEYOND, SHAPES, LifeAsked, share_text
from claimlens.settings import Settings
from claimlens.stats import weibull

__all__ = ["few_failures", "no_fit_limits"]

Floats = NDArray[np.float64]

_MONTHS = 12.0


def few_failures(
    counts: Counts,
    chunk: SegmentChunk,
    rows: NDArray[np.intp],
    *,
    asked: LifeAsked,
    held: Held,
    settings: Settings,
) -> dict[int, str]:
    """Say of each segment how many failures are missing, and what holds anyway.

    Parameters
    ----------
    counts : Counts
        Of all segments.
    chunk : SegmentChunk
        That holds the segments.
    rows : ndarray of int, shape (n,)
        Places of segments with too few failures in the chunk.
    asked : LifeAsked
        For the failures that a fit needs.
    held : Held
        Shapes known from elsewhere.
    settings : Settings
        For the confidence.

    Returns
    -------
    dict of int to str
        A note for each of them.
    """
    if not rows.size:
        return {}
    level = settings.rates.confidence
    months = _horizon(counts, chunk, rows)
    borrowed = held.borrow(chunk, rows)
    at_shape = {
        shape: _shares(
            _fit(counts, chunk, rows, np.full(rows.size, shape), level), months
        )
        for shape in SHAPES
    }
    safe = np.where(np.isnan(borrowed), 1.0, borrowed)
    at_borrowed = _shares(_fit(counts, chunk, rows, safe, level), months)
    notes = {}
    for place, i in enumerate(rows):
        head = _head(chunk, i, asked.fewest)
        if np.isnan(borrowed[place]):
            told = [(f"at shape {k:g}", found[place]) for k, found in at_shape.items()]
        else:
            source = f"{held.source(chunk, i)}, {held.failures(chunk, i):.0f} failures"
            words = f"at shape {borrowed[place]:.2f} ({source})"
            told = [(words, at_borrowed[place])]
        notes[int(i)] = f"{head}; {_tail(told, months[place], level)}"
    return notes


def no_fit_limits(
    counts: Counts,
    chunk: SegmentChunk,
    rows: NDArray[np.intp],
    asked: LifeAsked,
    settings: Settings,
) -> Floats:
    """Return limits of the share failed at the ages asked for, for a level hazard.

    Parameters
    ----------
    counts : Counts
        Of all segments.
    chunk : SegmentChunk
        That holds the segments.
    rows : ndarray of int, shape (n,)
        Places of segments with too few failures in the chunk.
    asked : LifeAsked
        With k ages.
    settings : Settings
        For the confidence.

    Returns
    -------
    ndarray, shape (n, k, 2)
        Lower and upper limits; NaN far beyond the oldest unit.
    """
    fit = _fit(counts, chunk, rows, np.ones(rows.size), settings.rates.confidence)
    farthest = BEYOND * chunk.oldest(counts.ages)[rows]
    limits = np.full((rows.size, len(asked.at), 2), np.nan)
    for k, month in enumerate(asked.at):
        found = _shares(fit, np.full(rows.size, month))
        near = month * DAYS_PER_MONTH <= farthest
        limits[near, k] = found[near, 1:]
    return limits


def _horizon(counts: Counts, chunk: SegmentChunk, rows: NDArray[np.intp]) -> Floats:
    """Return the months at which the answer is given: 12, or the oldest age."""
    oldest = chunk.oldest(counts.ages)[rows] / DAYS_PER_MONTH
    return np.asarray(np.where(BEYOND * oldest >= _MONTHS, _MONTHS, oldest))


def _fit(
    counts: Counts,
    chunk: SegmentChunk,
    rows: NDArray[np.intp],
    shape: Floats,
    level: float,
) -> weibull.WeibullFit:
    """Fit the scales of some segments of a chunk for known shapes."""
    return weibull.fit(
        counts.ages,
        chunk.failures[rows],
        None,
        lower=counts.ages - 1.0,
        exposed=chunk.exposed[rows],
        shape=shape,
        confidence=level,
    )


def _shares(fit: weibull.WeibullFit, months: Floats) -> Floats:
    """Return share failed by an age of each segment, and its limits, (n, 3)."""
    low, high = (np.asarray(end) for end in fit.scale_interval)
    days = months * DAYS_PER_MONTH
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        # a longer scale means fewer failures
        return np.stack(
            [
                -np.expm1(-((days / scale) ** np.asarray(fit.shape)))
                for scale in (np.asarray(fit.scale), high, low)
            ],
            axis=-1,
        )


def _head(chunk: SegmentChunk, i: np.intp, fewest: int) -> str:
    """Say how many failures there are among how many units."""
    failed = round(float(chunk.failures[i].sum()))
    if failed:
        plural = "" if failed == 1 else "s"
        return f"{failed} failure{plural}, {fewest} needed"
    units = chunk.planned[i].sum()
    months = chunk.present[i].sum() / DAYS_PER_MONTH
    return f"no failure in {units:,.0f} units, {months:,.0f} unit-months"


def _tail(told: list[tuple[str, Floats]], months: float, level: float) -> str:
    """Say what share fails by an age under each shape."""
    age = f"{months:.0f} months" if months >= 1 else f"{months:.1f} months"
    if np.isnan(told[0][1][0]):
        bounds = ", ".join(f"{share_text(found[2])} {words}" for words, found in told)
        return f"with {level:.0%} confidence fewer fail by {age} than {bounds}"
    shares = ", ".join(
        f"{share_text(found[0])} ({share_text(found[1])} to {share_text(found[2])}) "
        f"{words}"
        for words, found in told
    )
    return f"failed by {age}: {shares}"
