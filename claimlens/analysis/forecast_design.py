"""What the rate of a component is made of: its age, model, build dates and season."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.forecast_cells import Cells, Places
from claimlens.analysis.forecast_counts import Ahead
from claimlens.analysis.months import MONTHS_A_YEAR
from claimlens.stats.intensity import Design, Effect

__all__ = ["design_of"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_QUARTER = 3
# where the search for each variance starts
_START = 0.02


def design_of(
    ahead: Ahead,
    places: Places,
    cells: Cells,
    component: str | None,
    *,
    months: tuple[int, int],
) -> Design:
    """Return the effects on the rate of one component over some cells.

    Parameters
    ----------
    ahead, places, cells : Ahead, Places, Cells
        What is known, what it is told apart by, and the cells.
    component : str or None
        Whose engineering changes have an effect of their own.
    months : tuple of int
        Numbers of the first and the last month that rates are fitted to: the drift of
        other months is that of the nearest.

    Returns
    -------
    Design
        The same effects in the same order for every component.
    """
    first, last = months
    built = pd.DatetimeIndex(ahead.cohorts["from_date"])
    year = (built.year - built.year.min()).to_numpy()[cells.cohort]
    n_years = int(built.year.max() - built.year.min()) + 1
    quarter = np.clip((cells.month - first) // _QUARTER, 0, (last - first) // _QUARTER)

    def effect(name: str, level: Indices, n_levels: int, walk: bool = False) -> Effect:
        return Effect(
            name=name,
            level=np.asarray(level, dtype=np.intp),
            n_levels=n_levels,
            kind="walk" if walk else "apart",
            variance=_START,
        )

    return Design(
        effects=(
            effect("age", cells.band, places.n_bands),
            effect("model", cells.model, len(places.models)),
            effect("build dates", cells.cohort, places.n_cohorts),
            effect("build trend", cells.cohort, places.n_cohorts, walk=True),
            effect(
                "model and build year",
                cells.model * n_years + year,
                len(places.models) * n_years,
            ),
            effect("season", cells.month % MONTHS_A_YEAR, MONTHS_A_YEAR),
            effect("drift", quarter, int((last - first) // _QUARTER) + 1, walk=True),
        ),
        covariates=_covariates(ahead, places, cells, component),
    )


def _covariates(
    ahead: Ahead, places: Places, cells: Cells, component: str | None
) -> Floats:
    """Return ones, the logarithm of age, and a column for each change."""
    columns = [np.ones(cells.month.size), np.log((cells.age + 0.5) / MONTHS_A_YEAR)]
    built = pd.DatetimeIndex(ahead.cohorts["from_date"])
    own = ahead.changes[ahead.changes["component"] == component]
    for row in own.itertuples():
        after = (built >= row.starts_on)[cells.cohort]
        if row.change_no in ahead.undone:
            after = after & (cells.month <= ahead.now)
        if isinstance(row.model, str):
            of_model = np.array([name == row.model for name in places.models])
            after = after & of_model[cells.model]
        columns.append(after.astype(np.float64))
    return np.column_stack(columns)
