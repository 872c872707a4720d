"""The section that says what arrived, before any number is believed."""

from __future__ import annotations

import pandas as pd

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
DEFINITION = (
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
        f"Amiss with what arrived, so that figures may be wrong: {listed}. See What "
        "arrived.",
    )


def arrivals_section(inputs: MonthlyInputs) -> SectionView:
    """Build the section: what is amiss, and each source's newest file."""
    told = inputs.arrivals
    grave = arrival_sentences(inputs)
    notes = tuple(f"{f.sentence}." for f in told.findings if not f.is_grave)
    sources = formats.count(len(told.sources))
    banner = ""
    if grave:
        what = "one thing is" if len(grave) == 1 else f"{len(grave)} things are"
        banner = (
            f"Before any number is believed: {what} amiss with what arrived, and "
            "figures may be wrong for it."
        )
    return SectionView(
        id="arrivals",
        heading="What arrived",
        basis=(
            f"The newest files of {sources} source{'' if sources == '1' else 's'}, "
            "judged by the dates in them; cut-off "
            f"{formats.day(inputs.meta.as_of)}."
        ),
        banner=banner,
        lead=(*grave, *notes)
        or ("Nothing is amiss: every file is as its source's files were before.",),
        reading=(
            "A source whose rhythm and usual size the settings do not state is held "
            "against its own earlier files; with none, nothing can be said.",
        ),
        tables=(_table(told.sources),) if len(told.sources) else (),
        empty="No file has been loaded.",
    )


def _table(frame: pd.DataFrame) -> TableView:
    return TableView(
        "arrivals-table",
        "Newest file of each source; usual rows are the middle of up to six files "
        "before, or as the settings say",
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
