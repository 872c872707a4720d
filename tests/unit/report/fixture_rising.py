"""What rises in the invented maker's month: fixed figures."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pandas as pd

from claimlens.monthly_inputs import RISING_COLUMNS, Rising

_AS_OF = pd.Timestamp(2026, 3, 31)


def signal(component: str, **values: object) -> dict[str, object]:
    """Build one row of ``signals``; a keyword replaces a value."""
    row: dict[str, object] = {
        "component": component,
        "model": None,
        "level": "watch",
        "state": "steady",
        "since": pd.Timestamp(2026, 1, 31),
        "from_date": pd.Timestamp(2025, 4, 1),
        "to_date": pd.Timestamp(2025, 6, 1),
        "rate_ratio": 4.0,
        "lower": 2.07,
        "upper": 6.99,
        "claims": 12,
        "expected": 3.0,
        "units": 812,
        "cost": 888.4,
        "currency": "EUR",
        "models": "Hauler 3 9, Finch S 3",
        "regions": "DE 7, FR 5",
        "why": "12 of 812 units built in 2 months from 2025-04 had a failed "
        f"{component} where 3.0 were to be expected from older production at "
        "the same age (4.0 times, 2.0 to 7.0)",
        "acknowledged_by": None,
        "acknowledged_on": pd.NaT,
        "acknowledged_why": None,
        "acknowledged_until": pd.NaT,
        "detail_of": None,
        "note": "",
    }
    return row | values


def signals(*rows: dict[str, object]) -> pd.DataFrame:
    """Put rows together in their order."""
    return pd.DataFrame(list(rows), columns=list(RISING_COLUMNS["signals"]))


def build(**changes: object) -> Rising:
    """Build the month; a keyword replaces that field."""
    rising = Rising(
        judged_on=date(2026, 3, 31),
        not_judged="",
        components=14,
        chance_signals=0.31,
        chance_alarms=0.02,
        signals=signals(
            signal("wiring harness", level="alarm", state="new", since=_AS_OF),
            signal(
                "wiring harness",
                model="Hauler 3",
                level="alarm",
                detail_of="all models",
                claims=9,
            ),
            signal("connector", note="7 of 12 claims come from dealer D-07"),
            signal(
                "charger",
                state="acknowledged",
                acknowledged_by="R. Vantongeren",
                acknowledged_on=pd.Timestamp(2026, 2, 28),
                acknowledged_why="known, the supplier sorts",
                acknowledged_until=pd.Timestamp(2026, 6, 30),
            ),
            signal("display", state="cleared"),
        ),
        signal_months=_signal_months(),
        blind_spots=_blind_spots(),
        windows=_windows(),
        window_months=_window_months(),
        design_changes=_design_changes(),
        change_curves=_change_curves(),
        no_changes="",
        rising_words=_words(),
    )
    return replace(rising, **changes)  # type: ignore[arg-type]  # fields by name


def nothing(why: str) -> Rising:
    """Build a month of which nothing can be said."""
    empty = {
        name: pd.DataFrame(columns=list(columns))
        for name, columns in RISING_COLUMNS.items()
    }
    return Rising(
        judged_on=None,
        not_judged=why,
        components=0,
        chance_signals=0.0,
        chance_alarms=0.0,
        no_changes=why,
        **empty,
    )


def _signal_months() -> pd.DataFrame:
    rows = []
    months = pd.date_range("2025-04-01", "2026-03-01", freq="MS")
    for component, alarm in (("wiring harness", 11), ("connector", 99), ("charger", 8)):
        for place, month in enumerate(months):
            level = "alarm" if place >= alarm else "watch" if place >= 9 else ""
            rows.append((component, "", month, place + 1.0, 0.25 * (place + 1), level))
    return pd.DataFrame(rows, columns=list(RISING_COLUMNS["signal_months"]))


def _blind_spots() -> pd.DataFrame:
    rows = [
        ("wiring harness", "", 9.0, 2.1),
        ("wiring harness", "Hauler 3", 6.0, 3.2),
        ("wiring harness", "Finch S", 3.0, 4.4),
        ("mudguard", "", 0.6, 8.21),
        ("mudguard", "Hauler 3", 0.4, 21.3),
        ("mudguard", "Finch S", 0.2, 61.0),
    ]
    return pd.DataFrame(rows, columns=list(RISING_COLUMNS["blind_spots"]))


def _windows() -> pd.DataFrame:
    rows = [
        {
            "component": "wiring harness",
            "model": None,
            "from_date": pd.Timestamp(2024, 3, 1),
            "to_date": pd.Timestamp(2024, 7, 1),
            "rate_ratio": 6.1,
            "lower": 4.4,
            "upper": 8.3,
            "p_value": 0.0001,
            "adjusted_p": 0.0014,
            "units": 1_650,
            "claims": 61,
            "expected": 10.0,
            "not_yet_failed": 1_589,
            "plausible_from": pd.Timestamp(2024, 3, 1),
            "plausible_to": pd.Timestamp(2024, 7, 1),
            "note": "",
        },
        {
            "component": "connector",
            "model": None,
            "from_date": pd.Timestamp(2022, 5, 1),
            "to_date": pd.Timestamp(2022, 6, 1),
            "rate_ratio": 2.4,
            "lower": 1.2,
            "upper": 4.4,
            "p_value": 0.04,
            "adjusted_p": 0.41,
            "units": 390,
            "claims": 9,
            "expected": 3.8,
            "not_yet_failed": 381,
            "plausible_from": pd.Timestamp(2021, 11, 1),
            "plausible_to": pd.Timestamp(2023, 2, 1),
            "note": "",
        },
    ]
    return pd.DataFrame(rows, columns=list(RISING_COLUMNS["windows"]))


def _window_months() -> pd.DataFrame:
    rows = []
    months = pd.date_range("2021-01-01", "2026-01-01", freq="MS")
    for component, first, last in (
        ("wiring harness", "2024-03", "2024-06"),
        ("connector", "2022-05", "2022-05"),
    ):
        for place, month in enumerate(months):
            inside = first <= f"{month:%Y-%m}" <= last
            expected = 4.0 - place / 20
            observed = round(expected * (6.0 if inside else 0.7 + place % 3 * 0.3))
            rows.append((component, month, 380, observed, expected, inside))
    return pd.DataFrame(rows, columns=list(RISING_COLUMNS["window_months"]))


def _design_changes() -> pd.DataFrame:
    judged = {
        "change_no": "DC-0412",
        "component": "connector",
        "model": None,
        "description": "gland with a second seal",
        "starts_on": pd.Timestamp(2023, 9, 1),
        "at_months": 24,
        "units_before": 4_100,
        "claims_before": 96,
        "units_after": 9_800,
        "claims_after": 71,
        "expected_after": 178.0,
        "rate_ratio": 0.40,
        "lower": 0.29,
        "upper": 0.54,
        "verdict": "improved",
        "reason": "the whole interval lies below 1",
        "control": "other components",
        "control_ratio": 0.41,
        "control_lower": 0.29,
        "control_upper": 0.57,
        "verdict_by": pd.NaT,
        "note": "",
    }
    old = {
        "change_no": "DC-0007",
        "component": "charger",
        "starts_on": pd.Timestamp(2019, 2, 1),
        "reason": "older than 5 years; claimlens change DC-0007 judges it",
    }
    return pd.DataFrame([judged, old], columns=list(RISING_COLUMNS["design_changes"]))


def _change_curves() -> pd.DataFrame:
    rows = [
        ("DC-0412", side, float(age), rate * age)
        for side, rate in (("before", 0.001), ("after", 0.0004))
        for age in range(25)
    ]
    return pd.DataFrame(rows, columns=list(RISING_COLUMNS["change_curves"]))


def _words() -> pd.DataFrame:
    rows = [
        ("whistle", "en", 9, 80, 0.1125, 0.004, 28.1, 0.0004, 1, "all", None,
         "C-2026-0388 C-2026-0412", "new: no earlier text holds it"),
        ("knarzen", "de", 14, 210, 0.067, 0.02, 3.4, 0.011, 3, "unclassified",
         "loose", "C-2026-0301", ""),
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=list(RISING_COLUMNS["rising_words"]))
