"""The effects that a rate of claims is made of, and their sums over the cells."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["Design", "Effect"]

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
    def _pairs(self) -> list[tuple[int, int, Indices]]:
        found = []
        for i, one in enumerate(self.effects):
            for j, other in enumerate(self.effects[: i + 1]):
                found.append((i, j, one.level * other.n_levels + other.level))
        return found

    def linear(self, coefficients: Floats) -> Floats:
        """Return the logarithm of the rate of each cell, shape (n,)."""
        total = self.covariates @ coefficients[: self.n_slopes]
        for i, effect in enumerate(self.effects):
            total += coefficients[self.place(i)][effect.level]
        return np.asarray(total)

    def gathered(self, weights: Floats) -> Floats:
        """Return the sum of weights at each coefficient, shape (p,)."""
        parts: list[Floats] = [self.covariates.T @ weights]
        parts += [
            np.bincount(effect.level, weights, minlength=effect.n_levels).astype(float)
            for effect in self.effects
        ]
        return np.concatenate(parts)

    def crossed(self, weights: Floats) -> Floats:
        """Return the weighted cross product of the design, shape (p, p)."""
        total = np.zeros((self.n_coefficients, self.n_coefficients))
        slopes = slice(0, self.n_slopes)
        weighted = self.covariates * weights[:, None]
        total[slopes, slopes] = self.covariates.T @ weighted
        for i, effect in enumerate(self.effects):
            here = self.place(i)
            for f in range(self.n_slopes):
                total[here, f] = np.bincount(
                    effect.level, weighted[:, f], minlength=effect.n_levels
                )
            total[slopes, here] = total[here, slopes].T
        for i, j, both in self._pairs:
            one, other = self.effects[i], self.effects[j]
            table = np.bincount(
                both, weights, minlength=one.n_levels * other.n_levels
            ).reshape(one.n_levels, other.n_levels)
            total[self.place(i), self.place(j)] = table
            total[self.place(j), self.place(i)] = table.T
        return total
