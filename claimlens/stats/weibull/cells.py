"""Counts by age, made ready for the Weibull likelihood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import ages_of, counts_of, refuse

__all__ = ["Cells", "prepare"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


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


def prepare(
    ages: ArrayLike,
    failures: ArrayLike,
    censored: ArrayLike,
    lower: ArrayLike | None,
    entry: ArrayLike | None,
) -> tuple[Cells, Floats, Floats, NDArray[np.int64]]:
    """Check the arguments of a fit and make its cells.

    Parameters
    ----------
    ages : array_like, shape (A,)
        As in `fit`, like the rest.
    failures, censored : array_like, shape (A,) or (S, A)
        Units of each row.
    lower, entry : array_like, shape (A,), or None
        Lower ends of the cells; ages of entry.

    Returns
    -------
    cells : Cells
        Of S segments; one where the counts were (A,).
    failures, censored : ndarray, shape (S, A)
        The counts as floats.
    distinct : ndarray of int, shape (S,)
        Distinct ages or cells that hold a failure.

    Raises
    ------
    InputError
        If an argument breaks a rule of `fit`.
    """
    age, failed, left = ages_of(ages, failures, censored)
    failed, left = np.atleast_2d(failed), np.atleast_2d(left)
    begin = _column("lower", lower, age)
    since = _column("entry", entry, age)
    _refuse_order(age, failed, left, begin, since)
    late = since if since is not None else np.zeros(age.size)
    # a failure somewhere in (lower, age] of a unit seen from entry on lies in
    # (max(lower, entry), age]
    floor = None if begin is None else np.maximum(begin, late)
    unit = float(age.max()) if age.max() > 0 else 1.0
    points = np.concatenate([age, late, [] if floor is None else floor])
    values = np.unique(points[points > 0])
    bounds = np.log(values / unit)
    place_age = _place(values, age)
    weight = np.zeros((failed.shape[0], values.size))
    stays = left if floor is not None else failed + left
    _add(weight, place_age, stays)
    _add(weight, _place(values, late), -(failed + left))
    if floor is None:
        return (
            _exact_cells(unit, bounds, weight, failed, place_age),
            failed,
            left,
            _distinct(failed, age, np.zeros(age.size)),
        )
    place_floor = _place(values, floor)
    _add(weight, place_floor, failed)
    rows, columns = np.nonzero(failed)
    cells = Cells(
        unit=unit,
        bounds=bounds,
        weight=weight,
        exact=np.zeros(failed.shape[0]),
        exact_log=np.zeros(failed.shape[0]),
        start=np.searchsorted(rows, np.arange(failed.shape[0] + 1)),
        count=failed[rows, columns],
        upper=place_age[columns],
        lower=place_floor[columns],
        owner=rows,
    )
    return cells, failed, left, _distinct(failed, age, floor)


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
    pairs = np.stack([age, floor], axis=1)
    _, group = np.unique(pairs, axis=0, return_inverse=True)
    hits = np.zeros((failed.shape[0], int(group.max()) + 1), dtype=bool)
    for column in range(age.size):
        hits[:, group[column]] |= failed[:, column] > 0
    return np.asarray(hits.sum(axis=1), dtype=np.int64)
