"""How the provision moved between two days, as finance books it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
import pandas as pd

from claimlens.analysis.cost_claims import amounts, cents_of
from claimlens.analysis.forecast import LIMITS
from claimlens.analysis.money import CENT
from claimlens.analysis.notes import joined
from claimlens.analysis.outstanding_sums import Key, Outstanding, plain
from claimlens.analysis.reserve import NO_OPINION, assumptions
from claimlens.analysis.sales_values import SALES_KEYS, Sales
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings

__all__ = ["PROVISION_COLUMNS", "check_movement", "movement", "units_sold"]

PROVISION_COLUMNS = (
    "line", "amount", "lower80", "upper80", "lower95", "upper95", "per_unit_sold",
    "share_of_sales", "units_sold", "sales", "currency", "note", "since", "as_of",
)  # fmt: skip

Place = tuple[Key, str]


@dataclass(frozen=True, slots=True)
class _Paid:
    """Cents paid between two days, of units sold before and since."""

    old: int = 0
    new: int = 0


def check_movement(by: Sequence[str], since: date, as_of: date) -> None:
    """Refuse keys that sales cannot be told by, and an opening after the closing.

    Parameters
    ----------
    by : sequence of str
        Keys asked for.
    since, as_of : date
        Days of the opening and of the closing.

    Raises
    ------
    InputError
        If a key is not known, or the days are not in order.
    """
    for name in by:
        if name not in SALES_KEYS:
            raise InputError(
                f"The movement of the provision is not told by {name!r}.",
                remedy=f"use --by with {', '.join(SALES_KEYS)}",
            )
    if since >= as_of:
        raise InputError(
            f"The opening, {since}, must lie before the cut-off, {as_of}.",
            remedy="give an earlier --from, or a later --as-of",
        )


def units_sold(
    session: Session, by: Sequence[str], *, since: date, as_of: date
) -> dict[Key, int]:
    """Return the units that left the works between two days, by keys.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    by : sequence of str
        Keys asked for.
    since, as_of : date
        After the one, and by the other.
    """
    sold = session.frame("marts/units_sold", {"since": since, "as_of": as_of})
    sold["model"] = sold["model"].fillna("")
    number: dict[Key, int] = {}
    for row, count in zip(
        sold[[*by]].itertuples(index=False), sold["n_units"], strict=True
    ):
        key = tuple(plain(value) for value in row)
        number[key] = number.get(key, 0) + int(count)
    return number


def movement(
    opening: Outstanding,
    closing: Outstanding,
    settings: Settings,
    scope: Scope,
    *,
    sold: Mapping[Key, int],
    sales: Sales | None = None,
) -> pd.DataFrame:
    """Return opening, new sales, paid, re-estimate and closing.

    Parameters
    ----------
    opening : Outstanding
        At the first day, with its amounts told at the rates of the last day too.
    closing : Outstanding
        At the cut-off, by the same keys and ``is_new``: sold after the first day.
    settings : Settings
        Report currency and rates.
    scope : Scope
        Of the closing.
    sold : mapping
        Units sold between the days, by keys.
    sales : Sales, optional
        Sales values between the days.

    Returns
    -------
    pandas.DataFrame
        The keys and ``PROVISION_COLUMNS``. Of each segment and currency the lines
        add up to the cent: opening + exchange rates + new sales + paid +
        re-estimate = closing. New sales are all that units sold since cost, paid
        or outstanding, as estimated now; the re-estimate is what the others cost
        more or less than the opening held for them.
    """
    by = opening.by
    since, as_of = opening.costs.as_of, scope.as_of
    paid, n_missing = _paid(closing, settings, since)
    places = set(opening.sums) | set(paid)
    places |= {(key[:-1], currency) for key, currency in closing.sums}
    said = joined(
        [
            NO_OPINION,
            _missing_note(n_missing),
            *assumptions(closing),
            *scope.notes,
        ]
    )
    rows: list[dict[str, object]] = []
    for key, currency in sorted(places, key=_order):
        lines = _lines(
            opening, closing, paid.get((key, currency), _Paid()), key, currency
        )
        number = sold.get(key, 0)
        value = _sales_of(sales, key, currency)
        for name, (cents, drawn) in lines.items():
            rows.append(
                dict(zip(by, key, strict=True))
                | {"line": name, "amount": amounts([cents])[0]}
                | _limits(drawn)
                | _relative(cents, number, value)
                | {"currency": currency or None}
            )
    table = pd.DataFrame(rows, columns=[*by, *PROVISION_COLUMNS])
    table["note"] = said
    table["since"], table["as_of"] = pd.Timestamp(since), pd.Timestamp(as_of)
    return table


def _order(place: Place) -> list[tuple[bool, str]]:
    key, currency = place
    # segments without a value last
    return [(value is None, str(value)) for value in (*key, currency)]


def _missing_note(number: int) -> str:
    if not number:
        return ""
    return f"{number:,} paid claims have no cost: taken at their component's mean"


def _lines(
    opening: Outstanding,
    closing: Outstanding,
    paid: _Paid,
    key: Key,
    currency: str,
) -> dict[str, tuple[int, np.ndarray | None]]:
    """Return the lines of one segment in cents, with the draws where there are any."""
    before = opening.sums.get((key, currency))
    old = closing.sums.get(((*key, False), currency))
    new = closing.sums.get(((*key, True), currency))
    start = int(before.expected.sum()) if before else 0
    turned = int(np.rint(before.later).sum()) if before else 0
    end_old = int(old.expected.sum()) if old else 0
    end_new = int(new.expected.sum()) if new else 0
    drawn = [one.drawn.sum(axis=0) for one in (old, new) if one]
    lines = {
        "opening": (start, before.drawn.sum(axis=0) if before else None),
        "exchange rates": (turned - start, None),
        "new sales": (end_new + paid.new, None),
        "paid": (-paid.old - paid.new, None),
        "re-estimate": (end_old + paid.old - turned, None),
        "closing": (end_old + end_new, np.sum(drawn, axis=0) if drawn else None),
    }
    if turned == start:
        del lines["exchange rates"]
    return lines


def _limits(drawn: np.ndarray | None) -> dict[str, object]:
    if drawn is None:
        return dict.fromkeys(LIMITS)
    limits = amounts(np.quantile(drawn, list(LIMITS.values())))
    return dict(zip(LIMITS, limits, strict=True))


def _relative(cents: int, number: int, value: Decimal | None) -> dict[str, object]:
    """Return an amount by unit sold, and as a share of the sales value."""
    amount = Decimal(cents).scaleb(-2)
    per_unit = (amount / number).quantize(CENT, ROUND_HALF_UP) if number > 0 else None
    return {
        "per_unit_sold": per_unit,
        "share_of_sales": float(amount / value) if value else None,
        "units_sold": number,
        "sales": None if value is None else value.quantize(CENT, ROUND_HALF_UP),
    }


def _sales_of(sales: Sales | None, key: Key, currency: str) -> Decimal | None:
    if sales is None:
        return None
    names = tuple("" if value is None else str(value) for value in key)
    return sales.get((names, currency))


def _paid(
    closing: Outstanding, settings: Settings, since: date
) -> tuple[dict[Place, _Paid], int]:
    """Return what was paid after a day, and how many of the claims have no cost."""
    costs = closing.costs
    rows = costs.claims[
        costs.claims["state"].eq("settled")
        & (costs.claims["settled_on"] > pd.Timestamp(since))
    ]
    cents, told = _cents_paid(closing, settings, rows)
    is_new = rows["sold_on"].gt(pd.Timestamp(since))
    keys = rows.assign(model=rows["model"].fillna(""))[[*closing.by[:-1]]]
    paid: dict[Place, _Paid] = {}
    for values, currency, amount, new in zip(
        keys.itertuples(index=False), told, cents, is_new, strict=True
    ):
        place = (tuple(plain(value) for value in values), str(currency))
        known = paid.get(place, _Paid())
        paid[place] = (
            _Paid(known.old, known.new + amount)
            if new
            else _Paid(known.old + amount, known.new)
        )
    return paid, int(rows["cost_e4"].isna().sum())


def _cents_paid(
    closing: Outstanding, settings: Settings, rows: pd.DataFrame
) -> tuple[list[int], list[str]]:
    """Return the cents of settled claims at the rates of their months, and currency."""
    per_claim = closing.per_claim
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
