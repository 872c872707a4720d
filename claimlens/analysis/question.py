"""What is asked: cut-off, known-by date and filters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TypedDict, Unpack, cast

from claimlens.errors import InputError

__all__ = [
    "FILTERS",
    "Asked",
    "Day",
    "Question",
    "Wanted",
    "ages_asked",
    "as_day",
    "ask",
]

FILTERS = ("model", "model_year", "component", "supplier", "region")

Day = date | str | None
"""A cut-off: a date, or ISO text."""

Wanted = str | int | Sequence[str | int] | None
"""One value of a filter, or several."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Cut-off, known-by date and filters of one question.

    Parameters
    ----------
    as_of : date, optional
        Failures and reports after it are hidden; by default the last month-end
        not after the newest report.
    as_known : date, optional
        Only batches known by then are seen.
    wanted : mapping of str to tuple of str
        Filters: names of ``FILTERS`` to the values wanted.
    """

    as_of: date | None = None
    as_known: date | None = None
    wanted: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


class Asked(TypedDict, total=False):
    """What every question can be given.

    Parameters
    ----------
    as_of : date or str
        Cut-off: failures and reports after it are hidden; by default the last
        month-end not after the newest report.
    as_known : date or str
        Only what was known by then.
    model, model_year, component, supplier, region : value or sequence
        Only these.
    """

    as_of: Day
    as_known: Day
    model: Wanted
    model_year: Wanted
    component: Wanted
    supplier: Wanted
    region: Wanted


def ask(**asked: Unpack[Asked]) -> Question:
    """Return the question that the keywords put.

    Raises
    ------
    TypeError
        If a keyword is none of ``Asked``.
    """
    unknown = sorted(set(asked) - set(Asked.__annotations__))
    if unknown:
        raise TypeError(f"a question has no keyword {unknown[0]!r}")
    wanted: dict[str, tuple[str, ...]] = {}
    for name in FILTERS:
        given = cast("Wanted", asked.get(name))
        if given is not None:
            values = [given] if isinstance(given, str | int) else list(given)
            wanted[name] = tuple(str(value) for value in values)
    return Question(
        as_of=as_day(asked.get("as_of")),
        as_known=as_day(asked.get("as_known")),
        wanted=wanted,
    )


def ages_asked(at: Sequence[float], *, example: str) -> list[float]:
    """Return months in service, rising and each once.

    Parameters
    ----------
    at : sequence of float
        Above 0 and up to 600; at least one.
    example : str
        How to write them, for the error.

    Raises
    ------
    InputError
        If there is none, or one lies outside.
    """
    months = [float(month) for month in at]
    if not months or not all(0 < month <= 600 for month in months):
        raise InputError(
            f"ages must lie above 0 and up to 600 months; got {list(at)}",
            remedy=f"write them as in --at {example}",
        )
    return sorted(set(months))


def as_day(given: Day) -> date | None:
    """Return a date given as such or as ISO text."""
    if not isinstance(given, str):
        return given
    try:
        return date.fromisoformat(given)
    except ValueError:
        raise InputError(
            f"{given!r} is not a date.", remedy="write dates as YYYY-MM-DD"
        ) from None
