"""Calendar months: their numbers on one line, their first and last days."""

from __future__ import annotations

from datetime import date, timedelta

__all__ = ["MONTHS_A_YEAR", "first_of", "last_month_end", "month_no"]

MONTHS_A_YEAR = 12


def month_no(day: date) -> int:
    """Return the number of a calendar month on one line."""
    return day.year * MONTHS_A_YEAR + day.month - 1


def first_of(month: int) -> date:
    """Return the first day of a numbered month."""
    return date(month // MONTHS_A_YEAR, month % MONTHS_A_YEAR + 1, 1)


def last_month_end(day: date) -> date:
    """Return the last end of a month that is not after a day."""
    following = day + timedelta(days=1)
    return following.replace(day=1) - timedelta(days=1)
