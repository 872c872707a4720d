"""The reserve: what units in the field still cost under cover, part by part."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.cost_claims import amounts
from claimlens.analysis.forecast import LIMITS
from claimlens.analysis.forecast_assumed import assumed
from claimlens.analysis.notes import joined
from claimlens.analysis.outstanding_paid import Paid, paid_after, paid_note
from claimlens.analysis.outstanding_sums import (
    PARTS,
    Key,
    Outstanding,
    Sum,
    in_order,
)
from claimlens.analysis.scope import Scope
from claimlens.settings import Settings

__all__ = [
    "LIFE",
    "NO_OPINION",
    "RESERVE_COLUMNS",
    "SO_FAR",
    "TOTAL",
    "assumptions",
    "reserve_table",
]

Row = dict[str, object]

RESERVE_COLUMNS = (
    "part", "claims", "amount", "lower80", "upper80", "lower95", "upper95", "currency",
    "note", "as_of",
)  # fmt: skip

TOTAL = "total"
"""The part that is the sum of the others."""

SO_FAR, LIFE = "paid so far", "over the life of the fleet"
"""What was paid, and the sum of that and of what is outstanding."""

# claims below which a segment has none
_NOTHING = 1e-6

NO_OPINION = "estimate from claims data, not an accounting opinion"


def reserve_table(
    found: Outstanding,
    settings: Settings,
    scope: Scope,
    *,
    life: bool = False,
    undone: Mapping[str, Outstanding] | None = None,
) -> pd.DataFrame:
    """Return what is outstanding at the cut-off as a table.

    Parameters
    ----------
    found : Outstanding
        What is outstanding.
    settings : Settings
        Report currency and rates.
    scope : Scope
        Cut-off, and what to tell with every number.
    life : bool, default False
        Add what was paid so far, each claim at the rate of its month, and what the
        units shipped by now cost over their life.
    undone : mapping of str to Outstanding, optional
        By engineering change, what would be outstanding had it not been made: adds
        that and what the change saves, whose limits are those of the draws of both,
        which share rates and costs.

    Returns
    -------
    pandas.DataFrame
        The keys and ``RESERVE_COLUMNS``, amounts as Decimal. Of each segment and
        currency the four parts and their sum; limits of the sum are those of the
        added draws. Costs in other currencies are turned at the rate of the month
        of the cut-off; without a report currency each stands for itself.

    Raises
    ------
    InputError
        If a rate is missing for a month in which a claim was paid.
    """
    told = [NO_OPINION, *assumptions(found)]
    paid: dict[tuple[Key, str], Paid] = {}
    if life:
        paid, n_missing = paid_after(found, settings, date.min)
        told.append(paid_note(n_missing))
    if undone:
        told.append("a change saves what is still to come, beside what it saved so far")
    told += scope.notes
    rows = []
    for key, currency in sorted({*found.sums, *paid}, key=in_order):
        one = found.at(key, currency)
        own = list(_rows(one))
        if life:
            own += _life_rows(one, paid.get((key, currency), Paid(0, 0)))
        for number, other in (undone or {}).items():
            own += _saved_rows(one, other.at(key, currency), number)
        nothing = "" if one.claims.sum() > _NOTHING else "nothing open or under cover"
        named = dict(zip(found.by, key, strict=True)) | {
            "currency": currency or None,
            "note": joined([nothing, *told]),
        }
        rows += [named | row for row in own]
    table = pd.DataFrame(rows, columns=[*found.by, *RESERVE_COLUMNS])
    table["as_of"] = pd.Timestamp(scope.as_of)
    return table


def _rows(one: Sum) -> Iterator[Row]:
    """Yield the parts of a sum, and their total."""
    for name, claims, mean, drawn in zip(
        PARTS, one.claims, one.expected, one.drawn, strict=True
    ):
        yield _row(name, claims, mean, drawn)
    yield _row(TOTAL, one.claims.sum(), one.expected.sum(), one.drawn.sum(axis=0))


def _life_rows(one: Sum, paid: Paid) -> Iterator[Row]:
    """Yield what was paid so far, and that with what is outstanding."""
    yield _row(SO_FAR, paid.claims, paid.cents, np.array([paid.cents]))
    yield _row(
        LIFE,
        one.claims.sum() + paid.claims,
        one.expected.sum() + paid.cents,
        one.drawn.sum(axis=0) + paid.cents,
    )


def _saved_rows(one: Sum, other: Sum, number: str) -> Iterator[Row]:
    """Yield what would be outstanding without a change, and what it saves."""
    claims, cents = other.claims.sum(), other.expected.sum()
    drawn = other.drawn.sum(axis=0)
    yield _row(f"without {number}", claims, cents, drawn)
    yield _row(
        f"saved by {number}",
        claims - one.claims.sum(),
        cents - one.expected.sum(),
        drawn - one.drawn.sum(axis=0),
    )


def _row(name: str, claims: float, cents: int, drawn: NDArray[np.int64]) -> Row:
    limits = amounts(np.quantile(drawn, list(LIMITS.values())))
    return {
        "part": name,
        "claims": float(claims),
        "amount": amounts([cents])[0],
        **dict(zip(LIMITS, limits, strict=True)),
    }


def assumptions(found: Outstanding) -> list[str]:
    """Say what the amounts take for granted."""
    taken = assumed(found.found)
    paid, refused = found.paid
    told = [
        f"{taken.under_cover:,.0f} units under cover, {taken.to_enter:,.0f} "
        "shipped and not yet in service; later sales are not in it",
        "not discounted, and no later prices",
        f"of {paid + refused:,} claims settled in the last 24 months {paid:,} were "
        "paid; open ones are taken to go alike",
        f"of a month's failures {taken.reported[0]:.0%} are reported in it",
        f"{taken.draws:,} draws with seed {taken.seed}",
    ]
    if found.costs.n_left_out:
        told.append(
            f"{found.costs.n_left_out:,} open claims outside cover, of goodwill, "
            "misuse or damage in transport are left out"
        )
    borrowed = sorted(
        {
            f"{name}: {note}"
            for name in found.per_claim.components
            if (note := found.per_claim.note(name))
        }
    )
    return told + found.costs.notes() + borrowed
