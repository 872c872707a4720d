"""What must hold in a warehouse, and in the counts that every report rests on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import numpy as np
import pandas as pd

from claimlens.analysis.carriers import put_carriers
from claimlens.analysis.counts import counting_rows
from claimlens.analysis.events import put_events
from claimlens.analysis.grouping import Grouping
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.tables import KINDS

__all__ = [
    "CHECK_COLUMNS",
    "Identity",
    "check_counts",
    "check_rows",
    "checks_frame",
    "not_judged",
    "told_broken",
]

CHECK_COLUMNS = (
    "identity",
    "meaning",
    "compared",
    "found",
    "expected",
    "state",
    "breaking",
)

_WHOLE = ("row_account", "rejects_counted", "batch_digests", "flags_placed")
# tables that came into the warehouse with its newest version
_NEWEST = ("classified_once", "views_hold_rows", "told_once")
_BY_KIND = (
    "one_current",
    "current_of_versions",
    "versions_of_files",
    "versions_in_order",
)
_REFOLDED = "current_is_newest"
_COUNTED = (
    "claims_read_once",
    "claims_in_sight",
    "claims_add_up",
    "costs_add_up",
    "units_add_up",
    "failures_add_up",
)
_SHOWN = 5
_GROUPINGS = ((), ("model", "model_year"), ("region",))
_TALLIED = ("component", "model")


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity:
    """One statement that must hold.

    Parameters
    ----------
    name : str
        Of the file in ``queries/checks``.
    meaning, compared : str
        What it says, and which two numbers were held against each other.
    found, expected : float
        These numbers.
    n_broken : int
        Keys that break it.
    breaking : tuple of str
        The first five of them.
    reason : str
        Why it could not be judged; empty where it was.
    """

    name: str
    meaning: str
    compared: str
    found: float
    expected: float
    n_broken: int
    breaking: tuple[str, ...]
    reason: str = ""

    @property
    def is_held(self) -> bool:
        """Tell whether nothing breaks it."""
        near = abs(self.found - self.expected) <= 1e-6 * (1 + abs(self.expected))
        return bool(self.reason) or (self.n_broken == 0 and near)

    @property
    def state(self) -> str:
        """Return ``held``, ``broken`` or ``not judged``."""
        if self.reason:
            return "not judged"
        return "held" if self.is_held else "broken"

    def told(self) -> str:
        """Return the keys that break it, or why it was not judged."""
        if self.reason:
            return self.reason
        more = self.n_broken - len(self.breaking)
        listed = ", ".join(self.breaking)
        return f"{listed} and {more} more" if more > 0 else listed


def check_rows(
    session: Session, *, is_newest: bool, refold: bool
) -> Iterator[Identity]:
    """Judge the rows that a warehouse keeps.

    Parameters
    ----------
    session : Session
        On the warehouse.
    is_newest : bool
        Whether its tables are those of this version of claimlens.
    refold : bool
        Whether to fold every version again; takes as long as a question with
        ``as_known``.

    Yields
    ------
    Identity
        In a fixed order.
    """
    for name in _WHOLE:
        yield _judged(session, name)
    for name in _NEWEST:
        if is_newest:
            yield _judged(session, name)
        else:
            yield not_judged(
                name,
                "the warehouse is of an earlier version; the next load brings it up "
                "to date",
            )
    for name in _BY_KIND:
        yield _of_all_kinds(session, name)
    if refold:
        yield _of_all_kinds(session, _REFOLDED)


def check_counts(
    session: Session, settings: Settings, scope: Scope
) -> Iterator[Identity]:
    """Judge the counts that rates, money and reports are made of.

    Parameters
    ----------
    session : Session
        With the tables of ``claimlens.analysis.scope.prepare``, no filter.
    settings : Settings
        Counting rules.
    scope : Scope
        Cut-off in force.

    Yields
    ------
    Identity
        In a fixed order.
    """
    _put_told_claims(session)
    _put_told_rows(session, settings, scope)
    given: dict[str, dict[str, object]] = {
        "claims_in_sight": {"as_of": scope.as_of},
        "failures_add_up": {
            "tolerance_days": settings.counting.predelivery_tolerance_days
        },
    }
    for name in _COUNTED:
        yield _judged(session, name, given.get(name))


def not_judged(name: str, reason: str) -> Identity:
    """Return an identity that there was nothing to judge by."""
    return Identity(
        name=name,
        meaning="",
        compared="",
        found=np.nan,
        expected=np.nan,
        n_broken=0,
        breaking=(),
        reason=reason,
    )


def checks_frame(identities: Sequence[Identity]) -> pd.DataFrame:
    """Return the identities as a table.

    Parameters
    ----------
    identities : sequence of Identity
        As judged.

    Returns
    -------
    pandas.DataFrame
        ``CHECK_COLUMNS``, one row an identity.
    """
    rows = [
        (
            one.name,
            one.meaning,
            one.compared,
            _exact(one.found),
            _exact(one.expected),
            one.state,
            one.told(),
        )
        for one in identities
    ]
    return pd.DataFrame(rows, columns=list(CHECK_COLUMNS))


def _exact(number: float) -> Decimal | None:
    """Return a number with all its digits; weights add up to thousandths."""
    if np.isnan(number):
        return None
    return Decimal(int(number)) if number.is_integer() else Decimal(f"{number:.3f}")


def told_broken(identities: Sequence[Identity]) -> str:
    """Return in one sentence which identities are broken, and by what."""
    parts = [
        f"{one.name}: {one.meaning}, but {one.compared}: {one.found:.12g} v. "
        f"{one.expected:.12g}" + (f" ({one.told()})" if one.breaking else "")
        for one in identities
        if not one.is_held
    ]
    return "; ".join(parts)


def _judged(
    session: Session, name: str, parameters: dict[str, object] | None = None
) -> Identity:
    row = session.frame(f"checks/{name}", parameters or {}).iloc[0]
    # no list where nothing is broken
    keys, n_broken = row["broken_keys"], int(row["n_broken"])
    return Identity(
        name=name,
        meaning=str(row["meaning"]),
        compared=str(row["compared"]),
        found=_number(row["found"]),
        expected=_number(row["expected"]),
        n_broken=n_broken,
        breaking=tuple(str(key) for key in keys) if n_broken else (),
    )


def _number(value: object) -> float:
    """Return a sum; there is none over no row, which is 0."""
    return 0.0 if value is None or pd.isna(value) else float(str(value))


def _of_all_kinds(session: Session, name: str) -> Identity:
    """Judge each kind on its own and add up."""
    judged: list[tuple[str, Identity]] = []
    if name == _REFOLDED:
        session.run("staging/fold_macros")
        session.put("touched", pd.DataFrame({"row_key": pd.array([], dtype="str")}))
    for kind in KINDS:
        session.alias("known_versions", f"{kind}_versions")
        session.alias("known_rows", f"{kind}_current")
        if name == _REFOLDED:
            session.run(
                f"staging/fold_{kind}", {"as_known": date.max, "only_touched": False}
            )
        given = {"kind": kind} if name == "versions_of_files" else {}
        judged.append((kind, _judged(session, name, dict(given))))
    keys = [f"{kind} {key}" for kind, one in judged for key in one.breaking]
    ones = [one for _, one in judged]
    return Identity(
        name=name,
        meaning=ones[0].meaning,
        compared=ones[0].compared,
        found=sum(one.found for one in ones),
        expected=sum(one.expected for one in ones),
        n_broken=sum(one.n_broken for one in ones),
        breaking=tuple(keys[:_SHOWN]),
    )


def _put_told_claims(session: Session) -> None:
    """Put what the tables tell of all claims, to be held against the claims."""
    told: list[tuple[str, int, int]] = []
    slots = {f"column_{number}": "" for number in range(1, 5)}
    for column in _TALLIED:
        table = session.frame("marts/claim_tally", {**slots, "column_1": column})
        told.append(
            (column, int(table["claims"].sum()), int(table["claims_counted"].sum()))
        )
    months = session.frame("marts/claims_by_month")
    told.append(
        ("month", int(months["n_reported"].sum()), int(months["n_counted"].sum()))
    )
    classes = session.frame("marts/claim_classes")
    counted = classes.loc[classes["claim_class"] == "counted", "n_claims"]
    told.append(("class", int(classes["n_claims"].sum()), int(counted.sum())))
    costs = session.frame("marts/component_costs")
    told.append(
        ("cost month", int(costs["n_claims"].sum()), int(costs["n_counted"].sum()))
    )
    session.put(
        "told_claims", pd.DataFrame(told, columns=["told_by", "n_claims", "n_counted"])
    )
    summed = costs.groupby("currency", as_index=False)["cost"].sum()
    session.put(
        "told_costs",
        pd.DataFrame(
            {
                "currency": pd.array(summed["currency"].tolist(), dtype="str"),
                "cost": summed["cost"].astype(float),
            }
        ),
    )


def _put_told_rows(session: Session, settings: Settings, scope: Scope) -> None:
    """Put what the counting queries tell of units and failures, in all groupings."""
    put_carriers(session, scope.as_of)
    put_events(session, settings)
    units, failures = [], []
    for inner in _GROUPINGS:
        named = (*inner, "component")
        told = "by " + ", ".join(named)
        frames = counting_rows(
            session, settings, scope, Grouping(names=named, inner=named), False
        )
        whole = frames[0][~frames[0]["is_early"].astype(bool)]
        units.append(
            whole.groupby("cover_class", as_index=False)["n_units"]
            .sum()
            .assign(told_by=told)
        )
        failures.append(
            frames[1]
            .groupby("is_first", as_index=False)["n_events"]
            .sum()
            .assign(told_by=told)
        )
    shapes = (
        ("told_units", units, {"cover_class": "str", "n_units": "float64"}),
        ("told_failures", failures, {"is_first": "bool", "n_events": "float64"}),
    )
    for name, parts, types in shapes:
        table = pd.concat(parts, ignore_index=True)
        session.put(name, table.astype({**types, "told_by": "str"}))
