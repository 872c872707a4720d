"""Claims to come as a table: means, limits and what a reader must know."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from claimlens.analysis.cost_claims import amounts
from claimlens.analysis.forecast import FORECAST_COLUMNS, Counts, Forecast, bands
from claimlens.analysis.forecast_assumed import assumed
from claimlens.analysis.forecast_cost import Prices
from claimlens.analysis.notes import joined
from claimlens.analysis.scope import Scope

__all__ = ["forecast_table"]


def forecast_table(
    found: Forecast, scope: Scope, *, total: bool, prices: Prices
) -> pd.DataFrame:
    """Return the claims to come by segment and month, or over all months.

    Parameters
    ----------
    found : Forecast
        The segments.
    scope : Scope
        Cut-off, and what to tell with every number.
    prices : Prices
        What their claims cost.
    total : bool
        One row a segment for all months together, whose limits are those of the
        added draws.

    Returns
    -------
    pandas.DataFrame
        The keys asked for and ``FORECAST_COLUMNS``; ``month`` is the first day of
        the month, and empty for all months together.
    """
    months = found.months
    note = joined([*_assumed(found), prices.note, *scope.notes])
    rows: list[dict[str, object]] = []
    for one in found.segments():
        if total:
            drawn = one.drawn.sum(axis=0, keepdims=True)
            rows += _rows(
                replace(
                    one,
                    mean=one.mean.sum(keepdims=True),
                    drawn=drawn,
                    cost=one.cost.sum(keepdims=True),
                ),
                [pd.NaT],
            )
        else:
            rows += _rows(one, list(months))
    table = pd.DataFrame(rows)
    table["cost"] = amounts(100.0 * table["cost"])
    table["currency"] = prices.currency
    table["note"] = note
    table["as_of"] = pd.Timestamp(scope.as_of)
    table["month"] = pd.to_datetime(table["month"])
    table = table[[*found.by, *FORECAST_COLUMNS]]
    return table.sort_values([*found.by, "month"], kind="stable", ignore_index=True)


def _rows(one: Counts, months: list[pd.Timestamp]) -> list[dict[str, object]]:
    limits = bands(one.drawn)
    return [
        one.keys
        | {"month": month, "claims": float(one.mean[u]), "cost": float(one.cost[u])}
        | {name: float(limit[u]) for name, limit in limits.items()}
        for u, month in enumerate(months)
    ]


def _assumed(found: Forecast) -> list[str]:
    """Say what the numbers take for granted."""
    ahead, taken = found.found.ahead, assumed(found.found)
    told = [
        f"{taken.under_cover:,.0f} units under cover, {taken.to_enter:,.0f} "
        f"{'planned or ' if taken.planned else ''}shipped and not yet in service; "
        + (
            f"{taken.planned:,} planned sales are in it"
            if taken.planned
            else "later sales are not in it"
        ),
        f"of a month's failures {taken.reported[0]:.0%} are reported in it",
        f"{taken.draws:,} draws with seed {taken.seed}",
    ]
    if found.scenario.coverage is not None:
        told.append(
            f"every cover is taken as {found.scenario.coverage} months from the "
            "cut-off on, also that of units whose own has ended"
        )
    if ahead.undone:
        told.append(f"as if {', '.join(ahead.undone)} had not been made")
    if ahead.part_gone < 1.0:
        told.append("the first month is the rest of the month of the cut-off")
    return told
