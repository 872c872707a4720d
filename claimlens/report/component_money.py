"""The sections of a dossier on cost so far and to come."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from claimlens.report import formats
from claimlens.report.component_words import (
    band_of,
    claims_of,
    cost_ahead,
    cost_so_far,
    cut_off,
    money_of,
)
from claimlens.report.formats import MISSING
from claimlens.report.to_come_sentences import month_of, range_of
from claimlens.report.view import (
    SectionView,
    TableView,
    figure,
    number_columns,
    text_columns,
)
from claimlens.report_inputs.component import ComponentInputs
from claimlens.results import ChartHtml

__all__ = ["money_sections"]

_TOTAL = "total"
_QUARTERS = 12


def money_sections(
    inputs: ComponentInputs, charts: Mapping[str, ChartHtml]
) -> tuple[SectionView, ...]:
    """Build the sections on money and on claims to come."""
    return (_so_far(inputs), _to_come(inputs, charts), _reserve(inputs))


def _so_far(inputs: ComponentInputs) -> SectionView:
    tables = [
        *([_parts_table(inputs.cost_parts)] if len(inputs.cost_parts) else []),
        *(
            [_per_claim(inputs.severity)]
            if inputs.severity["mean"].notna().any()
            else []
        ),
        *([_quarters(inputs.costs)] if len(inputs.costs) else []),
    ]
    return SectionView(
        id="cost",
        heading="Cost so far",
        basis=(
            "Parts, labour and freight of all claims but those cancelled or denied; "
            f"{cut_off(inputs)}."
        ),
        lead=(cost_so_far(inputs),) if tables else (),
        tables=tuple(tables),
        empty=inputs.no_cost or "No claim of it has a cost.",
    )


def _parts_table(frame: pd.DataFrame) -> TableView:
    rest = frame["cost"] - frame[["cost_parts", "cost_labour", "cost_freight"]].sum(
        axis=1
    )
    return TableView(
        "cost-parts-table",
        "What it is made of, each currency as it was paid; the rest is what a total "
        "holds beside its parts",
        text_columns("currency")
        + number_columns("claims", "parts", "labour", "freight", "rest", "total"),
        tuple(
            (
                str(row["currency"]),
                formats.count(row["claims"]),
                formats.count(row["cost_parts"]),
                formats.count(row["cost_labour"]),
                formats.count(row["cost_freight"]),
                formats.count(left if abs(left) >= 0.005 else 0.0),
                formats.count(row["cost"]),
            )
            for row, left in zip(frame.to_dict("records"), rest, strict=True)
        ),
    )


def _per_claim(frame: pd.DataFrame) -> TableView:
    return TableView(
        "cost-per-claim-table",
        "Cost of a settled claim of the last 24 months, each currency for itself",
        text_columns("currency")
        + number_columns("claims", "mean", "lower limit", "upper limit", "largest"),
        tuple(
            (
                MISSING if pd.isna(row["currency"]) else str(row["currency"]),
                formats.count(row["claims"]),
                _cents(row["mean"]),
                _cents(row["lower"], "lower"),
                _cents(row["upper"], "upper"),
                _cents(row["largest"]),
            )
            for row in frame.to_dict("records")
        ),
    )


def _cents(value: object, bound: str = "") -> str:
    if value is None or pd.isna(value):
        return MISSING
    return formats.decimal_text(float(str(value)), 2, bound)  # type: ignore[arg-type]


def _quarters(costs: pd.DataFrame) -> TableView:
    """Add up the newest quarters, by quarter of report."""
    quarter = pd.PeriodIndex(pd.to_datetime(costs["month"]), freq="Q")
    table = costs.assign(quarter=quarter).groupby(["quarter", "currency"])[
        ["claims", "cost"]
    ]
    sums = table.sum().reset_index()
    newest = sorted(set(sums["quarter"]))[-_QUARTERS:]
    shown = sums[sums["quarter"].isin(newest)].iloc[::-1]
    return TableView(
        "cost-quarters-table",
        f"By quarter of report, the newest {formats.count(len(newest))}",
        text_columns("quarter") + number_columns("claims with a cost", "cost"),
        tuple(
            (
                f"{row['quarter'].year} Q{row['quarter'].quarter}",
                formats.count(row["claims"]),
                formats.amount(row["cost"], str(row["currency"])),
            )
            for row in shown.to_dict("records")
        ),
    )


def _to_come(inputs: ComponentInputs, charts: Mapping[str, ChartHtml]) -> SectionView:
    months = inputs.to_come.months_to_come
    return SectionView(
        id="to-come",
        heading="Claims and cost to come",
        basis=(
            "Claims inside the cover by month of report, from units shipped by the "
            f"cut-off; {cut_off(inputs)}."
        ),
        lead=(cost_ahead(inputs),) if len(months) else (),
        reading=(
            "Estimated from the claims of this component alone. The monthly report "
            "lets it lean on all components, so its figure may differ within the "
            "band. What you sell from now on comes on top.",
        )
        if len(months)
        else (),
        figure=figure(
            charts,
            "claims-to-come",
            caption="Claims by month of report, reported and expected",
        ),
        tables=(_months_table(months),) if len(months) else (),
        empty=f"Nothing is said of claims to come. {inputs.to_come.not_told}".strip(),
    )


def _months_table(months: pd.DataFrame) -> TableView:
    return TableView(
        "to-come-table",
        "Claims expected by month of report, and added up from the first month on",
        text_columns("month of report")
        + number_columns("expected", "80 % band", "95 % band")
        + number_columns("added up", "80 % band of the sum"),
        tuple(
            (
                month_of(row["month"]),
                formats.decimal_text(row["expected"], 1),
                range_of(row, "80"),
                range_of(row, "95"),
                formats.decimal_text(row["total"], 1),
                range_of(row, "80", "total_"),
            )
            for row in months.to_dict("records")
        ),
    )


def _reserve(inputs: ComponentInputs) -> SectionView:
    frame = inputs.reserve
    totals = frame[frame["part"] == _TOTAL]
    lead = tuple(
        f"{money_of(row['amount'], row['currency'])} for {claims_of(row['claims'])} "
        f"until the last cover ends: {band_of(row)} with 80 % chance."
        for row in totals.to_dict("records")
    )
    return SectionView(
        id="reserve",
        heading="What units in the field still cost under cover",
        basis=(
            "Units shipped by the cut-off, to the end of their cover, without "
            f"discounting; {cut_off(inputs)}."
        ),
        lead=lead,
        reading=("An estimate from claims data, not an accounting opinion.",)
        if len(frame)
        else (),
        tables=(_reserve_table(frame),) if len(frame) else (),
        empty=f"It is not told. {inputs.no_reserve}".strip(),
    )


def _reserve_table(frame: pd.DataFrame) -> TableView:
    return TableView(
        "reserve-table",
        "What is outstanding, part by part",
        text_columns("part") + number_columns("claims", "amount", "80 % band"),
        tuple(
            (
                str(row["part"]),
                formats.decimal_text(row["claims"], 1),
                money_of(row["amount"], row["currency"]),
                band_of(row),
            )
            for row in frame.to_dict("records")
        ),
    )
