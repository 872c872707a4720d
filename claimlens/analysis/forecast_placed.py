"""Claims put into the cells of units that they came from."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.forecast_cells import Cells, Places, age_bands
from claimlens.analysis.forecast_counts import Ahead

__all__ = ["placed_claims"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


def placed_claims(
    ahead: Ahead,
    places: Places,
    cells: Cells,
    *,
    components: tuple[str, ...],
    cover_of: Indices,
) -> tuple[Floats, Floats]:
    """Return the claims in each cell, and what stands for those in none.

    A claim whose unit has no day in service, or that names no unit, is in no cell:
    its component is taken to fail as its other claims say, only more often. Where
    most of them are such claims, they say nothing; then all are spread over the units
    that were under cover in the month of the failure.

    Parameters
    ----------
    ahead : Ahead
        Claims.
    places, cells : Places, Cells
        Of the past, without rows of units.
    components : tuple of str
        In alphabetical order, C of them.
    cover_of : ndarray of int, shape (C,)
        Cover class of each.

    Returns
    -------
    counts : ndarray, shape (C, n)
        Claims by cell.
    unplaced : ndarray, shape (C,)
        Factor on the claims in cells that makes them all, at least 1.
    """
    counts = _counts(ahead, places, cells, components)
    for number, component in enumerate(components):
        own = ahead.claims[ahead.claims["component"] == component]
        counts[number] += _spread(
            own, cells.month, counts[number], cells.exposure[cover_of[number]]
        )
    return counts, _unplaced(ahead, components, counts.sum(axis=1))


def _spread(
    claims: pd.DataFrame, month: Indices, counts: Floats, exposure: Floats
) -> Floats:
    """Return what cells get of one component's claims that are in none."""
    end = int(month.max(initial=0)) + 1
    inside = claims[claims["failed_month"].between(0, end - 1)]
    total = np.bincount(inside["failed_month"], inside["n_claims"], minlength=end)
    placed = np.bincount(month, counts, minlength=end)
    missing = np.maximum(total - placed, 0.0)
    if missing.sum() <= placed.sum():
        return np.zeros(month.size)
    watched = np.bincount(month, exposure, minlength=end)
    share = np.divide(missing, watched, out=np.zeros(end), where=watched > 0)
    return np.asarray(share[month] * exposure)


def _counts(
    ahead: Ahead, places: Places, cells: Cells, components: tuple[str, ...]
) -> Floats:
    """Return claims by component and cell."""
    claims = ahead.claims
    claims = claims[claims["service_month"] >= 0]
    age = (claims["failed_month"] - claims["service_month"]).clip(lower=0)
    model = pd.Index(places.models).get_indexer(claims["model"])
    shape = (
        int(cells.month.max(initial=0)) + 1,
        places.n_bands,
        len(places.models),
        places.n_cohorts,
    )
    inside = (model >= 0) & (claims["failed_month"].to_numpy() < shape[0])
    band = np.minimum(age_bands(age.to_numpy()), places.n_bands - 1)
    key = np.ravel_multi_index(
        (
            np.where(inside, claims["failed_month"], 0),
            band,
            np.where(inside, model, 0),
            claims["cohort"].to_numpy(),
        ),
        shape,
    )
    cell_key = np.ravel_multi_index(
        (cells.month, cells.band, cells.model, cells.cohort), shape
    )
    place = np.minimum(np.searchsorted(cell_key, key), cell_key.size - 1)
    found = inside & (cell_key[place] == key)
    component = pd.Index(components).get_indexer(claims["component"])
    counts = np.zeros((len(components), cell_key.size))
    np.add.at(
        counts, (component[found], place[found]), claims["n_claims"].to_numpy()[found]
    )
    return np.maximum(counts, 0.0)


def _unplaced(ahead: Ahead, components: tuple[str, ...], placed: Floats) -> Floats:
    """Return the factor for claims whose unit has no day in service."""
    totals = ahead.claims.groupby("component")["n_claims"].sum()
    total = totals.reindex(list(components)).fillna(0.0).to_numpy()
    missing = np.maximum(total - placed, 0.0)
    everywhere = missing.sum() / max(placed.sum(), 1.0)
    lent = 10.0  # claims; a component with few leans on all
    return np.asarray(1.0 + (missing + lent * everywhere) / (placed + lent))
