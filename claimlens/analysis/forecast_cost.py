"""What claims to come cost: the mean of each component, or why it is not known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from claimlens.analysis.scope import Scope
from claimlens.analysis.severity import cost_per_claim
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings

__all__ = ["Prices", "prices_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """The mean cost of a claim of each component.

    Parameters
    ----------
    costs : mapping of str to float
        Component to its mean, in ``currency``; empty where none can be told.
    currency : str or None
        The report currency, or the only one there is.
    note : str
        Why costs are not told; else empty.
    """

    costs: Mapping[str, float]
    currency: str | None
    note: str


def prices_of(session: Session, settings: Settings, scope: Scope) -> Prices:
    """Return the mean costs, or the reason why there are none.

    Claims to come are told also where their cost is not: a missing rate of a currency
    is no error here, but a note.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Report currency and rates.
    scope : Scope
        Cut-off and filters in force.

    Returns
    -------
    Prices
    """
    try:
        found = cost_per_claim(session, settings, scope)
    except InputError as error:
        return Prices(costs={}, currency=None, note=f"no cost: {error.problem}")
    known = {
        name: float(one.mean) for name, one in found.items() if one.mean is not None
    }
    if not known:
        why = next((one.note for one in found.values() if one.note), "none is known")
        return Prices(costs={}, currency=None, note=f"no cost: {why}")
    currency = next(one.currency for one in found.values() if one.mean is not None)
    return Prices(costs=known, currency=currency, note="")
