"""The likelihood when only a share of the units can fail at all.

F(t) = share * (1 - exp(-H)) with H = exp(m + k x), x = ln(age / unit) as in
`claimlens.stats.weibull.likelihood`. The cumulative hazard of a unit drawn at
random is then -ln(1 - F), and the likelihood of exposures, entries and ends is
that of the plain life with this hazard in place of H.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.weibull.cells import Cells
from claimlens.stats.weibull.maximise import K_MAX, K_MIN

__all__ = ["Z_MAX", "Peak", "climb"]

Floats = NDArray[np.float64]

Z_MAX = 12.0
"""Logit of the share that stands for all units."""

_REACH = np.array([1.0, 2.0, 2.0])
# pairs of (ln k, m, z) in the order in which second derivatives are kept
_PAIRS = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """Where a climb ended; arrays of S segments.

    Parameters
    ----------
    at : ndarray, shape (S, 3)
        Logarithm of the shape, m, and the logit of the share.
    value : ndarray, shape (S,)
        Log-likelihood there.
    converged : ndarray of bool, shape (S,)
        Whether no step led further up.
    """

    at: Floats
    value: Floats
    converged: NDArray[np.bool_]

    def take(self, segments: NDArray[np.intp]) -> Peak:
        """Return the peaks of some segments."""
        return Peak(
            at=self.at[segments],
            value=self.value[segments],
            converged=self.converged[segments],
        )


def climb(cells: Cells, start: Floats, *, with_share: bool, rounds: int = 100) -> Peak:
    """Climb from given points by Newton's method, made to go uphill.

    Parameters
    ----------
    cells : Cells
        Of S segments with grouped failures.
    start : ndarray, shape (S, 3)
        Where to start.
    with_share : bool
        Whether the share may move too.
    rounds : int, default 100
        Most steps taken.

    Returns
    -------
    Peak
        The nearest maxima.
    """
    at = start.copy()
    value = _value(cells, at)
    converged = np.zeros(value.size, dtype=bool)
    active = np.arange(value.size)
    part = cells
    for _ in range(rounds):
        here = at[active]
        gradient, curvature = _slopes(part, here)
        step = _uphill(here, gradient, curvature, with_share)
        new, new_value = _backtracked(part, here, value[active], step)
        with np.errstate(invalid="ignore"):
            gain = np.nan_to_num(new_value - value[active])
        at[active], value[active] = new, new_value
        moved = np.abs(new - here).max(axis=1)
        done = (gain <= 1e-10 * (1.0 + np.abs(new_value))) & (
            (moved < 1e-5) | (gain <= 0)
        )
        converged[active[done]] = True
        if done.all():
            break
        if done.any():
            keep = np.flatnonzero(~done)
            active, part = active[keep], part.take(keep)
    return Peak(at=at, value=value, converged=converged & np.isfinite(value))


def _hazard(cells: Cells, at: Floats) -> tuple[Floats, Floats, Floats]:
    """Return H (S, B), the share (S, 1), and -ln(1 - F) (S, B)."""
    k, m = np.exp(at[:, 0]), at[:, 1]
    share = 1.0 / (1.0 + np.exp(-at[:, 2:3]))
    raw = np.exp(np.minimum(m[:, None] + k[:, None] * cells.bounds, 700.0))
    return raw, share, -np.log1p(share * np.expm1(-raw))


def _value(cells: Cells, at: Floats) -> Floats:
    """Return the log-likelihood of each segment at its own point."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        _, _, hazard = _hazard(cells, at)
        width = _across(cells, hazard)
        terms = cells.count * np.log(-np.expm1(-width))
        total = cells.per_segment(terms) - np.einsum("sb,sb->s", cells.weight, hazard)
    return np.where(np.isnan(total), -np.inf, total)


def _across(cells: Cells, values: Floats) -> Floats:
    """Return what a figure gains over the cell of each grouped failure."""
    first = cells.owner * cells.bounds.size
    flat = values.ravel()
    low = flat.take(first + cells.lower)
    low[cells.lower < 0] = 0.0
    return np.asarray(flat.take(first + cells.upper) - low)


