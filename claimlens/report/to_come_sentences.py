"""Sentences on claims to come: for the first screen and the heads of sections."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

import pandas as pd

from claimlens.language import N_, _
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
        N_("the mean of the three months before"),
        "error_last_three",
    ),
    "the same months a year before did better": (
        N_("the same months a year before"),
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
    said = (
        _(
            "{claims} claims are expected in the {months} months from the rest of "
            "{first} to {last}: {range80} with {band80} chance, {range95} with "
            "{band95}."
        )
        if inputs.to_come.part_month
        else _(
            "{claims} claims are expected in the {months} months from {first} to "
            "{last}: {range80} with {band80} chance, {range95} with {band95}."
        )
    ).format(
        claims=formats.count(last["total"]),
        months=formats.count(len(months)),
        first=month_of(months["month"].iloc[0]),
        last=month_of(last["month"]),
        range80=range_of(last, "80", "total_"),
        range95=range_of(last, "95", "total_"),
        band80=band("80"),
        band95=band("95"),
    )
    recent = past.tail(_YEAR)
    if len(recent) == _YEAR:
        brought = formats.count(recent["reported"].sum())
        before = _("; the last {months} months brought {claims}.")
        said = said.removesuffix(".") + before.format(months=_YEAR, claims=brought)
    return said


def tested_sentences(inputs: MonthlyInputs) -> Iterator[str]:
    """Say how each earlier forecast did, the oldest first, and what did better."""
    to_come = inputs.to_come
    rows = to_come.backtests.sort_values("months_back", ascending=False)
    for row in rows.to_dict("records"):
        yield _(
            "The forecast of {months} months ago expected {expected} claims up to the "
            "cut-off; {actual} came, {place}."
        ).format(
            months=formats.count(row["months_back"]),
            expected=formats.count(row["expected"]),
            actual=formats.count(row["actual"]),
            place=_place(row),
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
        said = (
            _(
                "that of {months} months ago expected {expected} claims and {actual} "
                "came, {place}, and the naive one, {naive}, did better"
            )
            if better
            else _(
                "that of {months} months ago expected {expected} claims and {actual} "
                "came, {place}"
            )
        )
        told.append(
            said.format(
                months=formats.count(row["months_back"]),
                expected=formats.count(row["expected"]),
                actual=formats.count(row["actual"]),
                place=_place(row),
                naive=_(better[0]) if better else "",
            )
        )
    if told:
        yield _("How earlier forecasts did: {told}.").format(told="; ".join(told))


def _place(row: Mapping[Any, Any]) -> str:
    """Say in which band what came lies."""
    for level in ("80", "95"):
        if row[f"lower{level}"] <= row["actual"] <= row[f"upper{level}"]:
            return _("inside the band of {band} ({limits})").format(
                band=band(level), limits=range_of(row, level)
            )
    return _("outside the band of {band} ({limits})").format(
        band=band("95"), limits=range_of(row, "95")
    )


def _naive(row: Mapping[Any, Any]) -> str:
    off = formats.count(row["error"])
    better = _NAIVE.get(str(row["verdict"]))
    if better is None:
        return _(
            "It was nearer than both naive forecasts: off by {off}, the mean of the "
            "three months before by {three}, the same months a year before by {year}."
        ).format(
            off=off,
            three=formats.count(row["error_last_three"]),
            year=formats.count(row["error_last_year"]),
        )
    words, column = better
    return _(
        "A naive forecast did better: {naive} was off by {naive_off}, the forecast by "
        "{off}."
    ).format(naive=_(words), naive_off=formats.count(row[column]), off=off)


def missed_sentence(inputs: MonthlyInputs) -> str:
    """Say that last year's forecast missed; empty where it did not."""
    frame = inputs.to_come.backtests
    for row in frame[frame["months_back"] == _YEAR].to_dict("records"):
        if not row["lower95"] <= row["actual"] <= row["upper95"]:
            return _(
                "Last year's forecast missed: {actual} claims came where {limits} were "
                "expected with {band} chance."
            ).format(
                actual=formats.count(row["actual"]),
                limits=range_of(row, "95"),
                band=band("95"),
            )
    return ""


def to_come_news(inputs: MonthlyInputs) -> Iterator[str]:
    """Say on the first screen what the next months will bring."""
    months = inputs.to_come.months_to_come
    if len(months):
        last = months.iloc[-1]
        yield _(
            "To come: {claims} claims are expected in the {months} months to {last} "
            "({limits} with {band} chance), units sold later not counted."
        ).format(
            claims=formats.count(last["total"]),
            months=formats.count(len(months)),
            last=month_of(last["month"]),
            limits=range_of(last, "80", "total_"),
            band=band("80"),
        )
