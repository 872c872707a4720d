"""Counts by age, made ready for the Weibull likelihood."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import ages_of, counts_of, refuse

__all__ = ["Cells", "Prepared", "prepare"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

# tables of this many bounds stay in the cache of one core, so that the time of a
# fit grows with the number of segments and no faster
_BLOCK_CELLS = 48_000
_FEWEST_ROWS = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """What the likelihood needs of the counts, for S segments.

    Ages are divided by ``unit``, the largest of them, and taken as logarithms.

    Parameters
    ----------
    unit : float
        The age that stands for 1.
    bounds : ndarray, shape (B,)
        Distinct logarithms of all ages, lower bounds and entries above 0.
    weight : ndarray, shape (S, B)
        Factor of each bound in A(k) = sum of weight * bound**k: units that
        ran to it, less those that entered there.
    exact : ndarray, shape (S,)
        Failures at an exact age.
    exact_log : ndarray, shape (S,)
        Sum of the logarithms of those ages.
    start : ndarray of int, shape (S + 1,)
        Where the grouped failures of each segment begin in the next three.
    count, upper, lower : ndarray
        Failures of one segment in one cell; the cell's bounds as positions in
        ``bounds``, -1 for the age 0.
    owner : ndarray of int
        The segment that each of them belongs to.
    """

    unit: float
    bounds: Floats
    weight: Floats
    exact: Floats
    exact_log: Floats
    start: Indices
    count: Floats
    upper: Indices
    lower: Indices
    owner: Indices

    @property
    def n_segments(self) -> int:
        """Return the number of segments."""
        return int(self.weight.shape[0])

    @property
    def failed(self) -> Floats:
        """Return the failures of each segment."""
        return self.exact + self.per_segment(self.count)

    def per_segment(self, values: Floats) -> Floats:
        """Add up values of the grouped failures by segment."""
        full = np.flatnonzero(np.diff(self.start))
        result = np.zeros(self.n_segments)
        if full.size:
            result[full] = np.add.reduceat(values, self.start[full])
        return result

    def blocks(self) -> Iterator[Indices]:
        """Yield the segments in stretches whose tables fit a fast memory."""
        size = max(_FEWEST_ROWS, _BLOCK_CELLS // max(self.bounds.size, 1))
        for start in range(0, self.n_segments, size):
            yield np.arange(start, min(start + size, self.n_segments))

    def take(self, segments: Indices) -> Cells:
        """Return the cells of some segments, in that order; repeats allowed."""
        lengths = np.diff(self.start)[segments]
        start = np.concatenate([[0], np.cumsum(lengths)])
        where = np.repeat(self.start[segments] - start[:-1], lengths) + np.arange(
            start[-1]
        )
        return Cells(
            unit=self.unit,
            bounds=self.bounds,
            weight=self.weight[segments],
            exact=self.exact[segments],
            exact_log=self.exact_log[segments],
            start=start,
            count=self.count[where],
            upper=self.upper[where],
            lower=self.lower[where],
            owner=np.repeat(np.arange(segments.size), lengths),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """Checked counts of S segments, and the cells made of them.

    Parameters
    ----------
    cells : Cells
        Of S segments; one where the counts were (A,).
    failures : ndarray, shape (S, A)
        The failures as floats.
    stayed : ndarray, shape (S,)
        Units that left without a failure; where exposure was given, the most
        that passed any one cell.
    distinct : ndarray of int, shape (S,)
        Distinct ages or cells that hold a failure.
    """

    cells: Cells
    failures: Floats
    stayed: Floats
    distinct: NDArray[np.int64]


def prepare(
    ages: ArrayLike,
    failures: ArrayLike,
    censored: ArrayLike | None,
    *,
    lower: ArrayLike | None,
    entry: ArrayLike | None,
    exposed: ArrayLike | None = None,
) -> Prepared:
    """Check the arguments of a fit and make its cells.

    Parameters
    ----------
    ages : array_like, shape (A,)
        As in `fit`, like the rest.
    failures : array_like, shape (A,) or (S, A)
        Units of each row that failed.
    censored : array_like, shape (A,) or (S, A), or None
        Units of each row that left without a failure.
    lower, entry : array_like, shape (A,), or None
        Lower ends of the cells; ages of entry.
    exposed : array_like, shape (A,) or (S, A), or None
        Units that passed each cell without a failure, in place of ``censored``.

    Returns
    -------
    Prepared
        What the likelihood needs.

    Raises
    ------
    InputError
        If an argument breaks a rule of `fit`.
    """
    if exposed is not None:
        return _of_exposure(ages, failures, exposed, lower, (censored, entry))
    if censored is None:
        raise refuse("censored must be given where exposed is not", "neither")
    age, failed, left = ages_of(ages, failures, censored)
    failed, left = np.atleast_2d(failed), np.atleast_2d(left)
    begin = _column("lower", lower, age)
    since = _column("entry", entry, age)
    _refuse_order(age, failed, left, begin, since)
    late = since if since is not None else np.zeros(age.size)
    stayed = left.sum(axis=1)
    if begin is None:
        unit, values, bounds = _grid(age, late)
        weight = np.zeros((failed.shape[0], values.size))
        _add(weight, _place(values, age), failed + left)
        _add(weight, _place(values, late), -(failed + left))
        return Prepared(
            cells=_exact_cells(unit, bounds, weight, failed, _place(values, age)),
            failures=failed,
            stayed=stayed,
            distinct=_distinct(failed, age, np.zeros(age.size)),
        )
    # a failure somewhere in (lower, age] of a unit seen from entry on lies in
    # (max(lower, entry), age]
    floor = np.maximum(begin, late)
    unit, values, bounds = _grid(age, late, floor)
    weight = np.zeros((failed.shape[0], values.size))
    _add(weight, _place(values, age), left)
    _add(weight, _place(values, late), -(failed + left))
    _add(weight, _place(values, floor), failed)
    return Prepared(
        cells=_grouped_cells(
            (unit, values, bounds), weight, failed, age=age, floor=floor
        ),
        failures=failed,
        stayed=stayed,
        distinct=_distinct(failed, age, floor),
    )


def _of_exposure(
    ages: ArrayLike,
    failures: ArrayLike,
    exposed: ArrayLike,
    lower: ArrayLike | None,
    unwanted: tuple[ArrayLike | None, ArrayLike | None],
) -> Prepared:
    """Make the cells of failures and of the units that passed each cell."""
    for name, value in zip(("censored", "entry"), unwanted, strict=True):
        if value is not None:
            raise refuse(
                f"{name} must be None where exposed is given",
                "both",
                "exposed already says who was under observation at each age",
            )
    if lower is None:
        raise refuse("lower must be given where exposed is", "None")
    table = counts_of("exposed", exposed)
    if table.shape != np.shape(failures):
        raise refuse(
            "failures and exposed must have the same shape",
            f"shapes {np.shape(failures)} and {table.shape}",
        )
    age, failed, passed = ages_of(ages, failures, table)
    failed, passed = np.atleast_2d(failed), np.atleast_2d(passed)
    floor = _column("lower", lower, age)
    assert floor is not None  # lower was given
    _refuse_order(age, failed, passed, floor, floor)
    unit, values, bounds = _grid(age, floor)
    weight = np.zeros((failed.shape[0], values.size))
    _add(weight, _place(values, age), passed)
    _add(weight, _place(values, floor), -passed)
    return Prepared(
        cells=_grouped_cells(
            (unit, values, bounds), weight, failed, age=age, floor=floor
        ),
        failures=failed,
        stayed=passed.max(axis=1),
        distinct=_distinct(failed, age, floor),
    )


def _grid(*columns: Floats) -> tuple[float, Floats, Floats]:
    """Return the unit, the distinct bounds above 0, and their logarithms."""
    largest = float(columns[0].max())
    unit = largest if largest > 0 else 1.0
    points = np.concatenate(columns)
    values = np.unique(points[points > 0])
    return unit, values, np.log(values / unit)


def _grouped_cells(
    grid: tuple[float, Floats, Floats],
    weight: Floats,
    failed: Floats,
    *,
    age: Floats,
    floor: Floats,
) -> Cells:
    """Return cells for failures somewhere between floor and age."""
    unit, values, bounds = grid
    rows, columns = np.nonzero(failed)
    return Cells(
        unit=unit,
        bounds=bounds,
        weight=weight,
        exact=np.zeros(failed.shape[0]),
        exact_log=np.zeros(failed.shape[0]),
        start=np.searchsorted(rows, np.arange(failed.shape[0] + 1)),
        count=failed[rows, columns],
        upper=_place(values, age)[columns],
        lower=_place(values, floor)[columns],
        owner=rows,
    )


def _column(name: str, values: ArrayLike | None, age: Floats) -> Floats | None:
    """Return an optional row of ages in the shape of ``ages``."""
    if values is None:
        return None
    column = counts_of(name, values)
    if column.shape != age.shape:
        raise refuse(
            f"{name} must have shape {age.shape}, as ages do", f"shape {column.shape}"
        )
    return column


def _refuse_order(
    age: Floats,
    failed: Floats,
    left: Floats,
    begin: Floats | None,
    since: Floats | None,
) -> None:
    """Refuse rows whose bounds are out of order; rows without units may be."""
    fails = failed.sum(axis=0) > 0
    used = fails | (left.sum(axis=0) > 0)
    if begin is not None:
        bad = fails & (begin >= age)
        if bad.any():
            raise refuse(
                "lower must be below the age of its row",
                f"lower {begin[bad][0]:g} at age {age[bad][0]:g}",
            )
    elif (fails & (age == 0)).any():
        raise refuse(
            "a failure at the exact age 0 has no likelihood",
            f"{failed[:, age == 0].sum():g} failures at age 0",
            "give lower, so that a failure on day d lies in (d, d + 1]",
        )
    if since is not None:
        bad = used & (since > 0) & (since >= age)
        if bad.any():
            raise refuse(
                "entry must be below the age of its row",
                f"entry {since[bad][0]:g} at age {age[bad][0]:g}",
            )


def _place(values: Floats, ages: Floats) -> Indices:
    """Return the position of each age in ``values``; -1 for the age 0."""
    place: Indices = np.where(ages > 0, np.searchsorted(values, ages), -1)
    return place


def _add(weight: Floats, place: Indices, table: Floats) -> None:
    """Add the columns of ``table`` to the bounds they stand at."""
    some = np.flatnonzero((place >= 0) & (table != 0).any(axis=0))
    if np.unique(place[some]).size == some.size:
        weight[:, place[some]] += table[:, some]
        return
    for column in some:
        weight[:, place[column]] += table[:, column]


def _exact_cells(
    unit: float, bounds: Floats, weight: Floats, failed: Floats, place: Indices
) -> Cells:
    """Return cells for failures at exact ages."""
    log_age = np.where(place >= 0, bounds[place], 0.0)
    none = np.zeros(0, dtype=np.intp)
    return Cells(
        unit=unit,
        bounds=bounds,
        weight=weight,
        exact=failed.sum(axis=1),
        exact_log=np.einsum("sa,a->s", failed, log_age),
        start=np.zeros(failed.shape[0] + 1, dtype=np.intp),
        count=np.zeros(0),
        upper=none,
        lower=none,
        owner=none,
    )


def _distinct(failed: Floats, age: Floats, floor: Floats) -> NDArray[np.int64]:
    """Return in how many distinct cells (or ages) each segment has failures."""
    if np.unique(age).size == age.size:
        return np.asarray((failed > 0).sum(axis=1), dtype=np.int64)
    pairs = np.stack([age, floor], axis=1)
    _, group = np.unique(pairs, axis=0, return_inverse=True)
    hits = np.zeros((failed.shape[0], int(group.max()) + 1), dtype=bool)
    for column in range(age.size):
        hits[:, group[column]] |= failed[:, column] > 0
    return np.asarray(hits.sum(axis=1), dtype=np.int64)
