"""Sentences on claims to come: for the first screen and the heads of sections."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

import pandas as pd

from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats

__all__ = [
    "band",
    "expected_sentence",
    "missed_sentence",
    "month_of",
    "range_of",
    "tested_sentences",
    "to_come_news",
    "trust_sentence",
]

_YEAR = 12
#: What a verdict of the backtest says of naive forecasts, and which column it is.
_NAIVE = {
    "the mean of the last three months did better": (
        "the mean of the three months before",
        "error_last_three",
    ),
    "the same months a year before did better": (
        "the same months a year before",
        "error_last_year",
    ),
}


def month_of(value: object) -> str:
    """Write the month of a timestamp."""
    stamp = pd.Timestamp(str(value))
    return formats.month_name(date(stamp.year, stamp.month, 1))


def band(level: str) -> str:
    """Write the level of a band, such as ``80``."""
    return f"{level}{formats.PER_CENT.suffix}"


def range_of(row: Mapping[Any, Any] | pd.Series, level: str, of: str = "") -> str:
    """Write the limits of a count, outward."""
    lower = formats.decimal_text(row[f"{of}lower{level}"], 0, "lower")
    upper = formats.decimal_text(row[f"{of}upper{level}"], 0, "upper")
    return f"{lower}–{upper}"


def expected_sentence(inputs: MonthlyInputs) -> str:
    """Say how many claims are expected, with limits, and how many there were."""
    months, past = inputs.to_come.months_to_come, inputs.to_come.claims_so_far
    last = months.iloc[-1]
    rest = "the rest of " if inputs.to_come.part_month else ""
    said = (
        f"{formats.count(last['total'])} claims are expected in the "
        f"{formats.count(len(months))} months from {rest}"
        f"{month_of(months['month'].iloc[0])} to {month_of(last['month'])}: "
        f"{range_of(last, '80', 'total_')} with {band('80')} chance, "
        f"{range_of(last, '95', 'total_')} with {band('95')}"
    )
    recent = past.tail(_YEAR)
    if len(recent) == _YEAR:
        said += (
            f"; the last {_YEAR} months brought "
            f"{formats.count(recent['reported'].sum())}"
        )
    return f"{said}."


def tested_sentences(inputs: MonthlyInputs) -> Iterator[str]:
    """Say how each earlier forecast did, the oldest first, and what did better."""
    to_come = inputs.to_come
    rows = to_come.backtests.sort_values("months_back", ascending=False)
    for row in rows.to_dict("records"):
        yield (
            f"The forecast of {formats.count(row['months_back'])} months ago expected "
            f"{formats.count(row['expected'])} claims up to the cut-off; "
            f"{formats.count(row['actual'])} came, {_place(row)}."
        )
        yield _naive(row)
    if len(rows) and to_come.not_tested:
        yield to_come.not_tested


def trust_sentence(inputs: MonthlyInputs) -> Iterator[str]:
    """Say in one sentence how far earlier forecasts could be trusted."""
    rows = inputs.to_come.backtests.sort_values("months_back", ascending=False)
    told = []
    for row in rows.to_dict("records"):
        better = _NAIVE.get(str(row["verdict"]))
        told.append(
            f"that of {formats.count(row['months_back'])} months ago expected "
            f"{formats.count(row['expected'])} claims and "
            f"{formats.count(row['actual'])} came, {_place(row)}"
            + (f", and the naive one, {better[0]}, did better" if better else "")
        )
    if told:
        yield f"How earlier forecasts did: {'; '.join(told)}."


def _place(row: Mapping[Any, Any]) -> str:
    """Say in which band what came lies."""
    for level in ("80", "95"):
        if row[f"lower{level}"] <= row["actual"] <= row[f"upper{level}"]:
            return f"inside the band of {band(level)} ({range_of(row, level)})"
    return f"outside the band of {band('95')} ({range_of(row, '95')})"


def _naive(row: Mapping[Any, Any]) -> str:
    off = formats.count(row["error"])
    better = _NAIVE.get(str(row["verdict"]))
    if better is None:
        return (
            "It was nearer than both naive forecasts: off by "
            f"{off}, the mean of the three months before by "
            f"{formats.count(row['error_last_three'])}, the same months a year before "
            f"by {formats.count(row['error_last_year'])}."
        )
    words, column = better
    return (
        f"A naive forecast did better: {words} was off by "
        f"{formats.count(row[column])}, the forecast by {off}."
    )


def missed_sentence(inputs: MonthlyInputs) -> str:
    """Say that last year's forecast missed; empty where it did not."""
    frame = inputs.to_come.backtests
    for row in frame[frame["months_back"] == _YEAR].to_dict("records"):
        if not row["lower95"] <= row["actual"] <= row["upper95"]:
            return (
                f"Last year's forecast missed: {formats.count(row['actual'])} claims "
                f"came where {range_of(row, '95')} were expected with "
                f"{band('95')} chance."
            )
    return ""


def to_come_news(inputs: MonthlyInputs) -> Iterator[str]:
    """Say on the first screen what the next months will bring."""
    months = inputs.to_come.months_to_come
    if len(months):
        last = months.iloc[-1]
        yield (
            f"To come: {formats.count(last['total'])} claims are expected in the "
            f"{formats.count(len(months))} months to {month_of(last['month'])} "
            f"({range_of(last, '80', 'total_')} with {band('80')} chance), units sold "
            "later not counted."
        )
