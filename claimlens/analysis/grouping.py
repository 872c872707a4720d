"""What rates can be grouped by: fixed groups, and any column that came in."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

import pandas as pd

from claimlens.db import Session
from claimlens.errors import InputError

__all__ = [
    "GROUPS",
    "UNIT_GROUPS",
    "Grouping",
    "check_keys",
    "read_grouping",
    "result_key",
    "same_name",
]

GROUPS = (
    "model",
    "model_year",
    "component",
    "failure_mode",
    "supplier",
    "region",
    "generation",
    "build_month",
)

UNIT_SLOTS = ("column_1", "column_2", "column_3")

UNIT_GROUPS = (
    "model",
    "model_year",
    "region",
    "generation",
    "build_month",
    *UNIT_SLOTS,
    "supplier",
)

# fields of the canonical lists that have no group of their own
_UNIT_FIELDS = ("dealer", "build_lot", "plant")
_PART_FIELDS = ("lot", "part_no")

# keys of the results: a column of the same name is shown with extra_ before it
_TAKEN = re.compile(
    r"units\w*|claims\w*|cost|repeats?\w*|rate\w*|lower|upper|\w+_(lower|upper)|effective_n"
    r"|plain_\w+|at_months|mature|note|as_of|failures|shape|scale\w*|b10?_\w+|pattern"
    r"|fit_p_value|events?|expected|rank\w*|p_value|adjusted_p|told_apart|segment"
    r"|currency|is_first|age|n|number|shrunk_\w+|prone_\w+|share_\w+|unit_row|cover_class"
)


def check_keys(by: Sequence[str], known: Sequence[str], what: str) -> None:
    """Refuse a key that is not known, or named twice.

    Parameters
    ----------
    by : sequence of str
        Keys asked for.
    known : sequence of str
        Keys there are.
    what : str
        What is told by them, with its verb: ``Claims to come are``.

    Raises
    ------
    InputError
        For the first such key.
    """
    for name in by:
        if name not in known:
            raise InputError(
                f"{what} not told by {name!r}.",
                remedy=f"use --by with {', '.join(known)}",
            )
    if len(set(by)) < len(by):
        raise InputError(
            f"--by names {', '.join(by)}: one of them twice.",
            remedy="name each key once",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Grouping:
    """A grouping, with the columns that it reads.

    Parameters
    ----------
    names : tuple of str
        Keys of the result, in the order asked for.
    inner : tuple of str
        For each, the column of the counting queries.
    unit_columns : tuple of str
        Columns of the register behind ``column_1`` to ``column_3``.
    part_column : str
        What ``supplier`` stands for: the supplier, or a column of the parts.
    """

    names: tuple[str, ...]
    inner: tuple[str, ...]
    unit_columns: tuple[str, ...] = ()
    part_column: str = "supplier"

    @property
    def of_parts(self) -> bool:
        """Tell whether rows count parts of one kind rather than units."""
        return "supplier" in self.inner

    def with_inner(self, name: str) -> Grouping:
        """Return the grouping with one more of the fixed groups at its end."""
        return Grouping(
            names=(*self.names, name),
            inner=(*self.inner, name),
            unit_columns=self.unit_columns,
            part_column=self.part_column,
        )

    @property
    def slots(self) -> Mapping[str, str]:
        """Return the column of the register for each slot; "" for none."""
        given = (*self.unit_columns, "", "", "")
        return dict(zip(UNIT_SLOTS, given, strict=False))


def read_grouping(session: Session, by: Sequence[str]) -> Grouping:
    """Find what each name of a grouping stands for.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables.
    by : sequence of str
        Names of ``GROUPS``, or columns of the units or of their parts that came
        in: case, blanks and underscores do not matter.

    Returns
    -------
    Grouping
        Ready for the counting queries.

    Raises
    ------
    InputError
        If a name is not known, is named twice, or is known for claims only.
    """
    names: list[str] = []
    inner: list[str] = []
    unit_columns: list[str] = []
    part_column = "supplier"
    kept = session.frame("marts/kept_columns") if set(by) - set(GROUPS) else None
    for name in by:
        if name in GROUPS:
            key = column = name
        else:
            assert kept is not None  # some name is none of the fixed groups
            of_parts, found = _find(kept, name)
            key = result_key(found)
            if of_parts:
                part_column, column = found, "supplier"
            else:
                unit_columns.append(found)
                column = f"column_{len(unit_columns)}"
        if (column in inner and column != "supplier") or key in names:
            raise InputError(f"A group is named twice in {', '.join(by)}.")
        if column in inner:
            raise InputError(
                f"Parts can be grouped by one column at a time; got {', '.join(by)}.",
                remedy="ask once for each",
            )
        names.append(key)
        inner.append(column)
    if len(unit_columns) > len(UNIT_SLOTS):
        raise InputError(
            f"At most three kept columns can group at once; got {len(unit_columns)}."
        )
    return Grouping(
        names=tuple(names),
        inner=tuple(inner),
        unit_columns=tuple(unit_columns),
        part_column=part_column,
    )


def result_key(column: str) -> str:
    """Return the key of a kept column in a result."""
    return f"extra_{column}" if _TAKEN.fullmatch(column) else column


def same_name(one: str, other: str) -> bool:
    """Tell whether two names differ by case, blanks and underscores only."""
    return _plain(one) == _plain(other)


def _plain(name: str) -> str:
    return re.sub(r"[\s_\-]+", " ", name).strip().casefold()


def _find(kept: pd.DataFrame, name: str) -> tuple[bool, str]:
    """Return whether the column is one of parts, and its name as it came in."""
    columns = {
        kind: kept.loc[kept["kind"] == kind, "column_name"].tolist()
        for kind in ("units", "fitted_parts", "parts", "claims")
    }
    of_units = [*_UNIT_FIELDS, *columns["units"]]
    of_parts = [*_PART_FIELDS, *columns["fitted_parts"], *columns["parts"]]
    for is_part, known in ((False, of_units), (True, of_parts)):
        for column in known:
            if _plain(column) == _plain(name):
                return is_part, column
    if _plain(name) in {_plain(column) for column in columns["claims"]}:
        raise InputError(
            f"{name!r} is a column of the claims only: how many units there are of "
            "each of its values is not known, so there is nothing to divide by.",
            remedy=f'count the claims instead: claimlens tally --by "{name}"',
        )
    offered = list(dict.fromkeys([*GROUPS, *of_units, *of_parts]))
    near = get_close_matches(name, offered, 1)
    raise InputError(
        f"Cannot group by {name!r}.",
        remedy=(f"did you mean {near[0]!r}? " if near else "")
        + f"group by one or more of {', '.join(offered)}",
    )
