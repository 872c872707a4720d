"""The sections on production windows, engineering changes and words that rise."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

import pandas as pd

from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats
from claimlens.report.findings import opened
from claimlens.report.formats import MISSING
from claimlens.report.rising_sentences import times
from claimlens.report.view import (
    EntryView,
    SectionView,
    TableView,
    figure,
    number_columns,
    text_columns,
)
from claimlens.results import ChartHtml

__all__ = [
    "change_entries",
    "change_section",
    "change_table",
    "span",
    "window_section",
    "window_table",
    "word_section",
]

Charts = Mapping[str, ChartHtml]

# above it, looking at every component makes a window likely by chance
_LEVEL = 0.05
_A_DAY = pd.Timedelta(days=1)


def _cut_off(inputs: MonthlyInputs) -> str:
    return f"cut-off {formats.day(inputs.meta.as_of)}"


def _is_known(value: object) -> bool:
    return not pd.isna(value)


def _month(value: object) -> str:
    stamp = pd.Timestamp(str(value))
    return formats.month_name(date(stamp.year, stamp.month, 1))


def span(first: object, stop: object) -> str:
    """Write build dates of which the second is not inside, as months."""
    if not (_is_known(first) and _is_known(stop)):
        return MISSING
    last = pd.Timestamp(str(stop)) - _A_DAY
    opening, closing = _month(first), _month(last)
    return opening if opening == closing else f"{opening} to {closing}"


def window_section(inputs: MonthlyInputs, charts: Charts) -> SectionView:
    """Build the section on build months that fail more than the others."""
    rising = inputs.rising
    frame = rising.windows
    nothing = rising.not_judged if rising.window_months.empty else ""
    return SectionView(
        id="windows",
        heading="Production windows",
        basis=(
            "First failures inside the cover, units by month of build over all models; "
            f"every window of one to six months was looked at; {_cut_off(inputs)}."
        ),
        lead=tuple(_windows_told(frame)) if len(frame) else (),
        reading=(
            "The p-value already pays for looking at every window of a component; "
            "the adjusted one also for looking at every component. Above 0.05 "
            "adjusted, a window is no more than a hint.",
        )
        if len(frame)
        else (),
        figure=figure(
            charts,
            "production-windows",
            caption="Failures by month of build, seen and expected",
        ),
        tables=(window_table(frame),) if len(frame) else (),
        empty=nothing
        or "No window of build months fails more than chance allows (p at most 0.05).",
    )


def _windows_told(frame: pd.DataFrame) -> Iterator[str]:
    sure = frame[frame["adjusted_p"] <= _LEVEL]
    for row in sure.head(3).to_dict("records"):
        built = span(row["from_date"], row["to_date"])
        yield (
            f"{opened(str(row['component']))}: units built in {built} "
            f"fail {times(row['rate_ratio'], row['lower'], row['upper'])} times as "
            f"often as other production; {formats.count(row['claims'])} of "
            f"{formats.count(row['units'])} units have failed, "
            f"{formats.count(row['not_yet_failed'])} not yet."
        )
    hints = len(frame) - len(sure)
    if hints:
        yield (
            f"{formats.count(hints)} further "
            f"{'window is' if hints == 1 else 'windows are'} a hint only: one or more "
            "of that kind can be expected by chance."
        )


def window_table(frame: pd.DataFrame) -> TableView:
    noted = bool((frame["note"] != "").any())
    return TableView(
        "windows-table",
        "Windows with a p-value of at most 0.05, the most unlikely first; the true "
        "window lies within the plausible months",
        text_columns("component", "built in")
        + number_columns("times the rest", "claims", "expected", "units")
        + number_columns("not yet failed", "p", "adjusted p")
        + text_columns("plausible", *(["note"] if noted else [])),
        tuple(_window_row(row, noted=noted) for row in frame.to_dict("records")),
    )


def _window_row(row: Mapping[Any, Any], *, noted: bool) -> tuple[str, ...]:
    return (
        str(row["component"]) + (f", {row['model']}" if row["model"] else ""),
        span(row["from_date"], row["to_date"]),
        times(row["rate_ratio"], row["lower"], row["upper"]),
        formats.count(row["claims"]),
        formats.decimal_text(row["expected"], 1),
        formats.count(row["units"]),
        formats.count(row["not_yet_failed"]),
        formats.p_value(row["p_value"]),
        formats.p_value(row["adjusted_p"]),
        span(row["plausible_from"], row["plausible_to"]),
        *([str(row["note"]) or MISSING] if noted else []),
    )


def change_section(inputs: MonthlyInputs, charts: Charts) -> SectionView:
    """Build the section on whether engineering changes helped."""
    rising = inputs.rising
    frame = rising.design_changes
    judged = frame[frame["verdict"] != ""]
    return SectionView(
        id="engineering-changes",
        heading="Engineering changes",
        basis=(
            "First failures inside the cover in units built in the year before a "
            "change and since it, 30 days around it left out, up to the age that both "
            f"have reached; {_cut_off(inputs)}."
        ),
        lead=tuple(_verdicts(judged)) if len(frame) else (),
        reading=(
            "Compare the curves at the same age. What else changed at the same time, "
            "such as a supplier, a season or a way of reporting, cannot be told apart; "
            "the control shows what happened meanwhile where nothing was changed.",
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
        empty=rising.no_changes,
    )


def _verdicts(judged: pd.DataFrame) -> Iterator[str]:
    if judged.empty:
        yield "No change of the list can be judged; the table says why."
        return
    for row in judged.head(4).to_dict("records"):
        since = _month(row["starts_on"])
        yield (
            f"{row['change_no']} ({row['component']}, from {since}): "
            f"verdict {row['verdict']}; the rate since is "
            f"{times(row['rate_ratio'], row['lower'], row['upper'])} times that before "
            f"({formats.count(row['claims_after'])} failures against "
            f"{formats.decimal_text(row['expected_after'], 1)} expected)."
        )


def change_table(frame: pd.DataFrame) -> TableView:
    return TableView(
        "engineering-changes-table",
        "Every engineering change of the list, the newest first; failures of the "
        "units on each side, and those expected after it at the rate before",
        text_columns("change", "component", "from", "verdict")
        + number_columns("times before", "failures before", "failures after")
        + number_columns("expected", "control"),
        tuple(_change_row(row) for row in frame.to_dict("records")),
    )


def _change_row(row: Mapping[Any, Any]) -> tuple[str, ...]:
    return (
        str(row["change_no"]),
        str(row["component"]) + (f", {row['model']}" if row["model"] else ""),
        _month(row["starts_on"]) if _is_known(row["starts_on"]) else MISSING,
        str(row["verdict"]) or "not judged",
        times(row["rate_ratio"], row["lower"], row["upper"]),
        _of(row["claims_before"], row["units_before"]),
        _of(row["claims_after"], row["units_after"]),
        formats.decimal_text(row["expected_after"], 1),
        times(row["control_ratio"], row["control_lower"], row["control_upper"]),
    )


def _of(part: float, whole: float) -> str:
    if not _is_known(part):
        return MISSING
    return f"{formats.count(part)} of {formats.count(whole)}"


def change_entries(frame: pd.DataFrame) -> Iterator[EntryView]:
    """Yield what each change is and what its verdict rests on."""
    for row in frame.to_dict("records"):
        lines = [f"{opened(str(row['reason']))}."]
        if row["description"]:
            lines.insert(0, f"{opened(str(row['description']))}.")
        if row["control"]:
            lines.append(f"Control: {row['control']}.")
        if _is_known(row["verdict_by"]):
            lines.append(f"A verdict is likely by {_month(row['verdict_by'])}.")
        if row["note"]:
            lines.append(f"{opened(str(row['note']))}.")
        verdict = str(row["verdict"]) or "not judged"
        yield EntryView(
            sign="",
            heading=f"{row['change_no']}, {row['component']}: {verdict}",
            lines=tuple(lines),
        )


def word_section(inputs: MonthlyInputs) -> SectionView:
    """Build the section on words that rise in the owners' texts."""
    frame = inputs.rising.rising_words
    unknown = frame[frame["means"] == ""]
    said = (
        f"{formats.count(len(frame))} "
        f"{'word rises' if len(frame) == 1 else 'words rise'}, "
        f"{formats.count(len(unknown))} of them unknown to the list of terms: read "
        "the claims named beside them."
    )
    return SectionView(
        id="words",
        heading="Words that rise",
        basis=(
            "Texts of the owners by language, the newest month and the newest three "
            f"against the year before; {_cut_off(inputs)}."
        ),
        lead=(said,) if len(frame) else (),
        reading=(
            "A word can rise for a new fault, a new dealer or a new form. The list "
            "may hold 2 per cent of words that rose by chance.",
        )
        if len(frame)
        else (),
        tables=(_word_table(frame),) if len(frame) else (),
        empty=(
            "No word became more frequent than chance and season explain, or too few "
            "texts were written in the year before to tell."
        ),
    )


def _word_table(frame: pd.DataFrame) -> TableView:
    unit = formats.rate_unit([*frame["share"], *frame["earlier_share"]])
    noted = bool((frame["note"] != "").any())
    return TableView(
        "words-table",
        "Words and pairs of words whose share of the texts grew, those without a "
        f"meaning in the list of terms first; shares in {unit.name}",
        text_columns("word", "among")
        + number_columns("texts", "share", "year before", "times", "adjusted p")
        + text_columns("means", "claims to read", *(["note"] if noted else [])),
        tuple(
            (
                f"{row['word']} ({row['language']})",
                _among(row),
                _of(row["texts"], row["recent_texts"]),
                formats.rate(row["share"], unit),
                formats.rate(row["earlier_share"], unit),
                formats.ratio(row["ratio"]),
                formats.p_value(row["adjusted_p"]),
                str(row["means"]) or "not in the list",
                ", ".join(str(row["examples"]).split()) or MISSING,
                *([str(row["note"]) or MISSING] if noted else []),
            )
            for row in frame.to_dict("records")
        ),
    )


def _among(row: Mapping[Any, Any]) -> str:
    months = int(row["window_months"])
    newest = "newest month" if months == 1 else f"newest {months} months"
    return f"{row['among']} texts, {newest}"
