"""Claims and dealers to ask about: questions, never accusations."""

from __future__ import annotations

import numpy as np
import pandas as pd

from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.seeds import seed_for
from claimlens.stats.shrinkage import shrink

__all__ = ["ODD_COLUMNS", "odd_claims"]

ODD_COLUMNS = (
    "question",
    "dealer",
    "component",
    "serial",
    "observed",
    "expected",
    "ratio",
    "lower",
    "upper",
    "cost",
    "currency",
    "claims",
    "note",
    "as_of",
)

# failures of one component so close may be one claim under two numbers
_FAULT_DAYS = 14
_PART_DAYS = 30
_REPAIR_DAYS = 90
# a dealer with fewer is not named
_LEAST = 10
# claims behind a question that are listed; the others are counted
_LISTED = 40

_TWICE = "one claim under two numbers?"
_SOUND = "why are so many returned parts sound?"
_BACK = "why do so many repairs come back?"


def odd_claims(session: Session, settings: Settings, scope: Scope) -> pd.DataFrame:
    """List what is worth a question: probable double claims, dealers out of line.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting rules and the seed.
    scope : Scope
        Cut-off and filters in force.

    Returns
    -------
    pandas.DataFrame
        ``ODD_COLUMNS``, one row a question. A dealer's events are held against those
        expected of its own mix of components; ratios are drawn towards 1 as far as
        dealers hardly differ, with 95 % limits; only dealers whose lower limit lies
        above 1 and with at least 10 claims to judge by are listed. The money is that
        of the claims behind the question, by currency.
    """
    claims = session.frame(
        "marts/dealer_claims",
        {
            "as_of": scope.as_of,
            "repair_days": _REPAIR_DAYS,
            "same_event_days": settings.counting.same_event_days,
        },
    )
    seed = settings.life.seed
    inspected = claims[claims["is_inspected"].astype(bool)]
    followed = claims[claims["is_followed"].astype(bool)]
    tables = [
        _doubles(session),
        _dealers(inspected, "is_sound", _SOUND, seed),
        _dealers(followed, "came_back", _BACK, seed),
    ]
    filled = [table for table in tables if len(table)]
    if not filled:
        return pd.DataFrame(columns=list(ODD_COLUMNS))
    result = pd.concat(filled, ignore_index=True).assign(
        as_of=pd.Timestamp(scope.as_of)
    )
    return result.reindex(columns=list(ODD_COLUMNS))


def _doubles(session: Session) -> pd.DataFrame:
    """Return pairs of claims that may be one, the costliest first."""
    pairs = session.frame(
        "marts/double_claims", {"fault_days": _FAULT_DAYS, "part_days": _PART_DAYS}
    )
    if pairs.empty:
        return pd.DataFrame()
    told = [
        f"{row.days_apart} days apart"
        + (f", part {row.part_no} on both" if isinstance(row.part_no, str) else "")
        for row in pairs.itertuples()
    ]
    table = pd.DataFrame(
        {
            "question": _TWICE,
            "dealer": pairs["dealer"],
            "component": pairs["component"],
            "serial": pairs["serial"],
            "observed": 2,
            "cost": pairs["cost"].astype(float),
            "currency": pairs["currency"],
            "claims": pairs["claim_no"] + " " + pairs["other_claim_no"],
            "note": told,
        }
    )
    return table.sort_values(["cost", "claims"], ascending=[False, True])


def _dealers(
    claims: pd.DataFrame, event: str, question: str, seed: int
) -> pd.DataFrame:
    """Return the dealers with more events than their mix of components explains."""
    if claims.empty:
        return pd.DataFrame()
    happened = claims[event].astype(bool)
    usual = happened.groupby(claims["component"]).transform("mean")
    counted = (
        pd.DataFrame(
            {
                "dealer": claims["dealer"],
                "n": 1,
                "observed": happened.astype(float),
                "expected": usual,
            }
        )
        .groupby("dealer", sort=True)
        .sum()
        .reset_index()
    )
    named = counted[(counted["n"] >= _LEAST) & (counted["expected"] > 0)]
    named = named.reset_index(drop=True)
    if named.empty:
        return pd.DataFrame()
    shrunk = shrink(
        named["observed"],
        named["expected"],
        seed=seed_for(seed, "odd claims", event),
        confidence=0.95,
    )
    named = named.assign(ratio=shrunk.ratio, lower=shrunk.lower, upper=shrunk.upper)
    odd = named[np.asarray(shrunk.lower) > 1.0].sort_values(
        ["ratio", "dealer"], ascending=[False, True]
    )
    rows = [
        _question(row, claims[happened & (claims["dealer"] == row["dealer"])], question)
        for _, row in odd.iterrows()
    ]
    return pd.DataFrame([each for own in rows for each in own])


def _question(
    row: pd.Series, behind: pd.DataFrame, question: str
) -> list[dict[str, object]]:
    """Return one row a currency for a dealer, with the claims behind it."""
    found = []
    for currency, own in behind.groupby("currency", sort=True):
        numbers = own["claim_no"].tolist()
        more = len(numbers) - _LISTED
        found.append(
            {
                "question": question,
                "dealer": row["dealer"],
                "observed": int(row["observed"]),
                "expected": float(row["expected"]),
                "ratio": float(row["ratio"]),
                "lower": float(row["lower"]),
                "upper": float(row["upper"]),
                "cost": float(own["cost"].astype(float).sum()),
                "currency": currency or None,
                "claims": " ".join(numbers[:_LISTED])
                + (f" and {more} more" if more > 0 else ""),
                "note": f"of {int(row['n'])} claims to judge by",
            }
        )
    return found
