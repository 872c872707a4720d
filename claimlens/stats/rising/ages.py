"""At which ages the excess of a run lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.checks import refuse
from claimlens.stats.rising.counts import Views
from claimlens.stats.rising.faults import expected_at
from claimlens.stats.rising.month import Month
from claimlens.stats.rising.scan import log_likelihood_ratio

__all__ = ["AgeBand", "excess_ages"]

Floats = NDArray[np.float64]

# so little is expected of no stretch that one failure alone would speak for it
_LEAST = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeBand:
    """Failures of a run by age, and where they exceed what was expected.

    Parameters
    ----------
    observed, expected : ndarray, shape (A,)
        By age month; expected with the chance of being reported by now.
    first_age, last_age : int
        The stretch of age months whose excess is least like chance; -1 where there
        is none.
    """

    observed: Floats
    expected: Floats
    first_age: int
    last_age: int


def excess_ages(views: Views, month: Month, row: int) -> AgeBand:
    """Tell the ages at which a row's run has failed more than expected.

    Parameters
    ----------
    views : Views
        What the month-end was judged from.
    month : Month
        The month-end.
    row : int
        Row with a run.

    Returns
    -------
    AgeBand

    Raises
    ------
    InputError
        If the row does not exist or has no run.
    """
    if not 0 <= row < month.first.size or month.first[row] < 0:
        raise refuse("row must be one that has a run of build months", row)
    first, last = int(month.first[row]), int(month.last[row])
    component, model = _row_of(views, row)
    observed = views.failed_at_ages(month.cutoff, component, model, first, last)
    view, expectation = expected_at(views, month.cutoff)
    run = slice(first - views.first_build, last - views.first_build + 1)
    models = slice(None) if model is None else slice(model, model + 1)
    # each model and build month spreads what is expected of it over its ages
    weight = np.einsum(
        "mbqa,qa->mba", view.exposed[models, run], expectation.rates[component]
    )
    total = np.maximum(weight.sum(axis=2, keepdims=True), 1e-300)
    level = expectation.expected[component, models, run]
    expected = (weight / total * level[:, :, None]).sum(axis=(0, 1))
    first_age, last_age = _richest(observed, expected)
    return AgeBand(
        observed=observed, expected=expected, first_age=first_age, last_age=last_age
    )


def _row_of(views: Views, row: int) -> tuple[int, int | None]:
    """Return component and model of a row; None for all models."""
    if row < views.n_components:
        return row, None
    component, model = divmod(row - views.n_components, views.n_models)
    return component, model


def _richest(observed: Floats, expected: Floats) -> tuple[int, int]:
    """Return the ends of the stretch of ages whose excess is least like chance."""
    start, end = np.triu_indices(observed.size + 1, k=1)
    seen, likely = (
        np.concatenate(([0.0], np.cumsum(values))) for values in (observed, expected)
    )
    ratio = log_likelihood_ratio(
        seen[end] - seen[start], np.maximum(likely[end] - likely[start], _LEAST)
    )
    top = int(ratio.argmax())
    if ratio[top] <= 0:
        return -1, -1
    return int(start[top]), int(end[top]) - 1
