"""Where a report goes: the page with its workbook, or its tables."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from claimlens import placing
from claimlens.cli.options import ReportForm, busy
from claimlens.cli.screen import say, write_data
from claimlens.errors import InputError
from claimlens.handover import ReportTables, sheet_document, to_json

__all__ = [
    "NoWorkbookOption",
    "ReportFormOption",
    "ReportOutputOption",
    "deliver_report",
]

ReportFormOption = Annotated[
    ReportForm,
    typer.Option(
        "--format",
        help="html writes the page and its workbook; csv, json and parquet write "
        "one file a table.",
    ),
]
ReportOutputOption = Annotated[
    Path | None,
    typer.Option(
        "--output",
        help="File of the page (by default in out/), or folder of the tables; "
        "json without it goes to the screen as one document.",
    ),
]
NoWorkbookOption = Annotated[
    bool,
    typer.Option("--no-workbook", help="Write the page alone, no workbook beside."),
]


def deliver_report(
    form: ReportForm,
    output: Path | None,
    *,
    replace: bool,
    workbook: bool,
    write_page: Callable[[], Path],
    count: Callable[[], ReportTables],
) -> None:
    """Write a report in the form asked for, and say where it is.

    Parameters
    ----------
    form : {"html", "csv", "json", "parquet"}
        What is wanted.
    output : Path or None
        File of the page, or folder of the tables.
    replace, workbook : bool
        Whether files may be replaced; whether a workbook goes beside the page.
    write_page : callable
        Writes page and workbook, and returns the path of the page.
    count : callable
        Returns the tables.

    Raises
    ------
    InputError
        If the tables need a folder and none is named.
    """
    if form == "html":
        with busy("counting and drawing"):
            path = write_page()
        say(str(path))
        if workbook:
            say(str(path.with_suffix(".xlsx")))
        return
    if output is not None:
        placing.check_tables(output, form, overwrite=replace)
        with busy("counting"):
            paths = placing.write_tables(count(), output, form, overwrite=replace)
        for written in paths:
            say(str(written))
        return
    if form != "json":
        raise InputError(
            f"The tables as {form} are many files.",
            remedy="name a folder for them with --output FOLDER",
        )
    with busy("counting"):
        tables = count()
    write_data(to_json(sheet_document(tables)))
