"""One table of failures and one of units, seen from any month-end.

Months are whole numbers on one calendar line, and each ends on the day of the
month of the cut-off. From the same two tables every earlier month-end can be told,
because a failure carries the month in which it was reported, and a unit the month
in which it came into service.

A unit that came into service in month ``s`` passes its age month ``a`` half in
calendar month ``s + a`` and half in the next one (months of service are spread
evenly over a calendar month). A failure in calendar month ``f`` is in the data at
the end of month ``T`` with the chance ``G(T - f)`` [1]_; the exposure carries that
weight, so the failures stay whole numbers.

References
----------
.. [1] Kalbfleisch, Lawless, Robinson (1991), Technometrics 33, 273-285.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import counts_of, finite_of, refuse

__all__ = ["SEASON", "FailureTable", "UnitTable", "View", "Views"]

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

#: Calendar months of a year, the classes of the season.
SEASON = 12
# a month of which so little has been reported tells next to nothing: it is left out
# of what is seen and of what is expected
_LEAST_REPORTED = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class FailureTable:
    """First failures of a unit and component, counted; arrays of shape (N,).

    Parameters
    ----------
    component, model : ndarray of int
        From 0.
    build_month : ndarray of int
        Calendar month in which the units were built.
    age_month : ndarray of int
        Whole months in service at the failure, from 0.
    failed_month : ndarray of int
        Calendar month of the failure.
    reported_month : ndarray of int
        Calendar month of the report; not before the failure.
    n : ndarray of float
        Failures.
    """

    component: Indices
    model: Indices
    build_month: Indices
    age_month: Indices
    failed_month: Indices
    reported_month: Indices
    n: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitTable:
    """Units by how long they can be watched; arrays of shape (N,).

    Parameters
    ----------
    model : ndarray of int
        From 0.
    build_month : ndarray of int
        Calendar month in which they were built.
    service_month : ndarray of int
        Calendar month in which they came into service.
    months_watched : ndarray of int
        Whole months in service after which cover or the unit ends; age months 0
        to ``months_watched - 1`` count, as far as the cut-off lets them.
    n : ndarray of float
        Units; below 0 for a stretch of early life that was not watched and is to
        be taken away.
    """

    model: Indices
    build_month: Indices
    service_month: Indices
    months_watched: Indices
    n: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """What is known at the end of one month.

    Parameters
    ----------
    cutoff : int
        The month.
    exposed : ndarray, shape (M, B, 12, A)
        Unit-months by model, build month, calendar month (rest of division by
        12) and age month, each weighted by the chance that its failures have been
        reported.
    passed : ndarray, shape (M, B, 12, A)
        The same without that weight: as if all had been reported at once.
    units : ndarray, shape (M, B)
        Units in service.
    failed : ndarray, shape (C, M, B)
        Failures reported.
    by_age : ndarray, shape (C, B, A)
        The same by age month, all models.
    by_season : ndarray, shape (C, B, 12)
        The same by calendar month of the failure, all models.
    """

    cutoff: int
    exposed: Floats
    passed: Floats
    units: Floats
    failed: Floats
    by_age: Floats
    by_season: Floats


class Views:
    """The two tables, ready to be looked at from any month-end.

    Parameters
    ----------
    failures : FailureTable
        Failures by month of report.
    units : UnitTable
        Units by month of service.
    reported : array_like, shape (J,)
        G(j): share of the failures of a calendar month reported by the end of the
        j-th month after it, from j = 0; later months count as the last.
    n_components, n_models : int
        C and M.

    Raises
    ------
    InputError
        If shapes disagree, an index lies outside its range, a report comes before
        its failure, or shares fall or leave 0 to 1.
    """

    def __init__(
        self,
        failures: FailureTable,
        units: UnitTable,
        reported: ArrayLike,
        *,
        n_components: int,
        n_models: int,
    ) -> None:
        self._failures = _checked_failures(failures, n_components, n_models)
        self._units = _checked_units(units, n_models)
        self._reported = _checked_shares(reported)
        self.n_components, self.n_models = n_components, n_models
        builds = np.concatenate((self._units.build_month, self._failures.build_month))
        self.first_build = int(builds.min()) if builds.size else 0
        self.n_builds = int(builds.max()) - self.first_build + 1 if builds.size else 0
        ages = (self._units.months_watched.max(initial=0), 1 + self._oldest_failure())
        self.n_ages = int(max(1, *ages))
        self._rows, self._watched = self._watched_by_age()

    def _oldest_failure(self) -> int:
        return int(self._failures.age_month.max(initial=0))

    def _watched_by_age(self) -> tuple[Indices, Floats]:
        """Return (model x build, service month) of each row, and its units by age.

        Rows stand in the order of model, build month and class of season, so that
        a view only has to add up neighbours.
        """
        table = self._units
        cell = table.model * self.n_builds + table.build_month - self.first_build
        keys = np.stack((cell, table.service_month % SEASON, table.service_month))
        distinct, row = np.unique(keys, axis=1, return_inverse=True)
        leaving = np.zeros((distinct.shape[1], self.n_ages + 1))
        watched = np.clip(table.months_watched, 0, self.n_ages)
        np.add.at(leaving, (row.reshape(-1), watched), table.n)
        staying = np.cumsum(leaving[:, ::-1], axis=1)[:, ::-1]
        return distinct, staying[:, 1:]

    def at(self, cutoff: int) -> View:
        """Return what is known at the end of a month.

        Parameters
        ----------
        cutoff : int
            Calendar month.

        Returns
        -------
        View
            Nothing reported later, and no unit put into service later, is in it.
        """
        shape = (self.n_models, self.n_builds)
        cell, season, service = self._rows
        known = service <= cutoff
        units = np.zeros(self.n_models * self.n_builds)
        # those whose early life was not watched are in service all the same
        np.add.at(units, cell[known], self._watched[known].max(axis=1))
        failed, by_age, by_season = self._failed(cutoff)
        group = cell * SEASON + season
        lag = cutoff - service[:, None] - np.arange(self.n_ages)
        share = self._share(lag), self._share(lag - 1)
        return View(
            cutoff=cutoff,
            exposed=self._exposed(group, *share),
            passed=self._exposed(
                group, *(np.where(one > 0, 1.0, 0.0) for one in share)
            ),
            units=units.reshape(shape),
            failed=failed,
            by_age=by_age,
            by_season=by_season,
        )

    def _exposed(self, group: Indices, *halves: Floats) -> Floats:
        """Return unit-months by model, build month, calendar month and age month.

        Each half of an age month comes with its weights, one calendar month later
        than the one before.
        """
        size = self.n_models * self.n_builds
        result = np.zeros((size, SEASON, self.n_ages))
        age = np.arange(self.n_ages)
        first = np.flatnonzero(np.diff(group, prepend=-1))
        calendar = np.arange(SEASON)[:, None]
        for later, weight in enumerate(halves if group.size else ()):
            added = np.zeros((size * SEASON, self.n_ages))
            added[group[first]] = np.add.reduceat(
                self._watched * (0.5 * weight), first, axis=0
            )
            by_service = added.reshape(size, SEASON, self.n_ages)
            # calendar month q at age a belongs to those in service since q - a
            result += by_service[:, (calendar - age - later) % SEASON, age]
        return result.reshape(self.n_models, self.n_builds, SEASON, self.n_ages)

    def _share(self, lag: Indices) -> Floats:
        """Return the share reported after a lag in months; 0 where next to none."""
        share = self._reported[np.clip(lag, 0, self._reported.size - 1)]
        return np.where((lag < 0) | (share < _LEAST_REPORTED), 0.0, share)

    def _failed(self, cutoff: int) -> tuple[Floats, Floats, Floats]:
        """Return failures by model, by age and by calendar month."""
        table = self._failures
        counted = table.reported_month <= cutoff
        counted &= self._share(cutoff - table.failed_month) > 0
        n = table.n[counted]
        component = table.component[counted]
        build = table.build_month[counted] - self.first_build
        c, b = self.n_components, self.n_builds

        def added(*by: tuple[Indices, int]) -> Floats:
            index, shape = np.zeros_like(component), []
            for values, length in by:
                index = index * length + values
                shape.append(length)
            total = np.zeros(int(np.prod(shape)))
            total += np.bincount(index, weights=n, minlength=total.size)
            return total.reshape(shape)

        season = table.failed_month[counted] % SEASON
        return (
            added((component, c), (table.model[counted], self.n_models), (build, b)),
            added((component, c), (build, b), (table.age_month[counted], self.n_ages)),
            added((component, c), (build, b), (season, SEASON)),
        )

    def failed_at_ages(
        self, cutoff: int, component: int, model: int | None, first: int, last: int
    ) -> Floats:
        """Return failures known at a month-end by age month, shape (A,).

        Parameters
        ----------
        cutoff : int
            Calendar month.
        component : int
            Of this component.
        model : int or None
            Of this model, or of all.
        first, last : int
            Built from month to month.

        Returns
        -------
        ndarray, shape (A,)
        """
        table = self._failures
        counted = (table.reported_month <= cutoff) & (table.component == component)
        counted &= (table.build_month >= first) & (table.build_month <= last)
        counted &= self._share(cutoff - table.failed_month) > 0
        if model is not None:
            counted &= table.model == model
        total = np.zeros(self.n_ages)
        np.add.at(total, table.age_month[counted], table.n[counted])
        return total


def _whole(name: str, values: ArrayLike) -> Indices:
    """Return whole numbers."""
    array = finite_of(name, values)
    if array.ndim != 1 or (array != np.round(array)).any():
        raise refuse(f"{name} must be a row of whole numbers", repr(values)[:80])
    return array.astype(np.int64)


def _checked_failures(
    table: FailureTable, n_components: int, n_models: int
) -> FailureTable:
    names = [field.name for field in fields(table) if field.name != "n"]
    columns = {name: _whole(name, getattr(table, name)) for name in names}
    n = counts_of("n", table.n)
    _same_length("failures", n, columns)
    _within("component", columns["component"], n_components)
    _within("model", columns["model"], n_models)
    if (columns["age_month"] < 0).any():
        raise refuse("age_month must not be negative", columns["age_month"].min())
    early = columns["reported_month"] < columns["failed_month"]
    if early.any():
        raise refuse(
            "no report may come before its failure",
            f"failed in month {columns['failed_month'][early][0]}, reported in "
            f"{columns['reported_month'][early][0]}",
        )
    return FailureTable(n=n, **columns)


def _checked_units(table: UnitTable, n_models: int) -> UnitTable:
    names = [field.name for field in fields(table) if field.name != "n"]
    columns = {name: _whole(name, getattr(table, name)) for name in names}
    n = finite_of("n", table.n)
    _same_length("units", n, columns)
    _within("model", columns["model"], n_models)
    return UnitTable(n=n, **columns)


def _same_length(what: str, n: Floats, columns: dict[str, Indices]) -> None:
    for name, values in columns.items():
        if values.shape != n.shape:
            raise refuse(
                f"the columns of {what} must have one length",
                f"{values.size} in {name} and {n.size} in n",
            )


def _within(name: str, values: Indices, length: int) -> None:
    if values.size and (values.min() < 0 or values.max() >= length):
        raise refuse(
            f"{name} must lie between 0 and {length - 1}",
            f"{values.min()} to {values.max()}",
        )


def _checked_shares(reported: ArrayLike) -> Floats:
    share = counts_of("reported", reported)
    if share.ndim != 1 or not share.size or share[-1] <= 0 or share.max() > 1 + 1e-9:
        raise refuse(
            "reported must be a row of shares from 0 to 1, the last above 0",
            f"shape {share.shape}",
        )
    if (np.diff(share) < -1e-9).any():
        raise refuse("reported must not fall", share)
    return share
