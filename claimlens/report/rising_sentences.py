"""Sentences on what rises: for the first screen and the head of its section."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

import pandas as pd

from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats

__all__ = [
    "NOT_SEEN",
    "chance_of_an_alarm",
    "chance_sentence",
    "month_end",
    "rising_news",
    "standing",
    "times",
    "whose",
]

# an alarm of these states is told first thing
_SPEAKS = ("new", "growing")
# states whose signals stand no more
_OVER = ("cleared",)
_A_YEAR = 12
# "about 0.9 a month" reads as one a month
_ONE_A_MONTH = 0.95
_HARDLY = 1 / 600
#: From this ratio on a rise is as good as not seen.
NOT_SEEN = 50.0


def standing(inputs: MonthlyInputs) -> pd.DataFrame:
    """Return the signals that stand, without the details of one model."""
    frame = inputs.rising.signals
    return frame[(frame["detail_of"] == "") & ~frame["state"].isin(_OVER)]


def whose(row: Mapping[Any, Any]) -> str:
    """Name what a signal speaks of."""
    models = str(row["model"]) or "all models"
    return f"{row['component']}, {models}"


def month_end(value: object) -> str:
    """Write the day of a timestamp."""
    stamp = pd.Timestamp(str(value))
    return formats.day(date(stamp.year, stamp.month, stamp.day))


def times(ratio: float, lower: float, upper: float) -> str:
    """Write a ratio with its interval, limits outward."""
    if pd.isna(ratio):
        return formats.MISSING
    if pd.isna(lower) or pd.isna(upper):
        return formats.ratio(ratio)
    return (
        f"{formats.ratio(ratio)} ({formats.ratio(lower, 'lower')}–"
        f"{formats.ratio(upper, 'upper')})"
    )


def rising_news(inputs: MonthlyInputs) -> Iterator[str]:
    """Say in one sentence which signals are new, growing, and standing."""
    rising = inputs.rising
    if rising.judged_on is None:
        return
    frame = standing(inputs)
    if frame.empty:
        yield "Nothing rises beyond what chance explains."
        return
    counted, moved = [], []
    for level, one, many in (
        ("alarm", "alarm", "alarms"),
        ("watch", "watch", "watches"),
    ):
        own = frame[frame["level"] == level]
        counted.append(
            f"{formats.count(len(own))} {one if len(own) == 1 else many}"
            if len(own)
            else f"no {one}"
        )
        for state in _SPEAKS:
            number = int((own["state"] == state).sum())
            if number:
                noun = one if number == 1 else many
                moved.append(f"{formats.count(number)} {state} {noun}")
    told = f"among them {', '.join(moved)}" if moved else "none is new or growing"
    verb = "stands" if len(frame) == 1 else "stand"
    yield f"{counted[0]} and {counted[1]} {verb}; {told}."


def chance_of_an_alarm(inputs: MonthlyInputs) -> str:
    """Say how often chance alone brings an alarm to a fleet of this size."""
    return _often(inputs.rising.chance_alarms, "such alarm", "such alarms")


def chance_sentence(inputs: MonthlyInputs) -> str:
    """Say how many false signals a fleet of this size must expect."""
    rising = inputs.rising
    return (
        f"Where nothing rises at all, chance alone brings a fleet of this size "
        f"{_often(rising.chance_signals, 'new signal', 'new signals')} and "
        f"{_often(rising.chance_alarms, 'new alarm', 'new alarms')}: a watch asks "
        "for a look, an alarm for a decision."
    )


def _often(a_month: float, one: str, many: str) -> str:
    if a_month >= _ONE_A_MONTH:
        return f"about {formats.decimal_text(a_month, 1)} {many} a month"
    if a_month < _HARDLY:
        return f"hardly any {one}"
    months = 1.0 / a_month
    if months < _A_YEAR / 2:
        return f"about {formats.decimal_text(_A_YEAR * a_month, 0)} {many} a year"
    if months < 2 * _A_YEAR:
        return f"one {one} in about {formats.decimal_text(months, 0)} months"
    years = formats.decimal_text(months / _A_YEAR, 0)
    return f"one {one} in about {years} years"
