"""The sections on production windows, engineering changes and words that rise."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

import pandas as pd

from claimlens.language import N_, _, ngettext
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
# what a change is said to have done
_VERDICTS = (
    N_("improved"),
    N_("unchanged"),
    N_("worse"),
    N_("not shown"),
    N_("too early"),
)
_A_DAY = pd.Timedelta(days=1)


def _cut_off(inputs: MonthlyInputs) -> str:
    return _("cut-off {day}").format(day=formats.day(inputs.meta.as_of))


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
    if opening == closing:
        return opening
    return _("{first} to {last}").format(first=opening, last=closing)


def window_section(inputs: MonthlyInputs, charts: Charts) -> SectionView:
    """Build the section on build months that fail more than the others."""
    rising = inputs.rising
    frame = rising.windows
    nothing = rising.not_judged if rising.window_months.empty else ""
    return SectionView(
        id="windows",
        heading=_("Production windows"),
        basis=_(
            "First failures inside the cover, units by month of build over all models; "
            "every window of one to six months was looked at; {cut_off}."
        ).format(cut_off=_cut_off(inputs)),
        lead=tuple(_windows_told(frame)) if len(frame) else (),
        reading=(
            _(
                "The p-value already pays for looking at every window of a component; "
                "the adjusted one also for looking at every component. Above {level} "
                "adjusted, a window is no more than a hint."
            ).format(level=formats.decimal_text(_LEVEL, 2)),
        )
        if len(frame)
        else (),
        figure=figure(
            charts,
            "production-windows",
            caption=_("Failures by month of build, seen and expected"),
        ),
        tables=(window_table(frame),) if len(frame) else (),
        empty=nothing
        or _(
            "No window of build months fails more than chance allows (p at most "
            "{level})."
        ).format(level=formats.decimal_text(_LEVEL, 2)),
    )


def _windows_told(frame: pd.DataFrame) -> Iterator[str]:
    sure = frame[frame["adjusted_p"] <= _LEVEL]
    for row in sure.head(3).to_dict("records"):
        built = span(row["from_date"], row["to_date"])
        yield _(
            "{component}: units built in {built} fail {times} times as often as other "
            "production; {claims} of {units} units have failed, {left} not yet."
        ).format(
            component=opened(str(row["component"])),
            built=built,
            times=times(row["rate_ratio"], row["lower"], row["upper"]),
            claims=formats.count(row["claims"]),
            units=formats.count(row["units"]),
            left=formats.count(row["not_yet_failed"]),
        )
    hints = len(frame) - len(sure)
    if hints:
        yield ngettext(
            "{number} further window is a hint only: one or more of that kind can be "
            "expected by chance.",
            "{number} further windows are a hint only: one or more of that kind can be "
            "expected by chance.",
            hints,
        ).format(number=formats.count(hints))


def window_table(frame: pd.DataFrame) -> TableView:
    noted = bool((frame["note"] != "").any())
    return TableView(
        "windows-table",
        _(
            "Windows with a p-value of at most {level}, the most unlikely first; the "
            "true window lies within the plausible months"
        ).format(level=formats.decimal_text(_LEVEL, 2)),
        text_columns("component", "built in")
        + number_columns("times the rest", "claims", "expected", "units")
        + number_columns("not yet failed", "p", "adjusted p")
        + text_columns("plausible", *([N_("note")] if noted else [])),
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
        heading=_("Engineering changes"),
        basis=_(
            "First failures inside the cover in units built in the year before a "
            "change and since it, 30 days around it left out, up to the age that both "
            "have reached; {cut_off}."
        ).format(cut_off=_cut_off(inputs)),
        lead=tuple(_verdicts(judged)) if len(frame) else (),
        reading=(
            _(
                "Compare the curves at the same age. What else changed at the same "
                "time, such as a supplier, a season or a way of reporting, cannot be "
                "told apart; the control shows what happened meanwhile where nothing "
                "was changed."
            ),
        )
        if len(frame)
        else (),
        figure=figure(
            charts,
            "change-curves",
            caption=_("Share failed before and after each change"),
        ),
        tables=(change_table(frame),) if len(frame) else (),
        entries=tuple(change_entries(frame)),
        empty=rising.no_changes,
    )


def _verdicts(judged: pd.DataFrame) -> Iterator[str]:
    if judged.empty:
        yield _("No change of the list can be judged; the table says why.")
        return
    for row in judged.head(4).to_dict("records"):
        since = _month(row["starts_on"])
        yield _(
            "{change} ({component}, from {month}): verdict {verdict}; the rate since "
            "is {times} times that before ({failures} failures against {expected} "
            "expected)."
        ).format(
            change=row["change_no"],
            component=row["component"],
            month=since,
            verdict=_(str(row["verdict"])),
            times=times(row["rate_ratio"], row["lower"], row["upper"]),
            failures=formats.count(row["claims_after"]),
            expected=formats.decimal_text(row["expected_after"], 1),
        )


def change_table(frame: pd.DataFrame) -> TableView:
    return TableView(
        "engineering-changes-table",
        _(
            "Every engineering change of the list, the newest first; failures of the "
            "units on each side, and those expected after it at the rate before"
        ),
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
        _(str(row["verdict"])) or _("not judged"),
        times(row["rate_ratio"], row["lower"], row["upper"]),
        _of(row["claims_before"], row["units_before"]),
        _of(row["claims_after"], row["units_after"]),
        formats.decimal_text(row["expected_after"], 1),
        times(row["control_ratio"], row["control_lower"], row["control_upper"]),
    )


def _of(part: float, whole: float) -> str:
    if not _is_known(part):
        return MISSING
    return _("{part} of {whole}").format(
        part=formats.count(part), whole=formats.count(whole)
    )


def change_entries(frame: pd.DataFrame) -> Iterator[EntryView]:
    """Yield what each change is and what its verdict rests on."""
    for row in frame.to_dict("records"):
        lines = [f"{opened(str(row['reason']))}."]
        if row["description"]:
            lines.insert(0, f"{opened(str(row['description']))}.")
        if row["control"]:
            lines.append(_("Control: {what}.").format(what=row["control"]))
        if _is_known(row["verdict_by"]):
            month = _month(row["verdict_by"])
            lines.append(_("A verdict is likely by {month}.").format(month=month))
        if row["note"]:
            lines.append(f"{opened(str(row['note']))}.")
        verdict = _(str(row["verdict"])) or _("not judged")
        yield EntryView(
            sign="",
            heading=f"{row['change_no']}, {row['component']}: {verdict}",
            lines=tuple(lines),
        )


def word_section(inputs: MonthlyInputs) -> SectionView:
    """Build the section on words that rise in the owners' texts."""
    frame = inputs.rising.rising_words
    unknown = frame[frame["means"] == ""]
    said = ngettext(
        "{number} word rises, {unknown} of them unknown to the list of terms: read the "
        "claims named beside them.",
        "{number} words rise, {unknown} of them unknown to the list of terms: read the "
        "claims named beside them.",
        len(frame),
    ).format(number=formats.count(len(frame)), unknown=formats.count(len(unknown)))
    return SectionView(
        id="words",
        heading=_("Words that rise"),
        basis=_(
            "Texts of the owners by language, the newest month and the newest three "
            "against the year before; {cut_off}."
        ).format(cut_off=_cut_off(inputs)),
        lead=(said,) if len(frame) else (),
        reading=(
            _(
                "A word can rise for a new fault, a new dealer or a new form. The list "
                "may hold 2 per cent of words that rose by chance."
            ),
        )
        if len(frame)
        else (),
        tables=(_word_table(frame),) if len(frame) else (),
        empty=_(
            "No word became more frequent than chance and season explain, or too few "
            "texts were written in the year before to tell."
        ),
    )


