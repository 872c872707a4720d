"""Failures to expect in the first year of three build months."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.rising.counts import Views
from claimlens.stats.rising.faults import expected_at

__all__ = ["first_year_expected"]

Floats = NDArray[np.float64]

_BUILD_MONTHS = 3
_YEAR = 12
# build months whose units are still on their way to their owners
_ON_THE_WAY = 6


def first_year_expected(views: Views, cutoff: int) -> Floats:
    """Return the failures that three build months bring in their first year.

    Parameters
    ----------
    views : Views
        Failures and units.
    cutoff : int
        Calendar month with older production to set the level.

    Returns
    -------
    ndarray, shape (R,)
        In the order of the rows of `Month`: components over all models, then
        component by model. Three months of the year of production before the last
        half-year are taken, at the level of older production.
    """
    view, expectation = expected_at(views, cutoff)
    now = cutoff - views.first_build
    stop = max(now + 1 - _ON_THE_WAY, 1)
    built = view.units[:, max(stop - _YEAR, 0) : stop].mean(axis=1) * _BUILD_MONTHS
    ages = expectation.rates.mean(axis=1)[:, :_YEAR].sum(axis=1)
    cells = ages[:, None] * expectation.cell_ratio * built[None, :]
    single = cells.ravel() if views.n_models > 1 else np.zeros(0)
    return np.concatenate((cells.sum(axis=1), single))
