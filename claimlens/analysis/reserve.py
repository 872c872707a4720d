"""The reserve: what units in the field still cost under cover, part by part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

from claimlens.analysis.cost_claims import amounts
from claimlens.analysis.forecast import LIMITS
from claimlens.analysis.notes import joined
from claimlens.analysis.outstanding import outstanding
from claimlens.analysis.outstanding_sums import PARTS, Outstanding, Sum
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import Settings

__all__ = ["NO_OPINION", "RESERVE_COLUMNS", "TOTAL", "assumptions", "reserve"]

RESERVE_COLUMNS = (
    "part", "claims", "amount", "lower80", "upper80", "lower95", "upper95", "currency",
    "note", "as_of",
)  # fmt: skip

TOTAL = "total"
"""The part that is the sum of the others."""

NO_OPINION = "estimate from claims data, not an accounting opinion"


def reserve(
    session: Session, settings: Settings, scope: Scope, *, by: Sequence[str]
) -> pd.DataFrame:
    """Return what is outstanding at the cut-off.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Cover, currency, seed.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Keys of `claimlens.analysis.outstanding.RESERVE_KEYS`.

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
        See `claimlens.analysis.outstanding.outstanding`.
    """
    found = outstanding(session, settings, scope, by=by)
    note = joined([NO_OPINION, *assumptions(found), *scope.notes])
    rows = [
        dict(zip(found.by, key, strict=True)) | row
        for (key, currency), one in sorted(found.sums.items(), key=_order)
        for row in _rows(one, currency)
    ]
    table = pd.DataFrame(rows, columns=[*found.by, *RESERVE_COLUMNS])
    table["note"] = note
    table["as_of"] = pd.Timestamp(scope.as_of)
    return table


def _order(item: tuple[tuple[tuple[object, ...], str], Sum]) -> list[tuple[bool, str]]:
    (key, currency), _ = item
    # segments without a value last
    return [(value is None, str(value)) for value in (*key, currency)]


def _rows(one: Sum, currency: str) -> Iterator[dict[str, object]]:
    """Yield the parts of a sum, and their total."""
    parts = zip(PARTS, one.claims, one.expected, one.drawn, strict=True)
    total = (TOTAL, one.claims.sum(), one.expected.sum(), one.drawn.sum(axis=0))
    for name, claims, mean, drawn in (*parts, total):
        limits = amounts(np.quantile(drawn, list(LIMITS.values())))
        yield {
            "part": name,
            "claims": float(claims),
            "amount": amounts([mean])[0],
            **dict(zip(LIMITS, limits, strict=True)),
            "currency": currency or None,
        }


def assumptions(found: Outstanding) -> list[str]:
    """Say what the amounts take for granted."""
    ahead, rates = found.found.ahead, found.found.rates
    units = ahead.units
    is_to_come = units["is_to_come"].astype(bool)
    to_come = float(units.loc[is_to_come, "n_units"].sum())
    under = units[(units["last_month"] >= ahead.now) & ~is_to_come]
    paid, refused = found.paid
    told = [
        f"{float(under['n_units'].sum()):,.0f} units under cover, {to_come:,.0f} "
        "shipped and not yet in service; later sales are not in it",
        "not discounted, and no later prices",
        f"of {paid + refused:,} claims settled in the last 24 months {paid:,} were "
        "paid; open ones are taken to go alike",
        f"of a month's failures {rates.lag.share[0]:.0%} are reported in it",
        f"{found.found.n_draws:,} draws with seed {found.found.seed}",
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
