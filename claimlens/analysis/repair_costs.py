"""What repair events cost, in one currency where that is possible."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.money import in_report_currency
from claimlens.db import Session
from claimlens.settings import Settings

__all__ = ["EventCosts", "costs_of_events"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class EventCosts:
    """What events cost.

    Parameters
    ----------
    amount : ndarray, shape (N,)
        Of each event; 0 where no claim of it has an amount.
    currency : list of str or None
        Of each of S segments; None where there is none, or several.
    is_mixed : ndarray of bool, shape (S,)
        Whether the amounts of a segment come in several currencies.
    n_without : ndarray, shape (S,)
        Claims without an amount.
    """

    amount: Floats
    currency: list[str | None]
    is_mixed: NDArray[np.bool_]
    n_without: Floats


def costs_of_events(
    session: Session, settings: Settings, events: pd.DataFrame, n_segments: int
) -> EventCosts:
    """Give each event its cost, and each segment its one currency, if it has one.

    Parameters
    ----------
    session : Session
        After ``mark_repairs``.
    settings : Settings
        Report currency and rates.
    events : pandas.DataFrame
        Placed on segments.
    n_segments : int
        Segments S.

    Returns
    -------
    EventCosts
        In the report currency where there is one.

    Raises
    ------
    InputError
        If a rate of exchange is missing.
    """
    costs = _by_repair(session, settings)
    per_repair = costs.groupby("repair_no")[["cost", "n_without_cost"]].sum()
    known = per_repair.reindex(events["repair_no"])
    amount = known["cost"].fillna(0.0).to_numpy(dtype=np.float64)
    repairs = events[["repair_no", "segment"]].drop_duplicates()
    paid = costs[costs["cost"] > 0]
    seen = repairs.merge(paid, on="repair_no")[["segment", "currency"]]
    seen = seen.drop_duplicates().sort_values(["segment", "currency"])
    currency: list[str | None] = [None] * n_segments
    of_all = paid["currency"].unique()
    if len(of_all) == 1:
        currency = [str(of_all[0]) or None] * n_segments
    number = np.bincount(seen["segment"], minlength=n_segments)
    for segment, name in zip(seen["segment"], seen["currency"], strict=True):
        currency[segment] = (name or None) if number[segment] == 1 else None
    without = np.zeros(n_segments)
    missing = repairs.merge(per_repair, left_on="repair_no", right_index=True)
    np.add.at(
        without,
        missing["segment"].to_numpy(dtype=np.intp),
        missing["n_without_cost"].to_numpy(dtype=np.float64),
    )
    return EventCosts(
        amount=amount, currency=currency, is_mixed=number > 1, n_without=without
    )


def _by_repair(session: Session, settings: Settings) -> pd.DataFrame:
    """Return what each repair cost, one row a repair and currency."""
    costs = session.frame("marts/repeat_costs")
    paid = costs["cost"].fillna(0) > 0
    # the value of one, for each month and currency that has an amount
    ones = costs.loc[paid, ["month", "currency"]].drop_duplicates().assign(cost=1.0)
    turned = in_report_currency(ones, settings.currency)
    ones["value"], ones["target"] = turned["cost"], turned["currency"]
    costs = costs.merge(ones.drop(columns="cost"), on=["month", "currency"], how="left")
    costs["cost"] = costs["cost"].fillna(0.0) * costs["value"].fillna(0.0)
    costs["currency"] = costs["target"].fillna(costs["currency"])
    return costs.groupby(["repair_no", "currency"], as_index=False)[
        ["cost", "n_without_cost"]
    ].sum()
