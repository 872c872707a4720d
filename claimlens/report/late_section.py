"""The section on reports that are still to come, and its sentences."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

import pandas as pd

from claimlens.language import N_, _, ngettext
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats
from claimlens.report.formats import MISSING, PER_CENT
from claimlens.report.view import (
    SectionView,
    TableView,
    figure,
    number_columns,
    text_columns,
)
from claimlens.results import ChartHtml

__all__ = ["DEFINITION", "late_section", "seen_so_far", "undated_failures"]

#: Months of the table of restated figures.
_RESTATED = 6
# a month of which less is reported is in no sentence that compares months
_MOSTLY = 0.5
_UNDATED = 0.2
_BACKLOGS = 3
_WHOLE = 0.9995

#: How the page completes the late months.
DEFINITION = N_(
    "A claim is reported some time after its failure, so the last months of failure "
    "are still incomplete. How late reports come is read from the months of failure "
    "and of report of the claims of the last two years, with allowance for those that "
    "the cut-off still hides. The claims of a month divided by the share reported are "
    "those expected finally; the interval holds the number that will be seen, chance "
    "and the doubt about the share included. Claims inside the cover are counted "
    "whatever an inspection found, because inspections come later than reports; a "
    "claim that is denied leaves the count. "
    "Months of which less than a fifth is reported are not completed, and of which "
    "less than half is, are compared with no other. A figure is marked as restated "
    "where the report before this one showed another."
)


def late_section(inputs: MonthlyInputs, charts: Mapping[str, ChartHtml]) -> SectionView:
    """Build the section: months of failure seen, completed, and as shown before."""
    frame = inputs.late_months
    has_claims = bool(frame["claims"].any())
    as_of = formats.day(inputs.meta.as_of)
    basis = _(
        "Claims inside the cover, whatever an inspection found; cut-off {day}."
    ).format(day=as_of)
    if len(frame):
        first, last = (_day(frame["month"].iloc[place]) for place in (0, -1))
        basis = _(
            "Claims inside the cover, whatever an inspection found, by month of "
            "failure, {first} to {last}; cut-off {day}."
        ).format(
            first=formats.month_name(first), last=formats.month_name(last), day=as_of
        )
        if last.day != 1:
            said = _(
                "Months are counted back from the cut-off, so each begins on day "
                "{number} of the month named."
            ).format(number=last.day)
            basis += f" {said}"
    return SectionView(
        id="late",
        heading=_("Failures by month, with reports still to come"),
        basis=basis,
        reading=(
            _(
                "Fewer claims in the last months mean late reports before anything "
                "else: read the striped bars with their intervals."
            ),
        ),
        figure=figure(
            charts,
            "claims-by-failure-month",
            caption=_("Claims by month of failure, so far and expected finally"),
            findings=list(_findings(inputs)),
        ),
        tables=(_restated(frame), *_delays(inputs)) if has_claims else (),
        empty=_("No claim of the last two years lies inside the cover."),
    )


def seen_so_far(inputs: MonthlyInputs) -> str:
    """Say how much of the last month's failures has been reported; may be empty."""
    frame = inputs.late_months
    if frame.empty or pd.isna(frame["share_reported"].iloc[-1]):
        return ""
    row = frame.iloc[-1]
    if row["share_reported"] >= _WHOLE:
        return ""
    return _("Of the failures of {month} we have seen about {share}.").format(
        month=formats.month_name(_day(row["month"])),
        share=_per_cent(row["share_reported"]),
    )


def undated_failures(inputs: MonthlyInputs) -> Iterator[str]:
    """Ask for failure dates where many claims have none."""
    share = inputs.late.undated_share
    if share > _UNDATED:
        yield _(
            "{share} of the claims of the last two years have no failure date and "
            "stand at their report: every age on this page then contains the time "
            "until the report. Ask for the failure date in the export."
        ).format(share=_per_cent(share))


