"""The sections on claims still to come, and on how earlier forecasts did."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import pandas as pd

from claimlens.language import N_, _
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


def _bands() -> tuple[str, str]:
    """Write the levels of both bands."""
    return band("80"), band("95")


def _nothing(inputs: MonthlyInputs) -> SectionView:
    """Say why nothing is told."""
    return SectionView(
        id="to-come",
        heading=_("What is still to come"),
        basis=_("Cut-off {day}.").format(day=formats.day(inputs.meta.as_of)),
        empty=_("Nothing is said of claims to come. {why}").format(
            why=inputs.to_come.not_told
        ),
    )


def _to_come(inputs: MonthlyInputs, charts: Charts) -> SectionView:
    """Build the section: months ahead, components, and what is assumed."""
    months = inputs.to_come.months_to_come
    return SectionView(
        id="to-come",
        heading=_("What is still to come"),
        basis=_(
            "Claims inside the cover by month of report, {first} to {last}, from units "
            "shipped by the cut-off; cut-off {day}."
        ).format(
            first=month_of(months["month"].iloc[0]),
            last=month_of(months["month"].iloc[-1]),
            day=formats.day(inputs.meta.as_of),
        ),
        banner=missed_sentence(inputs),
        lead=tuple(_lead(inputs)),
        reading=(
            _(
                "An estimate, not a promise. It tells what the units made so far will "
                "still bring: they leave their cover one after the other, so the line "
                "falls even if no unit gets better, and what you sell from now on "
                "comes on top."
            ),
        ),
        figure=figure(
            charts,
            "claims-to-come",
            caption=_("Claims by month of report, reported and expected"),
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
        heading=_("How earlier forecasts did"),
        basis=_(
            "Forecasts of all claims as they would have been made 6 and 12 months "
            "ago, against the claims of units shipped by then; cut-off {day}."
        ).format(day=formats.day(inputs.meta.as_of)),
        banner=missed_sentence(inputs),
        lead=tuple(tested_sentences(inputs)),
        reading=(
            _(
                "A forecast is of use if what came lies inside its bands, and if it is "
                "nearer than taking the last months as they were."
            ),
        )
        if len(frame)
        else (),
        figure=figure(
            charts,
            "forecast-tested",
            caption=_("Earlier forecasts by month, and what came"),
        ),
        tables=(_tested_table(frame),) if len(frame) else (),
        empty=_("No earlier forecast can be tested. {why}").format(
            why=inputs.to_come.not_tested
        ),
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
        yield _("Most are expected from {these}.").format(these=join_words(most))
    yield from trust_sentence(inputs)
    yield _("Units sold after the cut-off are not in it.")


def _course(inputs: MonthlyInputs) -> Iterator[str]:
    months = inputs.to_come.months_to_come
    first, last = months.iloc[0], months.iloc[-1]
    said = (
        _(
            "{claims} claims ({limits}) are expected in the rest of {first}, "
            "{claims_last} ({limits_last}) in {last}; the limits are those of {band}."
        )
        if inputs.to_come.part_month
        else _(
            "{claims} claims ({limits}) are expected in {first}, {claims_last} "
            "({limits_last}) in {last}; the limits are those of {band}."
        )
    )
    yield said.format(
        claims=formats.count(first["expected"]),
        limits=range_of(first, "80"),
        first=month_of(first["month"]),
        claims_last=formats.count(last["expected"]),
        limits_last=range_of(last, "80"),
        last=month_of(last["month"]),
        band=band("80"),
    )
    if inputs.to_come.part_month:
        yield _(
            "Of {month} {claims} claims are reported already; the chart adds them to "
            "those still expected of it."
        ).format(month=month_of(first["month"]), claims=formats.count(first["so_far"]))


def _month_table(months: pd.DataFrame) -> TableView:
    return TableView(
        "to-come-table",
        _(
            "Claims expected by month of report, and added up from the first month on; "
            "limits of a sum are narrower than the sums of limits"
        ),
        text_columns("month of report")
        + number_columns("expected", *_bands())
        + number_columns(
            "added up", *(_("{band} of the sum").format(band=one) for one in _bands())
        ),
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
        _(
            "The same claims by component, most expected first; limits of the sum are "
            "narrower than the sums of limits; cost at the mean of a settled claim"
        )
        if priced
        else _(
            "The same claims by component, most expected first; limits of the sum are "
            "narrower than the sums of limits"
        ),
        text_columns("component")
        + number_columns("reported in the last 12 months", "expected in the next 12")
        + number_columns(*_bands(), *(["cost"] if priced else [])),
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
            _("all"),
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
        _(
            "Claims expected and come, all months together; off by is the distance "
            "between them for the forecast and for the two naive ones"
        ),
        text_columns("months")
        + number_columns("expected", *_bands(), "came")
        + number_columns(
            *(_("months inside {band}").format(band=one) for one in _bands())
        )
        + number_columns("off by", "three months' mean off by", "year before off by"),
        tuple(_tested_row(row) for row in frame.iloc[::-1].to_dict("records")),
    )


def _tested_row(row: Mapping[Any, Any]) -> tuple[str, ...]:
    return (
        _("{first} to {last}").format(
            first=month_of(row["from_month"]), last=month_of(row["to_month"])
        ),
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
        (_("units under cover"), formats.count(taken.units_under_cover)),
        (_("units shipped, not yet in service"), formats.count(taken.units_to_enter)),
        (
            _("units sold after the cut-off"),
            _("none: future sales are not in it"),
        ),
        (
            _("late reports"),
            _(
                "{share} of a month's failures are reported in it, all within {months} "
                "months after it"
            ).format(share=_per_cent(taken.reported[0]), months=formats.count(whole)),
        ),
        (
            _("oldest age"),
            _(
                "{seen} months in service under cover have been seen, {used} are "
                "reached in the months to come"
            ).format(
                seen=formats.count(taken.oldest_seen),
                used=formats.count(taken.oldest_used),
            ),
        ),
        (_("cover"), inputs.meta.coverage),
        (_("draws"), formats.count(taken.draws)),
        (_("seed"), str(taken.seed)),
    ]
    lines = [
        _(
            "Rates, late reports, cover and retirement go on as they were; what is "
            "decided or changed from now on is not in it."
        )
    ]
    if taken.oldest_used > taken.oldest_seen:
        lines.append(
            _(
                "Some units reach ages that none has reached yet: there the rate is "
                "carried on, and less sure than the bands say."
            )
        )
    return BoxView(
        id="forecast-assumptions",
        heading=_("What the forecast assumes"),
        lines=tuple(lines),
        table=TableView(
            "forecast-assumptions-table",
            _("Assumptions of the forecast"),
            text_columns("assumption", "value"),
            tuple(rows),
        ),
    )
