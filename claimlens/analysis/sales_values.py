"""Sales values by month, from a file of the maker's books."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

from claimlens.analysis.money import rate_of
from claimlens.analysis.months import first_of, month_no
from claimlens.errors import InputError
from claimlens.ingest.short_lists import read_short_list
from claimlens.settings import CurrencySettings

__all__ = ["SALES_KEYS", "Sales", "read_sales_values"]

SALES_KEYS = ("model", "model_year", "region")
"""Keys by which a file of sales values may tell them apart."""

Sales = dict[tuple[tuple[str, ...], str], Decimal]
"""Sales value by the values of the keys and the currency."""

# more cannot be meant by a month's sales
_MOST = Decimal(10) ** 13


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
        A list with ``month``, ``value``, and ``currency`` where it is not the report
        currency; ``model``, ``model_year`` and ``region`` where asked by them.
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
        If ``since`` ends no month, a rate is missing, or the list lacks a column or
        a month, or a value is no number.
    SourceError
        If the file cannot be read as a table.
    """
    if (since + timedelta(days=1)).day != 1:
        raise InputError(
            f"Sales values are by month, and {since} ends none.",
            remedy="give --from the last day of a month",
        )
    wanted = range(month_no(since) + 1, month_no(as_of) + 1)
    seen: set[int] = set()
    sales: Sales = {}
    rows = read_short_list(
        path, required=("month", "value", *by), optional=("currency",)
    )
    for row in rows:
        month, value = row.month("month"), row.number_of("value", most=_MOST)
        if value is None:
            raise row.fault("value", "nothing stands there", "write 0 for no sales")
        if month not in wanted:
            continue
        seen.add(month)
        currency = row.text("currency") or settings.report or ""
        value *= rate_of(settings, currency, first_of(month))
        key = (tuple(row.text(name) or "" for name in by), settings.report or currency)
        sales[key] = sales.get(key, Decimal(0)) + value
    missing = [month for month in wanted if month not in seen]
    if missing:
        raise InputError(
            f"There is no sales value for {first_of(missing[0]):%Y-%m}.",
            source=path.name,
            remedy="give a value for every month, 0 where nothing was sold",
        )
    return sales
