"""Scenarios side by side."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from claimlens.analysis.cost_claims import amounts
from claimlens.analysis.forecast import Counts, bands
from claimlens.analysis.forecast_cost import Prices
from claimlens.analysis.notes import joined
from claimlens.analysis.scope import Scope

__all__ = ["SCENARIO_COLUMNS", "scenario_table"]

SCENARIO_COLUMNS = (
    "scenario", "months", "claims", "lower80", "upper80", "lower95", "upper95",
    "more_claims", "more_lower95", "more_upper95", "cost", "more_cost", "currency",
    "note", "as_of",
)  # fmt: skip


def scenario_table(
    found: Mapping[str, Counts], scope: Scope, prices: Prices
) -> pd.DataFrame:
    """Return all months together of each scenario, and how far it is from the first.

    Parameters
    ----------
    found : mapping of str to Counts
        Name to claims; the first is what all are set against.
    scope : Scope
        Cut-off, and what to tell with every number.
    prices : Prices
        What the claims cost.

    Returns
    -------
    pandas.DataFrame
        A row for each scenario, of ``SCENARIO_COLUMNS``. The draws of two scenarios
        share rates and shocks, so limits of the difference are narrower than those of
        either.
    """
    base = next(iter(found.values()))
    rows = []
    for name, one in found.items():
        drawn = one.drawn.sum(axis=0)
        more = (drawn - base.drawn.sum(axis=0)).astype(float)
        lower, upper = pd.Series(more).quantile([0.025, 0.975])
        rows.append(
            {
                "scenario": name,
                "months": one.mean.size,
                "claims": float(one.mean.sum()),
                **{limit: float(value) for limit, value in bands(drawn).items()},
                "more_claims": float(one.mean.sum() - base.mean.sum()),
                "more_lower95": 0.0 if one is base else float(lower),
                "more_upper95": 0.0 if one is base else float(upper),
                "cost": 100.0 * float(one.cost.sum()),
                "more_cost": 100.0 * float(one.cost.sum() - base.cost.sum()),
                "currency": prices.currency,
                "note": joined([prices.note, *scope.notes]),
                "as_of": pd.Timestamp(scope.as_of),
            }
        )
    table = pd.DataFrame(rows)
    for name in ("cost", "more_cost"):
        table[name] = amounts(table[name])
    return table[list(SCENARIO_COLUMNS)]
