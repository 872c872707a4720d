"""The sections of a dossier on repairs and inspections."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import pandas as pd

from claimlens.report import formats
from claimlens.report.component_action import day_text, text_or_missing
from claimlens.report.component_words import counted, cut_off, money_of
from claimlens.report.formats import MISSING
from claimlens.report.rising_sentences import times
from claimlens.report.view import (
    SectionView,
    TableView,
    number_columns,
    text_columns,
)
from claimlens.report_inputs.component import ComponentInputs

__all__ = ["repair_sections"]

_UNITS_AGAIN = 20


def repair_sections(inputs: ComponentInputs) -> tuple[SectionView, ...]:
    """Build the sections on repairs and inspections."""
    return (_repairs(inputs), _no_fault(inputs))


def _repairs(inputs: ComponentInputs) -> SectionView:
    frame = inputs.repeats
    row = None if frame.empty else frame.iloc[0]
    return SectionView(
        id="repeats",
        heading="Repeat repairs and first-time fix",
        basis=(
            "Counted failures inside the cover, each taken for a repair and followed "
            f"to the next one of this component in the same unit; {cut_off(inputs)}."
        ),
        lead=tuple(_repair_words(row)) if row is not None else (),
        tables=(
            *([_repair_table(frame)] if len(frame) else []),
            *([_again_table(inputs)] if len(inputs.repeat_units) else []),
        ),
        empty="No repair can be followed: no unit register, or no counted failure.",
    )


def _repair_words(row: pd.Series) -> Iterator[str]:
    unit = formats.PER_CENT
    yield (
        f"{counted(row['repairs_followed'], 'repair', 'repairs')} followed; "
        f"{formats.count(row['repeated_90'])} came back within 90 days."
    )
    if pd.notna(row["first_time_fix"]):
        limits = formats.interval(
            row["first_time_fix_lower"], row["first_time_fix_upper"], unit
        )
        yield (
            f"First-time fix: {formats.rate(row['first_time_fix'], unit)}{unit.suffix} "
            f"({limits}{unit.suffix})."
        )
    if pd.notna(row["ratio"]) and row["after_repair"] > 0:
        ratio = times(row["ratio"], row["ratio_lower"], row["ratio_upper"])
        yield (
            f"After a repair it fails {ratio} times as often as a unit of that age "
            "that never failed: above 1 the repair, or the diagnosis, is in question."
        )


def _repair_table(frame: pd.DataFrame) -> TableView:
    return TableView(
        "repeats-table",
        "Events and cost per unit by months in service, every event counted",
        text_columns("months in service")
        + number_columns("units", "events", "repeats", "events per 1,000 units")
        + number_columns("interval", "cost per unit", "interval of it"),
        tuple(
            (
                formats.decimal_text(row["at_months"], 0),
                formats.count(row["units"]),
                formats.count(row["events"]),
                formats.count(row["repeats"]),
                formats.decimal_text(1_000 * row["mean_events"], 1),
                _limits(row, "mean_events", 1_000, 1),
                _cents(row["mean_cost"], row["currency"]),
                _limits(row, "mean_cost", 1, 2),
            )
            for row in frame.to_dict("records")
        ),
    )


def _limits(row: Mapping[str, float], name: str, factor: int, decimals: int) -> str:
    lower, upper = row[f"{name}_lower"], row[f"{name}_upper"]
    if pd.isna(lower) or pd.isna(upper):
        return MISSING
    return (
        f"{formats.decimal_text(factor * lower, decimals, 'lower')}–"
        f"{formats.decimal_text(factor * upper, decimals, 'upper')}"
    )


def _cents(value: float, currency: object) -> str:
    text = formats.decimal_text(value, 2)
    if text == MISSING or pd.isna(currency):
        return text
    return f"{text}\N{NO-BREAK SPACE}{currency}"


def _again_table(inputs: ComponentInputs) -> TableView:
    frame = inputs.repeat_units
    shown = frame.head(_UNITS_AGAIN)
    more = len(frame) - len(shown)
    return TableView(
        "repeat-units-table",
        "Units that came back for it, most often first"
        + (f"; {formats.count(more)} more are not listed" if more else ""),
        text_columns("unit", "model")
        + number_columns("events", "claims")
        + text_columns("first", "last")
        + number_columns("cost"),
        tuple(
            (
                str(row["serial"]),
                text_or_missing(row["model"]),
                formats.count(row["events"]),
                formats.count(row["claims"]),
                day_text(row["first_failed_on"]),
                day_text(row["last_failed_on"]),
                money_of(row["cost"], row["currency"]),
            )
            for row in shown.to_dict("records")
        ),
    )


def _no_fault(inputs: ComponentInputs) -> SectionView:
    frame, unit = inputs.repeats, formats.PER_CENT
    lead: tuple[str, ...] = ()
    if len(frame) and frame["inspected"].iloc[0] > 0:
        row = frame.iloc[0]
        limits = formats.interval(
            row["no_fault_found_lower"], row["no_fault_found_upper"], unit
        )
        lead = (
            f"{formats.count(row['no_fault_found'])} of "
            f"{counted(row['inspected'], 'inspected claim', 'inspected claims')} had "
            f"no fault: {formats.rate(row['no_fault_found_share'], unit)}{unit.suffix} "
            f"({limits}{unit.suffix}).",
        )
    return SectionView(
        id="no-fault-found",
        heading="No fault found",
        basis=f"Inspections of returned parts; {cut_off(inputs)}.",
        lead=lead,
        reading=(
            "Inspected claims are no random draw of all. A high share points at the "
            "diagnosis, a connection beside the part, or a fault that comes and goes.",
        )
        if lead
        else (),
        empty="" if lead else "No claim of it was inspected.",
    )
