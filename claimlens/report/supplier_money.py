"""Sections of the supplier pack on money, earlier answers and single claims."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal

import pandas as pd

from claimlens.report import formats
from claimlens.report.formats import MISSING
from claimlens.report.rising_section import SHAPES
from claimlens.report.supplier_words import cut_off
from claimlens.report.view import (
    PrintedRow,
    SectionView,
    TableView,
    number_columns,
    text_columns,
)
from claimlens.report_inputs.supplier import SupplierInputs

__all__ = ["claim_section", "statement_sections"]

_LISTED = 60
_LONGEST = 300


def statement_sections(inputs: SupplierInputs) -> tuple[SectionView, ...]:
    """Return what is owed by agreement, and what was asked and answered before.

    Parameters
    ----------
    inputs : SupplierInputs
        Frames and scalars.
    """
    return (_statement(inputs), *_responses(inputs))


def _statement(inputs: SupplierInputs) -> SectionView:
    rows = tuple(
        (
            str(row["currency"]),
            formats.count(row["claims"]),
            *(
                formats.cents(row[name])
                for name in (
                    "cost_parts", "cost_labour", "cost_freight", "owed", "charged",
                    "accepted", "received", "not_charged", "not_received",
                )
            ),
        )
        for row in inputs.statement.to_dict("records")
    )  # fmt: skip
    tables = []
    if rows:
        tables.append(
            TableView(
                "statement-table",
                "Cost of the claims that an agreement fits, your share, and what "
                "became of it; each currency by itself",
                text_columns("currency")
                + number_columns(
                    "claims", "parts", "labour", "freight", "your share", "charged",
                    "accepted", "received", "not charged", "not received",
                ),
                rows,
            )
        )  # fmt: skip
    if len(inputs.not_owed) and (rows or inputs.terms):
        tables.append(
            TableView(
                "not-owed-table",
                "Claims on your parts without a share of cost",
                text_columns("why") + number_columns("claims"),
                tuple(
                    (str(row["reason"]), formats.count(row["claims"]))
                    for row in inputs.not_owed.to_dict("records")
                ),
            )
        )
    return SectionView(
        id="statement",
        heading="Cost share by agreement",
        basis=f"Claims decided by the {cut_off(inputs)}; a failure counts by its day.",
        reading=tuple(
            f"Agreement {term.place}: {term.words}." for term in inputs.terms
        ),
        tables=tuple(tables),
        empty=(
            "No agreement with you is on file, so no share of cost is told."
            if not inputs.terms
            else "No claim fits an agreement yet."
        ),
    )


def _responses(inputs: SupplierInputs) -> Iterator[SectionView]:
    frame = inputs.responses
    if frame.empty:
        return
    day = pd.Timestamp(inputs.meta.as_of)
    late = int((frame["answered_on"].isna() & (frame["due_on"] < day)).sum())
    answered = int(frame["answered_on"].notna().sum())
    yield SectionView(
        id="responses",
        heading="What was asked before",
        basis=f"Questions asked up to the {cut_off(inputs)}.",
        lead=(
            f"{formats.count(answered)} of {formats.count(len(frame))} questions are "
            f"answered, {formats.count(late)} overdue.",
        ),
        tables=(
            TableView(
                "responses-table",
                "Questions and answers, the newest first",
                text_columns("number", "component", "asked", "due", "answer")
                + number_columns("charged", "accepted", "received"),
                tuple(_response(row, day) for row in _newest_first(frame)),
            ),
        ),
    )


def _newest_first(frame: pd.DataFrame) -> list[dict[str, object]]:
    ordered = frame.sort_values(
        ["asked_on", "question_no"], ascending=[False, True], na_position="last"
    )
    rows = ordered.head(_LISTED).to_dict("records")
    return [{str(name): value for name, value in row.items()} for row in rows]


def _response(row: dict[str, object], day: pd.Timestamp) -> PrintedRow:
    answer = row["answer"] if isinstance(row["answer"], str) else ""
    answered, due = _stamp(row["answered_on"]), _stamp(row["due_on"])
    if answered is not None:
        told = f"{_day(answered)}: {answer}" if answer else _day(answered)
    elif due is not None and due < day:
        told = "overdue"
    else:
        told = "open"
    currency = str(row["currency"])
    return (
        str(row["question_no"]),
        str(row["component"]) if isinstance(row["component"], str) else "",
        _day(_stamp(row["asked_on"])),
        _day(due),
        told,
        *(
            f"{formats.cents(value)} {currency}".strip()
            if isinstance(value := row[name], Decimal)
            else ""
            for name in ("charged", "accepted", "received")
        ),
    )


def _stamp(value: object) -> pd.Timestamp | None:
    return None if pd.isna(value) else pd.Timestamp(str(value))


def _day(stamp: pd.Timestamp | None) -> str:
    return (
        MISSING
        if stamp is None
        else formats.day(date(stamp.year, stamp.month, stamp.day))
    )


def claim_section(inputs: SupplierInputs) -> SectionView:
    """List the newest claims that count; the workbook has all.

    Parameters
    ----------
    inputs : SupplierInputs
        Frames and scalars.
    """
    counted = inputs.claims[inputs.claims["class"] == "counted"]
    shown = counted.head(_LISTED)
    pieces = int(inputs.removed["pieces"].sum())
    removed = (
        "Nothing personal was found in their texts."
        if not pieces
        else f"{formats.count(pieces)} personal "
        f"{'piece was' if pieces == 1 else 'pieces were'} taken out of their texts "
        "("
        + ", ".join(
            f"{row['kind']} {formats.count(row['pieces'])}"
            for row in inputs.removed.to_dict("records")
        )
        + ")."
    )
    return SectionView(
        id="claims",
        heading="Claims behind this pack",
        basis=(
            f"The newest {formats.count(len(shown))} of {formats.count(len(counted))} "
            "claims that count; the workbook beside this page has every claim of every "
            f"class, with cost and share; {cut_off(inputs)}."
        ),
        reading=(
            f"{removed} Of a claim, only the columns that concern your part are shown.",
        ),
        tables=(
            TableView(
                "claims-table",
                "Claims, newest first; age is months in service at the failure",
                text_columns("claim", "unit", "failed")
                + number_columns("age")
                + text_columns("what", "part", "finding", "told"),
                tuple(_claim(row) for row in shown.to_dict("records")),
            ),
        )
        if len(shown)
        else (),
        empty="No claim on your parts counts up to the cut-off.",
    )


def _claim(row: dict[object, object]) -> PrintedRow:
    texts = [
        str(row[name])
        for name in ("technician_note", "narrative", "finding_note")
        if isinstance(row[name], str)
    ]
    told = " / ".join(texts)
    danger = f"{SHAPES['alarm']} danger; " if row["safety"] == "yes" else ""
    lot = f", lot {row['lot']}" if isinstance(row["lot"], str) else ""
    return (
        str(row["claim_no"]),
        _word(row["serial"]),
        _iso(row["failed_on"]),
        formats.decimal_text(_figure(row["age_months"]), 1),
        f"{danger}{row['component']}: {row['failure_mode']}",
        f"{_word(row['part_no'])}{lot}",
        _word(row["finding"]),
        told if len(told) <= _LONGEST else f"{told[:_LONGEST]} […]",
    )


def _word(value: object) -> str:
    return value if isinstance(value, str) else ""


def _iso(value: object) -> str:
    stamp = _stamp(value)
    return "" if stamp is None else f"{stamp:%Y-%m-%d}"


def _figure(value: object) -> float | None:
    return None if pd.isna(value) else float(str(value))
