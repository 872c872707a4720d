"""The sections on the reserve and on spare parts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import pandas as pd

from claimlens.language import N_
from claimlens.monthly_inputs import RESERVE_PARTS, RESERVE_TOTAL, MonthlyInputs
from claimlens.report import formats
from claimlens.report.findings import join_words, opened
from claimlens.report.formats import MISSING
from claimlens.report.to_come_sentences import band
from claimlens.report.view import (
    BoxView,
    SectionView,
    TableView,
    figure,
    number_columns,
    text_columns,
)
from claimlens.results import ChartHtml

__all__ = ["DEFINITION", "reserve_section", "spares_section"]

#: What the reserve is made of.
DEFINITION = N_(
    "What claims inside the cover of units shipped by the cut-off will still cost: "
    "(a) claims reported and not yet settled, (b) failures that have happened and are "
    "not yet reported, (c) failures still to happen before the cover ends, (d) those "
    "of units shipped and not yet sold. Each is the expected claims times the share "
    "that is paid and the cost of a settled claim of its component and model. The "
    "limits come from draws that all parts share, so those of a sum are those of the "
    "added draws."
)

#: Spare parts on the page.
SHOWN = 20

# an amount that prints as nothing
_LEAST = 1.0
_NAMED = 3


def _cut_off(inputs: MonthlyInputs) -> str:
    return f"cut-off {formats.day(inputs.meta.as_of)}"


def reserve_section(
    inputs: MonthlyInputs, charts: Mapping[str, ChartHtml]
) -> SectionView:
    """Build the section: what the units in the field still cost."""
    reserve = inputs.reserve
    told = not reserve.not_told
    totals = reserve.reserve_all[reserve.reserve_all["part"] == RESERVE_TOTAL]
    return SectionView(
        id="reserve",
        heading="Reserve by model year",
        basis=(
            "What claims inside the cover of units shipped by the cut-off will still "
            f"cost; {_cut_off(inputs)}."
        ),
        lead=tuple(_lead(inputs, totals)) if told else (),
        reading=(
            "An estimate from claims data, not an accounting opinion. It is not "
            "discounted, foresees no later prices, and knows of no unit sold from now "
            "on.",
        )
        if told
        else (),
        figure=figure(
            charts,
            "reserve-by-model-year",
            caption="Reserve by model year and part",
        ),
        tables=(_reserve_table(inputs, totals),) if told else (),
        box=BoxView(
            id="reserve-assumptions",
            heading="What the reserve assumes",
            lines=tuple(f"{opened(one)}." for one in reserve.taken_for_granted),
        )
        if told
        else None,
        empty=f"Nothing is said of money still to be paid. {reserve.not_told}",
    )


def _lead(inputs: MonthlyInputs, totals: pd.DataFrame) -> Iterator[str]:
    frame, years = inputs.reserve.reserve_all, inputs.reserve.reserve_years
    for total in totals.to_dict("records"):
        currency = _currency(total)
        own = frame[_is_in(frame, currency)].set_index("part")["amount"]
        parts = [
            f"{words} {formats.amount(own[part])}"
            for part, words in RESERVE_PARTS.items()
            if part in own.index
        ]
        yield (
            f"{formats.amount(total['amount'], currency)} are still to be paid: "
            f"{_limits(total, '80')} with {band('80')} chance, {_limits(total, '95')} "
            f"with {band('95')}. Of it {', '.join(parts)}."
        )
        of_years = years[_is_in(years, currency) & (years["part"] == RESERVE_TOTAL)]
        if len(of_years) > 1 and total["amount"] >= _LEAST:
            most = of_years.sort_values("amount", kind="stable").iloc[-1]
            yield (
                f"Most of it is for model year {_year(most)}: "
                f"{formats.amount(most['amount'], currency)}."
            )


def _reserve_table(inputs: MonthlyInputs, totals: pd.DataFrame) -> TableView:
    reserve = inputs.reserve
    years = reserve.reserve_years
    shown = years[(years["part"] == RESERVE_TOTAL) & (years["upper95"] >= _LEAST)]
    rows = [
        _reserve_row(_year(total), total, years, total["model_year"])
        for total in shown.to_dict("records")
    ]
    sums = [
        _reserve_row("all", total, reserve.reserve_all, None)
        for total in totals.to_dict("records")
    ]
    one = len(sums) == 1
    return TableView(
        "reserve-table",
        "Expected amounts by model year: (a) reported and open, (b) failed, not yet "
        "reported, (c) to fail under cover, (d) shipped, not yet sold; model years of "
        "which nothing is outstanding are left out",
        text_columns("model year")
        + number_columns("claims", "(a)", "(b)", "(c)", "(d)", "sum")
        + number_columns(band("80"), band("95"))
        + text_columns("currency"),
        tuple(rows if one else rows + sums),
        total=sums[0] if one else (),
    )


def _reserve_row(
    name: str, total: Mapping[Any, Any], frame: pd.DataFrame, year: float | None
) -> tuple[str, ...]:
    own = frame[_is_in(frame, _currency(total))]
    if year is not None:
        is_year = (
            own["model_year"].isna() if pd.isna(year) else own["model_year"] == year
        )
        own = own[is_year]
    amounts = own.set_index("part")["amount"]
    return (
        name,
        formats.count(total["claims"]),
        *(formats.amount(amounts.get(part)) for part in RESERVE_PARTS),
        formats.amount(total["amount"]),
        _limits(total, "80"),
        _limits(total, "95"),
        _currency(total) or MISSING,
    )


def _is_in(frame: pd.DataFrame, currency: str | None) -> pd.Series:
    column = frame["currency"]
    return column.isna() if currency is None else column == currency


def _currency(row: Mapping[Any, Any]) -> str | None:
    return None if pd.isna(row["currency"]) else str(row["currency"])


def _year(row: Mapping[Any, Any] | pd.Series) -> str:
    year = row["model_year"]
    return "not told" if pd.isna(year) else f"{year:.0f}"


def _limits(row: Mapping[Any, Any], level: str) -> str:
    lower = formats.decimal_text(row[f"lower{level}"], 0, "lower")
    upper = formats.decimal_text(row[f"upper{level}"], 0, "upper")
    return f"{lower}–{upper}"


def spares_section(inputs: MonthlyInputs) -> SectionView:
    """Build the section: which parts will be needed until the next delivery."""
    spares = inputs.spares
    frame = spares.spare_parts
    level = f"{100 * spares.service_level:g}"
    between = (
        "the month"
        if spares.review_months == 1
        else f"the {spares.review_months:g} months"
    )
    return SectionView(
        id="spares",
        heading="Spare parts to have ready",
        basis=(
            "Demand of claims inside the cover from the cut-off over each part's lead "
            f"time and {between} between orders; {_cut_off(inputs)}."
        ),
        lead=tuple(_spares_lead(frame)) if len(frame) else (),
        reading=(
            f"To hold is the number that suffices with a chance of {level} per cent. "
            "Units sold from now on, goodwill and claims outside the cover need more. "
            "What is on the shelf is not known here: claimlens spares, given a stock "
            "file, says what to order.",
        )
        if len(frame)
        else (),
        tables=(_spares_table(frame.head(SHOWN)),) if len(frame) else (),
        empty=f"No spare part is told. {spares.not_told}".strip(),
    )


def _spares_lead(frame: pd.DataFrame) -> Iterator[str]:
    named = [
        f"{row['description'] or row['part_no']} "
        f"({formats.decimal_text(row['demand_mean'], 1)})"
        for row in frame.head(_NAMED).to_dict("records")
    ]
    yield f"Most pieces are expected of {join_words(named)}."
    priced = frame.dropna(subset=["unit_cost"])
    worth = (
        priced.assign(worth=priced["quantity_to_hold"] * priced["unit_cost"])
        .groupby("currency", sort=True)["worth"]
        .sum()
    )
    if len(worth):
        sums = [
            formats.amount(float(value), str(code)) for code, value in worth.items()
        ]
        yield (
            f"To hold what is named of all {formats.count(len(frame))} parts with a "
            f"demand is worth {join_words(sums)} at the prices of the parts list."
        )


def _spares_table(frame: pd.DataFrame) -> TableView:
    return TableView(
        "spares-table",
        f"The {formats.count(len(frame))} parts with most demand in pieces; claimlens "
        "spares lists every part",
        text_columns("part", "description", "for")
        + number_columns("lead time, days", "expected pieces", "to hold")
        + number_columns("price", "worth of what to hold"),
        tuple(
            (
                str(row["part_no"]),
                str(row["description"]) or MISSING,
                str(row["component"]) or MISSING,
                formats.count(row["lead_time_days"]),
                formats.decimal_text(row["demand_mean"], 1),
                formats.count(row["quantity_to_hold"]),
                _price(row["unit_cost"], row),
                formats.amount(
                    row["quantity_to_hold"] * row["unit_cost"], _currency(row)
                ),
            )
            for row in frame.to_dict("records")
        ),
    )


def _price(value: float, row: Mapping[Any, Any]) -> str:
    """Print a price to the cent."""
    if pd.isna(value):
        return MISSING
    text = formats.decimal_text(value, 2)
    code = _currency(row)
    return text if code is None else f"{text}\N{NO-BREAK SPACE}{code}"
