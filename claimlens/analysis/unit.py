"""The answer for one unit: cover, history, known faults, changes, parts."""

from __future__ import annotations

from datetime import date

import pandas as pd

from claimlens.analysis.cover_terms import cover_words
from claimlens.analysis.one_unit import UnitCard
from claimlens.analysis.unit_parts import Record, parts_for
from claimlens.db import Session
from claimlens.settings import Settings

__all__ = ["KNOWN_FAULT_COLUMNS", "unit_answer"]

KNOWN_FAULT_COLUMNS = (
    "component", "model", "from_date", "to_date", "since", "rate_ratio", "level",
)  # fmt: skip


def unit_answer(
    session: Session, settings: Settings, card: UnitCard, known: pd.DataFrame
) -> Record:
    """Put together what is known of one unit.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare_unit``.
    settings : Settings
        Coverage and counting rules.
    card : UnitCard
        The unit.
    known : DataFrame
        Faults known to rise (``KNOWN_FAULT_COLUMNS``): component, model ("" for all),
        first and first later build date.

    Returns
    -------
    dict
        ``serial, model, model_year, generation, in_service_date,
        in_service_source, coverage_end, covered, coverage_reason, as_of`` and the
        lists ``covers`` (components with a cover of their own), ``claims``,
        ``parts``, ``known_faults``, ``changes``; ``note``.
    """
    covers = session.frame("marts/unit_cover")
    whole = covers[covers["cover_class"] == ""]
    end = None if whole.empty else pd.Timestamp(whole.iloc[0]["cover_end"]).date()
    claims = session.frame(
        "marts/unit_claims", {"same_event_days": settings.counting.same_event_days}
    )
    year = card.row["model_year"]
    return {
        "serial": card.serial,
        "model": card.text("model"),
        "model_year": None if pd.isna(year) else int(year),
        "generation": card.text("generation"),
        "build_date": card.day("build_date"),
        "build_lot": card.text("build_lot"),
        "plant": card.text("plant"),
        "dealer": card.text("dealer"),
        "region": card.text("region"),
        "in_service_date": card.in_service_date,
        "in_service_source": card.in_service_source or None,
        "coverage_end": end,
        "covered": None if end is None else card.as_of <= end,
        "coverage_reason": _reason(whole, end, card, settings),
        "covers": [
            {
                "component": str(row.cover_class),
                "coverage_end": pd.Timestamp(row.cover_end).date(),
                "covered": card.as_of <= pd.Timestamp(row.cover_end).date(),
            }
            for row in covers[covers["cover_class"] != ""].itertuples()
        ],
        "claims": _claims(claims),
        "parts": parts_for(session, card),
        "known_faults": _known_faults(known, card),
        "changes": _changes(session, card),
        "note": "; ".join(card.notes) or None,
        "as_of": card.as_of,
    }


def _reason(
    whole: pd.DataFrame, end: date | None, card: UnitCard, settings: Settings
) -> str:
    """Say why the unit is covered until then."""
    if end is None or card.in_service_date is None:
        return "the first day in service is not known"
    row = whole.iloc[0]
    told = f"{int(row['months'])} months from {card.in_service_date}"
    told += " (estimated)" if card.in_service_source == "estimated" else ""
    more = (end - pd.Timestamp(row["base_end"]).date()).days
    if more > 0:
        told += f", {more} days longer for repairs under cover"
    if pd.notna(row["distance_km"]):
        told += f", or {float(row['distance_km']):,.0f} km if that comes first"
    retired = card.day("retired_on")
    if retired is not None and retired <= card.as_of:
        told += f"; out of service since {retired}"
    return f"{told}; rule: {cover_words(settings.coverage)}"


def _claims(claims: pd.DataFrame) -> list[Record]:
    return [
        {
            "claim_no": str(row.claim_no),
            "failed_on": pd.Timestamp(row.failed_on).date(),
            "reported_on": pd.Timestamp(row.reported_on).date(),
            "component": str(row.component),
            "failure_mode": str(row.failure_mode),
            "status": None if pd.isna(row.status) else str(row.status),
            "counts_as": str(row.claim_class),
            "covered": bool(row.is_covered),
            "repeat": bool(row.is_repeat),
            "dangerous": row.safety == "yes",
            "cost": None if pd.isna(row.cost) else float(row.cost),
            "currency": None if pd.isna(row.currency) else str(row.currency),
        }
        for row in claims.itertuples()
    ]


def _known_faults(known: pd.DataFrame, card: UnitCard) -> list[Record]:
    """Return the rising faults whose build window and model hold the unit."""
    built = card.day("build_date")
    if built is None or known.empty:
        return []
    day = pd.Timestamp(built)
    model = card.text("model") or ""
    inside = (known["from_date"] <= day) & (day < known["to_date"])
    inside &= known["model"].isin(["", model])
    return [
        {
            "component": str(row.component),
            "since": pd.Timestamp(row.since).date(),
            "rate_ratio": float(row.rate_ratio),
            "level": str(row.level),
        }
        for row in known[inside].itertuples()
    ]


def _changes(session: Session, card: UnitCard) -> list[Record]:
    rows = session.frame(
        "marts/unit_changes",
        {
            "serial_key": card.serial.upper(),
            "model": card.text("model"),
            "build_date": card.day("build_date"),
            "as_of": card.as_of,
        },
    )
    return [
        {
            "change_no": str(row.change_no),
            "component": str(row.component),
            "description": None if pd.isna(row.description) else str(row.description),
            "state": str(row.state),
            "done_on": None
            if pd.isna(row.done_on)
            else pd.Timestamp(row.done_on).date(),
        }
        for row in rows.itertuples()
    ]
