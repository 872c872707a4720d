"""How many pieces of each part the events of a component take.

Events of a component take what its claims took, at units for which the same parts are
sent. A kit's parts come together in a claim; for the stock of each number only its own
quantity counts, so each number has its own shares. Beside the claims seen stands one
that was not: it takes one piece of one of the parts listed for the component and the
units, each with the same chance. So a part without history has a demand, which fades
as claims tell more.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.months import MONTHS_A_YEAR
from claimlens.analysis.spares_parts import Kind, PartsList
from claimlens.db import Session

__all__ = ["HISTORY_MONTHS", "Pool", "Take", "read_use"]

HISTORY_MONTHS = 24
"""Months of claims that tell which parts events take."""

# an open claim may name its parts so many days after its report
_OPEN_DAYS = 60

_KEYS = ["component", "model", "model_year", "generation"]


@dataclass(frozen=True, slots=True)
class Take:
    """How events take one part.

    Parameters
    ----------
    sizes : ndarray, shape (J,)
        Pieces; the first is 0.
    weights : ndarray, shape (J,)
        Claims that took so many, the one that was not seen included.
    n_seen : int
        Claims seen that took the part.
    """

    sizes: NDArray[np.float64]
    weights: NDArray[np.float64]
    n_seen: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """Events of a component at units for which the same parts are sent.

    Parameters
    ----------
    component : str
        Of the claims.
    label : str
        Tells it from the other pools of the component.
    rows : ndarray of int
        Kinds of units, by position.
    n_claims : int
        Claims seen.
    takes : dict of str to Take
        By key of the part.
    """

    component: str
    label: str
    rows: NDArray[np.intp]
    n_claims: int
    takes: dict[str, Take]


@dataclass(slots=True)
class _Told:
    """The claims of one component at one kind of unit."""

    n_claims: int = 0
    taken: dict[str, dict[float, int]] = field(default_factory=dict)


def read_use(
    session: Session,
    listed: PartsList,
    kinds: Sequence[Kind],
    *,
    as_of: date,
    returned_to_stock: bool,
) -> tuple[list[Pool], str]:
    """Count what claims took, and say how much they told.

    Parameters
    ----------
    session : Session
        With ``parts_sent``.
    listed : PartsList
        Parts sent today.
    kinds : sequence of Kind
        Kinds of units in sight.
    as_of : date
        Cut-off.
    returned_to_stock : bool
        Whether parts of claims found without fault are.

    Returns
    -------
    pools : list of Pool
        By component.
    note : str
        How many claims told their parts.
    """
    after = pd.Timestamp(as_of) - pd.DateOffset(months=HISTORY_MONTHS)
    session.run(
        "intermediate/int_parts_taken",
        {
            "after": after.date(),
            "open_after": as_of - timedelta(days=_OPEN_DAYS),
            "returned_to_stock": returned_to_stock,
        },
    )
    claims = session.frame("marts/claims_told")
    taken = session.frame("marts/parts_taken")
    told: dict[str, dict[Kind, _Told]] = {}
    for row in claims.to_dict("records"):
        own = told.setdefault(str(row["component"]), {})
        own.setdefault(Kind.of(row), _Told()).n_claims += int(row["n_claims"])
    for row in taken.to_dict("records"):
        sizes = told[str(row["component"])][Kind.of(row)].taken.setdefault(
            str(row["part_key"]), {}
        )
        size = float(row["quantity"])
        sizes[size] = sizes.get(size, 0) + int(row["n_claims"])
    components = set(told) | {
        part.component for part in listed.parts.values() if part.component is not None
    }
    pools = [
        pool
        for component in sorted(components)
        for pool in _pools(component, told.get(component, {}), listed, kinds)
    ]
    return pools, (
        f"parts of {int(claims['n_naming'].sum()):,} of "
        f"{int(claims['n_claims'].sum()):,} claims of the last "
        f"{HISTORY_MONTHS // MONTHS_A_YEAR} years"
    )


def _pools(
    component: str,
    told: Mapping[Kind, _Told],
    listed: PartsList,
    kinds: Sequence[Kind],
) -> Iterable[Pool]:
    """Yield the pools of a component."""
    taken = {key for one in told.values() for key in one.taken}
    own = {key for key, part in listed.parts.items() if part.component == component}
    relevant = sorted(taken | own)

    def fitting(kind: Kind) -> frozenset[str]:
        return frozenset(key for key in relevant if listed.parts[key].fits_unit(kind))

    rows: dict[frozenset[str], list[int]] = {}
    for place, kind in enumerate(kinds):
        rows.setdefault(fitting(kind), []).append(place)
    # where no claim names a part at all, parts are not written down
    history = [(fitting(kind), one) for kind, one in told.items()] if taken else []
    for fit, places in rows.items():
        # a claim whose unit is not known in full speaks for all that it may be of
        here = [
            one
            for wider, one in history
            if wider == fit or (wider not in rows and wider > fit)
        ]
        n_claims = sum(one.n_claims for one in here)
        yield Pool(
            component=component,
            label=min(kinds[place].label for place in places),
            rows=np.array(places, dtype=np.intp),
            n_claims=n_claims,
            takes=_takes(here, n_claims, sorted(fit & own)),
        )


def _takes(
    here: Sequence[_Told], n_claims: int, listed: Sequence[str]
) -> dict[str, Take]:
    """Return how events take each part, the unseen claim included."""
    counts: dict[str, dict[float, int]] = {}
    for one in here:
        for key, own in one.taken.items():
            known = counts.setdefault(key, {})
            for size, number in own.items():
                known[size] = known.get(size, 0) + number
    total = n_claims + (1.0 if listed else 0.0)
    takes = {}
    for key in sorted({*counts, *listed}):
        seen: dict[float, float] = dict(counts.get(key, {}))
        n_seen = int(sum(seen.values()))
        if key in listed:
            seen[1.0] = seen.get(1.0, 0.0) + 1.0 / len(listed)
        sizes = sorted(seen)
        weights = [seen[size] for size in sizes]
        takes[key] = Take(
            np.array([0.0, *sizes]),
            np.array([max(total - sum(weights), 0.0), *weights]),
            n_seen,
        )
    return takes
