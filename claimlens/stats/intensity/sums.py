"""Weights of cells added up by the levels of effects, for many columns at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import scipy
from numpy.typing import NDArray

__all__ = ["LevelSums"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


class LevelSums:
    """What adds up weights by level, and by the levels of two effects together.

    Each sum is taken in the order of the cells, so that it has the same bits for one
    column and for many.

    Parameters
    ----------
    effects : sequence of (ndarray of int, int)
        Level of each of n cells, shape (n,), and how many levels there are.
    """

    def __init__(self, effects: Sequence[tuple[Indices, int]]) -> None:
        # effects of the same levels share their sums: each has the number of the first
        self._like = [
            next(
                first
                for first, (known, n_known) in enumerate(effects)
                if size == n_known and np.array_equal(known, level)
            )
            for level, size in effects
        ]
        told = sorted(set(self._like))
        self._level = {i: _indicator(*effects[i]) for i in told}
        self._both = {
            (i, j): _indicator(
                effects[i][0] * effects[j][1] + effects[j][0],
                effects[i][1] * effects[j][1],
            )
            for i in told
            for j in told
            if j < i
        }
        self._sizes = [size for _, size in effects]

    def by_level(self, weights: Floats) -> list[Floats]:
        """Return the sums of each effect.

        Parameters
        ----------
        weights : ndarray, shape (n, C)
            Columns of weights.

        Returns
        -------
        list of ndarray, each of shape (n_levels, C)
        """
        told = {i: one @ weights for i, one in self._level.items()}
        return [told[like] for like in self._like]

    def by_pair(self, weights: Floats) -> dict[tuple[int, int], Floats]:
        """Return the sums of each two effects, and of each with itself.

        Parameters
        ----------
        weights : ndarray, shape (n, C)
            Columns of weights.

        Returns
        -------
        dict of (int, int) to ndarray
            By the numbers of two effects, the second not above the first; each of
            shape (n_levels of the first, n_levels of the second, C).
        """
        n_columns = weights.shape[1]
        told: dict[tuple[int, int], Floats] = {}
        for i, one in self._level.items():
            size = self._sizes[i]
            told[i, i] = np.zeros((size, size, n_columns))
            told[i, i][np.arange(size), np.arange(size)] = one @ weights
        for (i, j), both in self._both.items():
            shape = (self._sizes[i], self._sizes[j], n_columns)
            told[i, j] = (both @ weights).reshape(shape)
            told[j, i] = told[i, j].transpose(1, 0, 2)
        return {
            (i, j): told[self._like[i], self._like[j]]
            for i in range(len(self._like))
            for j in range(i + 1)
        }


def _indicator(level: Indices, n_levels: int) -> scipy.sparse.csr_array:
    """Return the matrix that adds up the cells of each level, shape (levels, n)."""
    # in the order of the cells within each level
    order = np.argsort(level, kind="stable").astype(np.int32)
    ends = np.cumsum(np.bincount(level, minlength=n_levels))
    start = np.concatenate([[0], ends]).astype(np.int32)
    shape = (n_levels, level.size)
    return scipy.sparse.csr_array((np.ones(level.size), order, start), shape=shape)
