"""The section that says what arrived, before any number is believed."""

from __future__ import annotations

import pandas as pd

from claimlens.language import N_, _, ngettext
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats
from claimlens.report.formats import MISSING
from claimlens.report.view import (
    SectionView,
    TableView,
    number_columns,
    text_columns,
)

__all__ = ["DEFINITION", "arrival_news", "arrival_sentences", "arrivals_section"]

#: How what arrived is judged.
DEFINITION = N_(
    "Each file that was to bring the month is held against what the settings say of "
    "its source, or where they say nothing against the source's earlier files: is it "
    "there, has it as many rows as usual, all its columns, and only words that are "
    "translated. A file's date is the newest date in it, so nothing depends on when "
    "it was loaded."
)


def arrival_sentences(inputs: MonthlyInputs) -> tuple[str, ...]:
    """Write what is amiss with what arrived, the grave things alone.

    Parameters
    ----------
    inputs : MonthlyInputs
        What arrived is in ``arrivals``.

    Returns
    -------
    tuple of str
        Empty where everything came as expected.
    """
    return tuple(f"{finding.sentence}." for finding in inputs.arrivals.grave)


def arrival_news(inputs: MonthlyInputs) -> tuple[str, ...]:
    """Write one sentence for the first screen where something is amiss.

    Parameters
    ----------
    inputs : MonthlyInputs
        What arrived is in ``arrivals``.

    Returns
    -------
    tuple of str
        Empty where everything came as expected.
    """
    grave = inputs.arrivals.grave
    if not grave:
        return ()
    places = list(dict.fromkeys(finding.place for finding in grave))
    listed = "; ".join(places[:3]) + ("; ..." if len(places) > 3 else "")
    return (
        _(
            "Amiss with what arrived, so that figures may be wrong: {places}. See What "
            "arrived."
        ).format(places=listed),
    )


def arrivals_section(inputs: MonthlyInputs) -> SectionView:
    """Build the section: what is amiss, and each source's newest file."""
    told = inputs.arrivals
    grave = arrival_sentences(inputs)
    notes = tuple(f"{f.sentence}." for f in told.findings if not f.is_grave)
    banner = ""
    if grave:
        banner = ngettext(
            "Before any number is believed: one thing is amiss with what arrived, and "
            "figures may be wrong for it.",
            "Before any number is believed: {number} things are amiss with what "
            "arrived, and figures may be wrong for it.",
            len(grave),
        ).format(number=len(grave))
    return SectionView(
        id="arrivals",
        heading=_("What arrived"),
        basis=ngettext(
            "The newest files of {number} source, judged by the dates in them; cut-off "
            "{day}.",
            "The newest files of {number} sources, judged by the dates in them; "
            "cut-off {day}.",
            len(told.sources),
        ).format(
            number=formats.count(len(told.sources)),
            day=formats.day(inputs.meta.as_of),
        ),
        banner=banner,
        lead=(*grave, *notes)
        or (_("Nothing is amiss: every file is as its source's files were before."),),
        reading=(
            _(
                "A source whose rhythm and usual size the settings do not state is "
                "held against its own earlier files; with none, nothing can be said."
            ),
        ),
        tables=(_table(told.sources),) if len(told.sources) else (),
        empty=_("No file has been loaded."),
    )


def _table(frame: pd.DataFrame) -> TableView:
    return TableView(
        "arrivals-table",
        _(
            "Newest file of each source; usual rows are the middle of up to six files "
            "before, or as the settings say"
        ),
        text_columns("source", "state", "newest file", "known on")
        + number_columns("rows", "usual rows")
        + text_columns("expected"),
        tuple(
            (
                str(row["source"]),
                str(row["state"]),
                str(row["newest_file"]) or MISSING,
                MISSING
                if pd.isna(row["known_on"])
                else formats.day(row["known_on"].date()),
                formats.count(row["rows"]),
                MISSING
                if pd.isna(row["usual_rows"])
                else f"{formats.count(row['usual_rows'])} ({row['usual_from']})",
                str(row["every"]) or MISSING,
            )
            for row in frame.to_dict("records")
        ),
    )
