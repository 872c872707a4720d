"""What one component cost so far, and what is still to come."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from claimlens.analysis.money import in_report_currency
from claimlens.analysis.outstanding import outstanding
from claimlens.analysis.reserve import RESERVE_COLUMNS, reserve_table
from claimlens.analysis.scope import Scope
from claimlens.analysis.severity import SEVERITY_COLUMNS, severity
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings

__all__ = ["Paid", "paid_so_far", "still_to_pay"]

_PARTS = ["claims", "cost", "cost_parts", "cost_labour", "cost_freight"]


@dataclass(frozen=True, kw_only=True)
class Paid:
    """What claims cost so far.

    Parameters
    ----------
    by_month : DataFrame
        ``month, claims, cost, currency``: in the report currency where there is one.
    parts : DataFrame
        ``currency, claims, cost, cost_parts, cost_labour, cost_freight``: as it was
        paid, in each currency.
    per_claim : DataFrame
        Columns of ``severity``, by component.
    why_not : str
        Why no cost is told, as a sentence; else empty.
    """

    by_month: pd.DataFrame
    parts: pd.DataFrame
    per_claim: pd.DataFrame
    why_not: str


def paid_so_far(
    session: Session,
    settings: Settings,
    scope: Scope,
    costs: pd.DataFrame,
    component: str,
) -> Paid:
    """Add up what the claims of a component cost.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare`` for the component.
    settings : Settings
        Report currency and rates.
    scope : Scope
        Cut-off in force; its filter is the component.
    costs : DataFrame
        Rows of ``component_costs`` of the component.
    component : str
        Its name.

    Returns
    -------
    Paid

    Raises
    ------
    InputError
        If the table of rates lacks one that a cost needs.
    """
    known = in_report_currency(costs[costs["currency"] != ""], settings.currency)
    by_month = known.groupby(["month", "currency"], as_index=False)[
        ["n_claims", "cost"]
    ].sum()
    parts = session.frame("marts/component_cost_parts", {"component": component})
    parts = parts[parts["currency"] != ""].rename(columns={"n_claims": "claims"})
    try:
        per_claim, why_not = (
            severity(session, settings, scope, by=("component",)),
            "",
        )
    except InputError as error:
        per_claim = pd.DataFrame(columns=["component", *SEVERITY_COLUMNS])
        why_not = error.problem
    return Paid(
        by_month=by_month.rename(columns={"n_claims": "claims"}),
        parts=parts[["currency", *_PARTS]].reset_index(drop=True),
        per_claim=per_claim,
        why_not=why_not,
    )


def still_to_pay(
    session: Session, settings: Settings, scope: Scope
) -> tuple[pd.DataFrame, str]:
    """Return what units in the field still cost under cover, or why it is not told.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``; those of units are made anew.
    settings : Settings
        Cover, currency, seed.
    scope : Scope
        Cut-off and filters in force.
    """
    try:
        found = outstanding(session, settings, scope, by=())
    except InputError as error:
        return pd.DataFrame(columns=list(RESERVE_COLUMNS)), error.problem
    return reserve_table(found, settings, scope), ""
