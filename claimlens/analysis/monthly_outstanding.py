"""What the monthly report says of money and parts that are still to come."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pandas as pd

from claimlens.analysis.monthly_to_come import Past, to_come_inputs
from claimlens.analysis.outstanding import outstanding
from claimlens.analysis.outstanding_sums import Key, Outstanding, Sum
from claimlens.analysis.reserve import assumptions, reserve_table
from claimlens.analysis.scope import Scope
from claimlens.analysis.spares import spares
from claimlens.analysis.spares_table import spares_table
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.monthly_inputs import (
    RESERVE_COLUMNS,
    SPARES_COLUMNS,
    Reserve,
    SpareParts,
    ToCome,
)
from claimlens.settings import Settings

__all__ = ["MonthAhead", "month_ahead", "reserve_inputs", "spares_inputs"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthAhead:
    """What is to come: claims, money and parts.

    Parameters
    ----------
    to_come : ToCome
        Claims, and how earlier forecasts of them did.
    reserve : Reserve
        Money.
    spares : SpareParts
        Parts.
    """

    to_come: ToCome
    reserve: Reserve
    spares: SpareParts


def month_ahead(
    session: Session, settings: Settings, scope: Scope, past: Past
) -> MonthAhead:
    """Gather what is to come.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``; those of units are made anew.
    settings : Settings
        The workspace's.
    scope : Scope
        Cut-off in force.
    past : Past
        Earlier forecasts.
    """
    return MonthAhead(
        to_come=to_come_inputs(session, settings, scope, past),
        reserve=reserve_inputs(session, settings, scope),
        spares=spares_inputs(session, settings, scope),
    )


def reserve_inputs(session: Session, settings: Settings, scope: Scope) -> Reserve:
    """Gather the reserve by model year, and of all of them together.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``; those of units are made anew.
    settings : Settings
        Cover, currency, seed.
    scope : Scope
        Cut-off in force.

    Returns
    -------
    Reserve
        Frames and words, the same for the same warehouse and settings.
    """
    try:
        found = outstanding(session, settings, scope, by=("model_year",))
    except InputError as error:
        empty = {
            name: pd.DataFrame(columns=list(columns))
            for name, columns in RESERVE_COLUMNS.items()
        }
        return Reserve(not_told=error.problem, taken_for_granted=(), **empty)
    return Reserve(
        not_told="",
        taken_for_granted=tuple(assumptions(found)),
        reserve_years=reserve_table(found, settings, scope),
        reserve_all=reserve_table(_together(found), settings, scope),
    )


def _together(found: Outstanding) -> Outstanding:
    """Add up all segments, draw by draw, each currency for itself."""
    sums: dict[tuple[Key, str], Sum] = {}
    for (_, currency), one in found.sums.items():
        known = sums.get(((), currency))
        sums[(), currency] = (
            one
            if known is None
            else Sum(
                claims=known.claims + one.claims,
                mean=known.mean + one.mean,
                later=known.later + one.later,
                drawn=known.drawn + one.drawn,
            )
        )
    return replace(found, by=(), sums=sums)


def spares_inputs(session: Session, settings: Settings, scope: Scope) -> SpareParts:
    """Gather the spare parts with a demand, most of it first.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``; those of units are made anew.
    settings : Settings
        Cover, service level, seed.
    scope : Scope
        Cut-off in force.

    Returns
    -------
    SpareParts
        A frame, the same for the same warehouse and settings.
    """
    rules = settings.spares
    not_told = ""
    table = pd.DataFrame(columns=list(SPARES_COLUMNS["spare_parts"]))
    try:
        found = spares(session, settings, scope)
        table = spares_table(found, settings, scope)
    except InputError as error:
        not_told = error.problem
    needed = table[table["demand_mean"] > 0]
    return SpareParts(
        not_told=not_told,
        service_level=rules.service_level,
        review_months=rules.review_months,
        spare_parts=needed.sort_values(
            ["demand_mean", "part_no"], ascending=[False, True], kind="stable"
        ),
    )
