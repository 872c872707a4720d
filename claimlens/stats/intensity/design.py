"""The effects that a rate of claims is made of, and their sums over the cells."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.intensity.sums import LevelSums

__all__ = ["Design", "Effect", "crossed_all", "gathered_all"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """One effect on the logarithm of the rate, drawn in towards 0.

    Parameters
    ----------
    name : str
        What it stands for.
    level : ndarray of int, shape (n,)
        Level of each cell.
    n_levels : int
        Levels there are.
    kind : {"apart", "walk"}
        Levels that have nothing to do with each other, or a walk in which each
        level starts from the one before.
    variance : float
        Where the search for its variance starts.
    """

    name: str
    level: Indices
    n_levels: int
    kind: Literal["apart", "walk"]
    variance: float

    @property
    def penalty(self) -> Floats:
        """Return the precision of the levels for a variance of 1, shape (k, k)."""
        if self.kind == "apart":
            return np.eye(self.n_levels)
        steps = np.diff(np.eye(self.n_levels), axis=0)
        return np.asarray(steps.T @ steps)

    @property
    def rank(self) -> int:
        """Return the rank of ``penalty``."""
        return self.n_levels - (self.kind == "walk")


@dataclass(frozen=True, kw_only=True)
class Design:
    """Cells of exposure, with the effects on each.

    Parameters
    ----------
    effects : tuple of Effect
        All over the same cells.
    covariates : ndarray, shape (n, f)
        Columns with a slope each; the first should be ones.
    """

    effects: tuple[Effect, ...]
    covariates: Floats

    @property
    def n_slopes(self) -> int:
        """Return the number of covariates."""
        return int(self.covariates.shape[1])

    @cached_property
    def starts(self) -> tuple[int, ...]:
        """Return where each effect stands among the coefficients, and their end."""
        sizes = [self.n_slopes, *(effect.n_levels for effect in self.effects)]
        return tuple(int(n) for n in np.cumsum(sizes))

    @property
    def n_coefficients(self) -> int:
        """Return the number of coefficients p."""
        return self.starts[-1]

    def place(self, number: int) -> slice:
        """Return the coefficients of one effect."""
        return slice(self.starts[number], self.starts[number + 1])

    @cached_property
    def sums(self) -> LevelSums:
        """Return what adds up weights of cells by the levels of the effects."""
        return LevelSums([(one.level, one.n_levels) for one in self.effects])

    def linear(self, coefficients: Floats) -> Floats:
        """Return the logarithm of the rate of each cell, shape (n,)."""
        total = self.covariates @ coefficients[: self.n_slopes]
        for i, effect in enumerate(self.effects):
            total += coefficients[self.place(i)][effect.level]
        return np.asarray(total)

    def gathered(self, weights: Floats) -> Floats:
        """Return the sum of weights at each coefficient, shape (p,)."""
        return gathered_all([self], weights[:, None], self.sums)[0]

    def crossed(self, weights: Floats) -> Floats:
        """Return the weighted cross product of the design, shape (p, p)."""
        return crossed_all([self], weights[:, None], self.sums)[0]


def gathered_all(
    designs: Sequence[Design], weights: Floats, sums: LevelSums
) -> list[Floats]:
    """Return the sum of weights at each coefficient of each design.

    Parameters
    ----------
    designs : sequence of Design, length C
        The same effects in the same order; covariates may differ.
    weights : ndarray, shape (n, C)
        Weight of each cell, a column a design.
    sums : LevelSums
        Of the effects.

    Returns
    -------
    list of ndarray, each of shape (p,)
    """
    by_level = sums.by_level(weights)
    return [
        np.concatenate(
            [
                design.covariates.T @ weights[:, c].copy(),
                *(one[:, c] for one in by_level),
            ]
        )
        for c, design in enumerate(designs)
    ]


def crossed_all(
    designs: Sequence[Design], weights: Floats, sums: LevelSums
) -> list[Floats]:
    """Return the weighted cross product of each design.

    Parameters
    ----------
    designs : sequence of Design, length C
        The same effects in the same order; covariates may differ.
    weights : ndarray, shape (n, C)
        Weight of each cell, a column a design.
    sums : LevelSums
        Of the effects.

    Returns
    -------
    list of ndarray, each of shape (p, p)
    """
    weighted = [one.covariates * weights[:, [c]] for c, one in enumerate(designs)]
    by_level = sums.by_level(np.concatenate(weighted, axis=1))
    by_pair = sums.by_pair(weights)
    ends = np.cumsum([one.n_slopes for one in designs])
    return [
        _table(
            design,
            design.covariates.T @ weighted[c],
            [one[:, ends[c] - design.n_slopes : ends[c]] for one in by_level],
            {pair: table[:, :, c] for pair, table in by_pair.items()},
        )
        for c, design in enumerate(designs)
    ]


def _table(
    design: Design,
    slopes: Floats,
    with_slopes: Sequence[Floats],
    pairs: Mapping[tuple[int, int], Floats],
) -> Floats:
    """Put the blocks of a cross product in their places."""
    total = np.zeros((design.n_coefficients, design.n_coefficients))
    first = slice(0, design.n_slopes)
    total[first, first] = slopes
    for i, block in enumerate(with_slopes):
        total[design.place(i), first] = block
        total[first, design.place(i)] = block.T
    for (i, j), block in pairs.items():
        total[design.place(i), design.place(j)] = block
        total[design.place(j), design.place(i)] = block.T
    return total
