"""How claims read before their texts go, at every state that a question may ask."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import pandas as pd

from claimlens.analysis.evidence import read_claims
from claimlens.classify.learned import Learned
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.settings import Settings

__all__ = ["KEPT_COLUMNS", "readings_to_keep"]

KEPT_COLUMNS = (
    "claim_no", "known_on", "decided", "parts", "with_model", "component",
    "failure_mode", "other_components", "safety", "source", "confidence", "evidence",
    "symptoms",
)  # fmt: skip
_OF_CLAIMS = ("claims", "claim_parts", "labels")
_EVIDENCE = "read before the text was erased"


def readings_to_keep(
    session: Session,
    settings: Settings,
    terms: Terms,
    claims: Sequence[str],
    *,
    learned: Learned | None = None,
) -> pd.DataFrame:
    """Read claims as they were known on each day, with and without inspections.

    Parameters
    ----------
    session : Session
        A session of its own: its ``*_known`` tables hold nothing but these claims
        afterwards.
    settings : Settings
        For the threshold.
    terms : Terms
        What decides.
    claims : sequence of str
        Their numbers.
    learned : Learned, optional
        Answers what the terms leave open.

    Returns
    -------
    pandas.DataFrame
        ``KEPT_COLUMNS``, one row a claim and state, without a word of the texts.
    """
    session.put("going", pd.DataFrame({"claim_no": pd.array(claims, dtype="str")}))
    session.run("staging/fold_macros")
    for kind in ("parts", "units"):
        session.alias(f"{kind}_known", f"{kind}_current")
    days = session.frame("marts/going_days")["known_on"]
    found: list[pd.DataFrame] = []
    for day in [value.date() if hasattr(value, "date") else value for value in days]:
        most = _put_known(session, day)
        for inspections in range(most + 1):
            session.run("staging/going_findings_seen", {"most": inspections})
            found += _read(session, settings, terms, learned)
    if not found:
        return pd.DataFrame(columns=list(KEPT_COLUMNS))
    kept = pd.concat(found, ignore_index=True)
    kept["evidence"] = _EVIDENCE
    state = ["claim_no", "known_on", "decided", "parts", "with_model"]
    return kept.drop_duplicates(state)[list(KEPT_COLUMNS)]


def _put_known(session: Session, day: date) -> int:
    """Make the known tables of a day; return how many inspections a claim has."""
    for kind in (*_OF_CLAIMS, "findings"):
        session.alias("known_versions", f"{kind}_versions")
        session.run("intermediate/going_touched")
        session.run(f"staging/fold_{kind}", {"as_known": day, "only_touched": True})
        if kind in _OF_CLAIMS:
            session.keep_as("folded", f"{kind}_known")
    session.run("staging/going_findings")
    return int(session.frame("marts/going_inspections").iloc[0, 0])


def _read(
    session: Session, settings: Settings, terms: Terms, learned: Learned | None
) -> list[pd.DataFrame]:
    """Read the claims of one state, by the terms alone and with the model."""
    found = []
    for model in (None, learned) if learned is not None else (None,):
        read_claims(session, settings, terms, learned=model)
        frame = session.frame("intermediate/kept_readings_now")
        frame["with_model"] = model is not None
        found.append(frame)
    return found
