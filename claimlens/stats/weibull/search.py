"""The slow and sure search for a likelihood-ratio limit.

For a given shape the log-likelihood is concave in m, so each line of constant
k meets the allowed region in one stretch. A limit is then a search over k
alone: by halving for the shape, by golden section for other figures.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.weibull.cells import Cells
from claimlens.stats.weibull.likelihood import evaluate
from claimlens.stats.weibull.maximise import solve_m

__all__ = ["search"]

Floats = NDArray[np.float64]

SPAN = 4.0
"""How far ln k is followed from its maximum; beyond, a limit is open."""

_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0


def search(
    cells: Cells,
    value: Callable[[Floats, Floats], Floats],
    peak: tuple[Floats, Floats],
    goal: Floats,
    side: Floats,
    *,
    shape: bool,
) -> Floats:
    """Return the limit of a figure for each segment.

    Parameters
    ----------
    cells : Cells
        Of S segments.
    value : callable
        The figure at (k, m).
    peak : pair of ndarray, shape (S,)
        The maximum (k, m).
    goal : ndarray, shape (S,)
        Log-likelihood on the border of the allowed region.
    side : ndarray, shape (S,)
        -1 for a lower limit, 1 for an upper one.
    shape : bool
        Whether the figure is ln k itself.

    Returns
    -------
    ndarray, shape (S,)
        The limits; infinite where open.
    """
    k, m = peak
    a = np.log(k)
    if shape:
        end, _, open_end = _border(cells, a, m, goal, side)
        return np.where(open_end, side * np.inf, end)
    low, low_m, low_open = _border(cells, a, m, goal, -np.ones(k.size))
    high, high_m, _ = _border(cells, a, m, goal, np.ones(k.size))
    # m on the ridge, for a start at any shape in between
    knots = np.stack([low, a, high]), np.stack([low_m, m, high_m])

    def extreme(at: Floats) -> Floats:
        """Return the figure furthest out, times the side, at ln k."""
        shape_here = np.exp(at)
        ridge = solve_m(cells, shape_here, _between(at, *knots))
        ends = [
            side * value(shape_here, _edge_m(cells, shape_here, ridge, goal, way))
            for way in (-1.0, 1.0)
        ]
        return np.maximum(*ends)

    left, right = low.copy(), high.copy()
    for _ in range(60):
        inner = right - _GOLDEN * (right - left)
        outer = left + _GOLDEN * (right - left)
        better = extreme(inner) > extreme(outer)
        right, left = np.where(better, outer, right), np.where(better, left, inner)
    at = 0.5 * (left + right)
    found = side * extreme(at)
    # a region that reaches down to shape 0 holds lives without end
    unbounded = low_open & (at - low < 1e-3)
    return np.where(unbounded, side * np.inf, found)


def _border(
    cells: Cells, a: Floats, m: Floats, goal: Floats, side: Floats
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return ln k where the profile crosses the goal, m there, and if it never does."""
    inside, outside = a.copy(), a + side * SPAN
    inside_m = m.copy()
    outside_m = _walk(cells, a, m, outside)
    profile = evaluate(cells, np.exp(outside), outside_m).value
    never = profile >= goal
    for _ in range(50):
        middle = 0.5 * (inside + outside)
        middle_m = solve_m(cells, np.exp(middle), 0.5 * (inside_m + outside_m))
        allowed = evaluate(cells, np.exp(middle), middle_m).value >= goal
        inside = np.where(allowed, middle, inside)
        inside_m = np.where(allowed, middle_m, inside_m)
        outside = np.where(allowed, outside, middle)
        outside_m = np.where(allowed, outside_m, middle_m)
    end = np.where(never, a + side * SPAN, inside)
    return end, solve_m(cells, np.exp(end), inside_m), never


def _walk(cells: Cells, a: Floats, m: Floats, target: Floats) -> Floats:
    """Follow the ridge from ln k = a to the target in steps; return m there."""
    here = m
    for share in np.linspace(0.1, 1.0, 10):
        here = solve_m(cells, np.exp(a + share * (target - a)), here)
    return here


def _between(at: Floats, knots: Floats, values: Floats) -> Floats:
    """Interpolate three points a segment, linear in exp(at)."""
    x, k = np.exp(at), np.exp(knots)
    first = x <= k[1]
    left, right = np.where(first, k[0], k[1]), np.where(first, k[1], k[2])
    low, high = (
        np.where(first, values[0], values[1]),
        np.where(first, values[1], values[2]),
    )
    width = np.where(right > left, right - left, 1.0)
    return np.asarray(low + (high - low) * np.clip((x - left) / width, 0.0, 1.0))


def _edge_m(cells: Cells, k: Floats, ridge: Floats, goal: Floats, way: float) -> Floats:
    """Return m where the log-likelihood falls to the goal, on one side."""
    inside = ridge.copy()
    step = np.full(k.size, 0.5)
    for _ in range(60):
        allowed = evaluate(cells, k, inside + way * step).value >= goal
        if not allowed.any():
            break
        step = np.where(allowed, step * 2.0, step)
    outside = inside + way * step
    for _ in range(45):
        middle = 0.5 * (inside + outside)
        allowed = evaluate(cells, k, middle).value >= goal
        inside = np.where(allowed, middle, inside)
        outside = np.where(allowed, outside, middle)
    return 0.5 * (inside + outside)
