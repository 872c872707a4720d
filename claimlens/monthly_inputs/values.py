"""What the monthly report is made from: frames and scalars, checked on arrival."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

import pandas as pd

from claimlens.errors import ReportError
from claimlens.monthly_inputs.arrivals import Arrivals
from claimlens.monthly_inputs.audited import AuditedShare
from claimlens.monthly_inputs.frames import COLUMNS, settle
from claimlens.monthly_inputs.meta import Meta
from claimlens.monthly_inputs.open_claims import OpenClaims
from claimlens.monthly_inputs.outstanding import Reserve, SpareParts
from claimlens.monthly_inputs.rising import Rising
from claimlens.monthly_inputs.supplier_answers import SupplierAnswers
from claimlens.monthly_inputs.to_come import ToCome

__all__ = [
    "Backlog",
    "Changes",
    "LateReports",
    "Money",
    "MonthCounts",
    "MonthlyInputs",
    "Quality",
    "SafetyClaim",
    "SafetyReason",
    "ShownCounts",
    "Thresholds",
]

SafetyReason = Literal["reported", "inspected", "open"]


@dataclass(frozen=True, slots=True)
class Money:
    """An amount in one currency, an ISO 4217 code."""

    amount: float
    currency: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Thresholds:
    """From where on a figure asks for a decision; values come from the settings.

    Parameters
    ----------
    unclassified_share : float
        Share of claims, 0 to 1, above which unclassified claims are named.
    open_days : int
        Age in days above which an open claim is named.
    """

    unclassified_share: float
    open_days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthCounts:
    """Counts of one calendar month, or at its end.

    Parameters
    ----------
    month : date
        First day of the month.
    claims_reported : int
        Claims of any class with ``reported_on`` in the month.
    first_failures : int
        First counted failures with ``failed_on`` in the month.
    open_claims : int
        Claims open at the end of the month.
    units_in_service : int
        Units in service at the end of the month.
    cost : tuple of Money
        Cost of the claims reported in the month, one entry a currency.
    """

    month: date
    claims_reported: int
    first_failures: int
    open_claims: int
    units_in_service: int
    cost: tuple[Money, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownCounts:
    """Counts of a month as the report of that month could make them.

    Parameters
    ----------
    claims_reported, first_failures, open_claims, units_in_service : int
        As in ``MonthCounts``.
    """

    claims_reported: int
    first_failures: int
    open_claims: int
    units_in_service: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SafetyClaim:
    """A claim whose text or finding tells of a danger, whatever its class.

    Parameters
    ----------
    claim_no, serial : str
        The claim and its unit; the serial is empty where it is not told.
    component, failure_mode : str
        What it was classified as.
    reported_on, told_on : date
        Day of the report, and the day that put it on the page: of the report, or of
        the inspection that found the danger.
    words_read : str
        Where the danger was read and in which few words; empty where the
        decision's account is too long to hold them.
    why : {"reported", "inspected", "open"}
        Reported in the month; found dangerous by an inspection of the month; or
        older and still open.
    """

    claim_no: str
    serial: str
    component: str
    failure_mode: str
    reported_on: date
    told_on: date
    words_read: str
    why: SafetyReason


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """What is new since the month before.

    Parameters
    ----------
    this_month : MonthCounts
        The month that ends with the cut-off.
    last_month : MonthCounts or None
        The month before; None where the data begin with this one.
    new_in_top_five : tuple of str
        Components among the five with most claims this month, not last month.
    safety_claims : tuple of SafetyClaim
        Safety claims of this month and older ones still open, newest first.
    open_too_long : int
        Claims open at the cut-off for more than ``Thresholds.open_days``.
    last_shown : ShownCounts or None
        The month before as its own report showed it; None where that can't be
        told.
    """

    this_month: MonthCounts
    last_month: MonthCounts | None
    new_in_top_five: tuple[str, ...]
    safety_claims: tuple[SafetyClaim, ...]
    open_too_long: int
    last_shown: ShownCounts | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """How far the numbers can be trusted.

    Parameters
    ----------
    unclassified_claims : int
        Claims without a component.
    unclassified_share : float or None
        Of all claims, 0 to 1; None where there is no claim.
    flags, rejects : tuple of (str, int)
        Claims flagged and rows rejected, by reason, most frequent first.
    undated_units, undated_claims : int
        Units and claims without an in-service date.
    units : int
        Units of the register that had left the works by the cut-off.
    undated_method : str
        How their dates were estimated, as one sentence.
    unknown_serial_claims : int
        Claims whose serial is in no register.
    unknown_serial_bound : float or None
        By what share the rates may be higher for it: unknown / counted.
    accuracy : AuditedShare or None
        None where no randomly drawn claim was reviewed.
    """

    unclassified_claims: int
    unclassified_share: float | None
    flags: tuple[tuple[str, int], ...]
    rejects: tuple[tuple[str, int], ...]
    undated_units: int
    undated_claims: int
    undated_method: str
    unknown_serial_claims: int
    unknown_serial_bound: float | None
    units: int = 0
    accuracy: AuditedShare | None = None


@dataclass(frozen=True, slots=True)
class Backlog:
    """A day on which a large part of a month's reports arrived.

    Parameters
    ----------
    reported_on : date
        The day.
    claims, of_month : int
        Reports of that day and of its month.
    """

    reported_on: date
    claims: int
    of_month: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LateReports:
    """What tells how late reports come.

    Parameters
    ----------
    claims : int
        Claims with a failure date that told it; too few leave the months as they
        are.
    fewest : int
        Claims that it takes.
    undated_share : float
        Of the claims of the last two years, those without a failure date,
        0 to 1: they stand at their report.
    speed_changed : bool
        Whether the last year's reports came at another speed than those before.
    backlogs : tuple of Backlog
        Oldest first.
    """

    claims: int
    fewest: int
    undated_share: float
    speed_changed: bool
    backlogs: tuple[Backlog, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthlyInputs:
    """Everything on the page of the month.

    Parameters
    ----------
    meta, thresholds, changes, quality, arrivals
        See their classes.
    claims_read : int
        Current claims at the cut-off; equals the sum over ``classes``.
    claims_by_month : DataFrame
        One row a calendar month of report, gapless and rising: ``month`` (its
        first day), ``claims`` (all), ``counted`` (in the rates). A month of
        report is complete: what is still to come is reported later.
    late : LateReports
        What tells how late reports come.
    late_months : DataFrame
        Columns of ``lag``: claims inside the cover by month of failure, completed.
    delays : DataFrame
        Columns of ``lag --delays``: share reported by months of delay.
    classes : DataFrame
        One row a class of claims: ``class`` (label), ``claims``.
    ranking : DataFrame
        One row a component and currency; ``claims``, ``units_failed``,
        ``repeats`` and ``share`` (of all claims, 0 to 1) belong to the
        component and are repeated on each of its rows, ``cost`` is that of the
        currency, which is missing where a component has no cost.
    rates_by_model_year : DataFrame
        Columns of ``rates --by component,model_year`` at one age.
    rates_by_component : DataFrame
        Columns of ``rates --by component`` at several ages.
    build_months : DataFrame
        One row a component and build month (its first day).
    curves : DataFrame
        One row a component and age in months: cumulative share failed.
    life : DataFrame
        Columns of ``life --by component``.
    life_points, life_line : DataFrame
        Kaplan-Meier points and fitted line with its band, ages in months;
        ``beyond`` marks ages past the oldest unit.
    predelivery : DataFrame
        One row a model; rate and limits per thousand units shipped.
    account : DataFrame
        Columns of ``ingest``, one row a file.
    rising : Rising
        Signals, windows, engineering changes and words.
    to_come : ToCome
        Claims still to come.
    reserve, spares : Reserve, SpareParts
        Money and parts still to come.
    open_claims : OpenClaims
        Claims that somebody waits for, and what was decided.
    answers : SupplierAnswers
        What suppliers were asked, answered and paid.

    Raises
    ------
    ReportError
        If a frame lacks a column, or the classes do not add up to
        ``claims_read``.
    """

    meta: Meta
    thresholds: Thresholds
    changes: Changes
    quality: Quality
    arrivals: Arrivals
    claims_read: int
    claims_by_month: pd.DataFrame
    late: LateReports
    late_months: pd.DataFrame
    delays: pd.DataFrame
    classes: pd.DataFrame
    ranking: pd.DataFrame
    rates_by_model_year: pd.DataFrame
    rates_by_component: pd.DataFrame
    build_months: pd.DataFrame
    curves: pd.DataFrame
    life: pd.DataFrame
    life_points: pd.DataFrame
    life_line: pd.DataFrame
    predelivery: pd.DataFrame
    account: pd.DataFrame
    rising: Rising
    to_come: ToCome
    reserve: Reserve
    spares: SpareParts
    open_claims: OpenClaims
    answers: SupplierAnswers = field(default_factory=SupplierAnswers)

    def __post_init__(self) -> None:
        """Check the columns of every frame, settle their types, check the sum."""
        settle(self, COLUMNS)
        total = int(self.classes["claims"].sum())
        if total != self.claims_read:
            raise ReportError(
                f"The classes hold {total} claims, but {self.claims_read} were read.",
                source="monthly report",
                column="claims",
                remedy="put every claim into exactly one class",
            )
