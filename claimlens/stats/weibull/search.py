"""The slow and sure search for a likelihood-ratio limit.

For a given shape the log-likelihood is concave in m, so each line of constant
k meets the allowed region in one stretch. A limit is then a search over k
alone: a bracketed root for the shape, golden section for other figures.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.weibull.cells import Cells
from claimlens.stats.weibull.likelihood import evaluate
from claimlens.stats.weibull.maximise import solve_m

__all__ = ["SPAN", "border", "search"]

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
    way: Floats,
) -> Floats:
    """Return the limit of a figure other than the shape for each segment.

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
    way : ndarray, shape (S,)
        1 where a greater m moves the figure to its limit, else -1.

    Returns
    -------
    ndarray, shape (S,)
        The limits; infinite where open.
    """
    k, m = peak
    ones = np.ones(k.size)
    low, low_m, low_open = border(cells, peak, goal, -ones)
    high, high_m, _ = border(cells, peak, goal, ones)
    # m on the ridge, for a start at any shape in between
    knots = np.stack([low, np.log(k), high]), np.stack([low_m, m, high_m])

    def reach(at: Floats) -> Floats:
        """Return how far out the figure gets at ln k, times the side."""
        shape = np.exp(at)
        ridge = solve_m(cells, shape, _between(at, *knots))
        return side * value(shape, _edge_m(cells, shape, ridge, goal, way))

    left, right = low.copy(), high.copy()
    inner, outer = right - _GOLDEN * (right - left), left + _GOLDEN * (right - left)
    at_inner, at_outer = reach(inner), reach(outer)
    for _ in range(38):
        better = at_inner > at_outer
        right, left = np.where(better, outer, right), np.where(better, left, inner)
        fresh = np.where(
            better, right - _GOLDEN * (right - left), left + _GOLDEN * (right - left)
        )
        at_fresh = reach(fresh)
        inner, outer = np.where(better, fresh, outer), np.where(better, inner, fresh)
        at_inner, at_outer = (
            np.where(better, at_fresh, at_outer),
            np.where(better, at_inner, at_fresh),
        )
    at = 0.5 * (left + right)
    found = side * np.maximum(reach(at), np.maximum(at_inner, at_outer))
    # a region that reaches down to shape 0 holds lives without end
    unbounded = low_open & (at - low < 1e-3)
    return np.where(unbounded, side * np.inf, found)


def border(
    cells: Cells, peak: tuple[Floats, Floats], goal: Floats, side: Floats
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return where the profile over ln k falls to the goal.

    Parameters
    ----------
    cells : Cells
        Of S segments.
    peak : pair of ndarray, shape (S,)
        The maximum (k, m).
    goal : ndarray, shape (S,)
        Log-likelihood on the border of the allowed region.
    side : ndarray, shape (S,)
        -1 for a lower limit, 1 for an upper one.

    Returns
    -------
    end : ndarray, shape (S,)
        The border as ln k, or the end of the range if the profile stays
        above the goal.
    m : ndarray, shape (S,)
        The best m there.
    open : ndarray of bool, shape (S,)
        Whether the profile stays above the goal.
    """
    k, m = peak
    inside = np.log(k)
    outside = inside + side * SPAN
    here_m = solve_m(cells, np.exp(outside), m)
    never = evaluate(cells, np.exp(outside), here_m).value >= goal
    # the profile is concave enough near its peak for a start by Newton
    at = inside + side * 0.5
    for _ in range(80):
        here_m = solve_m(cells, np.exp(at), here_m)
        here = evaluate(cells, np.exp(at), here_m)
        gap = here.value - goal
        inside = np.where(gap >= 0, at, inside)
        outside = np.where(gap >= 0, outside, at)
        with np.errstate(all="ignore"):
            following = at - gap / (here.k * np.exp(at))
        between = (following - inside) * (following - outside) < 0
        following = np.where(between, following, 0.5 * (inside + outside))
        moved = np.abs(following - at).max(initial=0.0)
        at = following
        if moved < 1e-11:
            break
    end = np.where(never, np.log(k) + side * SPAN, at)
    return end, solve_m(cells, np.exp(end), here_m), never


def _between(at: Floats, knots: Floats, values: Floats) -> Floats:
    """Interpolate three points a segment, linear in exp(at)."""
    x, k = np.exp(at), np.exp(knots)
    first = x <= k[1]
    left, right = np.where(first, k[0], k[1]), np.where(first, k[1], k[2])
    low = np.where(first, values[0], values[1])
    high = np.where(first, values[1], values[2])
    width = np.where(right > left, right - left, 1.0)
    return np.asarray(low + (high - low) * np.clip((x - left) / width, 0.0, 1.0))


def _edge_m(
    cells: Cells, k: Floats, ridge: Floats, goal: Floats, way: Floats
) -> Floats:
    """Return m where the log-likelihood falls to the goal, on one side.

    The log-likelihood is concave in m: Newton's method comes in from outside
    without overshooting, and a bracket catches a start that leaps too far.
    """
    top = evaluate(cells, k, ridge)
    with np.errstate(all="ignore"):
        width = np.sqrt(2.0 * np.maximum(top.value - goal, 0.0) / -top.mm)
    m = ridge + way * np.where(np.isfinite(width), np.minimum(width, 3.0), 1.0)
    inside, outside = ridge.copy(), ridge + way * np.inf
    for _ in range(60):
        here = evaluate(cells, k, m)
        allowed = here.value >= goal
        inside = np.where(allowed, m, inside)
        outside = np.where(allowed, outside, m)
        with np.errstate(all="ignore"):
            following = m - (here.value - goal) / here.m
            between = (following - inside) * (following - outside) <= 0
            middle = np.where(
                np.isfinite(outside), 0.5 * (inside + outside), inside + way * 3.0
            )
        sane = between & (np.abs(following - m) < 3.0)
        following = np.where(sane, following, middle)
        moved = np.abs(following - m).max(initial=0.0)
        m = following
        if moved < 1e-11:
            break
    return m
