"""The sections on claims still to come, and on how earlier forecasts did."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import pandas as pd

from claimlens.language import N_
from claimlens.monthly_inputs import UNCLASSIFIED, MonthlyInputs
from claimlens.report import formats
from claimlens.report.findings import join_words
from claimlens.report.formats import PER_CENT
from claimlens.report.to_come_sentences import (
    band,
    expected_sentence,
    missed_sentence,
    month_of,
    range_of,
    tested_sentences,
    trust_sentence,
)
from claimlens.report.view import (
    BoxView,
    SectionView,
    TableView,
    figure,
    number_columns,
    text_columns,
)
from claimlens.results import ChartHtml

__all__ = ["DEFINITION", "to_come_sections"]

Charts = Mapping[str, ChartHtml]

_NAMED = 3
_WHOLE = 0.9995
_BANDS = (band("80"), band("95"))

#: How claims to come are forecast.
DEFINITION = N_(
    "Every unit under cover is followed through the months to come. The rate at which "
    "its components fail is learned from the claims seen at the same age, model, "
    "build quarter and season, with what an engineering change did; failures become "
    "claims as late as reports have come so far. The limits come from draws of all "
    "that: a band of 80 per cent is to hold the true number in 80 of 100 cases. Units "
    "sold after the cut-off are not in it. The test makes the same forecast with the "
    "units and claims of months ago, and counts what came of units shipped by then. "
    "Two naive forecasts stand beside it: the mean of the three months before, and "
    "the same months a year before."
)


def to_come_sections(inputs: MonthlyInputs, charts: Charts) -> tuple[SectionView, ...]:
    """Build the sections in the order of the page; where nothing is told, one."""
    if inputs.to_come.not_told:
        return (_nothing(inputs),)
    return (_to_come(inputs, charts), _tested(inputs, charts))


def _nothing(inputs: MonthlyInputs) -> SectionView:
    """Say why nothing is told."""
    return SectionView(
        id="to-come",
        heading="What is still to come",
        basis=f"Cut-off {formats.day(inputs.meta.as_of)}.",
        empty=f"Nothing is said of claims to come. {inputs.to_come.not_told}",
    )


def _to_come(inputs: MonthlyInputs, charts: Charts) -> SectionView:
    """Build the section: months ahead, components, and what is assumed."""
    months = inputs.to_come.months_to_come
    return SectionView(
        id="to-come",
        heading="What is still to come",
        basis=(
            "Claims inside the cover by month of report, "
            f"{month_of(months['month'].iloc[0])} to "
            f"{month_of(months['month'].iloc[-1])}, from units shipped by the "
            f"cut-off; cut-off "
            f"{formats.day(inputs.meta.as_of)}."
        ),
        banner=missed_sentence(inputs),
        lead=tuple(_lead(inputs)),
        reading=(
            "An estimate, not a promise. It tells what the units made so far will "
            "still bring: they leave their cover one after the other, so the line "
            "falls even if no unit gets better, and what you sell from now on comes "
            "on top.",
        ),
        figure=figure(
            charts,
            "claims-to-come",
            caption="Claims by month of report, reported and expected",
            findings=list(_course(inputs)),
        ),
        tables=(_month_table(months), _component_table(inputs)),
        box=_box(inputs),
    )


def _tested(inputs: MonthlyInputs, charts: Charts) -> SectionView:
    """Build the section: earlier forecasts against what came and naive ones."""
    frame = inputs.to_come.backtests
    return SectionView(
        id="forecast-tested",
        heading="How earlier forecasts did",
        basis=(
            "Forecasts of all claims as they would have been made 6 and 12 months "
            "ago, against the claims of units shipped by then; cut-off "
            f"{formats.day(inputs.meta.as_of)}."
        ),
        banner=missed_sentence(inputs),
        lead=tuple(tested_sentences(inputs)),
        reading=(
            "A forecast is of use if what came lies inside its bands, and if it is "
            "nearer than taking the last months as they were.",
        )
        if len(frame)
        else (),
        figure=figure(
            charts,
            "forecast-tested",
            caption="Earlier forecasts by month, and what came",
        ),
        tables=(_tested_table(frame),) if len(frame) else (),
        empty=f"No earlier forecast can be tested. {inputs.to_come.not_tested}",
    )


def _lead(inputs: MonthlyInputs) -> Iterator[str]:
    yield expected_sentence(inputs)
    frame = inputs.to_come.components_to_come
    named = frame[frame["component"] != UNCLASSIFIED].head(_NAMED)
    if len(named):
        most = [
            f"{row['component']} ({formats.count(row['expected'])})"
            for row in named.to_dict("records")
        ]
        yield f"Most are expected from {join_words(most)}."
    yield from trust_sentence(inputs)
    yield "Units sold after the cut-off are not in it."


def _course(inputs: MonthlyInputs) -> Iterator[str]:
    months = inputs.to_come.months_to_come
    first, last = months.iloc[0], months.iloc[-1]
    said = "the rest of " if inputs.to_come.part_month else ""
    yield (
        f"{formats.count(first['expected'])} claims ({range_of(first, '80')}) are "
        f"expected in {said}{month_of(first['month'])}, "
        f"{formats.count(last['expected'])} ({range_of(last, '80')}) in "
        f"{month_of(last['month'])}; the limits are those of {band('80')}."
    )
    if inputs.to_come.part_month:
        yield (
            f"Of {month_of(first['month'])} {formats.count(first['so_far'])} claims "
            "are reported already; the chart adds them to those still expected of it."
        )


def _month_table(months: pd.DataFrame) -> TableView:
    return TableView(
        "to-come-table",
        "Claims expected by month of report, and added up from the first month on; "
        "limits of a sum are narrower than the sums of limits",
        text_columns("month of report")
        + number_columns("expected", *_BANDS)
        + number_columns("added up", *(f"{one} of the sum" for one in _BANDS)),
        tuple(
            (
                month_of(row["month"]),
                formats.count(row["expected"]),
                range_of(row, "80"),
                range_of(row, "95"),
                formats.count(row["total"]),
                range_of(row, "80", "total_"),
                range_of(row, "95", "total_"),
            )
            for row in months.to_dict("records")
        ),
    )


def _component_table(inputs: MonthlyInputs) -> TableView:
    frame = inputs.to_come.components_to_come
    last = inputs.to_come.months_to_come.iloc[-1]
    priced = bool(frame["cost"].notna().any())
    return TableView(
        "components-to-come-table",
        "The same claims by component, most expected first; limits of the sum are "
        "narrower than the sums of limits"
        + ("; cost at the mean of a settled claim" if priced else ""),
        text_columns("component")
        + number_columns("reported in the last 12 months", "expected in the next 12")
        + number_columns(*_BANDS, *(["cost"] if priced else [])),
        tuple(
            (
                str(row["component"]),
                formats.count(row["reported"]),
                _few(row["expected"]),
                range_of(row, "80"),
                range_of(row, "95"),
                *([formats.amount(row["cost"], _currency(row))] if priced else []),
            )
            for row in frame.to_dict("records")
        ),
        total=(
            "all",
            formats.count(frame["reported"].sum()),
            formats.count(last["total"]),
            range_of(last, "80", "total_"),
            range_of(last, "95", "total_"),
            *([_whole_cost(frame)] if priced else []),
        ),
    )


def _whole_cost(frame: pd.DataFrame) -> str:
    """Print what all components cost, if that of each is known."""
    total = frame["cost"].sum(skipna=False)
    return formats.amount(total, _currency(frame.iloc[0].to_dict()))


def _currency(row: Mapping[Any, Any]) -> str | None:
    return None if pd.isna(row["currency"]) else str(row["currency"])


def _few(expected: float) -> str:
    """Print expected claims; below ten a decimal tells something."""
    return formats.decimal_text(expected, 1 if expected < 10 else 0)


def _tested_table(frame: pd.DataFrame) -> TableView:
    return TableView(
        "forecasts-table",
        "Claims expected and come, all months together; off by is the distance "
        "between them for the forecast and for the two naive ones",
        text_columns("months")
        + number_columns("expected", *_BANDS, "came")
        + number_columns(*(f"months inside {one}" for one in _BANDS))
        + number_columns("off by", "three months' mean off by", "year before off by"),
        tuple(_tested_row(row) for row in frame.iloc[::-1].to_dict("records")),
    )


def _tested_row(row: Mapping[Any, Any]) -> tuple[str, ...]:
    return (
        f"{month_of(row['from_month'])} to {month_of(row['to_month'])}",
        formats.count(row["expected"]),
        range_of(row, "80"),
        range_of(row, "95"),
        formats.count(row["actual"]),
        _per_cent(row["inside80"]),
        _per_cent(row["inside95"]),
        formats.count(row["error"]),
        formats.count(row["error_last_three"]),
        formats.count(row["error_last_year"]),
    )


def _per_cent(share: float) -> str:
    return f"{formats.decimal_text(100 * share, 0)}{PER_CENT.suffix}"


def _box(inputs: MonthlyInputs) -> BoxView | None:
    """Tell what the forecast takes for granted."""
    taken = inputs.to_come.assumptions
    if taken is None:
        return None
    whole = next(
        (at for at, share in enumerate(taken.reported) if share >= _WHOLE),
        len(taken.reported) - 1,
    )
    rows = [
        ("units under cover", formats.count(taken.units_under_cover)),
        ("units shipped, not yet in service", formats.count(taken.units_to_enter)),
        ("units sold after the cut-off", "none: future sales are not in it"),
        (
            "late reports",
            f"{_per_cent(taken.reported[0])} of a month's failures are reported in "
            f"it, all within {formats.count(whole)} months after it",
        ),
        (
            "oldest age",
            f"{formats.count(taken.oldest_seen)} months in service under cover have "
            f"been seen, {formats.count(taken.oldest_used)} are reached in the months "
            "to come",
        ),
        ("cover", inputs.meta.coverage),
        ("draws", formats.count(taken.draws)),
        ("seed", str(taken.seed)),
    ]
    lines = [
        "Rates, late reports, cover and retirement go on as they were; what is "
        "decided or changed from now on is not in it."
    ]
    if taken.oldest_used > taken.oldest_seen:
        lines.append(
            "Some units reach ages that none has reached yet: there the rate is "
            "carried on, and less sure than the bands say."
        )
    return BoxView(
        id="forecast-assumptions",
        heading="What the forecast assumes",
        lines=tuple(lines),
        table=TableView(
            "forecast-assumptions-table",
            "Assumptions of the forecast",
            text_columns("assumption", "value"),
            tuple(rows),
        ),
    )
