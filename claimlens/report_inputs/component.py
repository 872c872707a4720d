"""What the dossier of one component is made from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pandas as pd

from claimlens.errors import ReportError
from claimlens.monthly_inputs import Meta, Rising, SafetyClaim, ToCome
from claimlens.monthly_inputs.frames import settled

__all__ = ["ComponentInputs", "Example", "Place", "RemovedCount"]

#: Columns that each frame of ``ComponentInputs`` must have; more may be there.
COLUMNS: dict[str, tuple[str, ...]] = {
    name: tuple(columns.split())
    for name, columns in {
        "claims_by_month": "month claims counted",
        "classes": "claim_class claims",
        "modes": "failure_mode claims claims_counted",
        "causes": "component claims share lower upper",
        "symptoms": "symptom claims share lower upper",
        "rates": "units claims rate lower upper effective_n at_months mature note",
        "by_year": "model_year units claims rate lower upper at_months mature note",
        "by_model": "model units claims rate lower upper at_months mature note",
        "by_supplier": "supplier units claims rate lower upper at_months mature note",
        "build_months": "component build_month units claims rate lower upper mature",
        "curves": "component months share lower upper at_risk mature",
        "life": "shape shape_lower shape_upper scale_months b1_months b10_months",
        "life_points": "component months share lower upper",
        "life_line": "component months share lower upper beyond",
        "ages": "month failures unit_months rate lower upper",
        "at_risk": (
            "serial model build_date build_lot in_service_date state cover_days_left "
            "window"
        ),
        "repeats": "at_months repairs_followed first_time_fix inspected",
        "repeat_units": "serial events claims first_failed_on last_failed_on",
        "costs": "month claims cost currency",
        "cost_parts": "currency claims cost cost_parts cost_labour cost_freight",
        "severity": "currency claims mean lower upper",
        "reserve": "part claims amount lower80 upper80 currency",
    }.items()
}

# those whose types the charts of the month rely on
_SETTLED = {
    "claims_by_month": "claims_by_month",
    "build_months": "build_months",
    "curves": "curves",
    "life": "life",
    "life_points": "life_points",
    "life_line": "life_line",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a component stands among all of them.

    Parameters
    ----------
    claims, all_claims : int
        Claims of every class: its own, and those of the whole warehouse.
    counted : int
        Those of its own that the rates count.
    by_claims, by_rate : int or None
        Its place, 1 for the most; None where it has none.
    components : int
        Components with a claim.
    rated : int
        Components with a rate at that age.
    at_months : float or None
        The age at which rates are set side by side: the usual one where anybody
        has reached it, else the oldest with a rate.
    median_rate : float or None
        Rate of the component in the middle at that age.
    """

    claims: int
    all_claims: int
    counted: int
    by_claims: int | None
    by_rate: int | None
    components: int
    rated: int
    at_months: float | None
    median_rate: float | None


@dataclass(frozen=True, slots=True)
class RemovedCount:
    """How many pieces of one kind were removed from the texts."""

    kind: str
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """One text of an owner.

    Parameters
    ----------
    claim_no : str
        Of the claim.
    reported_on : date
        When.
    failure_mode, model : str
        What it was read as, and of which model; empty where that is not known.
    language : str
        As it reads; empty where that cannot be told.
    text : str
        Without what tells of a person, unless the page stays inside.
    is_cut : bool
        Whether the text goes on.
    """

    claim_no: str
    reported_on: date
    failure_mode: str
    model: str
    language: str
    text: str
    is_cut: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ComponentInputs:
    """Frames and scalars of one component at one cut-off.

    Parameters
    ----------
    meta : Meta
        Where the report comes from.
    component : str
        Its name in the taxonomy.
    internal : bool
        Whether the page may show serials and texts as they are.
    place : Place
        Among all components.
    claims_by_month, classes, modes : DataFrame
        Counts of its claims.
    causes : DataFrame
        What claims turned out to be whose owner complained of the component.
    symptoms : DataFrame
        What owners complained of where the component was the cause.
    cause_claims, unread : int
        Claims behind ``symptoms``, and those of them in which nothing was read.
    rates, by_year, by_model, by_supplier : DataFrame
        As ``claimlens rates`` tells them.
    no_suppliers : str
        Why no supplier is told apart, as a sentence; else empty.
    build_months, curves, life, life_points, life_line : DataFrame
        As on the monthly page, for this component alone.
    ages : DataFrame
        By month in service: first ``failures``, ``unit_months`` watched, and
        their quotient per 1,000 with exact limits.
    rising : Rising
        Its signals, windows and changes.
    at_risk : DataFrame
        Units of its windows without a failure, with their ``state``.
    repeats, repeat_units : DataFrame
        As ``claimlens repeats`` tells them.
    costs, cost_parts, severity : DataFrame
        What its claims cost so far.
    no_cost : str
        Why no cost is told, as a sentence; else empty.
    to_come : ToCome
        Claims of the next twelve months.
    reserve : DataFrame
        What units in the field still cost under cover.
    no_reserve : str
        Why it is not told, as a sentence; else empty.
    dangers : tuple of SafetyClaim
        Claims that tell of a danger, newest first.
    examples : tuple of Example
        Texts of owners.
    removed : tuple of RemovedCount
        What was taken out of them.

    Raises
    ------
    ReportError
        If a frame lacks a column.
    """

    meta: Meta
    component: str
    internal: bool
    place: Place
    claims_by_month: pd.DataFrame
    classes: pd.DataFrame
    modes: pd.DataFrame
    causes: pd.DataFrame
    symptoms: pd.DataFrame
    cause_claims: int
    unread: int
    rates: pd.DataFrame
    by_year: pd.DataFrame
    by_model: pd.DataFrame
    by_supplier: pd.DataFrame
    no_suppliers: str
    build_months: pd.DataFrame
    curves: pd.DataFrame
    life: pd.DataFrame
    life_points: pd.DataFrame
    life_line: pd.DataFrame
    ages: pd.DataFrame
    rising: Rising
    at_risk: pd.DataFrame
    repeats: pd.DataFrame
    repeat_units: pd.DataFrame
    costs: pd.DataFrame
    cost_parts: pd.DataFrame
    severity: pd.DataFrame
    no_cost: str
    to_come: ToCome
    reserve: pd.DataFrame
    no_reserve: str
    dangers: tuple[SafetyClaim, ...]
    examples: tuple[Example, ...] = ()
    removed: tuple[RemovedCount, ...] = ()

    def __post_init__(self) -> None:
        """Check the columns of every frame and settle the types of those drawn."""
        for name, wanted in COLUMNS.items():
            frame: pd.DataFrame = getattr(self, name)
            missing = [column for column in wanted if column not in frame.columns]
            if missing:
                raise ReportError(
                    f"The frame {name} lacks {', '.join(missing)}.",
                    source="component report",
                    column=missing[0],
                    remedy="hand over every column that COLUMNS names",
                )
        for name, like in _SETTLED.items():
            object.__setattr__(self, name, settled(like, getattr(self, name)))
