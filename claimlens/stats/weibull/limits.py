"""Likelihood-ratio limits of the shape, of a life and of a share failed.

A limit is the extreme of a figure g over the (k, m) whose log-likelihood lies
within half a chi-square quantile of the maximum. There the gradient of the
log-likelihood is parallel to that of g, and both conditions are solved by
Newton's method at once (Venzon, Moolgavkar 1988, Appl. Stat. 37, 87-94).
Segments for which that fails are searched slowly and surely.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import special

from claimlens.stats.weibull.cells import Cells
from claimlens.stats.weibull.likelihood import Slope, evaluate
from claimlens.stats.weibull.maximise import Maximum
from claimlens.stats.weibull.search import SPAN, border, search

__all__ = ["Figure", "limits", "log_hazard_at", "log_life", "log_shape"]

Floats = NDArray[np.float64]

_ROUNDS = 25


@dataclass(frozen=True, slots=True)
class Figure:
    """What the limits are for, one line a segment.

    Parameters
    ----------
    kind : str
        ``shape`` for ln k; ``life`` for the log age tau at which the log
        cumulative hazard is ``at``; ``hazard`` for the log cumulative hazard
        at the log age ``at``.
    at : ndarray, shape (S,)
        See ``kind``; unused for the shape.
    """

    kind: Literal["shape", "life", "hazard"]
    at: Floats

    def value(self, k: Floats, m: Floats) -> Floats:
        """Return the figure at (k, m)."""
        if self.kind == "shape":
            return np.log(k)
        if self.kind == "life":
            return (self.at - m) / k
        return m + k * self.at

    def direction(self, k: Floats, m: Floats) -> tuple[Floats, Floats]:
        """Return (u, v) along which the figure changes most, up to a factor."""
        if self.kind == "shape":
            return np.ones(k.size), np.zeros(k.size)
        if self.kind == "life":
            return (self.at - m) / k, np.ones(k.size)
        return self.at, np.ones(k.size)

    def tangency(
        self, slope: Slope, k: Floats, m: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Return v l_k - u l_m, 0 at a limit, and its derivatives."""
        if self.kind == "shape":
            return -slope.m, -slope.km, -slope.mm
        u, _ = self.direction(k, m)
        value = slope.k - u * slope.m
        by_k = slope.kk - u * slope.km
        by_m = slope.km - u * slope.mm
        if self.kind == "life":
            by_k = by_k + u / k * slope.m
            by_m = by_m + slope.m / k
        return value, by_k, by_m

    def take(self, segments: NDArray[np.intp]) -> Figure:
        """Return the figure for some segments."""
        return Figure(self.kind, self.at[segments])


def log_shape(size: int) -> Figure:
    """Return ln k as a figure for ``size`` segments."""
    return Figure("shape", np.zeros(size))


def log_life(size: int, share: float) -> Figure:
    """Return the log age by which ``share`` of the units fail."""
    return Figure("life", np.full(size, np.log(-np.log1p(-share))))


def log_hazard_at(log_ages: Floats) -> Figure:
    """Return the log cumulative hazard at one log age a segment."""
    return Figure("hazard", log_ages)


def limits(
    cells: Cells, best: Maximum, figure: Figure, confidence: float
) -> tuple[Floats, Floats]:
    """Return the limits of a figure for each segment.

    Parameters
    ----------
    cells : Cells
        Of S segments.
    best : Maximum
        Their maxima; segments that did not converge get no limits.
    figure : Figure
        What the limits are for.
    confidence : float
        Two-sided level.

    Returns
    -------
    lower : ndarray, shape (S,)
        On the log scale of the figure; minus infinity where the likelihood
        sets no limit, NaN where there is no maximum.
    upper : ndarray, shape (S,)
        The same, with infinity.
    """
    half = float(special.chdtri(1.0, 1.0 - confidence)) / 2.0
    results = np.full((2, cells.n_segments), np.nan)
    for block in cells.blocks():
        sound = block[best.converged[block]]
        if sound.size:
            results[:, sound] = _of_block(
                cells.take(sound), best.take(sound), figure.take(sound), half
            )
    return results[0], results[1]


