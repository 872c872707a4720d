"""Amounts in several currencies brought to one, by the rate of their month."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pandas as pd

from claimlens.errors import InputError
from claimlens.settings import CurrencySettings

__all__ = ["CENT", "in_report_currency", "rate_of"]

CENT = Decimal("0.01")
"""What amounts are rounded to on the way out."""


def rate_of(settings: CurrencySettings, currency: str, month: date) -> Decimal:
    """Return the value of one unit of a currency in the report currency.

    Parameters
    ----------
    settings : CurrencySettings
        Report currency and rates.
    currency : str
        As claims give it; without one nothing is turned.
    month : date
        A day of the month whose rate counts.

    Returns
    -------
    Decimal
        1 where there is no report currency, or it is the same.

    Raises
    ------
    InputError
        If the table has no rate for the currency in the month.
    """
    target, name = settings.report, f"{month:%Y-%m}"
    if target is None or currency in ("", target):
        return Decimal(1)
    rate = settings.rates.get(name, {}).get(currency)
    if rate is None:
        raise InputError(
            f"There is no rate for {currency} in {name}, which the report in {target} "
            "needs.",
            source="claimlens.toml",
            remedy=f'add it: [currency.rates."{name}"] {currency} = ... '
            f"(value of one {currency} in {target})",
        )
    return rate


def in_report_currency(costs: pd.DataFrame, settings: CurrencySettings) -> pd.DataFrame:
    """Turn costs into the report currency, month by month.

    Parameters
    ----------
    costs : pandas.DataFrame
        With ``month`` (its first day), ``currency`` and ``cost``.
    settings : CurrencySettings
        Report currency and rates; without a report currency nothing is turned.

    Returns
    -------
    pandas.DataFrame
        The same rows, ``cost`` and ``currency`` turned.

    Raises
    ------
    InputError
        If the table has no rate for a currency in a month that needs one.
    """
    target = settings.report
    if target is None:
        return costs
    turned = costs.copy()
    foreign = turned["currency"].ne(target) & turned["cost"].fillna(0).ne(0)
    foreign &= turned["currency"].ne("")
    for index, row in turned[foreign].iterrows():
        rate = rate_of(settings, row["currency"], row["month"])
        turned.loc[index, "cost"] = row["cost"] * float(rate)
    turned["currency"] = turned["currency"].where(turned["currency"].eq(""), target)
    return turned
