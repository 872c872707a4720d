"""Claims that somebody waits for, invented for the monthly page's tests."""

from __future__ import annotations

import pandas as pd

from claimlens.monthly_inputs import OPEN_COLUMNS, OpenClaims


def waiting(*rows: tuple[str, int, str | None, int, int, int, float]) -> pd.DataFrame:
    """Return rows of what is waited for; columns as in ``OPEN_COLUMNS``."""
    return pd.DataFrame(list(rows), columns=list(OPEN_COLUMNS["waiting"]))


def build(**changes: object) -> OpenClaims:
    """Build the open claims of the month; a keyword replaces that field."""
    given: dict[str, object] = {
        "waiting": waiting(
            ("decision", 2, "EUR", 21, 3, 21, 4_210.5),
            ("decision", 40, "EUR", 4, 1, 4, 900.0),
            ("decision", 41, "CHF", 1, 0, 1, 310.0),
            ("part", 12, "EUR", 19, 6, 19, 2_700.0),
            ("part", 95, "EUR", 5, 2, 0, float("nan")),
            ("repair", 33, "EUR", 7, 1, 7, 1_000.0),
            ("repair", 30, "EUR", 7, 1, 7, 1_000.0),
            ("part back", 20, "EUR", 60, 9, 60, 8_000.0),
        ),
        "decided": pd.DataFrame(
            [
                ("month", "EUR", 130, 120, 14, 22, 20_000.0, 17_000.0),
                ("year", "EUR", 1_500, 1_400, 150, 300, 250_000.0, 212_500.0),
                ("year", "CHF", 40, 0, 2, 0, float("nan"), float("nan")),
            ],
            columns=list(OPEN_COLUMNS["decided"]),
        ),
        "return_days": 90,
        "closed": 900,
        "inspected": 450,
        "off_road_column": "",
    }
    return OpenClaims(**(given | changes))  # type: ignore[arg-type]


def nothing() -> OpenClaims:
    """Return a month in which nothing is open and nothing was decided."""
    empty = {
        name: pd.DataFrame({column: [] for column in columns})
        for name, columns in OPEN_COLUMNS.items()
    }
    return build(**empty, closed=0, inspected=0)