def _of_block(cells: Cells, best: Maximum, figure: Figure, half: float) -> Floats:
    """Return lower and upper limits, (2, S), of segments that have a maximum."""
    size = cells.n_segments
    both = np.tile(np.arange(size), 2)
    side = np.repeat([-1.0, 1.0], size)
    goal = best.value[both] - half
    part, wanted = cells.take(both), figure.take(both)
    k, m = best.k[both], best.m[both]
    centre = wanted.value(k, m)
    start = _start(evaluate(part, k, m), wanted, (k, m), side, half)
    found, solved = _newton(part, wanted, goal, start, side, centre=centre)
    hard = np.flatnonzero(~solved)
    if hard.size:
        found[hard] = _search(
            part.take(hard),
            wanted.take(hard),
            (k[hard], m[hard]),
            goal[hard],
            side[hard],
        )
    if figure.kind == "shape":
        # both ways to a limit call one beyond this span open
        far = np.abs(found - centre) > SPAN
        found = np.where(far, side * np.inf, found)
    return np.asarray(found.reshape(2, size))


def _search(
    cells: Cells,
    figure: Figure,
    peak: tuple[Floats, Floats],
    goal: Floats,
    side: Floats,
) -> Floats:
    """Return the limits that Newton's method did not find."""
    if figure.kind == "shape":
        end, _, never = border(cells, peak, goal, side)
        return np.where(never, side * np.inf, end)
    # a greater m means a shorter life and a greater hazard
    way = -side if figure.kind == "life" else side
    return search(cells, figure.value, peak, goal, side, way=way)


def _start(
    slope: Slope,
    figure: Figure,
    point: tuple[Floats, Floats],
    side: Floats,
    half: float,
) -> tuple[Floats, Floats]:
    """Return where the quadratic approximation in (ln k, m) puts the limit."""
    k, m = point
    # information in (ln k, m); the score is 0 at the maximum
    aa = -slope.kk * k**2
    am = -slope.km * k
    mm = -slope.mm
    u, v = figure.direction(k, m)
    # gradient of the figure in (ln k, m), up to a positive factor
    ga, gm = u * k, v
    # a longer life means less of (u, v)
    sign = -side if figure.kind == "life" else side
    det = aa * mm - am**2
    with np.errstate(all="ignore"):
        da = (mm * ga - am * gm) / det
        dm = (aa * gm - am * ga) / det
        length = np.sqrt(2.0 * half / (ga * da + gm * dm))
    da, dm = sign * da * length, sign * dm * length
    with np.errstate(all="ignore"):
        short = np.minimum(1.0, 1.5 / np.abs(da))
    short = np.where(np.isfinite(short), short, 1.0)
    da, dm = np.nan_to_num(da * short), np.nan_to_num(dm * short)
    return k * np.exp(da), m + dm


def _newton(
    cells: Cells,
    figure: Figure,
    goal: Floats,
    start: tuple[Floats, Floats],
    side: Floats,
    *,
    centre: Floats,
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the figure at its limit, and whether it was found."""
    k, m = start[0].copy(), start[1].copy()
    solved = np.zeros(k.size, dtype=bool)
    active = np.arange(k.size)
    part, wanted, aim, way = cells, figure, goal, side
    for _ in range(_ROUNDS):
        here_k, here_m = k[active], m[active]
        here = evaluate(part, here_k, here_m)
        gap = here.value - aim
        bend, bend_k, bend_m = wanted.tangency(here, here_k, here_m)
        with np.errstate(all="ignore"):
            det = here.k * bend_m - here.m * bend_k
            dk = -(gap * bend_m - here.m * bend) / det
            dm = -(here.k * bend - gap * bend_k) / det
            reach = np.minimum(1.0, 0.6 * here_k / np.abs(dk))
            reach = np.minimum(reach, 3.0 / np.abs(dm))
        lost = ~(np.isfinite(dk) & np.isfinite(dm))
        dk = np.where(lost, 0.0, dk * reach)
        dm = np.where(lost, 0.0, dm * reach)
        k[active], m[active] = here_k + dk, here_m + dm
        # the error left is of the order of this step squared
        small = np.abs(dk) < 1e-6 * here_k
        small &= np.abs(dm) < 1e-6 * (1.0 + np.abs(here_m))
        done = ~lost & small & (np.abs(gap) < 1e-5)
        # the other end of the interval, and saddles, solve the equations too
        u, v = wanted.direction(k[active], m[active])
        outward = here.k * u + here.m * v
        outward = -outward if wanted.kind == "life" else outward
        right = outward * way < 0
        solved[active[done & right]] = True
        going = ~(done | lost)
        if not going.any():
            break
        if not going.all():
            keep = np.flatnonzero(going)
            active = active[keep]
            part, wanted = part.take(keep), wanted.take(keep)
            aim, way = aim[keep], way[keep]
    value = figure.value(k, m)
    return value, solved & ((value - centre) * side > 0)
