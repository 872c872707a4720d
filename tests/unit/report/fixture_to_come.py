"""What is still to come in the invented maker's months: fixed figures."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from claimlens.monthly_inputs import TO_COME_COLUMNS, Assumptions, ToCome

#: What each limit of a month is away from what is expected of it.
_AWAY = {"lower80": -14.2, "upper80": 14.4, "lower95": -21.3, "upper95": 22.6}
_NAIVE = "the mean of the last three months did better"


def backtest(months_back: int = 12, **values: object) -> dict[str, object]:
    """Build one row of ``backtests``; a keyword replaces a value."""
    first = pd.Timestamp(2026, 4, 1) - pd.DateOffset(months=months_back)
    row: dict[str, object] = {
        "months_back": months_back,
        "from_month": first,
        "to_month": pd.Timestamp(2026, 3, 1),
        "expected": 98.4 * months_back,
        "actual": 101.0 * months_back,
        "lower80": 92.2 * months_back,
        "upper80": 104.6 * months_back,
        "lower95": 89.1 * months_back,
        "upper95": 107.9 * months_back,
        "error": 2.6 * months_back,
        "error_last_three": 12.1 * months_back,
        "error_last_year": 20.3 * months_back,
        "inside80": 0.75,
        "inside95": 1.0,
        "verdict": "better than both naive forecasts",
    }
    return row | values


def build(**changes: object) -> ToCome:
    """Build what is to come; a keyword replaces that field."""
    rows = [
        backtest(6, error=16.0, error_last_three=9.0, verdict=_NAIVE),
        backtest(12),
    ]
    to_come = ToCome(
        not_told="",
        not_tested="",
        assumptions=Assumptions(
            units_under_cover=13_480.4,
            units_to_enter=312.0,
            reported=(0.37, 0.76, 0.91, 0.97, 0.99, 1.0),
            oldest_seen=24,
            oldest_used=24,
            draws=4000,
            seed=20240607,
        ),
        part_month=False,
        claims_so_far=_claims_so_far(),
        months_to_come=_months_to_come(),
        components_to_come=_components_to_come(),
        backtests=pd.DataFrame(rows, columns=list(TO_COME_COLUMNS["backtests"])),
        backtest_months=_backtest_months(),
    )
    return replace(to_come, **changes)  # type: ignore[arg-type]  # fields by name


def nothing(why: str) -> ToCome:
    """Build months of which nothing can be said."""
    empty = {
        name: pd.DataFrame(columns=list(columns))
        for name, columns in TO_COME_COLUMNS.items()
    }
    return ToCome(
        not_told=why, not_tested=why, assumptions=None, part_month=False, **empty
    )


def _claims_so_far() -> pd.DataFrame:
    months = pd.date_range("2024-04-01", "2026-03-01", freq="MS")
    reported = [88.0 + place % 5 * 4 for place in range(len(months))]
    return pd.DataFrame({"month": months, "reported": reported})


def _months_to_come() -> pd.DataFrame:
    rows = []
    total = 0.0
    for place, month in enumerate(pd.date_range("2026-04-01", periods=12, freq="MS")):
        expected = 96.0 - 3.5 * place
        total += expected
        rows.append(
            {"month": month, "so_far": 0.0, "expected": expected, "total": total}
            | {name: expected + away for name, away in _AWAY.items()}
            | {
                f"total_{name}": total + away * (place + 1) ** 0.6
                for name, away in _AWAY.items()
            }
        )
    return pd.DataFrame(rows)


def _components_to_come() -> pd.DataFrame:
    rows = [
        ("battery pack", 310.0, 262.4),
        ("wiring harness", 281.0, 204.1),
        ("unclassified", 150.0, 120.0),
        ("brake hydraulic", 120.0, 99.6),
        ("mudguard", 4.0, 3.4),
    ]
    return pd.DataFrame(
        [
            {"component": name, "reported": reported, "expected": expected}
            | {limit: max(expected + away, 0.0) for limit, away in _AWAY.items()}
            for name, reported, expected in rows
        ]
    )


def _backtest_months() -> pd.DataFrame:
    rows = []
    for months_back in (6, 12):
        first = pd.Timestamp(2026, 4, 1) - pd.DateOffset(months=months_back)
        for place in range(months_back):
            expected = 104.0 - 0.8 * place
            rows.append(
                {
                    "months_back": months_back,
                    "month": first + pd.DateOffset(months=place),
                    "expected": expected,
                    "last_three": 113.1,
                    "last_year": 90.0 + place,
                    "actual": expected + (-9.0 if place % 3 else 24.0),
                }
                | {name: expected + away for name, away in _AWAY.items()}
            )
    return pd.DataFrame(rows)
