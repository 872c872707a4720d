"""What the pack for a supplier is made from."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from claimlens.errors import ReportError
from claimlens.monthly_inputs import Meta

__all__ = ["SupplierInputs", "SupplierTerms"]

#: Columns that each frame of ``SupplierInputs`` must have; more may be there.
COLUMNS: dict[str, tuple[str, ...]] = {
    name: tuple(columns.split())
    for name, columns in {
        "parts": "part_no description component generation superseded_by",
        "claims": (
            "claim_no serial model model_year build_date build_lot in_service_date "
            "failed_on reported_on age_months component failure_mode part_no lot "
            "told_by class state finding inspected_on cost_parts cost_labour "
            "cost_freight currency agreement share owed not_owed narrative "
            "technician_note resolution finding_note safety"
        ),
        "claims_by_month": "month claims counted",
        "rates": (
            "component units claims repeats rate lower upper at_months mature note"
        ),
        "life": "component failures shape shape_lower shape_upper pattern note",
        "against": (
            "component units claims expected rate_ratio lower upper p_value "
            "adjusted_p difference other_units other_claims note"
        ),
        "windows": (
            "component from_date to_date rate_ratio lower upper p_value adjusted_p "
            "units claims expected not_yet_failed plausible_from plausible_to note"
        ),
        "window_months": "component month units observed expected inside",
        "lots": "component lot units claims expected rate_ratio lower upper p_value",
        "to_come": "component claims lower80 upper80 lower95 upper95 cost currency",
        "responses": (
            "question_no component part_no claim_no asked_on due_on answered_on "
            "answer charged_on charged accepted received currency"
        ),
        "statement": (
            "currency claims cost_parts cost_labour cost_freight owed charged "
            "accepted received not_charged not_received"
        ),
        "not_owed": "reason claims",
        "removed": "kind pieces",
    }.items()
}


@dataclass(frozen=True, slots=True)
class SupplierTerms:
    """One agreement with the supplier, in the words of the settings.

    Parameters
    ----------
    place : int
        From 1, as claims name it.
    words : str
        What it says, as one sentence.
    """

    place: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierInputs:
    """Frames and scalars of one supplier at one cut-off.

    Parameters
    ----------
    meta : Meta
        Where the report comes from.
    supplier : str
        His name.
    alone, fitted, unplaced : tuple of str
        Components that only he supplies; of several suppliers, with a list that
        tells which units carry his; and of several suppliers without one.
    parts : DataFrame
        His parts.
    claims : DataFrame
        Every claim on them, newest first, without what tells of a person; amounts
        are Decimal, ages months in service.
    claims_by_month : DataFrame
        By month of report, gapless.
    rates, life : DataFrame
        By component, of the units that carry his part.
    against : DataFrame
        His part beside that of all other suppliers, at equal ages.
    windows, window_months : DataFrame
        Build windows among the units that carry his part.
    lots : DataFrame
        Lots of his parts against each other.
    to_come : DataFrame
        Claims of the next twelve months by component.
    responses : DataFrame
        What he was asked, answered and paid.
    statement : DataFrame
        What he owes by agreement, by currency.
    not_owed : DataFrame
        Claims that he owes nothing for, by reason.
    terms : tuple of SupplierTerms
        The agreements with him.
    answer_days : int
        Days that he has for an answer.
    no_rates : str
        Why no rate is told, as a sentence; else empty.
    removed : DataFrame
        What was taken out of the texts, by kind.
    not_ahead : str
        Why nothing is told of the claims to come, as a sentence; else empty.

    Raises
    ------
    ReportError
        If a frame lacks a column.
    """

    meta: Meta
    supplier: str
    alone: tuple[str, ...]
    fitted: tuple[str, ...]
    unplaced: tuple[str, ...]
    parts: pd.DataFrame
    claims: pd.DataFrame
    claims_by_month: pd.DataFrame
    rates: pd.DataFrame
    life: pd.DataFrame
    against: pd.DataFrame
    windows: pd.DataFrame
    window_months: pd.DataFrame
    lots: pd.DataFrame
    to_come: pd.DataFrame
    responses: pd.DataFrame
    statement: pd.DataFrame
    not_owed: pd.DataFrame
    terms: tuple[SupplierTerms, ...]
    answer_days: int
    no_rates: str
    removed: pd.DataFrame
    not_ahead: str = ""

    def __post_init__(self) -> None:
        """Check the columns of every frame."""
        for name, wanted in COLUMNS.items():
            frame: pd.DataFrame = getattr(self, name)
            missing = [column for column in wanted if column not in frame.columns]
            if missing:
                raise ReportError(
                    f"The frame {name} lacks {', '.join(missing)}.",
                    source="supplier report",
                    column=missing[0],
                    remedy="hand over every column that COLUMNS names",
                )
