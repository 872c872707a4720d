"""Sections of the supplier pack on what failed, how often, and from when."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import pandas as pd

from claimlens.report import formats
from claimlens.report.findings import join_words
from claimlens.report.formats import MISSING
from claimlens.report.production_section import span
from claimlens.report.rising_sentences import times
from claimlens.report.supplier_words import SHOWN, cut_off
from claimlens.report.view import (
    SectionView,
    TableView,
    figure,
    number_columns,
    text_columns,
)
from claimlens.report_inputs.supplier import SupplierInputs
from claimlens.results import ChartHtml

__all__ = ["rate_sections"]

Charts = Mapping[str, ChartHtml]

_LOTS = 15


def rate_sections(inputs: SupplierInputs, charts: Charts) -> tuple[SectionView, ...]:
    """Return the sections on parts, claims, rates, windows, lots and findings.

    Parameters
    ----------
    inputs : SupplierInputs
        Frames and scalars.
    charts : mapping of str to ChartHtml
        From ``claimlens.charts.supplier.build``.
    """
    return (
        _parts(inputs, charts),
        _rates(inputs),
        *_against(inputs),
        _windows(inputs, charts),
        _lots(inputs),
        _findings(inputs),
    )


def _parts(inputs: SupplierInputs, charts: Charts) -> SectionView:
    claims = inputs.claims
    rows = []
    for component in sorted(set(inputs.parts["component"].dropna())):
        numbers = inputs.parts[inputs.parts["component"] == component]["part_no"]
        own = claims[claims["component"] == component]
        rows.append(
            (
                str(component),
                join_words([str(number) for number in numbers]),
                formats.count(len(own)),
                formats.count(int((own["class"] == "counted").sum())),
                _modes(own),
            )
        )
    return SectionView(
        id="parts",
        heading="Parts and claims",
        basis=f"All claims on your parts, of every class; {cut_off(inputs)}.",
        reading=(_told_by(inputs),) if len(claims) else (),
        figure=figure(
            charts, "claims-by-month", caption="Claims on your parts by month of report"
        ),
        tables=(
            TableView(
                "parts-table",
                "Your parts by component; claims that count are failures inside the "
                "cover",
                text_columns("component", "part numbers")
                + number_columns("claims", "counted")
                + text_columns("most frequent failure modes"),
                tuple(rows),
            ),
        )
        if rows
        else (),
        empty="No part of yours is on the parts list.",
    )


def _modes(claims: pd.DataFrame) -> str:
    counted = claims[claims["class"] == "counted"]["failure_mode"].value_counts()
    named = counted.drop("unclassified", errors="ignore").head(3)
    return join_words([f"{mode} ({formats.count(n)})" for mode, n in named.items()])


def _told_by(inputs: SupplierInputs) -> str:
    by = inputs.claims["told_by"].value_counts()
    words = {
        "fitted": "the list of fitted parts",
        "replaced": "the part that was replaced",
        "parts list": "the parts list, which names no other supplier",
    }
    told = [
        f"{words[how]} ({formats.count(by[how])})" for how in words if how in by.index
    ]
    return f"That the part was yours is told by {join_words(told)}."


def _rates(inputs: SupplierInputs) -> SectionView:
    frame = inputs.rates
    ages = sorted(frame["at_months"].unique())
    unit = formats.rate_unit(frame["rate"])
    rows = []
    for component in dict.fromkeys(frame["component"]):
        own = frame[frame["component"] == component].set_index("at_months")
        life = inputs.life[inputs.life["component"] == component]
        pattern = str(life["pattern"].iloc[0]) if len(life) else ""
        rows.append(
            (
                str(component),
                formats.count(float(own["units"].max())),
                *(_rate_cell(own, age, unit) for age in ages),
                "" if pattern in ("nan", "None") else pattern,
            )
        )
    reading = [
        "Of all units with your part, this share had failed by that age; units that "
        "are not that old yet count for as long as they were watched."
    ]
    if inputs.unplaced:
        reading.append(
            f"No rate for {join_words(list(inputs.unplaced))}: others supply it too, "
            "and nobody has told which units carry yours. Your delivery records by "
            "date and lot would."
        )
    return SectionView(
        id="rates",
        heading="How often your parts fail",
        basis=(
            "Units in service that carry your part, first failure inside the cover; "
            f"{cut_off(inputs)}."
        ),
        reading=tuple(reading),
        tables=(
            TableView(
                "rates-table",
                f"Share of units failed by age in service, {unit.name}, with intervals "
                f"of {formats.decimal_text(100 * inputs.meta.confidence, 0)} per cent; "
                "an asterisk marks figures too young to trust",
                text_columns("component")
                + number_columns(
                    "units",
                    *(f"by {formats.decimal_text(age, 0)} months" for age in ages),
                )
                + text_columns("pattern"),
                tuple(rows),
            ),
        )
        if rows
        else (),
        empty=inputs.no_rates or "No unit with your part can be told.",
    )


def _rate_cell(own: pd.DataFrame, age: float, unit: formats.RateUnit) -> str:
    if age not in own.index or pd.isna(own.loc[age, "rate"]):
        return MISSING
    row = own.loc[age]
    mark = "" if row["mature"] else "*"
    limits = formats.interval(row["lower"], row["upper"], unit)
    return f"{formats.rate(row['rate'], unit)}{mark}\n({limits})"


def _against(inputs: SupplierInputs) -> Iterator[SectionView]:
    if not inputs.fitted:
        return
    rows = tuple(
        (
            str(row["component"]),
            formats.count(row["units"]),
            formats.count(row["claims"]),
            formats.decimal_text(row["expected"], 1),
            times(row["rate_ratio"], row["lower"], row["upper"]),
            formats.p_value(row["p_value"]),
            str(row["difference"]),
            formats.count(row["other_units"]),
            formats.count(row["other_claims"]),
        )
        for row in inputs.against.to_dict("records")
    )
    yield SectionView(
        id="against",
        heading="Beside the same part of other suppliers",
        basis=(
            "Units whose first part is known to be yours, and units with the part of "
            f"others, at equal ages; {cut_off(inputs)}."
        ),
        reading=(
            "Expected is what your units would have had with the failure rate of the "
            "others at each age. Models and regions can differ too: a ratio is a "
            "reason to look, not yet a proof of cause.",
        ),
        tables=(
            TableView(
                "against-table",
                "Your part and all others together",
                text_columns("component")
                + number_columns("units", "failed", "expected", "times the others", "p")
                + text_columns("difference")
                + number_columns("others: units", "others: failed"),
                rows,
            ),
        )
        if rows
        else (),
        empty="No unit with your part can be set beside one with another's.",
    )


def _windows(inputs: SupplierInputs, charts: Charts) -> SectionView:
    shown = inputs.windows[inputs.windows["p_value"] <= SHOWN]
    rows = tuple(
        (
            str(row["component"]),
            span(row["from_date"], row["to_date"]),
            times(row["rate_ratio"], row["lower"], row["upper"]),
            formats.count(row["claims"]),
            formats.decimal_text(row["expected"], 1),
            formats.count(row["units"]),
            formats.count(row["not_yet_failed"]),
            formats.p_value(row["p_value"]),
            formats.p_value(row["adjusted_p"]),
            str(row["note"] or ""),
        )
        for row in shown.to_dict("records")
    )
    noted = any(row[-1] for row in rows)
    return SectionView(
        id="windows",
        heading="Production windows",
        basis=(
            "Units with your part by month of build, every window of one to six "
            f"months looked at; {cut_off(inputs)}."
        ),
        reading=(
            "The p-value already pays for looking at every window of a component; the "
            "adjusted one also for looking at every component. Above 0.05 adjusted, a "
            "window is no more than a hint.",
        )
        if rows
        else (),
        figure=figure(
            charts,
            "production-windows",
            caption="Failures by month of build, seen and expected",
        )
        if rows
        else None,
        tables=(
            TableView(
                "windows-table",
                "Windows with a p-value of at most 0.05",
                text_columns("component", "units built in")
                + number_columns(
                    "times the rest", "failed", "expected", "units", "not yet failed",
                    "p", "adjusted p",
                )
                + text_columns(*(["note"] if noted else [])),
                tuple(row if noted else row[:-1] for row in rows),
            ),
        )
        if rows
        else (),
        empty=inputs.no_rates
        or "No window of build months fails more than chance allows (p at most 0.05).",
    )  # fmt: skip


def _lots(inputs: SupplierInputs) -> SectionView:
    frame = inputs.lots
    rows = tuple(
        (
            str(row["component"]),
            str(row["lot"]),
            formats.count(row["units"]),
            formats.count(row["claims"]),
            formats.decimal_text(row["expected"], 1),
            times(row["rate_ratio"], row["lower"], row["upper"]),
            formats.p_value(row["adjusted_p"]),
        )
        for row in frame.head(_LOTS).to_dict("records")
    )
    apart = frame[frame["difference"] == "higher"]
    lead = (
        f"{formats.count(len(apart))} of {formats.count(len(frame))} lots "
        f"{'stands' if len(apart) == 1 else 'stand'} apart."
        if len(apart)
        else f"None of the {formats.count(len(frame))} lots is shown to be worse than "
        "the others."
    )
    return SectionView(
        id="lots",
        heading="Lots",
        basis=(
            "Units with your part by its lot, each lot against your others at equal "
            f"ages; {cut_off(inputs)}."
        ),
        lead=(lead,) if rows else (),
        tables=(
            TableView(
                "lots-table",
                f"The {len(rows)} lots with the highest rate after allowing for "
                "chance; the workbook has all",
                text_columns("component", "lot")
                + number_columns(
                    "units", "failed", "expected", "times the others", "adjusted p"
                ),
                rows,
            ),
        )
        if rows
        else (),
        empty=(
            "No list tells which unit carries which lot. Lot numbers by serial or by "
            "delivery date would show whether single lots stand out."
        ),
    )


def _findings(inputs: SupplierInputs) -> SectionView:
    claims = inputs.claims[inputs.claims["finding"].notna()]
    kinds = (
        "confirmed fault",
        "no fault found",
        "misuse",
        "transport damage",
        "other",
    )
    rows = []
    for component in sorted(set(claims["component"])):
        own = claims[claims["component"] == component]["finding"]
        rows.append(
            (
                str(component),
                formats.count(len(own)),
                *(formats.count(int((own == kind).sum())) for kind in kinds),
            )
        )
    return SectionView(
        id="findings",
        heading="What inspections of returned parts found",
        basis=f"Claims on your parts with an inspection; {cut_off(inputs)}.",
        reading=(
            "Claims without a fault found, of misuse and of damage in transport are in "
            "no rate and in no share of cost.",
        )
        if rows
        else (),
        tables=(
            TableView(
                "findings-table",
                "Inspected claims by what was found",
                text_columns("component") + number_columns("inspected", *kinds),
                tuple(rows),
            ),
        )
        if rows
        else (),
        empty="No returned part has been inspected.",
    )
