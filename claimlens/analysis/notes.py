"""The words beside a figure, and how they are put together."""

from __future__ import annotations

from collections.abc import Iterable

from claimlens.analysis.count_tables import DAYS_PER_MONTH

__all__ = ["early_life_missing", "joined", "no_units", "watched_too_short"]


def joined(parts: Iterable[str]) -> str:
    """Return the parts that say something, as one note."""
    return "; ".join(part for part in parts if part)


def no_units(*, of_parts: bool) -> str:
    """Say that a segment has no unit to divide by."""
    if of_parts:
        return "claims only: which units carry this part is not known"
    return "no unit in service and covered"


def watched_too_short(oldest: float) -> str:
    """Say to which age, in days, the longest watched unit was seen."""
    return (
        f"no unit was watched for longer than {oldest / DAYS_PER_MONTH:.1f} months "
        "(cut-off, end of cover or retirement)"
    )


def early_life_missing(first: float) -> str:
    """Say before which age, in days, no unit was watched."""
    return (
        f"the first {first / DAYS_PER_MONTH:.1f} months of life of these units were "
        "not recorded"
    )
