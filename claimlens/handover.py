"""The one way out: CSV, workbooks and JSON that are safe to open anywhere."""

from __future__ import annotations

import csv
import io
import json
import math
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import numpy as np
import pandas as pd
import xlsxwriter

from claimlens.errors import InputError

__all__ = [
    "check_target",
    "nested",
    "neutral",
    "placing",
    "records",
    "to_csv",
    "to_json",
    "write_bytes",
    "write_text",
    "write_workbook",
]

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")

Cell = str | int | float | bool | None


def neutral(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula.

    Parameters
    ----------
    text : str
        Any text that came from data.

    Returns
    -------
    str
        With an apostrophe before it where it starts like a formula (common
        practice, no source).
    """
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def _cell(value: object) -> Cell:
    """Return a value as text, number, truth value or nothing."""
    if value is None or value is pd.NaT or value is pd.NA:
        return None
    if isinstance(value, bool | np.bool_ | int | np.integer):
        return bool(value) if isinstance(value, bool | np.bool_) else int(value)
    if isinstance(value, float | np.floating | Decimal):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, datetime) and value.time() != datetime.min.time():
        return value.isoformat(sep=" ")
    if isinstance(value, date):
        return value.isoformat()[:10]
    return str(value)


def records(frame: pd.DataFrame) -> list[dict[str, Cell]]:
    """Return the rows of a frame as flat records.

    Parameters
    ----------
    frame : pandas.DataFrame
        Any result.

    Returns
    -------
    list of dict
        Dates as ISO text; what is missing or not finite is None.
    """
    columns = [str(column) for column in frame.columns]
    lists = [
        [_cell(value) for value in frame.iloc[:, i].astype(object)]
        for i in range(len(columns))
    ]
    return [dict(zip(columns, row, strict=True)) for row in zip(*lists, strict=True)]


def nested(value: object) -> object:
    """Return an answer of dicts and lists with every value as JSON can hold it."""
    if isinstance(value, dict):
        return {str(key): nested(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [nested(each) for each in value]
    return _cell(value)


def to_json(rows: object) -> str:
    """Return records as JSON text that holds no NaN and no infinity."""
    return json.dumps(rows, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def to_csv(frame: pd.DataFrame) -> str:
    """Return a frame as CSV text (RFC 4180), formula starts neutralised."""
    out = io.StringIO()
    # with a shorter line end, Python 3.11 leaves a lone carriage return unquoted
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([neutral(str(column)) for column in frame.columns])
    for row in records(frame):
        writer.writerow(
            [
                "" if cell is None else neutral(cell) if isinstance(cell, str) else cell
                for cell in row.values()
            ]
        )
    return out.getvalue()


def write_workbook(
    frame: pd.DataFrame, path: Path, *, sheet: str, overwrite: bool
) -> None:
    """Write a frame as a workbook with one sheet and a frozen header.

    Parameters
    ----------
    frame : pandas.DataFrame
        What leaves.
    path : Path
        Target.
    sheet : str
        Name of the sheet, up to 31 characters.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the file exists and may not be replaced.
    """
    check_target(path, overwrite=overwrite)
    options = {
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    with xlsxwriter.Workbook(str(path), options) as book:
        # a fixed date: the same results give the same file
        book.set_properties({"created": datetime(2000, 1, 1)})
        page = book.add_worksheet(sheet[:31])
        head = book.add_format({"bold": True, "bottom": 1})
        page.freeze_panes(1, 0)
        for column, name in enumerate(frame.columns):
            page.write_string(0, column, neutral(str(name)), head)
        for row, record in enumerate(records(frame), start=1):
            for column, cell in enumerate(record.values()):
                if isinstance(cell, str):
                    page.write_string(row, column, neutral(cell))
                elif cell is not None:
                    page.write(row, column, cell)


def write_text(text: str, path: Path, *, overwrite: bool) -> None:
    """Write a text file whole or not at all.

    Parameters
    ----------
    text : str
        The contents.
    path : Path
        Target.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the file exists and may not be replaced, or its folder is not there.
    """
    write_bytes(text.encode("utf-8"), path, overwrite=overwrite)


def write_bytes(contents: bytes, path: Path, *, overwrite: bool) -> None:
    """Write a file whole or not at all.

    Parameters
    ----------
    contents : bytes
        The contents.
    path : Path
        Target.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    InputError
        If the file exists and may not be replaced, or its folder is not there.
    """
    with placing(path, overwrite=overwrite) as write:
        write(contents)


@contextmanager
def placing(path: Path, *, overwrite: bool) -> Iterator[Callable[[bytes], None]]:
    """Write a file beside its place; put it there when all else went well.

    Parameters
    ----------
    path : Path
        Target.
    overwrite : bool
        Whether an existing file may be replaced.

    Yields
    ------
    callable
        Takes the contents.

    Raises
    ------
    InputError
        If the file exists and may not be replaced, or its folder is not there.
    """
    check_target(path, overwrite=overwrite)
    # a name of its own, so that two writers never share a draft
    draft = path.with_name(f".{path.name}.{os.getpid()}.draft")

    def write(contents: bytes) -> None:
        with _writable(path), draft.open("wb") as file:
            file.write(contents)
            file.flush()
            os.fsync(file.fileno())

    try:
        yield write
        with _writable(path):
            draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)


@contextmanager
def _writable(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise InputError(
            f"The file cannot be written: {error.strerror or error}.",
            source=str(path),
            remedy="choose a folder that exists and can be written",
        ) from error


def check_target(path: Path, *, overwrite: bool) -> None:
    """Raise ``InputError`` if a file is there and may not be replaced."""
    if path.exists() and not overwrite:
        raise InputError(
            "The file is there already.",
            source=str(path),
            remedy="choose another name, or give --replace",
        )
