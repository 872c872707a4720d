"""What was paid for claims, by segment and in the currency told."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pandas as pd

from claimlens.analysis.cost_claims import cents_of
from claimlens.analysis.outstanding_sums import Key, Outstanding, plain
from claimlens.settings import Settings

__all__ = ["Paid", "paid_after", "paid_note"]


@dataclass(frozen=True, slots=True)
class Paid:
    """Claims paid, and the cents."""

    claims: int
    cents: int


def paid_after(
    found: Outstanding, settings: Settings, since: date
) -> tuple[dict[tuple[Key, str], Paid], int]:
    """Add up what was paid for claims settled after a day.

    Parameters
    ----------
    found : Outstanding
        With the claims reported by its cut-off; ``is_new`` among its keys tells units
        sold after ``since``.
    settings : Settings
        Report currency and rates; each claim is turned at the rate of its month.
    since : date
        Claims settled later count.

    Returns
    -------
    paid : dict
        By the values of the keys and the currency.
    n_missing : int
        Claims without a cost, taken at their component's mean.

    Raises
    ------
    InputError
        If a rate is missing for a month in which a claim was settled.
    """
    claims = found.costs.claims
    first = pd.Timestamp(max(since, date(1900, 1, 1)))
    rows = claims[claims["state"].eq("settled") & claims["settled_on"].gt(first)]
    cents, told = _cents_paid(found, settings, rows)
    columns = [
        rows["sold_on"].gt(first)
        if name == "is_new"
        else rows["model"].fillna("")
        if name == "model"
        else rows[name]
        for name in found.by
    ]
    keys = list(zip(*columns, strict=True)) or [()] * len(rows)
    paid: dict[tuple[Key, str], Paid] = {}
    for values, currency, amount in zip(keys, told, cents, strict=True):
        place = (tuple(plain(value) for value in values), currency)
        known = paid.get(place, Paid(0, 0))
        paid[place] = Paid(known.claims + 1, known.cents + amount)
    return paid, int(rows["cost_e4"].isna().sum())


def paid_note(n_missing: int) -> str:
    """Say how many paid claims have no cost; '' where all have one."""
    if not n_missing:
        return ""
    return f"{n_missing:,} paid claims have no cost: taken at their component's mean"


def _cents_paid(
    found: Outstanding, settings: Settings, rows: pd.DataFrame
) -> tuple[list[int], list[str]]:
    """Return the cents of settled claims at the rates of their months, and currency."""
    per_claim = found.per_claim
    report = settings.currency.report
    cents: list[int] = []
    told: list[str] = []
    known = rows["cost_e4"].notna()
    amount = dict(
        zip(
            rows.index[known],
            cents_of(rows[known], settings.currency, rows.loc[known, "settled_on"]),
            strict=True,
        )
    )
    for index, component, model, currency in zip(
        rows.index, rows["component"], rows["model"].fillna(""), rows["currency"],
        strict=True,
    ):  # fmt: skip
        name = report if report is not None and currency else currency
        if index not in amount and name not in per_claim.currencies:
            name = per_claim.currencies[0]
        told.append(name)
        if index in amount:
            cents.append(int(amount[index]))
        else:
            mean = per_claim.mean[
                per_claim.components.index(component),
                per_claim.models.index(model),
                per_claim.currencies.index(name),
            ]
            cents.append(round(mean))
    return cents, told
