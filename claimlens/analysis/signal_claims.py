"""The claims behind a signal: their money, where they come from, and doubts."""

from __future__ import annotations

import pandas as pd

from claimlens.analysis.money import in_report_currency
from claimlens.settings import Settings
from claimlens.stats.rising import Month

__all__ = ["commonest", "doubts", "money_behind"]

# claims of one dealer above this share of a signal's ask for a look at the source
_ONE_DEALER = 0.4
_FLEET_MOVED = 0.15


def doubts(month: Month, row: int, behind: pd.DataFrame) -> list[str]:
    """Return what to look at before a signal is believed.

    Parameters
    ----------
    month : Month
        The month-end that the signal speaks of.
    row : int
        Its row.
    behind : DataFrame
        Rows of ``production_claims`` behind the signal.

    Returns
    -------
    list of str
        Clauses.
    """
    told = []
    by_dealer = behind.groupby("dealer")["n_claims"].sum().drop("", errors="ignore")
    total = behind["n_claims"].sum()
    if len(by_dealer) and by_dealer.max() > _ONE_DEALER * total:
        told.append(
            f"{by_dealer.max()} of {total} claims come from dealer "
            f"{by_dealer.idxmax()}: check the source first"
        )
    if month.noisy[row]:
        told.append("noisy part: its rate varies from month to month")
    if month.borrowed[row]:
        told.append("few claims of older production: the level leans on other parts")
    newest = month.fleet_ratio[-1] if month.fleet_ratio.size else 1.0
    if abs(newest - 1.0) > _FLEET_MOVED:
        told.append(
            f"all components are {abs(newest - 1.0):.0%} "
            f"{'above' if newest > 1 else 'below'} expectation in the newest "
            "production, which is allowed for: reporting or use has changed"
        )
    return told


def money_behind(
    behind: pd.DataFrame, settings: Settings
) -> tuple[float, str | None, str]:
    """Return the money behind a signal in one currency, or say why not.

    Parameters
    ----------
    behind : DataFrame
        Rows of ``production_claims`` behind the signal.
    settings : Settings
        For the report currency.

    Returns
    -------
    cost : float
        Sum; NaN in several currencies.
    currency : str or None
        ISO 4217 code.
    told : str
        Why there is no one sum; else empty.
    """
    costs = behind.groupby(["month", "currency"], sort=True)["cost"].sum().reset_index()
    costs = in_report_currency(costs, settings.currency)
    by_currency = costs[costs["cost"] != 0].groupby("currency")["cost"].sum()
    if len(by_currency) > 1:
        listed = ", ".join(f"{v:,.0f} {k}" for k, v in by_currency.items())
        return float("nan"), None, f"cost in several currencies: {listed}"
    if not len(by_currency):
        return 0.0, settings.currency.report, ""
    return float(by_currency.iloc[0]), str(by_currency.index[0]) or None, ""


def commonest(behind: pd.DataFrame, name: str) -> str | None:
    """Return the three commonest values with their number of claims.

    Parameters
    ----------
    behind : DataFrame
        Rows of ``production_claims`` behind the signal.
    name : str
        Column, such as ``region``.

    Returns
    -------
    str or None
        Such as ``DE 6, FR 3``; None where no claim tells.
    """
    counted = behind.groupby(name)["n_claims"].sum().drop("", errors="ignore")
    ranked = counted.reset_index().sort_values(
        ["n_claims", name], ascending=[False, True]
    )
    told = [f"{row[name]} {row['n_claims']}" for _, row in ranked.head(3).iterrows()]
    return ", ".join(told) or None
