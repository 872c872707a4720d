"""The sections of a dossier on what rises, windows, units at risk, changes, repairs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import pandas as pd

from claimlens.report import formats
from claimlens.report.component_words import (
    counted,
    cut_off,
    money_of,
    named,
    standing_signal,
)
from claimlens.report.findings import join_words, opened
from claimlens.report.formats import MISSING
from claimlens.report.production_section import (
    change_entries,
    change_table,
    span,
    window_table,
)
from claimlens.report.rising_sentences import month_end, times
from claimlens.report.view import (
    SectionView,
    TableView,
    figure,
    number_columns,
    text_columns,
)
from claimlens.report_inputs.component import ComponentInputs
from claimlens.results import ChartHtml

__all__ = ["action_sections", "day_text", "text_or_missing"]

Charts = Mapping[str, ChartHtml]

#: Units at risk that the page lists; the workbook has them all.
UNITS_SHOWN = 200
_SHOWN = 0.05
# a longer list is folded away on a screen
_FOLDED = 12
_GONE = "out of service"


def action_sections(inputs: ComponentInputs, charts: Charts) -> tuple[SectionView, ...]:
    """Build the sections on production: rising, windows, units, changes."""
    return (
        _rising(inputs, charts),
        _windows(inputs, charts),
        _at_risk(inputs),
        _changes(inputs, charts),
    )


def _rising(inputs: ComponentInputs, charts: Charts) -> SectionView:
    rising = inputs.rising
    if rising.judged_on is None:
        return SectionView(
            id="rising",
            heading="Whether it is rising",
            basis=f"{opened(cut_off(inputs))}.",
            empty=rising.not_judged,
        )
    frame = rising.signals
    return SectionView(
        id="rising",
        heading="Whether it is rising",
        basis=(
            "First failures inside the cover in units of the last 18 build months, set "
            "against older production and all other components, judged up to "
            f"{formats.day(rising.judged_on)}; {cut_off(inputs)}."
        ),
        lead=()
        if standing_signal(inputs)
        else ("Nothing rises beyond what chance explains.",),
        tables=(_signal_table(frame),) if len(frame) else (),
        figure=figure(
            charts,
            "signal-courses",
            caption="Failures of the build months behind the signal, by month-end",
        ),
        empty="No signal stands.",
    )


def _signal_table(frame: pd.DataFrame) -> TableView:
    return TableView(
        "signals-table",
        "Signals of this component, alarms first; a row of one model is part of that "
        "of all models",
        text_columns("models", "level", "state", "since", "built in")
        + number_columns("times expected", "claims", "expected", "units", "cost"),
        tuple(
            (
                str(row["model"]) or "all",
                str(row["level"]),
                str(row["state"]),
                month_end(row["since"]),
                span(row["from_date"], row["to_date"]),
                times(row["rate_ratio"], row["lower"], row["upper"]),
                formats.count(row["claims"]),
                formats.decimal_text(row["expected"], 1),
                formats.count(row["units"]),
                money_of(row["cost"], row["currency"]),
            )
            for row in frame.to_dict("records")
        ),
    )


def _windows(inputs: ComponentInputs, charts: Charts) -> SectionView:
    frame = inputs.rising.windows
    scanned = frame[frame["p_value"].notna()]
    told = "; ".join(str(note) for note in frame["note"] if note)
    return SectionView(
        id="windows",
        heading="Production windows",
        basis=(
            "First failures inside the cover, units by month of build over all models; "
            f"every window of one to six months was looked at; {cut_off(inputs)}."
        ),
        lead=tuple(_window_words(scanned)),
        reading=(
            "The p-value pays for looking at every window of the component. If you "
            "look at it because it stood out among many, read the adjusted one.",
        )
        if len(scanned)
        else (),
        figure=figure(
            charts,
            "production-windows",
            caption="Failures by month of build, seen and expected",
        ),
        tables=(window_table(scanned),) if len(scanned) else (),
        empty=inputs.rising.not_judged
        or (opened(f"{told}.") if told else "No window could be looked for."),
    )


def _window_words(frame: pd.DataFrame) -> Iterator[str]:
    shown = frame[frame["p_value"] <= _SHOWN]
    if shown.empty:
        if len(frame):
            yield (
                "No window of build months fails more than chance allows; the table "
                "shows the highest one."
            )
        return
    for row in shown.head(3).to_dict("records"):
        yield (
            f"Built in {span(row['from_date'], row['to_date'])}: "
            f"{times(row['rate_ratio'], row['lower'], row['upper'])} times the rate of "
            f"other production; {formats.count(row['claims'])} failed where "
            f"{formats.decimal_text(row['expected'], 1)} were expected."
        )


def _at_risk(inputs: ComponentInputs) -> SectionView:
    gone = inputs.at_risk["state"] == _GONE
    frame = inputs.at_risk[~gone]
    shown = frame.head(UNITS_SHOWN)
    return SectionView(
        id="units-at-risk",
        heading="Units at risk",
        basis=(
            "Units built in the windows above without a first failure of this "
            f"component; {cut_off(inputs)}."
        ),
        lead=tuple(_risk_words(frame, int(gone.sum()))) if len(frame) else (),
        reading=(
            "An input to a decision by people; it says nothing on a recall. Who owns "
            "or sold a unit is left out.",
        )
        if len(frame)
        else (),
        tables=(_risk_table(shown, len(frame)),) if len(frame) else (),
        fold=f"The list of {counted(len(frame), 'unit', 'units')}"
        if len(frame) > _FOLDED
        else "",
        empty="No window is shown, so no unit is listed.",
    )


def _risk_words(frame: pd.DataFrame, gone: int) -> Iterator[str]:
    stock = int((frame["state"] == "not in service yet").sum())
    covered = int((frame["cover_days_left"].fillna(0) > 0).sum())
    unknown = int(frame["cover_days_left"].isna().sum()) - stock
    said = [
        f"{formats.count(covered)} still under cover",
        *([f"{formats.count(stock)} not in service yet"] if stock else []),
        *([f"{formats.count(unknown)} without a known date"] if unknown > 0 else []),
    ]
    verb = "has" if len(frame) == 1 else "have"
    yield (
        f"{counted(len(frame), 'unit', 'units')} {verb} not failed yet: "
        f"{join_words(said)}."
        + (f" {formats.count(gone)} more are out of service." if gone else "")
    )


def _risk_table(shown: pd.DataFrame, whole: int) -> TableView:
    more = whole - len(shown)
    caption = "By window, build date and serial"
    if more:
        caption += (
            f"; the first {formats.count(len(shown))} of {formats.count(whole)}, the "
            "workbook beside this page has them all"
        )
    return TableView(
        "units-at-risk-table",
        caption,
        text_columns("unit", "model", "built", "lot", "in service since", "state")
        + number_columns("cover days left", "window"),
        tuple(
            (
                str(row["serial"]),
                text_or_missing(row["model"]),
                day_text(row["build_date"]),
                text_or_missing(row["build_lot"]),
                day_text(row["in_service_date"]),
                str(row["state"]),
                formats.count(row["cover_days_left"])
                if pd.notna(row["cover_days_left"])
                else MISSING,
                str(row["window"]),
            )
            for row in shown.to_dict("records")
        ),
    )


def text_or_missing(value: object) -> str:
    """Write a text, or that there is none."""
    return MISSING if pd.isna(value) or value == "" else str(value)


def day_text(value: object) -> str:
    """Write a day for a list, or that there is none."""
    if pd.isna(value):
        return MISSING
    return f"{pd.Timestamp(str(value)):%Y-%m-%d}"


def _changes(inputs: ComponentInputs, charts: Charts) -> SectionView:
    frame = inputs.rising.design_changes
    return SectionView(
        id="engineering-changes",
        heading="Before and after engineering changes",
        basis=(
            "First failures inside the cover in units built in the year before a "
            "change and since it, 30 days around it left out, up to the age that both "
            f"have reached; {cut_off(inputs)}."
        ),
        reading=(
            "Compare the curves at the same age. What else changed at the same time "
            "cannot be told apart; the control shows what happened meanwhile where "
            "nothing was changed.",
        )
        if len(frame)
        else (),
        figure=figure(
            charts,
            "change-curves",
            caption="Share failed before and after each change",
        ),
        tables=(change_table(frame),) if len(frame) else (),
        entries=tuple(change_entries(frame)),
        empty=f"No engineering change of the {named(inputs.component)} is listed.",
    )
