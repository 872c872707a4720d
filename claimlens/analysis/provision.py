"""How the provision moved between two days, as finance books it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
import pandas as pd

from claimlens.analysis.cost_claims import amounts
from claimlens.analysis.forecast import LIMITS
from claimlens.analysis.money import CENT
from claimlens.analysis.notes import joined
from claimlens.analysis.outstanding_paid import Paid, paid_after, paid_note
from claimlens.analysis.outstanding_sums import Key, Outstanding, in_order, plain
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
    paid, n_missing = paid_after(closing, settings, since)
    places = set(opening.sums) | {
        (key[:-1], currency) for key, currency in {*closing.sums, *paid}
    }
    said = joined(
        [
            NO_OPINION,
            paid_note(n_missing),
            *assumptions(closing),
            *scope.notes,
        ]
    )
    rows: list[dict[str, object]] = []
    for key, currency in sorted(places, key=in_order):
        lines = _lines(opening, closing, paid, key, currency)
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


def _lines(
    opening: Outstanding,
    closing: Outstanding,
    paid: Mapping[tuple[Key, str], Paid],
    key: Key,
    currency: str,
) -> dict[str, tuple[int, np.ndarray | None]]:
    """Return the lines of one segment in cents, with the draws where there are any."""
    before = opening.sums.get((key, currency))
    of_old, of_new = ((*key, False), currency), ((*key, True), currency)
    old, new = closing.sums.get(of_old), closing.sums.get(of_new)
    paid_old, paid_new = (
        paid[of].cents if of in paid else 0 for of in (of_old, of_new)
    )
    start = int(before.expected.sum()) if before else 0
    turned = int(np.rint(before.later).sum()) if before else 0
    end_old = int(old.expected.sum()) if old else 0
    end_new = int(new.expected.sum()) if new else 0
    drawn = [one.drawn.sum(axis=0) for one in (old, new) if one]
    lines = {
        "opening": (start, before.drawn.sum(axis=0) if before else None),
        "exchange rates": (turned - start, None),
        "new sales": (end_new + paid_new, None),
        "paid": (-paid_old - paid_new, None),
        "re-estimate": (end_old + paid_old - turned, None),
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
