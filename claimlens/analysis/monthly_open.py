"""Claims that are not done with at the end of the month, for the monthly report."""

from __future__ import annotations

from datetime import date, timedelta

import pandas as pd

from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.monthly_inputs import OpenClaims
from claimlens.settings import Settings

__all__ = ["open_inputs"]

_A_YEAR = 365


def open_inputs(session: Session, settings: Settings, scope: Scope) -> OpenClaims:
    """Count the claims that somebody waits for, and what was decided.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        How long a part is waited for; the column on vehicles off the road.
    scope : Scope
        Cut-off in force.
    """
    days = settings.report.return_days
    as_of, since = scope.as_of, scope.as_of - timedelta(days=days)
    column = settings.report.off_road_column
    waiting = session.frame(
        "marts/open_claims",
        {"as_of": as_of, "returned_since": since, "off_road_column": column},
    )
    returned = session.frame(
        "marts/parts_inspected",
        {
            "from_day": as_of - timedelta(days=_A_YEAR),
            "to_day": since - timedelta(days=1),
            "as_of": as_of,
        },
    ).iloc[0]
    spans = {
        "month": as_of.replace(day=1),
        "year": as_of - timedelta(days=_A_YEAR - 1),
    }
    return OpenClaims(
        waiting=waiting.rename(
            columns={
                "n_claims": "claims",
                "n_off_road": "off_road",
                "n_requested": "requested_claims",
            }
        ),
        decided=pd.concat(
            [_decided(session, span, first, as_of) for span, first in spans.items()],
            ignore_index=True,
        ),
        return_days=days,
        closed=int(returned["n_closed"]),
        inspected=int(returned["n_inspected"]),
        off_road_column=column or "",
    )


def _decided(session: Session, span: str, first: date, last: date) -> pd.DataFrame:
    frame = session.frame("marts/amounts_decided", {"from_day": first, "to_day": last})
    named = frame.rename(
        columns={
            "n_decided": "decided",
            "n_told": "told",
            "n_denied": "denied",
            "n_cut": "cut",
        }
    )
    return named.assign(span=span)
