"""The parts that are sent today: what they stand for, which units they fit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

import pandas as pd

from claimlens.analysis.supersession import chain_of
from claimlens.db import Session

__all__ = ["Fit", "Kind", "Part", "PartsList", "read_parts"]


class Kind(NamedTuple):
    """What decides which parts fit a unit; None where it is not known."""

    model: str | None
    model_year: int | None
    generation: str | None

    @classmethod
    def of(cls, row: Mapping[str, object]) -> Kind:
        """Return the kind of a row; a key that it lacks is not known."""
        year = row.get("model_year")
        return cls(
            _text(row.get("model")),
            None if pd.isna(year) else int(str(year).split(".")[0]),
            _text(row.get("generation")),
        )

    @property
    def label(self) -> str:
        """Return a name that tells it from others."""
        return "/".join("" if value is None else str(value) for value in self)


class Fit(NamedTuple):
    """The units that one row of the parts list is for; None is no bound."""

    model: str | None
    from_year: int | None
    to_year: int | None
    generation: str | None

    def holds(self, kind: Kind) -> bool:
        """Tell whether a unit is one of them; what is not known does not rule out."""
        year = kind.model_year
        return (
            (None in (self.model, kind.model) or self.model == kind.model)
            and (None in (self.from_year, year) or self.from_year <= year)  # type: ignore[operator]  # neither is None
            and (None in (self.to_year, year) or self.to_year >= year)  # type: ignore[operator]  # neither is None
            and (
                None in (self.generation, kind.generation)
                or self.generation == kind.generation
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part that is sent today.

    Parameters
    ----------
    key, part_no : str
        Its number in capitals, and as written.
    component : str or None
        Its own, else that of the parts that it replaces, if they agree.
    lead_time_days : int or None
        As the parts list tells it.
    replaces : tuple of str
        Numbers in whose place it is sent, oldest first.
    fits : tuple of Fit
        Of the part and of those that it replaces; none: any unit.
    is_listed : bool
        Whether it has a row in the parts list.
    is_circle : bool
        Whether its supersession comes back to itself, so that it is not followed.
    """

    key: str
    part_no: str
    description: str | None = None
    component: str | None = None
    supplier: str | None = None
    unit_cost: Decimal | None = None
    currency: str | None = None
    lead_time_days: int | None = None
    replaces: tuple[str, ...] = ()
    fits: tuple[Fit, ...] = ()
    is_listed: bool = False
    is_circle: bool = False

    def fits_unit(self, kind: Kind) -> bool:
        """Tell whether it is sent for a kind of unit."""
        return not self.fits or any(fit.holds(kind) for fit in self.fits)


@dataclass(frozen=True, kw_only=True)
class PartsList:
    """Every part number that is known.

    Parameters
    ----------
    parts : dict of str to Part
        Those sent today, by key.
    sent : dict of str to str
        Key of the part that is sent today for each number.
    """

    parts: dict[str, Part]
    sent: dict[str, str]

    def bounds(self) -> tuple[str, ...]:
        """Return the keys of units on which the fit of some part depends."""
        fits = [fit for part in self.parts.values() for fit in part.fits]
        found = {
            "model": any(fit.model for fit in fits),
            "model_year": any(fit.from_year or fit.to_year for fit in fits),
            "generation": any(fit.generation for fit in fits),
        }
        return tuple(key for key, is_bound in found.items() if is_bound)


def read_parts(session: Session) -> PartsList:
    """Read the parts list and the numbers in claims, and follow supersession.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``; ``parts_sent`` is made.

    Returns
    -------
    PartsList
        A number that stands in no parts list is a part of its own.
    """
    listed = session.frame("marts/parts_listed").drop_duplicates("part_key")
    rows = {str(row["part_key"]): row for row in listed.to_dict("records")}
    named = session.frame("marts/part_numbers")
    numbers = dict(zip(named["part_key"], named["part_no"], strict=True))
    followed_by = {}
    for key, row in rows.items():
        after = _text(row["superseded_by"])
        if after is not None:
            followed_by[key] = after.upper()
            numbers.setdefault(after.upper(), after)
    numbers |= {key: str(row["part_no"]) for key, row in rows.items()}
    sent: dict[str, str] = {}
    stands_for: dict[str, list[str]] = {}
    circles = set()
    for key in [*rows, *sorted(set(numbers) - set(rows))]:
        chain, is_circle = chain_of(key, followed_by)
        sent[key] = chain[-1]
        older = stands_for.setdefault(chain[-1], [])
        older += [each for each in chain[:-1] if each not in older]
        if is_circle:
            circles.add(key)
    session.put(
        "parts_sent",
        pd.DataFrame({"part_key": list(sent), "sent_key": list(sent.values())}).astype(
            "str"
        ),
    )
    parts = {
        key: _part(key, older, rows, numbers, is_circle=key in circles)
        for key, older in sorted(stands_for.items())
    }
    return PartsList(parts=parts, sent=sent)


def _part(
    key: str,
    older: Iterable[str],
    rows: Mapping[str, Mapping[str, object]],
    numbers: Mapping[str, str],
    *,
    is_circle: bool,
) -> Part:
    row = rows.get(key, {})
    members = [rows[each] for each in (*older, key) if each in rows]
    kinds = {_text(each["component"]) for each in members} - {None}
    cost, days = _text(row.get("unit_cost")), row.get("lead_time_days")
    return Part(
        key=key,
        part_no=numbers[key],
        description=_text(row.get("description")),
        component=_text(row.get("component"))
        or (kinds.pop() if len(kinds) == 1 else None),
        supplier=_text(row.get("supplier")),
        unit_cost=None if cost is None else Decimal(cost),
        currency=_text(row.get("currency")),
        lead_time_days=None if pd.isna(days) else int(str(days)),
        replaces=tuple(numbers[each] for each in older),
        fits=tuple(_fit(each) for each in members),
        is_listed=bool(row),
        is_circle=is_circle,
    )


def _fit(row: Mapping[str, object]) -> Fit:
    first, last = row["fits_from_year"], row["fits_to_year"]
    return Fit(
        _text(row["fits_model"]),
        None if pd.isna(first) else int(str(first)),
        None if pd.isna(last) else int(str(last)),
        _text(row["generation"]),
    )


def _text(value: object) -> str | None:
    return None if value is None or pd.isna(value) or value == "" else str(value)
