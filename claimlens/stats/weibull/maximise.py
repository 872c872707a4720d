"""The maximum of the Weibull log-likelihood, for many segments at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.weibull.cells import Cells
from claimlens.stats.weibull.likelihood import Slope, evaluate

__all__ = ["FLAT", "K_MAX", "K_MIN", "Maximum", "information", "maximise", "solve_m"]

Floats = NDArray[np.float64]

K_MIN = float(np.exp(-4.0))
K_MAX = float(np.exp(5.0))
"""A shape outside these is no estimate but a likelihood without a maximum."""

FLAT = 1e-3
"""Below this much information on ln k (a standard error above 30) the surface
is level: the failures fit ever steeper, or ever flatter, shapes equally."""

_ROUNDS = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class Maximum:
    """Where the log-likelihood of each segment is largest; each (S,).

    Parameters
    ----------
    k, m : ndarray
        Shape and intercept of the log cumulative hazard.
    value : ndarray
        Log-likelihood there.
    converged : ndarray of bool
        Whether the step and the score vanished.
    edge : ndarray of int
        -1 or 1 where the shape ran to the lower or upper end, or the data do
        not tell it at all; else 0.
    """

    k: Floats
    m: Floats
    value: Floats
    converged: NDArray[np.bool_]
    edge: NDArray[np.int64]

    def take(self, segments: NDArray[np.intp]) -> Maximum:
        """Return the maxima of some segments, in that order; repeats allowed."""
        return Maximum(
            k=self.k[segments],
            m=self.m[segments],
            value=self.value[segments],
            converged=self.converged[segments],
            edge=self.edge[segments],
        )


def information(slope: Slope, k: Floats) -> Floats:
    """Return what the data tell of ln k when m is unknown too.

    Parameters
    ----------
    slope : Slope
        Derivatives at the maximum of S segments.
    k : ndarray, shape (S,)
        Shapes there.

    Returns
    -------
    ndarray, shape (S,)
        Inverse of the variance of ln k; 0 where it cannot be told.
    """
    with np.errstate(all="ignore"):
        found = k**2 * (slope.km**2 / slope.mm - slope.kk)
    return np.nan_to_num(found, nan=0.0)


def solve_m(cells: Cells, k: Floats, m: Floats, rounds: int = 60) -> Floats:
    """Return the best intercept of each segment for a given shape.

    The log-likelihood is concave in m. The step ln(1 + Newton's step) solves
    the score of exact failures at once, from any distance, and is as good as
    Newton's near the maximum of grouped ones.

    Parameters
    ----------
    cells : Cells
        Of S segments, each with a failure.
    k, m : ndarray, shape (S,)
        Shapes, and where to start.
    rounds : int, default 60
        Most steps taken.

    Returns
    -------
    ndarray, shape (S,)
        The intercepts.
    """
    m = m.copy()
    for _ in range(rounds):
        here = evaluate(cells, k, m)
        with np.errstate(all="ignore"):
            step = -here.m / here.mm
            step = np.log1p(step)
        # far below the maximum the curvature vanishes, far above everything
        # overflows
        step = np.where(np.isnan(step), np.where(here.m > 0, 5.0, -5.0), step)
        step = np.clip(step, -30.0, 30.0)
        m += step
        if np.abs(step).max(initial=0.0) < 1e-11:
            break
    return m


def maximise(cells: Cells, k: Floats | None = None) -> Maximum:
    """Maximise over shape and intercept by damped Newton steps.

    Parameters
    ----------
    cells : Cells
        Of S segments, each with a failure.
    k : ndarray, shape (S,), optional
        Where to start; 1 for every segment unless given.

    Returns
    -------
    Maximum
        Segments that did not converge say so.
    """
    first = np.ones(cells.n_segments) if k is None else k
    parts = [_of_block(cells.take(block), first[block]) for block in cells.blocks()]
    if len(parts) == 1:
        return parts[0]

    def joined(name: str) -> NDArray[Any]:
        return np.concatenate([getattr(part, name) for part in parts] or [first])

    return Maximum(
        k=joined("k"),
        m=joined("m"),
        value=joined("value"),
        converged=joined("converged").astype(bool),
        edge=joined("edge").astype(np.int64),
    )


def _of_block(cells: Cells, k: Floats) -> Maximum:
    """Maximise for the segments of one block."""
    size, k = cells.n_segments, k.copy()
    m = solve_m(cells, k, _first_m(cells, k), rounds=4)
    converged = np.zeros(size, dtype=bool)
    active = np.arange(size)
    part = cells
    here = evaluate(part, k, m)
    value = here.value.copy()
    for _ in range(_ROUNDS):
        old_k, old_m, failed = k[active], m[active], part.failed
        step = _step(here, old_k)
        new_k, new_m, here = _backtrack(part, here, (old_k, old_m), step)
        k[active], m[active], value[active] = new_k, new_m, here.value
        done = (
            (np.abs(np.log(new_k / old_k)) < 1e-9)
            & (np.abs(new_m - old_m) < 1e-9)
            & (np.abs(here.m) < 1e-6 * failed)
            & (np.abs(here.k * new_k) < 1e-6 * failed)
        )
        converged[active[done]] = True
        stuck = (new_k <= K_MIN * 1.0001) & (here.k < 0)
        stuck |= (new_k >= K_MAX * 0.9999) & (here.k > 0)
        going = ~(done | stuck)
        if not going.any():
            break
        if going.sum() < 0.8 * going.size:
            active = active[going]
            part = part.take(np.flatnonzero(going))
            here = evaluate(part, k[active], m[active])
    edge = np.where(k <= K_MIN * 1.001, -1, np.where(k >= K_MAX * 0.999, 1, 0))
    flat = information(evaluate(cells, k, m), k) < FLAT
    edge = np.where(flat & (edge == 0), np.where(k < 1.0, -1, 1), edge)
    return Maximum(
        k=k,
        m=m,
        value=value,
        converged=converged & (edge == 0) & np.isfinite(value),
        edge=edge,
    )


def _first_m(cells: Cells, k: Floats) -> Floats:
    """Return an intercept to start from: failures over exposure."""
    exposure = np.einsum(
        "sb,sb->s", cells.weight, np.exp(k[:, None] * cells.bounds)
    ) + cells.per_segment(cells.count * 0.5 * np.exp(cells.bounds[cells.upper]))
    with np.errstate(divide="ignore", invalid="ignore"):
        m = np.log(cells.failed / exposure)
    return np.where(np.isfinite(m), m, 0.0)


def _step(here: Slope, k: Floats) -> tuple[Floats, Floats]:
    """Return the Newton step, shortened so that the shape stays positive."""
    with np.errstate(all="ignore"):
        determinant = here.kk * here.mm - here.km**2
        dk = -(here.mm * here.k - here.km * here.m) / determinant
        dm = -(here.kk * here.m - here.km * here.k) / determinant
        only_m = np.clip(-here.m / here.mm, -2.0, 2.0)
    # late entries may bend the surface the wrong way: then walk up instead
    sound = (determinant > 0) & (here.mm < 0) & np.isfinite(dk) & np.isfinite(dm)
    dk = np.where(sound, dk, 0.3 * k * np.sign(here.k))
    dm = np.where(sound, dm, np.nan_to_num(only_m))
    with np.errstate(divide="ignore"):
        room = np.where(dk < 0, 0.6 * k / np.abs(dk), 2.0 * k / np.abs(dk))
    short = np.minimum(1.0, np.where(dk == 0, 1.0, room))
    return dk * short, dm * short


def _backtrack(
    cells: Cells,
    here: Slope,
    point: tuple[Floats, Floats],
    step: tuple[Floats, Floats],
) -> tuple[Floats, Floats, Slope]:
    """Take the step, halved for the segments that it would take downhill."""
    (k, m), (dk, dm) = point, step
    share = np.ones(k.size)
    for _ in range(30):
        new_k = np.clip(k + share * dk, K_MIN, K_MAX)
        new_m = m + share * dm
        there = evaluate(cells, new_k, new_m)
        slack = 1e-12 * (1.0 + np.abs(here.value))
        worse = ~(there.value >= here.value - slack)
        if not worse.any():
            break
        share = np.where(worse, share / 2.0, share)
    return new_k, new_m, there
