"""Amounts in several currencies brought to one, by the rate of their month."""

from __future__ import annotations

import pandas as pd

from claimlens.errors import InputError
from claimlens.settings import CurrencySettings

__all__ = ["in_report_currency"]


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
        month = row["month"].strftime("%Y-%m")
        rate = settings.rates.get(month, {}).get(row["currency"])
        if rate is None:
            raise InputError(
                f"There is no rate for {row['currency']} in {month}, which the report "
                f"in {target} needs.",
                source="claimlens.toml",
                remedy=f'add it: [currency.rates."{month}"] {row["currency"]} = ... '
                f"(value of one {row['currency']} in {target})",
            )
        turned.loc[index, "cost"] = row["cost"] * float(rate)
    turned["currency"] = turned["currency"].where(turned["currency"].eq(""), target)
    return turned
