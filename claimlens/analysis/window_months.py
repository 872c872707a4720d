"""Failures by build month of the components that have a production window."""

from __future__ import annotations

import numpy as np
import pandas as pd

from claimlens.analysis.production import Production
from claimlens.stats.production_counts import counts_by_age

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
    parts = [
        _of_component(production, str(component), own)
        for component, own in windows.groupby("component", sort=False)
        if len(production.built)
    ]
    if not parts:
        return pd.DataFrame(columns=names)
    return pd.concat(parts, ignore_index=True)[names]


def _of_component(
    production: Production, component: str, windows: pd.DataFrame
) -> pd.DataFrame:
    standing = production.at(production.as_of)
    place = production.components.index(component)
    failures = standing.failures[place]
    exposure = standing.unit_months[place]
    # a failure of a unit that nothing weighs has no rate
    exposure = np.where((failures > 0) & (exposure <= 0), 1e-6, np.maximum(exposure, 0))
    counts, _ = counts_by_age(failures, exposure)
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
