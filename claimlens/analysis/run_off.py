"""The run-off table: claims and cost by age, run off with chain-ladder factors.

It uses nothing but the totals themselves, and so checks the reserve from another side.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.cost_claims import CostClaims, amounts, cents_of, read_costs
from claimlens.analysis.cost_draws import claim_costs
from claimlens.analysis.forecast_counts import month_numbers
from claimlens.analysis.months import first_of, last_month_end, month_no
from claimlens.analysis.notes import joined
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.run_off import RunOff, chain_ladder, totals_of

__all__ = ["RUN_OFF_COLUMNS", "run_off"]

Floats = NDArray[np.float64]

RUN_OFF_COLUMNS = (
    "service_from", "service_to", "months", "is_expected", "claims", "claims_factor",
    "claims_to_come", "claims_error", "cost", "cost_factor", "cost_to_come",
    "cost_error", "currency", "note", "as_of",
)  # fmt: skip

_MOST_PERIODS = 60


@dataclass(frozen=True, kw_only=True)
class _Triangle:
    """Totals by row and development, as they were seen and as they are expected."""

    seen: Floats
    filled: Floats
    found: RunOff


def run_off(
    session: Session, settings: Settings, scope: Scope, *, months: int = 3
) -> pd.DataFrame:
    """Return claims and cost by months of coming into service, run off to their end.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Report currency and rates.
    scope : Scope
        Cut-off and filters in force.
    months : int, default 3
        Months of a row and of a development, 1 to 24; rows end with the last whole
        month. Short rows depend less on when within a row units were sold.

    Returns
    -------
    pandas.DataFrame
        ``RUN_OFF_COLUMNS``, one row for each row and development of the triangle and,
        without a day of service, one for the sum at the last development.
        ``claims`` and ``cost`` are totals of the claims reported in the first
        ``months`` after their row began, expected where ``is_expected``; an open
        claim, or one without a cost, is taken at its component's mean. ``factor`` is
        the growth from the development before. Of the last development, ``to_come``
        is what was not seen yet and ``error`` its standard error (Mack).

    Raises
    ------
    InputError
        If ``months`` is out of range, there are too few claims, costs come in several
        currencies without a report currency, or a rate is missing.
    """
    if not 1 <= months <= 24:
        raise InputError(
            f"A row of the run-off holds 1 to 24 months; got {months}.",
            remedy="use 3 for quarters or 12 for years",
        )
    costs = read_costs(session, scope)
    last = month_no(last_month_end(scope.as_of))
    claims = _placed(costs, last, months)
    cents, currency, notes = _cents(costs, settings, claims)
    size = int(claims["row_back"].max()) + 1
    counts = _triangle(_new(claims, np.ones(len(claims)), size))
    new = _new(claims, cents, size)
    money = None if (new.cumsum(axis=1) < 0).any() else _triangle(new)
    starts = [last + 1 - months * (size - i) for i in range(size)]
    rows = _rows(counts, starts, months)
    if money is None:
        notes.append(
            "more money came back than was paid in some cell: cost is not told"
        )
    else:
        rows = [row | cost for row, cost in zip(rows, _costs(money), strict=True)]
    table = pd.DataFrame(rows, columns=list(RUN_OFF_COLUMNS))
    n_undated = int(
        (costs.claims["started_on"].isna() & costs.claims["state"].ne("refused")).sum()
    )
    if n_undated:
        notes.append(f"{n_undated:,} claims without a day in service are left out")
    notes += [f"claims: {counts.found.note}"] if counts.found.note else []
    notes += [f"cost: {money.found.note}"] if money and money.found.note else []
    table["currency"] = currency or None
    table["note"] = joined([*notes, *costs.notes(), *scope.notes])
    table["as_of"] = pd.Timestamp(scope.as_of)
    for name in ("service_from", "service_to"):
        table[name] = pd.to_datetime(table[name])
    return table


def _placed(costs: CostClaims, last: int, months: int) -> pd.DataFrame:
    """Return the claims in sight with their row, counted back, and development."""
    claims = costs.claims[
        costs.claims["state"].ne("refused") & costs.claims["started_on"].notna()
    ]
    reported = month_numbers(claims["reported_on"])
    # before delivery: counted in the first month in service
    started = np.minimum(month_numbers(claims["started_on"]), reported)
    inside = reported <= last
    claims, reported, started = claims[inside], reported[inside], started[inside]
    row_back = (last - started) // months
    placed = claims.assign(
        row_back=row_back, development=row_back - (last - reported) // months
    )
    if placed.empty or placed["row_back"].max() < 1:
        raise InputError(
            f"There are no claims of units older than {months} months, so there is no "
            "growth to run off with.",
            remedy="use fewer months a row, such as --months 3",
        )
    if placed["row_back"].max() >= _MOST_PERIODS:
        raise InputError(
            f"The run-off would have more than {_MOST_PERIODS} rows.",
            remedy="use more months a row, such as --months 12",
        )
    return placed


def _cents(
    costs: CostClaims, settings: Settings, claims: pd.DataFrame
) -> tuple[Floats, str, list[str]]:
    """Return the cost of each claim in cents, in which currency, and what to say."""
    names = sorted(set(claims["component"]))
    per_claim = claim_costs(costs, settings, names)
    if len(per_claim.currencies) > 1:
        raise InputError(
            f"Costs are in {', '.join(per_claim.currencies)}, which do not add up.",
            source="claimlens.toml",
            remedy="set report under [currency], with the rates of the others",
        )
    [currency] = per_claim.currencies
    known = claims["state"].isin(["settled", "approved"]) & claims["cost_e4"].notna()
    mean = {name: per_claim.overall(name, currency) for name in names}
    cents = claims["component"].map(mean).to_numpy(dtype=np.float64, copy=True)
    cents[known.to_numpy()] = cents_of(claims[known], settings.currency, costs.as_of)
    taken = int((~known).sum())
    note = f"{taken:,} claims without a cost yet are taken at their component's mean"
    return cents, currency, [note] if taken else []


def _new(claims: pd.DataFrame, amount: Floats, size: int) -> Floats:
    """Return what came new in each row and development."""
    new = np.zeros((size, size))
    row = size - 1 - claims["row_back"].to_numpy(dtype=np.intp)
    np.add.at(new, (row, claims["development"].to_numpy(dtype=np.intp)), amount)
    return new


def _triangle(new: Floats) -> _Triangle:
    """Add up a triangle and run it off."""
    size = len(new)
    later = np.add.outer(np.arange(size), np.arange(size)) >= size
    seen = totals_of(np.where(later, np.nan, new))
    found = chain_ladder(seen)
    filled = seen.copy()
    for j in range(1, size):
        expected = filled[:, j - 1] * found.factors[j - 1]
        filled[:, j] = np.where(np.isnan(seen[:, j]), expected, seen[:, j])
    return _Triangle(seen=seen, filled=filled, found=found)


def _rows(counts: _Triangle, starts: list[int], months: int) -> list[dict[str, object]]:
    """Return the rows of the table with their claims, the sum last."""
    size, found = len(starts), counts.found
    rows: list[dict[str, object]] = [
        {
            "service_from": first_of(start),
            "service_to": first_of(start + months) - timedelta(days=1),
            "months": (j + 1) * months,
            "is_expected": bool(np.isnan(counts.seen[i, j])),
            "claims": counts.filled[i, j],
            "claims_factor": found.factors[j - 1] if j else np.nan,
            "claims_to_come": found.to_come[i] if j == size - 1 else np.nan,
            "claims_error": found.standard_error[i] if j == size - 1 else np.nan,
        }
        for i, start in enumerate(starts)
        for j in range(size)
    ]
    total: dict[str, object] = {
        "months": size * months,
        "is_expected": True,
        "claims": found.final.sum(),
        "claims_to_come": found.total_to_come,
        "claims_error": found.total_standard_error,
    }
    return [*rows, total]


def _costs(money: _Triangle) -> list[dict[str, object]]:
    """Return the costs of the same rows."""
    size, found = len(money.seen), money.found
    rows: list[dict[str, object]] = [
        {
            "cost": _money(money.filled[i, j]),
            "cost_factor": found.factors[j - 1] if j else np.nan,
            "cost_to_come": _money(found.to_come[i]) if j == size - 1 else None,
            "cost_error": _money(found.standard_error[i]) if j == size - 1 else None,
        }
        for i in range(size)
        for j in range(size)
    ]
    total: dict[str, object] = {
        "cost": _money(found.final.sum()),
        "cost_to_come": _money(found.total_to_come),
        "cost_error": _money(found.total_standard_error),
    }
    return [*rows, total]


def _money(cents: float) -> Decimal | None:
    return amounts([cents])[0]
