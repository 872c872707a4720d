"""Cells that are needlessly narrow, merged.

Days tell a fit at old ages no more than weeks do, and cost ten times as much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import counts_of, refuse

__all__ = ["Merging", "merge_cells"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_RELATIVE_WIDTH = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Merging:
    """How A cells go into M wider ones.

    Parameters
    ----------
    lower, upper : ndarray, shape (M,)
        Ends of the merged cells.
    stretch : ndarray of int, shape (M,)
        Number of the stretch of width that each lies in.
    _order : ndarray of int
        The cells used, by age.
    _group : ndarray of int
        The merged cell of each of them.
    _span : ndarray
        Their widths.
    """

    lower: Floats
    upper: Floats
    stretch: Indices
    _order: Indices
    _group: Indices
    _span: Floats

    @property
    def _first(self) -> Indices:
        return np.flatnonzero(np.diff(self._group, prepend=-1))

    def added(self, counts: ArrayLike) -> Floats:
        """Return the sums of counts, (..., A) to (..., M)."""
        table = np.asarray(counts, dtype=np.float64)[..., self._order]
        return np.asarray(np.add.reduceat(table, self._first, axis=-1))

    def mean(self, counts: ArrayLike) -> Floats:
        """Return means over the width of the cells, (..., A) to (..., M)."""
        table = np.asarray(counts, dtype=np.float64)[..., self._order]
        total = np.add.reduceat(table * self._span, self._first, axis=-1)
        return np.asarray(total / (self.upper - self.lower))

    def exposed(self, exposed: ArrayLike, failures: ArrayLike) -> Floats:
        """Return the units that passed the merged cells, (..., A) to (..., M).

        A unit that fails later in the same merged cell did not pass it.
        """
        table = np.array(exposed, dtype=np.float64)
        failed = np.asarray(failures, dtype=np.float64)[..., self._order]
        rest = np.cumsum(failed[..., ::-1], axis=-1)[..., ::-1]
        beyond = np.concatenate([rest, np.zeros((*rest.shape[:-1], 1))], axis=-1)
        last = np.append(self._first[1:], self._group.size)
        later = rest - failed - beyond[..., last][..., self._group]
        table[..., self._order] = np.maximum(table[..., self._order] - later, 0.0)
        return self.mean(table)


def merge_cells(
    ages: ArrayLike, lower: ArrayLike, *, width: float | None = None
) -> Merging:
    """Find which cells can go together: up to 2 per cent of their age.

    Parameters
    ----------
    ages, lower : array_like, shape (A,)
        Ends of the cells, in any order; a cell without width is left out.
    width : float, optional
        Cells are not merged across the multiples of this; the lower end nearest
        to each counts as it.

    Returns
    -------
    Merging
        To be applied to counts.

    Raises
    ------
    InputError
        If shapes disagree, cells overlap, or the width is not above 0.
    """
    top, low = counts_of("ages", ages), counts_of("lower", lower)
    if top.shape != low.shape or top.ndim != 1 or not (low < top).any():
        raise refuse(
            "ages and lower must be rows of one length, with cells of some width",
            f"shapes {top.shape} and {low.shape}",
        )
    if width is not None and not width > 0:
        raise refuse("width must be above 0", width)
    order = np.argsort(top, kind="stable")
    order = order[low[order] < top[order]]
    low, top = low[order], top[order]
    if (low[1:] < top[:-1] * (1.0 - 1e-12)).any():
        raise refuse("cells must not overlap", "a lower end below the age before it")
    stretch = np.zeros(top.size, dtype=np.intp)
    if width is not None:
        marks = np.arange(0.0, top[-1] + width / 2.0, width)
        stretch = np.searchsorted(marks, (low + top) / 2.0, side="right")
    group = _groups(low, top, stretch)
    first = np.flatnonzero(np.diff(group, prepend=-1))
    last = np.append(first[1:], group.size) - 1
    return Merging(
        lower=low[first],
        upper=top[last],
        stretch=stretch[first],
        _order=order,
        _group=group,
        _span=top - low,
    )


def _groups(low: Floats, top: Floats, stretch: Indices) -> Indices:
    """Number the merged cells that each cell goes into, from 0."""
    group = np.zeros(top.size, dtype=np.intp)
    current, start = 0, low[0]
    for cell in range(1, group.size):
        too_wide = top[cell] - start > _RELATIVE_WIDTH * top[cell]
        if too_wide or stretch[cell] != stretch[cell - 1]:
            current, start = current + 1, low[cell]
        group[cell] = current
    return group
