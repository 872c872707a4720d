"""Units under cover as cells of exposure: by age, model, build dates and month."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.forecast_counts import Ahead
from claimlens.stats.unit_months import DAYS_PER_MONTH

__all__ = ["Cells", "Places", "age_bands", "exposed_cells", "past_and_to_come"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

# first month of each band of age; a rate may differ from band to band, and within
# the later ones only as the power of age that the component follows
_BANDS = np.array([0, 1, 2, 3, 5, 7, 10, 13, 16, 19, 22, 25, 31, 37, 49, 61, 85])


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """What the cells of a fleet are told apart by.

    Parameters
    ----------
    models : tuple of str
        In alphabetical order.
    n_cohorts, n_bands : int
        Groups of build dates, and bands of age.
    covers : tuple of str
        Cover classes.
    rows : DataFrame
        One row for each combination of the keys of units asked for.
    """

    models: tuple[str, ...]
    n_cohorts: int
    n_bands: int
    covers: tuple[str, ...]
    rows: pd.DataFrame

    def cover_of(self, component: str, own: Set[str]) -> int:
        """Return the place of a component's cover among all.

        Parameters
        ----------
        component : str
            Its name.
        own : set of str
            Components with a cover of their own.
        """
        name = component if component in own else ""
        return self.covers.index(name) if name in self.covers else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cells:
    """Cells of exposure; arrays of shape (n,) but the first.

    Parameters
    ----------
    exposure : ndarray, shape (V, n)
        Unit-months under cover by cover class.
    row, age, band, model, cohort, month : ndarray of int
        Row of units, months since the first one in service, band of age, model,
        group of build dates and month.
    """

    exposure: Floats
    row: Indices
    age: Floats
    band: Indices
    model: Indices
    cohort: Indices
    month: Indices

    def chosen(self, use: NDArray[np.bool_]) -> Cells:
        """Return some of the cells, by a mask of shape (n,)."""
        return Cells(
            exposure=self.exposure[:, use],
            **{name: getattr(self, name)[use] for name in _PLACES},
        )


_PLACES = ("row", "age", "band", "model", "cohort", "month")


def age_bands(months: NDArray[np.integer]) -> Indices:
    """Return the band of each age in months."""
    return np.asarray(np.searchsorted(_BANDS, np.maximum(months, 0), side="right") - 1)


def past_and_to_come(
    ahead: Ahead, places: Places, months: range, *, by_row: bool
) -> Cells:
    """Return the cells of months before and after the cut-off.

    Parameters
    ----------
    ahead, places, months, by_row
        As for `exposed_cells`.

    Returns
    -------
    Cells
        Units of the months to come are those of ``ahead.units_to_come``, fewer from
        month to month by those that retire.
    """
    past = range(months.start, min(ahead.now + 1, months.stop))
    later = range(past.stop, months.stop)
    distance = ahead.distance
    one = exposed_cells(ahead.units, places, past, by_row=by_row, distance=distance)
    other = exposed_cells(
        ahead.units_to_come, places, later, by_row=by_row, distance=distance
    )
    left = np.exp(-ahead.retired * (other.month - ahead.now))
    return Cells(
        exposure=np.concatenate([one.exposure, other.exposure * left], axis=1),
        **{
            name: np.concatenate([getattr(one, name), getattr(other, name)])
            for name in _PLACES
        },
    )


def exposed_cells(
    fleet: pd.DataFrame,
    places: Places,
    months: range,
    *,
    by_row: bool,
    distance: Floats,
) -> Cells:
    """Return the cells that hold units in some months.

    Parameters
    ----------
    fleet : DataFrame
        Units with the places of rows, models and cover classes: columns ``r``, ``m``
        and ``v``.
    places : Places
        What is told apart.
    months : range
        Numbers of the months.
    by_row : bool
        Whether rows of units are told apart too.
    distance : ndarray, shape (D, A)
        Share of units within their distance limit by class and day of age.

    Returns
    -------
    Cells
        In the order of month, row, band, model and cohort.
    """
    units = {
        name: fleet[name].to_numpy()
        for name in (
            "r", "m", "v", "cohort", "service_month", "first_month", "last_month",
            "distance", "n_units", "first_part", "last_part",
        )
    }  # fmt: skip
    shape = (
        len(places.rows) if by_row else 1,
        places.n_bands,
        len(places.models),
        places.n_cohorts,
    )
    n_covers = len(places.covers)
    found: list[tuple[Indices, Floats, Floats, Indices]] = []
    for month in months:
        here = np.flatnonzero(
            (units["first_month"] <= month) & (month <= units["last_month"])
        )
        one = {name: values[here] for name, values in units.items()}
        age = month - one["service_month"]
        part = np.where(
            one["first_month"] == month,
            one["first_part"],
            np.where(one["last_month"] == month, one["last_part"], one["n_units"]),
        )
        day = np.minimum(age * DAYS_PER_MONTH, distance.shape[1] - 1)
        part = part * distance[one["distance"], day.astype(np.intp)]
        row = one["r"] if by_row else np.zeros(here.size, dtype=np.intp)
        key = np.ravel_multi_index(
            (row, age_bands(age), one["m"], one["cohort"]), shape
        )
        cells, place = np.unique(key, return_inverse=True)
        total = np.bincount(
            one["v"] * cells.size + place, part, minlength=n_covers * cells.size
        )
        weight = np.maximum(np.abs(part), 1e-300)
        ages = np.bincount(place, age * weight) / np.bincount(place, weight)
        found.append(
            (
                cells,
                total.astype(np.float64).reshape(n_covers, -1),
                ages,
                np.full(cells.size, month, dtype=np.intp),
            )
        )
    cells = np.concatenate([one for one, _, _, _ in found])
    row, band, model, cohort = np.unravel_index(cells, shape)
    return Cells(
        exposure=np.maximum(np.concatenate([one for _, one, _, _ in found], axis=1), 0),
        row=row,
        age=np.concatenate([one for _, _, one, _ in found]),
        band=band,
        model=model,
        cohort=cohort,
        month=np.concatenate([one for _, _, _, one in found]),
    )