def _word_table(frame: pd.DataFrame) -> TableView:
    unit = formats.rate_unit([*frame["share"], *frame["earlier_share"]])
    noted = bool((frame["note"] != "").any())
    return TableView(
        "words-table",
        _(
            "Words and pairs of words whose share of the texts grew, those without a "
            "meaning in the list of terms first; shares in {unit}"
        ).format(unit=unit.name),
        text_columns("word", "among")
        + number_columns("texts", "share", "year before", "times", "adjusted p")
        + text_columns("means", "claims to read", *([N_("note")] if noted else [])),
        tuple(
            (
                f"{row['word']} ({row['language']})",
                _among(row),
                _of(row["texts"], row["recent_texts"]),
                formats.rate(row["share"], unit),
                formats.rate(row["earlier_share"], unit),
                formats.ratio(row["ratio"]),
                formats.p_value(row["adjusted_p"]),
                str(row["means"]) or _("not in the list"),
                ", ".join(str(row["examples"]).split()) or MISSING,
                *([str(row["note"]) or MISSING] if noted else []),
            )
            for row in frame.to_dict("records")
        ),
    )


def _among(row: Mapping[Any, Any]) -> str:
    months = int(row["window_months"])
    return ngettext(
        "{texts} texts, newest month", "{texts} texts, newest {months} months", months
    ).format(texts=row["among"], months=months)
