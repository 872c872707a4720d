"""The section on faults that rise, and what the fleet is too small to see."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import pandas as pd

from claimlens.language import N_, _, ngettext
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats
from claimlens.report.findings import opened
from claimlens.report.formats import MISSING
from claimlens.report.rising_sentences import (
    NOT_SEEN,
    chance_sentence,
    month_end,
    rising_news,
    standing,
    times,
    whose,
)
from claimlens.report.view import (
    BoxView,
    EntryView,
    SectionView,
    TableView,
    figure,
    number_columns,
    text_columns,
)
from claimlens.results import ChartHtml

__all__ = ["DEFINITION", "rising_section"]

#: A level is told by its word and by its shape, here and in the charts.
SHAPES = {"alarm": "▲", "watch": "◇"}
_LEVELS = {"alarm": N_("alarm"), "watch": N_("watch")}
_STATES = {
    "new": N_("new"),
    "growing": N_("growing"),
    "steady": N_("steady"),
    "cleared": N_("cleared"),
    "acknowledged": N_("acknowledged"),
}
# fewer expected failures in three build months' first year are hard to watch
_ENOUGH = 4.0
# values and their numbers, as signals list them: "Hauler 3 9, Finch S 3"
_COUNTED = re.compile(r"(.+?) (\d+)(?:, |$)")

#: How signals are made.
DEFINITION = N_(
    "The failures of each run of one to six recent build months are set against those "
    "to be expected from older production at the same ages, calendar months and time "
    "to report. From one bar on the excess is watched, from a higher one it is an "
    "alarm; the bars are set so that fleets of every size see few false signals. "
    "The run was searched for, so the ratio shown is too high on average. Each "
    "month-end is judged from what was known at it. New: the first month of a signal; "
    "growing: clearly more evidence than a month ago; steady: neither; cleared: no "
    "longer there; acknowledged: a person knows of it, with name, date and reason."
)


def rising_section(
    inputs: MonthlyInputs, charts: Mapping[str, ChartHtml]
) -> SectionView:
    """Build the section: signals, their course, chance, and blind spots."""
    rising = inputs.rising
    if rising.judged_on is None:
        return SectionView(
            id="rising",
            heading=_("What is rising"),
            basis=_("Cut-off {day}.").format(day=formats.day(inputs.meta.as_of)),
            empty=rising.not_judged,
        )
    frame = rising.signals
    return SectionView(
        id="rising",
        heading=_("What is rising"),
        basis=_(
            "First failures inside the cover of {number} components in units of the "
            "last 18 build months, judged at the end of each month up to {judged}; "
            "cut-off {day}."
        ).format(
            number=formats.count(rising.components),
            judged=formats.day(rising.judged_on),
            day=formats.day(inputs.meta.as_of),
        ),
        lead=(*map(opened, rising_news(inputs)), chance_sentence(inputs)),
        listing=_table(frame) if len(frame) else None,
        entries=tuple(_entries(frame)),
        reading=(
            _(
                "Times expected is the failures over those expected, with its "
                "interval. Build months were searched for the largest excess, so it is "
                "too high on average: look at the number of claims beside it."
            ),
        )
        if len(frame)
        else (),
        figure=figure(
            charts,
            "signal-courses",
            caption=_("Failures of the build months behind each signal, by month-end"),
            findings=list(_courses(inputs)),
        ),
        box=_box(inputs),
    )


def _table(frame: pd.DataFrame) -> TableView:
    return TableView(
        "signals-table",
        _(
            "Signals that stand or have just cleared: alarms first, a single model "
            "under its component; since the end of which month"
        ),
        text_columns("component", "level", "state", "since")
        + number_columns("times expected", "claims", "expected", "units", "cost"),
        tuple(_row(row) for row in frame.to_dict("records")),
    )


def _row(row: Mapping[Any, Any]) -> tuple[str, ...]:
    name = str(row["component"])
    if row["detail_of"]:
        name = _("of these, {model} alone").format(model=row["model"])
    elif row["model"]:
        name = f"{name}, {row['model']}"
    return (
        name,
        _level(row),
        _state(row),
        formats.month_name(pd.Timestamp(row["since"]).date()),
        times(row["rate_ratio"], row["lower"], row["upper"]),
        formats.count(row["claims"]),
        formats.decimal_text(row["expected"], 1),
        formats.count(row["units"]),
        formats.amount(row["cost"], _currency(row)),
    )


def _level(row: Mapping[Any, Any]) -> str:
    return f"{SHAPES.get(str(row['level']), '')} {_word(row)}".strip()


def _word(row: Mapping[Any, Any]) -> str:
    """Name the level of a signal."""
    return _(_LEVELS.get(str(row["level"]), str(row["level"])))


def _state(row: Mapping[Any, Any]) -> str:
    """Name the state of a signal."""
    return _(_STATES.get(str(row["state"]), str(row["state"])))


def _currency(row: Mapping[Any, Any]) -> str | None:
    return None if pd.isna(row["currency"]) else str(row["currency"])


def _entries(frame: pd.DataFrame) -> Iterator[EntryView]:
    """Yield what a signal rests on; what has cleared is in the table alone."""
    told = frame[frame["state"] != "cleared"]
    parents = told[told["detail_of"] == ""]
    for row in parents.to_dict("records"):
        details = told[
            (told["detail_of"] != "") & (told["component"] == row["component"])
        ]
        lines = [f"{row['why']}.", *_where(row), *_notes(row)]
        for detail in details.to_dict("records"):
            alone = _("{model} alone, {level}, {state}: {why}.").format(
                model=detail["model"],
                level=_word(detail),
                state=_state(detail),
                why=detail["why"],
            )
            lines.append(alone)
            lines += _notes(detail)
        yield EntryView(
            sign=SHAPES.get(str(row["level"]), ""),
            heading=_("{level}: {whose}, {state}").format(
                level=opened(_word(row)), whose=whose(row), state=_state(row)
            ),
            lines=tuple(lines),
        )


def _where(row: Mapping[Any, Any]) -> Iterator[str]:
    """Say which models and regions most claims come from."""
    models, regions = (
        ", ".join(f"{name} ({number})" for name, number in _COUNTED.findall(listed))
        for listed in (str(row["models"]), str(row["regions"]))
    )
    if models and regions:
        said = _("Most claims by model {models}; by region {regions}.")
    elif models:
        said = _("Most claims by model {models}.")
    else:
        said = _("Most claims by region {regions}.")
    if models or regions:
        yield said.format(models=models, regions=regions)


def _notes(row: Mapping[Any, Any]) -> Iterator[str]:
    if row["note"]:
        yield _("Look first: {note}.").format(note=row["note"])
    if row["acknowledged_by"]:
        is_limited = pd.notna(row["acknowledged_until"])
        said = (
            _("Acknowledged by {who} at the cut-off of {day}, until {until}: {why}")
            if is_limited
            else _("Acknowledged by {who} at the cut-off of {day}: {why}")
        )
        yield said.format(
            who=row["acknowledged_by"],
            day=month_end(row["acknowledged_on"]),
            until=month_end(row["acknowledged_until"]) if is_limited else "",
            why=row["acknowledged_why"],
        )


def _courses(inputs: MonthlyInputs) -> Iterator[str]:
    frame = inputs.rising.signal_months
    if frame.empty:
        return
    drawn = frame.drop_duplicates(["component", "model"])
    all_of = len(standing(inputs))
    if len(drawn) < all_of:
        yield _("The first {number} of {all} signals are drawn.").format(
            number=formats.count(len(drawn)), all=formats.count(all_of)
        )
    for (component, model), own in frame.groupby(["component", "model"], sort=True):
        alarms = own[own["level"] == "alarm"]
        if len(alarms):
            first = alarms.iloc[0]
            name = opened(whose({"component": component, "model": model}))
            yield ngettext(
                "{whose}: an alarm from {month} on, at {failures} failures where "
                "{expected} were expected.",
                "{whose}: an alarm from {month} on, at {failures} failures where "
                "{expected} were expected.",
                first["observed"],
            ).format(
                whose=name,
                month=formats.month_name(pd.Timestamp(first["month"]).date()),
                failures=formats.count(first["observed"]),
                expected=formats.decimal_text(first["expected"], 1),
            )


def _box(inputs: MonthlyInputs) -> BoxView | None:
    """Tell what a fleet of this size cannot see."""
    frame = inputs.rising.blind_spots
    # a model that is not built any more can show nothing
    frame = frame[frame["expected"] > 0]
    if frame.empty:
        return None
    wholes, singles = frame[frame["model"] == ""], frame[frame["model"] != ""]
    few = wholes[wholes["expected"] < _ENOUGH].sort_values(["expected", "component"])
    few_singles = singles[singles["expected"] < _ENOUGH]
    said = (
        _(
            "{few} of {all} components have fewer than {enough} expected failures in "
            "the first year of three build months, and so have {few_pairs} of {pairs} "
            "pairs of component and model."
        )
        if len(singles)
        else _(
            "{few} of {all} components have fewer than {enough} expected failures in "
            "the first year of three build months."
        )
    )
    lines = [
        said.format(
            few=formats.count(len(few)),
            all=formats.count(len(wholes)),
            enough=formats.count(_ENOUGH),
            few_pairs=formats.count(len(few_singles)),
            pairs=formats.count(len(singles)),
        )
    ]
    if len(few):
        lines.append(
            _(
                "There a rise has to be large: the table says from how many times the "
                "usual rate on it is seen within that year with a chance of 80 %. A "
                "smaller one is mostly not seen, so no signal does not mean no fault."
            )
        )
    return BoxView(
        id="blind-spots",
        heading=_("What this fleet is too small to see"),
        lines=tuple(lines),
        table=_blind_table(few, singles) if len(few) else None,
    )


def _blind_table(few: pd.DataFrame, singles: pd.DataFrame) -> TableView:
    has_models = len(singles) > 0
    rows = []
    for row in few.to_dict("records"):
        own = singles[singles["component"] == row["component"]]["multiple"]
        cells = [
            str(row["component"]),
            formats.decimal_text(row["expected"], 1),
            _multiple(row["multiple"]),
        ]
        if has_models:
            cells.append(_multiples(own))
        rows.append(tuple(cells))
    heading = [N_("expected failures"), N_("smallest rise seen, times")]
    if has_models:
        heading.append(N_("in one model alone, times"))
    return TableView(
        "blind-spots-table",
        _(
            "Components with few expected failures in three build months' first year, "
            "the fewest first"
        ),
        text_columns("component") + number_columns(*heading),
        tuple(rows),
    )


def _multiples(values: pd.Series) -> str:
    known = values.dropna()
    if known.empty:
        return MISSING
    least, most = _multiple(float(known.min())), _multiple(float(known.max()))
    return (
        least
        if least == most
        else _("{least} to {most}").format(least=least, most=most)
    )


def _multiple(value: float) -> str:
    if pd.isna(value) or np.isinf(value) or value > NOT_SEEN:
        return _("over {number}").format(number=formats.count(NOT_SEEN))
    return formats.decimal_text(value, 1, "upper")
