"""Failures by build month of the components that have a production window."""

from __future__ import annotations

import numpy as np
import pandas as pd

from claimlens.analysis.production import Production, Standing
from claimlens.stats.production_counts import counts_by_age
from claimlens.stats.unit_months import exposed_where_failed

__all__ = ["window_months"]


def window_months(production: Production, windows: pd.DataFrame) -> pd.DataFrame:
    """Set the failures of each build month against those of sound production.

    Parameters
    ----------
    production : Production
        By month of build.
    windows : DataFrame
        Rows of `claimlens.analysis.windows.windows` over all models.

    Returns
    -------
    pandas.DataFrame
        ``component, month, units, observed, expected, inside``: one row a component
        with a window and build month with units. ``expected`` is what the units of
        the month would have had by now at the rate of all build months outside the
        component's windows, at equal ages and model by model.
    """
    names = ["component", "month", "units", "observed", "expected", "inside"]
    if windows.empty or not len(production.built):
        return pd.DataFrame(columns=names)
    standing = production.at(production.as_of)
    parts = [
        _of_component(production, standing, str(component), own)
        for component, own in windows.groupby("component", sort=False)
    ]
    return pd.concat(parts, ignore_index=True)[names]


def _of_component(
    production: Production, standing: Standing, component: str, windows: pd.DataFrame
) -> pd.DataFrame:
    place = production.components.index(component)
    failures = standing.failures[place]
    exposure = standing.unit_months[place]
    counts, _ = counts_by_age(failures, exposed_where_failed(exposure, failures))
    inside = np.zeros(len(production.built), dtype=bool)
    for first, stop in zip(windows["from_date"], windows["to_date"], strict=True):
        inside |= (production.built >= first) & (production.built < stop)
    sound = counts.only(~inside)
    passed = sound.exposure.sum(axis=1)
    hazard = np.divide(
        sound.at_stake, passed, out=np.zeros(passed.shape), where=passed > 0
    )
    frame = pd.DataFrame(
        {
            "component": component,
            "month": production.built,
            "units": production.n_units.sum(axis=0),
            "observed": counts.observed,
            "expected": hazard @ counts.exposure,
            "inside": inside,
        }
    )
    return frame[frame["units"] >= 0.5]
