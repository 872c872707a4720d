"""What owners told of a component: symptoms, causes and dangers."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from claimlens.analysis.causes import put_cause_claims
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.monthly_inputs import SafetyClaim
from claimlens.settings import Settings
from claimlens.stats.intervals import wilson

__all__ = ["Told", "dangers_of", "told_of"]


@dataclass(frozen=True, kw_only=True)
class Told:
    """From symptom to cause and back.

    Parameters
    ----------
    causes : DataFrame
        ``component, claims, no_fault_found, share, lower, upper``: what claims
        turned out to be whose owner complained of the component.
    symptoms : DataFrame
        ``symptom, claims, share, lower, upper``: what owners complained of where
        the component was the cause; a claim may tell of several.
    claims, unread : int
        Claims behind ``symptoms``, and those of them in which nothing was read.
    """

    causes: pd.DataFrame
    symptoms: pd.DataFrame
    claims: int
    unread: int


def told_of(session: Session, settings: Settings, scope: Scope, component: str) -> Told:
    """Count what was complained of, and what it turned out to be.

    Only claims count whose cause a label, an inspection or a replaced part
    establishes.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting rules, confidence.
    scope : Scope
        Cut-off in force.
    component : str
        Its name in the taxonomy.
    """
    put_cause_claims(session, settings, scope.as_of)
    level = settings.rates.confidence
    causes = session.frame("marts/component_causes", {"component": component})
    causes = causes.rename(
        columns={"n_claims": "claims", "n_no_fault_found": "no_fault_found"}
    )
    rows = session.frame("marts/component_symptoms", {"component": component})
    rows = rows.rename(columns={"n_claims": "claims"})
    whole = int(rows.loc[rows["symptom"].isna(), "claims"].sum())
    unread = int(rows.loc[rows["symptom"].eq(""), "claims"].sum())
    # a component with its mode ("display/no power") repeats both
    names = rows["symptom"].fillna("")
    told = rows[names.ne("") & ~_is_pair(names)]
    return Told(
        causes=_with_shares(causes, int(causes["claims"].sum()), level),
        symptoms=_with_shares(told, whole, level),
        claims=whole,
        unread=unread,
    )


def _is_pair(names: pd.Series) -> pd.Series:
    """Tell the keys that join a component and a mode which stand there too."""
    alone = set(names)
    return pd.Series(
        [
            any(
                name[:place] in alone and name[place + 1 :] in alone
                for place, sign in enumerate(name)
                if sign == "/"
            )
            for name in names
        ],
        index=names.index,
        dtype=bool,
    )


def _with_shares(table: pd.DataFrame, whole: int, level: float) -> pd.DataFrame:
    claims = table["claims"].to_numpy(dtype=np.float64)
    lower, upper = wilson(claims, np.full(claims.size, float(whole)), level)
    return table.assign(
        share=claims / whole if whole else np.nan, lower=lower, upper=upper
    ).reset_index(drop=True)


def dangers_of(
    session: Session, scope: Scope, component: str
) -> tuple[SafetyClaim, ...]:
    """List the claims of a component that tell of a danger, newest first.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    scope : Scope
        Cut-off in force.
    component : str
        Its name in the taxonomy.
    """
    found = session.frame(
        "marts/component_dangers", {"component": component, "as_of": scope.as_of}
    )
    return tuple(_danger(row) for row in found.to_dict("records"))


def _danger(row: Mapping[Hashable, Any]) -> SafetyClaim:
    day = row["reported_on"].date()
    return SafetyClaim(
        claim_no=row["claim_no"],
        serial="" if pd.isna(row["serial"]) else row["serial"],
        component=row["component"],
        failure_mode="" if pd.isna(row["failure_mode"]) else row["failure_mode"],
        reported_on=day,
        told_on=day,
        words_read=row["words_read"] or "",
        why="open" if row["is_open"] else "reported",
    )
