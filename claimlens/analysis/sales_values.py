"""Sales values by month, from a file of the maker's books."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal, InvalidOperation
from pathlib import Path

from claimlens.analysis.money import rate_of
from claimlens.analysis.months import first_of, month_no
from claimlens.errors import InputError, SourceError
from claimlens.settings import CurrencySettings

__all__ = ["SALES_KEYS", "Sales", "read_sales_values"]

SALES_KEYS = ("model", "model_year", "region")
"""Keys by which a file of sales values may tell them apart."""

Sales = dict[tuple[tuple[str, ...], str], Decimal]
"""Sales value by the values of the keys and the currency."""

_MONTH = re.compile(r"(\d{4})-(0[1-9]|1[0-2])(-\d{2})?$")


def read_sales_values(
    path: Path,
    settings: CurrencySettings,
    *,
    by: Sequence[str],
    since: date,
    as_of: date,
) -> Sales:
    """Read the sales values of the months between two days.

    Parameters
    ----------
    path : Path
        A CSV file with ``month`` (YYYY-MM), ``value``, and ``currency`` where it is
        not the report currency; ``model``, ``model_year`` and ``region`` where asked
        by them.
    settings : CurrencySettings
        Report currency and rates; each month's value is turned at its own rate.
    by : sequence of str
        Keys asked for.
    since, as_of : date
        Months after the one that ``since`` ends, to that of ``as_of``.

    Returns
    -------
    Sales

    Raises
    ------
    InputError
        If ``since`` ends no month, or a rate is missing.
    SourceError
        If the file cannot be read, lacks a column or a month, or a value is no
        number.
    """
    if (since + timedelta(days=1)).day != 1:
        raise InputError(
            f"Sales values are by month, and {since} ends none.",
            remedy="give --from the last day of a month",
        )
    wanted = range(month_no(since) + 1, month_no(as_of) + 1)
    seen: set[int] = set()
    sales: Sales = {}
    for line, row in _rows(path, by):
        month, value = _month(path, line, row), _value(path, line, row)
        if month not in wanted:
            continue
        seen.add(month)
        currency = (row.get("currency") or settings.report or "").strip()
        value *= rate_of(settings, currency, first_of(month))
        told = settings.report or currency
        key = (tuple((row[name] or "").strip() for name in by), told)
        sales[key] = sales.get(key, Decimal(0)) + value
    missing = [month for month in wanted if month not in seen]
    if missing:
        raise SourceError(
            f"There is no sales value for {first_of(missing[0]):%Y-%m}.",
            source=path.name,
            remedy="give a value for every month, 0 where nothing was sold",
        )
    return sales


def _rows(path: Path, by: Sequence[str]) -> list[tuple[int, dict[str, str]]]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as handle:
            reader = csv.DictReader(handle)
            names = [name.strip().lower() for name in reader.fieldnames or []]
            reader.fieldnames = names
            rows = [(reader.line_num, dict(row)) for row in reader]
    except (OSError, UnicodeDecodeError) as error:
        raise SourceError(
            f"The sales values cannot be read: {error}.",
            source=str(path),
            remedy="name a CSV file in UTF-8",
        ) from error
    for name in ("month", "value", *by):
        if name not in names:
            raise SourceError(
                f"The sales values have no column {name}.",
                source=path.name,
                remedy="head it month,value,currency and the keys of --by",
            )
    return rows


def _month(path: Path, line: int, row: dict[str, str]) -> int:
    found = _MONTH.match((row["month"] or "").strip())
    if found is None:
        raise SourceError(
            f"{row['month']!r} is no month.",
            source=path.name,
            line=line,
            column="month",
            remedy="write months as YYYY-MM",
        )
    return month_no(date(int(found[1]), int(found[2]), 1))


def _value(path: Path, line: int, row: dict[str, str]) -> Decimal:
    try:
        value = Decimal((row["value"] or "").strip())
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite():
        raise SourceError(
            f"{row['value']!r} is no amount.",
            source=path.name,
            line=line,
            column="value",
            remedy="write amounts as 12345.67",
        )
    return value
