"""Claims with what they cost, as far as it was known at the cut-off."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.money import CENT, rate_of
from claimlens.analysis.months import first_of, month_no
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import CurrencySettings

__all__ = [
    "RECENT_MONTHS",
    "CostClaims",
    "amounts",
    "cents_of",
    "no_cost",
    "read_costs",
]

Floats = NDArray[np.float64]

RECENT_MONTHS = 24
"""Months before the cut-off whose settled claims tell what a claim costs."""

_E4 = Decimal("0.0001")


@dataclass(frozen=True, kw_only=True)
class CostClaims:
    """Claims reported by the cut-off.

    Parameters
    ----------
    claims : DataFrame
        Rows of ``cost_claims`` under cover; ``state`` is settled, approved, open or
        refused, ``cost_e4`` is empty where no cost is known, and ``currency`` is
        that of the amounts.
    n_left_out : int
        Open claims outside cover, of goodwill, misuse or damage in transport.
    n_without_currency : int
        Claims whose cost has no currency while others have one; it is left out.
    as_of : date
        The cut-off.
    """

    claims: pd.DataFrame
    n_left_out: int
    n_without_currency: int
    as_of: date

    @property
    def currencies(self) -> tuple[str, ...]:
        """Return the currencies of the known costs; '' where none is named."""
        known = self.claims.loc[self.claims["cost_e4"].notna(), "currency"]
        return tuple(sorted(set(known)))

    @property
    def with_cost(self) -> pd.Series:
        """Tell which claims are settled and have a cost."""
        return self.claims["state"].eq("settled") & self.claims["cost_e4"].notna()

    @property
    def without_cost(self) -> pd.Series:
        """Tell which claims are settled and have no cost."""
        return self.claims["state"].eq("settled") & self.claims["cost_e4"].isna()

    @property
    def recent(self) -> pd.Series:
        """Tell which claims were settled in the last 24 months."""
        day = self.as_of
        first = first_of(month_no(day) - RECENT_MONTHS)
        start = pd.Timestamp(first) + pd.DateOffset(days=day.day)
        return self.claims["settled_on"] >= start

    def notes(self) -> list[str]:
        """Say what the costs leave out, and what stands in for what is missing."""
        told = []
        missing = int((self.without_cost & self.recent).sum())
        if missing:
            told.append(
                f"{missing:,} settled claims of the last {RECENT_MONTHS} months have "
                "no cost: taken at their component's mean, not at 0"
            )
        if self.n_without_currency:
            told.append(
                f"{self.n_without_currency:,} claims have a cost without a currency: "
                "taken at their component's mean"
            )
        return told


def read_costs(session: Session, scope: Scope) -> CostClaims:
    """Read what claims cost.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    scope : Scope
        Cut-off and filters in force.

    Returns
    -------
    CostClaims

    Raises
    ------
    InputError
        If one supplier alone is asked for, whose claims have no cost of their own.
    """
    if "supplier" in scope.wanted:
        raise InputError(
            "Costs are not told for one supplier alone.",
            remedy="leave --supplier out",
        )
    claims = session.frame("marts/cost_claims", {"as_of": scope.as_of})
    claims["cost_e4"] = claims["cost_e4"].astype("Int64")
    inside = claims["is_under_cover"].astype(bool)
    left_out = int((~inside & claims["state"].isin(["open", "approved"])).sum())
    claims = claims[inside].reset_index(drop=True)
    named = claims["currency"].ne("")
    bare = ~named & claims["cost_e4"].notna()
    n_bare = int(bare.sum()) if named.any() else 0
    if n_bare:
        claims.loc[bare, "cost_e4"] = pd.NA
    return CostClaims(
        claims=claims,
        n_left_out=left_out,
        n_without_currency=n_bare,
        as_of=scope.as_of,
    )


def no_cost() -> InputError:
    """Return the error for a question of cost where no claim has one."""
    return InputError(
        "No settled claim in sight has a cost.",
        remedy="load costs with the claims (cost_total, or cost_parts, cost_labour and "
        "cost_freight), or ask without the filters",
    )


def cents_of(
    claims: pd.DataFrame,
    settings: CurrencySettings,
    months: Iterable[date] | date,
) -> NDArray[np.int64]:
    """Return the costs of claims in cents of the currency they are told in.

    Parameters
    ----------
    claims : DataFrame
        ``cost_e4``, none missing, and ``currency``.
    settings : CurrencySettings
        Report currency, if any, and its rates.
    months : date or iterable of date
        A day of the month whose rate turns the cost: one for all, or one a claim.

    Returns
    -------
    ndarray of int64, shape (N,)

    Raises
    ------
    InputError
        If a rate is missing for a cost that is not 0.
    """
    days = [months] * len(claims) if isinstance(months, date) else list(months)
    rates: dict[tuple[str, int, int], Decimal] = {}
    cents = np.zeros(len(claims), dtype=np.int64)
    rows = zip(claims["cost_e4"], claims["currency"], days, strict=True)
    for place, (cost, currency, day) in enumerate(rows):
        if cost == 0:
            continue
        key = (currency, day.year, day.month)
        if key not in rates:
            rates[key] = rate_of(settings, currency, day)
        amount = int(cost) * _E4 * rates[key]
        cents[place] = int(amount.quantize(CENT, ROUND_HALF_UP).scaleb(2))
    return cents


def amounts(cents: Iterable[float]) -> list[Decimal | None]:
    """Return cents as amounts; what is not finite as None."""
    return [
        Decimal(round(value)).scaleb(-2) if np.isfinite(value) else None
        for value in cents
    ]
