"""Units that came back again and again for one component."""

from __future__ import annotations

import pandas as pd

from claimlens.analysis.notes import joined
from claimlens.analysis.repair_events import mark_repairs
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings

__all__ = ["UNIT_COLUMNS", "repeat_units"]

UNIT_COLUMNS = (
    "serial",
    "model",
    "model_year",
    "component",
    "events",
    "claims",
    "first_failed_on",
    "last_failed_on",
    "cost",
    "currency",
    "note",
    "as_of",
)


def repeat_units(
    session: Session, settings: Settings, scope: Scope, *, least: int
) -> pd.DataFrame:
    """List the units that came back again and again for one component.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        How close claims are one event; report currency.
    scope : Scope
        Cut-off and filters in force.
    least : int
        Events of one component from which on a unit is listed, at least 2.

    Returns
    -------
    pandas.DataFrame
        ``UNIT_COLUMNS``, most events first; ``cost`` is NaN where it came in several
        currencies.

    Raises
    ------
    InputError
        If fewer than 2 events are asked for, or the question is for one supplier.
    """
    if least < 2:
        raise InputError(
            f"a unit came back when it had 2 events at least; got {least}",
            remedy="write 2 or more, as in --least 3",
        )
    if "supplier" in scope.wanted:
        raise InputError(
            "Units are not listed by supplier.",
            remedy="leave --supplier out; --model, --model-year, --component and "
            "--region work",
        )
    mark_repairs(session, settings, by_mode=False)
    rows = session.frame("marts/repeat_units", {"least_events": least})
    keys = ["serial", "component"]
    rows["has_cost"] = rows["cost"].fillna(0) > 0
    order = rows.groupby(keys, sort=False)
    paid = rows[rows["has_cost"]].groupby(keys)["currency"]
    table = order.agg(
        model=("model", "first"),
        model_year=("model_year", "first"),
        events=("n_events", "first"),
        claims=("n_claims", "sum"),
        first_failed_on=("first_failed_on", "first"),
        last_failed_on=("last_failed_on", "first"),
        cost=("cost", "sum"),
        without=("n_without_cost", "sum"),
    ).join(paid.agg(currency="first", currencies="nunique"))
    mixed = table["currencies"].fillna(0) > 1
    table["cost"] = table["cost"].where(~mixed & table["currencies"].notna())
    table["currency"] = table["currency"].where(~mixed).replace("", None)
    table["note"] = [
        joined(
            (
                "amounts in several currencies" if is_mixed else "",
                f"{n:.0f} claims without an amount" if n else "",
                *scope.notes,
            )
        )
        for is_mixed, n in zip(mixed, table["without"], strict=True)
    ]
    table["as_of"] = pd.Timestamp(scope.as_of)
    return table.reset_index()[list(UNIT_COLUMNS)]
