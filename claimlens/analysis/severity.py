"""What a claim costs, by component, currency and year, apart from how many come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.cost_claims import (
    RECENT_MONTHS,
    CostClaims,
    amounts,
    cents_of,
    no_cost,
    read_costs,
)
from claimlens.analysis.cost_draws import claim_costs
from claimlens.analysis.grouping import check_keys
from claimlens.analysis.notes import joined
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import CurrencySettings, Settings
from claimlens.stats.seeds import seed_for
from claimlens.stats.severity import MeanCosts, mean_costs

__all__ = [
    "SEVERITY_COLUMNS",
    "SEVERITY_KEYS",
    "CostPerClaim",
    "cost_per_claim",
    "severity",
]

SEVERITY_KEYS = (
    "component", "failure_mode", "year", "model", "model_year", "region", "generation",
    "dealer",
)  # fmt: skip

SEVERITY_COLUMNS = (
    "currency", "claims", "total", "mean", "lower", "upper", "leaning_mean", "weight",
    "zero_cost", "negative_cost", "without_cost", "still_open", "largest",
    "largest_claim", "note", "as_of",
)  # fmt: skip

# a claim above this share of all is named
_LARGE = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class CostPerClaim:
    """What a claim of a component costs in the mean.

    Parameters
    ----------
    mean : Decimal or None
        In ``currency``; None where costs come in several and none is chosen to
        report in, or where no cost is known.
    currency : str or None
        The report currency, or the only one there is.
    note : str
        What is to be said of it; else empty.
    """

    mean: Decimal | None
    currency: str | None
    note: str


def severity(
    session: Session, settings: Settings, scope: Scope, *, by: Sequence[str]
) -> pd.DataFrame:
    """Return what a settled claim cost, each currency for itself.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Confidence and seed.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Keys of ``SEVERITY_KEYS``; ``year`` is that in which a claim was settled.

    Returns
    -------
    pandas.DataFrame
        The keys and ``SEVERITY_COLUMNS``, amounts as Decimal. Without ``year`` of
        claims settled in the last 24 months; ``still_open`` counts those reported
        in the year, or all. ``leaning_mean`` leans with 1 - ``weight`` on all
        claims of the component in the currency (all claims, without a component).

    Raises
    ------
    InputError
        If a key is not known or named twice, or no claim has a cost.
    """
    check_keys(by, SEVERITY_KEYS, "Costs per claim are")
    costs = read_costs(session, scope)
    claims = costs.claims.assign(
        year=costs.claims["settled_on"]
        .dt.year.where(
            costs.claims["state"].eq("settled"), costs.claims["reported_on"].dt.year
        )
        .astype("Int64")
    )
    if "year" not in by:
        claims = claims[costs.recent | claims["state"].isin(["open", "approved"])]
    claims = claims[claims["state"] != "refused"]
    known = claims[costs.with_cost.reindex(claims.index)].reset_index(drop=True)
    if known.empty:
        raise no_cost()
    keys = [*by, "currency"]
    groups = claims.groupby(keys, dropna=False, sort=True)
    claims = claims.assign(group=groups.ngroup())
    known = claims[costs.with_cost.reindex(claims.index)].reset_index(drop=True)
    table = claims.drop_duplicates("group").sort_values("group")
    table = table[keys].reset_index(drop=True)
    pool_keys = [key for key in keys if key in ("component", "currency")]
    pools = table.groupby(pool_keys, dropna=False).ngroup().to_numpy()
    cents = cents_of(known, CurrencySettings(), scope.as_of)
    found = mean_costs(
        cents,
        known["group"],
        pools,
        settings.rates.confidence,
        rng=np.random.default_rng(seed_for(settings.life.seed, "severity", *by)),
    )
    table = _with_figures(table, found, pools)
    table = _with_largest(table, known.assign(cents=cents))
    table = _with_counts(table, claims, costs)
    window = f"claims settled in the last {RECENT_MONTHS} months"
    said = [*([] if "year" in by else [window]), *scope.notes]
    table["note"] = [joined([*own, *said]) for own in table["note"]]
    table["as_of"] = pd.Timestamp(scope.as_of)
    table["currency"] = table["currency"].where(table["currency"].ne(""), None)
    return table[[*by, *SEVERITY_COLUMNS]]


def _with_figures(
    table: pd.DataFrame, found: MeanCosts, pools: NDArray[np.intp]
) -> pd.DataFrame:
    is_alone = np.bincount(pools)[pools] == 1
    return table.assign(
        claims=found.n,
        total=amounts(found.total),
        mean=amounts(found.mean),
        lower=amounts(found.lower),
        upper=amounts(found.upper),
        leaning_mean=amounts(np.where(is_alone, found.mean, found.credible_mean)),
        weight=np.where(is_alone, 1.0, found.weight),
        zero_cost=found.n_zero,
        negative_cost=found.n_negative,
        note=[[note] for note in found.note],
    )


def _with_largest(table: pd.DataFrame, known: pd.DataFrame) -> pd.DataFrame:
    """Name the largest claim of a group where it is a large part of all."""
    largest = known.sort_values(["cents", "claim_no"], ascending=[False, True])
    largest = largest.drop_duplicates("group").set_index("group")
    largest = largest.reindex(range(len(table)))
    table["largest"] = amounts(largest["cents"])
    table["largest_claim"] = largest["claim_no"].to_numpy()
    total = known.groupby("group")["cents"].sum().reindex(range(len(table)))
    share = largest["cents"] / total.where(total > 0)
    for notes, claim, part, number in zip(
        table["note"], table["largest_claim"], share, table["claims"], strict=True
    ):
        if part > _LARGE and number > 1:
            notes.append(f"claim {claim} alone is {part:.0%} of the total")
    return table


def _with_counts(
    table: pd.DataFrame, claims: pd.DataFrame, costs: CostClaims
) -> pd.DataFrame:
    """Add the claims that have no cost, or none yet."""
    for name, which in (
        ("without_cost", costs.without_cost.reindex(claims.index)),
        ("still_open", claims["state"].isin(["open", "approved"])),
    ):
        table[name] = np.bincount(claims.loc[which, "group"], minlength=len(table))
    for notes, number in zip(table["note"], table["without_cost"], strict=True):
        if number:
            notes.append(
                f"{number:,} settled claims have no cost and are left out, not taken "
                "for 0"
            )
    return table


def cost_per_claim(
    session: Session, settings: Settings, scope: Scope
) -> dict[str, CostPerClaim]:
    """Return what a claim of each component costs in the mean, in one currency.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Report currency and rates; those of the month of the cut-off count.
    scope : Scope
        Cut-off and filters in force.

    Returns
    -------
    dict of str to CostPerClaim
        Every component with a claim in sight.

    Raises
    ------
    InputError
        If the rate of a currency is missing for the month of the cut-off.
    """
    costs = read_costs(session, scope)
    names = sorted(set(costs.claims["component"]))
    if not costs.with_cost.any():
        return dict.fromkeys(names, _none("no settled claim has a cost"))
    found = claim_costs(costs, settings, names)
    if len(found.currencies) > 1:
        listed = ", ".join(found.currencies)
        note = f"costs in {listed}: set report under [currency] to see them in one"
        return dict.fromkeys(names, _none(note))
    [currency] = found.currencies
    return {
        name: CostPerClaim(
            mean=amounts([found.overall(name, currency)])[0],
            currency=currency or None,
            note=found.note(name),
        )
        for name in names
    }


def _none(note: str) -> CostPerClaim:
    return CostPerClaim(mean=None, currency=None, note=note)
