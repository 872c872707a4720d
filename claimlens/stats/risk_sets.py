"""Units at risk by age, and what Kaplan-Meier and Greenwood make of them.

Private to the room: the functions assume checked counts, one row a segment.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "added_by_age",
    "effective_size",
    "exposure",
    "from_right",
    "harmonic_mean",
    "kept_when_all_fail",
    "products",
    "truncated",
]

Floats = NDArray[np.float64]


def added_by_age(table: Floats, column: NDArray[np.intp]) -> Floats:
    """Add up the columns of ``table`` that belong to one distinct age."""
    order = np.argsort(column, kind="stable")
    first = np.flatnonzero(np.diff(column[order], prepend=-1))
    return np.asarray(np.add.reduceat(table[..., order], first, axis=-1))


def from_right(table: Floats) -> Floats:
    """Return the sum from each column to the last: everyone who got that far."""
    return np.cumsum(table[..., ::-1], axis=-1)[..., ::-1]


def products(events: Floats, at_risk: Floats) -> tuple[Floats, Floats]:
    """Return the share failed after each age, and Greenwood's sum.

    The share is summed from its increments rather than taken as one minus a
    product: every term is positive, so a small share keeps its digits.
    """
    hazard = np.divide(events, at_risk, out=np.zeros(at_risk.shape), where=at_risk > 0)
    # sums of weights: what is left of n - d after rounding is nobody
    hazard = np.where(hazard > 1.0 - 1e-9, 1.0, hazard)
    survival = np.cumprod(1.0 - hazard, axis=-1)
    before = np.concatenate(
        [np.ones((*survival.shape[:-1], 1)), survival[..., :-1]], axis=-1
    )
    share = np.minimum(np.cumsum(before * hazard, axis=-1), 1.0)
    rest = at_risk * (1.0 - hazard)
    term = np.divide(hazard, rest, out=np.zeros(at_risk.shape), where=rest > 0)
    term = np.where((rest <= 0) & (events > 0), np.inf, term)
    return np.where(survival == 0.0, 1.0, share), np.cumsum(term, axis=-1)


def effective_size(
    share: Floats, greenwood: Floats, harmonic: Floats, entered: Floats
) -> Floats:
    """Return the number of units of a complete cohort that tells as much.

    F(1 - F) / V with Greenwood's V; the harmonic mean at risk where nothing
    failed; never more than the units that entered.
    """
    usable = (greenwood > 0) & (share < 1.0) & np.isfinite(greenwood)
    variance = (1.0 - share) * np.where(usable, greenwood, 1.0)
    size = np.divide(share, variance, out=harmonic.copy(), where=usable)
    # rounding alone must not push a complete cohort past its own size
    return np.minimum(size, entered)


def kept_when_all_fail(size: Floats, greenwood: Floats) -> Floats:
    """Return ``size`` with the last value before all at risk failed kept on."""
    finite = np.isfinite(greenwood)
    position = np.where(finite, np.arange(size.shape[-1]), -1)
    last = np.maximum.accumulate(position, axis=-1)
    kept = np.take_along_axis(size, np.maximum(last, 0), axis=-1)
    # all units failed at the first age: the harmonic mean already stands there
    return np.where(last >= 0, kept, size)


def harmonic_mean(age: Floats, at_risk: Floats, points: Floats | None = None) -> Floats:
    """Return age / integral of (1 / at risk) over age, at each age or point."""
    with np.errstate(divide="ignore", invalid="ignore"):
        inverse = np.where(at_risk > 0, 1.0 / at_risk, np.inf)
        width = np.diff(age, prepend=0.0)
        area = np.cumsum(np.where(width > 0, width * inverse, 0.0), axis=-1)
        if points is None:
            result = age / area
            start = age <= 0
        else:
            result = points / _between(age, inverse, area, points, beyond=np.inf)
            start = points <= 0
    return np.where(start, at_risk[..., :1], np.nan_to_num(result, nan=0.0))


def exposure(age: Floats, at_risk: Floats, points: Floats) -> Floats:
    """Return the unit-time at risk up to each point."""
    area = np.cumsum(np.diff(age, prepend=0.0) * at_risk, axis=-1)
    return _between(age, at_risk, area, points, beyond=0.0)


def _between(
    age: Floats, height: Floats, area: Floats, points: Floats, *, beyond: float
) -> Floats:
    """Return the area under a step function up to each point.

    ``height`` holds on the stretch that ends at its age; ``beyond`` is what a
    point beyond the last age adds.
    """
    after = np.searchsorted(age, points, side="left")
    inside = after < age.size
    place = np.minimum(after, age.size - 1)
    before = np.where(after > 0, area[..., np.maximum(after - 1, 0)], 0.0)
    start = np.where(after > 0, age[np.maximum(after - 1, 0)], 0.0)
    part = np.where(points > start, (points - start) * height[..., place], 0.0)
    return before + np.where(inside, part, beyond)


def truncated(
    start: Floats, age: Floats, units: Floats, distinct: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return at risk, entered and harmonic mean at each age, with late entry.

    At risk at a means entry < a <= age. Stretches of age without any unit
    under observation add nothing to the harmonic mean.
    """
    edges = np.unique(np.concatenate([distinct, start[np.isfinite(start)]]))

    def at_or_beyond(value: Floats) -> Floats:
        order = np.argsort(value, kind="stable")
        tail = from_right(units[..., order])
        tail = np.concatenate([tail, np.zeros((*tail.shape[:-1], 1))], axis=-1)
        return np.asarray(tail[..., np.searchsorted(value[order], edges, side="left")])

    at_risk = at_or_beyond(age) - at_or_beyond(start)
    total = units.sum(axis=-1, keepdims=True)
    # what is left of a difference of sums of weights after rounding is nobody
    at_risk = np.where(at_risk > total * 1e-12, at_risk, 0.0)
    entered = total - at_or_beyond(start)
    width = np.diff(edges, prepend=0.0)
    seen = (at_risk > 0) & (width > 0)
    inverse = np.divide(width, at_risk, out=np.zeros(at_risk.shape), where=seen)
    length = np.cumsum(np.where(seen, width, 0.0), axis=-1)
    area = np.cumsum(inverse, axis=-1)
    harmonic = np.divide(length, area, out=at_risk.copy(), where=area > 0)
    place = np.searchsorted(edges, distinct)
    return at_risk[..., place], entered[..., place], harmonic[..., place]