def _slopes(cells: Cells, at: Floats) -> tuple[Floats, Floats]:
    """Return gradient (S, 3) and second derivatives (S, 3, 3) by (ln k, m, z)."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        raw, share, hazard = _hazard(cells, at)
        alive = np.exp(-raw)
        survival = 1.0 - share * (1.0 - alive)
        slope = raw * share * alive / survival
        # H times the derivative of (d hazard / d H), for the second derivatives
        bend = slope * (1.0 - raw * (1.0 - share * alive / survival))
        spread = share * (1.0 - share)
        gone = (1.0 - alive) / survival
        by_x = np.exp(at[:, 0:1]) * cells.bounds
        mixed = slope * (1.0 - share) / survival
        first = (slope * by_x, slope, gone * spread)
        second = (
            bend * by_x**2 + slope * by_x,
            bend * by_x,
            mixed * by_x,
            bend,
            mixed,
            (gone * spread) ** 2 + gone * spread * (1.0 - 2.0 * share),
        )
        width = np.maximum(_across(cells, hazard), 1e-300)
        pull = cells.count / np.expm1(width)
        bow = pull / -np.expm1(-width)
        gains = [_across(cells, values) for values in first]
        gradient = np.stack(
            [
                cells.per_segment(pull * gain)
                - np.einsum("sb,sb->s", cells.weight, values)
                for gain, values in zip(gains, first, strict=True)
            ],
            axis=1,
        )
        curvature = np.empty((at.shape[0], 3, 3))
        for (i, j), values in zip(_PAIRS, second, strict=True):
            found = cells.per_segment(
                pull * _across(cells, values) - bow * gains[i] * gains[j]
            ) - np.einsum("sb,sb->s", cells.weight, values)
            curvature[:, i, j] = curvature[:, j, i] = found
    return np.nan_to_num(gradient), np.nan_to_num(curvature)


def _uphill(
    at: Floats, gradient: Floats, curvature: Floats, with_share: bool
) -> Floats:
    """Return a step that goes uphill wherever the surface bends, (S, 3)."""
    gradient, curvature = gradient.copy(), curvature.copy()
    # a share that has run to its end only moves back
    held = (np.abs(at[:, 2]) >= Z_MAX) & (gradient[:, 2] * at[:, 2] > 0)
    held |= not with_share
    gradient[held, 2] = 0.0
    curvature[held, 2, :] = curvature[held, :, 2] = 0.0
    curvature[held, 2, 2] = -1.0
    values, vectors = np.linalg.eigh(curvature)
    size = np.abs(values)
    size = np.maximum(size, 1e-9 * size.max(axis=1, keepdims=True) + 1e-12)
    along = np.einsum("sij,si->sj", vectors, gradient) / size
    step = np.einsum("sij,sj->si", vectors, along)
    with np.errstate(divide="ignore", invalid="ignore"):
        shrink = np.min(_REACH / np.abs(step), axis=1, initial=1.0)
    return np.asarray(step * np.minimum(shrink, 1.0)[:, None])


def _backtracked(
    cells: Cells, at: Floats, value: Floats, step: Floats
) -> tuple[Floats, Floats]:
    """Take the step, halved where it does not lead up; stay where none does."""
    low = np.array([np.log(K_MIN), -np.inf, -Z_MAX])
    high = np.array([np.log(K_MAX), np.inf, Z_MAX])
    # what rounding takes at a peak is no way down
    slack = 1e-12 * (1.0 + np.abs(np.nan_to_num(value)))
    new = np.clip(at + step, low, high)
    found = _value(cells, new)
    share = 1.0
    for _ in range(20):
        worse = np.flatnonzero(~(found >= value - slack))
        if not worse.size:
            return new, found
        share /= 2.0
        new[worse] = np.clip(at[worse] + share * step[worse], low, high)
        found[worse] = _value(cells.take(worse), new[worse])
    worse = np.flatnonzero(~(found >= value - slack))
    new[worse], found[worse] = at[worse], value[worse]
    return new, found
