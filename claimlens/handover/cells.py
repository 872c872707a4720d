"""Values as text, number or nothing: records, CSV and JSON."""

from __future__ import annotations

import csv
import io
import json
import math
import re
import unicodedata
from datetime import date, datetime
from decimal import Decimal

import numpy as np
import pandas as pd

from claimlens.marks import HIDDEN

__all__ = ["Cell", "nested", "neutral", "records", "to_csv", "to_json"]

_FORMULA_STARTS = frozenset("=+-@")
# a program may drop what it cannot show before it looks at the start
_DROPPED = re.compile(rf"[\s{HIDDEN}]*")

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
    if text[:1].isalnum():
        return text
    start = _DROPPED.sub("", text, count=1)[:1]
    # wide, small and raised signs count as the plain ones
    is_formula = unicodedata.normalize("NFKC", start) in _FORMULA_STARTS
    return f"'{text}" if is_formula or text.startswith(("\t", "\r", "\n")) else text


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