def _findings(inputs: MonthlyInputs) -> Iterator[str]:
    frame, late = inputs.late_months, inputs.late
    if late.claims < late.fewest:
        yield ngettext(
            "Only {claims} claim tells how late reports come, {fewest} are needed: the "
            "bars are what was reported, and the last of them will grow.",
            "Only {claims} claims tell how late reports come, {fewest} are needed: the "
            "bars are what was reported, and the last of them will grow.",
            late.claims,
        ).format(claims=formats.count(late.claims), fewest=formats.count(late.fewest))
        return
    said = seen_so_far(inputs)
    if said:
        row = frame.iloc[-1]
        yield said
        if not pd.isna(row["completed"]):
            yield _(
                "{claims} claims are known, {completed} ({limits}) are expected "
                "finally."
            ).format(
                claims=formats.count(row["claims"]),
                completed=formats.count(row["completed"]),
                limits=_range(row),
            )
    told = frame[(frame["share_reported"] >= _MOSTLY) & frame["completed"].notna()]
    recent = told.tail(12)
    if len(recent) > 1:
        yield _(
            "The last {months} months of which at least half is reported have {fewest} "
            "to {most} claims each, those still to come included."
        ).format(
            months=len(recent),
            fewest=formats.count(recent["completed"].min()),
            most=formats.count(recent["completed"].max()),
        )
    if late.speed_changed:
        yield _(
            "Reporting speed changed: the failures of the last year were reported at "
            "another speed than those of the year before, and only they tell the share "
            "reported."
        )
    yield from _backlogs(inputs)


def _backlogs(inputs: MonthlyInputs) -> Iterator[str]:
    days = inputs.late.backlogs[-_BACKLOGS:]
    for day in days:
        yield _(
            "Backlog: {claims} of the {total} claims reported in {month} came on {day}."
        ).format(
            claims=formats.count(day.claims),
            total=formats.count(day.of_month),
            month=formats.month_name(day.reported_on),
            day=formats.day(day.reported_on),
        )
    more = len(inputs.late.backlogs) - len(days)
    if more:
        yield ngettext(
            "{number} earlier days brought a backlog, too.",
            "{number} earlier days brought a backlog, too.",
            more,
        ).format(number=formats.count(more))


def _restated(frame: pd.DataFrame) -> TableView:
    """Set the first figure of a month beside the present one and the final one."""
    rows = [
        (
            formats.month_name(_day(row["month"])),
            formats.count(row["first_shown"]),
            formats.count(row["last_shown"]),
            formats.count(row["claims"]),
            formats.count(row["completed"]),
            _range(row),
            _per_cent(row["share_reported"]),
            _("yes") if row["restated"] else _("no"),
        )
        for row in frame.tail(_RESTATED).iloc[::-1].to_dict("records")
    ]
    return TableView(
        "restated-table",
        _(
            "Claims by month of failure: as first shown, as shown by the report before "
            "this one, now, and expected finally"
        ),
        text_columns("month of failure")
        + number_columns(
            "first shown", "shown last month", "now", "expected finally", "interval"
        )
        + number_columns("share reported")
        + text_columns("restated"),
        tuple(rows),
    )


def _delays(inputs: MonthlyInputs) -> tuple[TableView, ...]:
    """Tabulate the share reported by months of delay, until it is whole."""
    frame = inputs.delays.dropna(subset=["share_reported"])
    if frame.empty:
        return ()
    whole = int((frame["share_reported"] < _WHOLE).sum()) + 1
    rows = tuple(
        (
            formats.count(row["delay_months"]),
            formats.count(row["claims"]),
            formats.rate(row["share_reported"], PER_CENT),
            formats.interval(row["lower"], row["upper"], PER_CENT),
        )
        for row in frame.head(whole).to_dict("records")
    )
    return (
        TableView(
            "delays-table",
            _(
                "Share of the claims reported within so many months after the month of "
                "failure, as {claims} claims tell it; shares in per cent"
            ).format(claims=formats.count(inputs.late.claims)),
            text_columns("months after")
            + number_columns("claims that came then", "share reported", "interval"),
            rows,
        ),
    )


def _range(row: Mapping[str, float] | pd.Series) -> str:
    lower, upper = row["lower"], row["upper"]
    if pd.isna(lower) or pd.isna(upper):
        return MISSING
    return f"{formats.count(lower)}–{formats.count(upper)}"


def _per_cent(share: float) -> str:
    if pd.isna(share):
        return MISSING
    return f"{formats.decimal_text(100 * share, 0)}{PER_CENT.suffix}"


def _day(value: pd.Timestamp) -> date:
    return date(value.year, value.month, value.day)
