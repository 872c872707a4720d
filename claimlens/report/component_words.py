"""Words and figures that several parts of a component's dossier need."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from claimlens.report import formats
from claimlens.report.findings import join_words
from claimlens.report.formats import RateUnit
from claimlens.report.to_come_sentences import range_of
from claimlens.report_inputs.component import ComponentInputs

__all__ = [
    "band_of",
    "claims_of",
    "cost_ahead",
    "cost_per_claim",
    "cost_so_far",
    "counted",
    "cut_off",
    "money_of",
    "named",
    "nth",
    "open_claims",
    "share_with_limits",
    "standing_signal",
    "usual_rate",
]

Row = Mapping[Hashable, Any]

# a name longer than this stands whole in no sentence
_LONGEST = 80


def named(component: str) -> str:
    """Return a name that can stand in a sentence and in a title."""
    plain = " ".join(component.split())
    return plain if len(plain) <= _LONGEST else f"{plain[: _LONGEST - 1]}…"


def counted(value: float, one: str, many: str) -> str:
    """Write a count with its noun."""
    return f"{formats.count(value)} {one if round(value) == 1 else many}"


def claims_of(number: float) -> str:
    """Write a number of claims."""
    return counted(number, "claim", "claims")


def cut_off(inputs: ComponentInputs) -> str:
    """Write the cut-off, as bases end with it."""
    return f"cut-off {formats.day(inputs.meta.as_of)}"


def nth(place: int) -> str:
    """Write a place before a superlative: nothing for the first."""
    if place == 1:
        return ""
    ending = (
        "th"
        if 10 <= place % 100 <= 20
        else {1: "st", 2: "nd", 3: "rd"}.get(place % 10, "th")
    )
    return f"{place}{ending} "


def money_of(value: object, currency: object) -> str:
    """Write an amount in its currency, or that none is told."""
    if value is None or pd.isna(value):
        return "no cost told"
    code = None if pd.isna(currency) else str(currency)
    return formats.amount(float(str(value)), code or None)


def open_claims(inputs: ComponentInputs) -> int:
    """Count the dangerous claims that are still open."""
    return sum(claim.why == "open" for claim in inputs.dangers)


def usual_rate(inputs: ComponentInputs) -> Row | None:
    """Return the row of the rates at which components are set side by side."""
    rows = inputs.rates[inputs.rates["at_months"] == inputs.place.at_months]
    rows = rows[rows["rate"].notna()]
    return None if rows.empty else rows.iloc[0].to_dict()


def share_with_limits(row: Row, unit: RateUnit) -> str:
    """Write the limits of a share."""
    return f"interval {formats.interval(row['lower'], row['upper'], unit)}{unit.suffix}"


def standing_signal(inputs: ComponentInputs) -> Row | None:
    """Return the signal of all models that stands, else that of one model."""
    frame = inputs.rising.signals
    frame = frame[frame["state"] != "cleared"]
    return None if frame.empty else frame.iloc[0].to_dict()


def cost_so_far(inputs: ComponentInputs) -> str:
    """Say what the claims cost so far and what one costs."""
    if inputs.costs.empty:
        return "No cost is recorded."
    sums = inputs.costs.groupby("currency", sort=True)["cost"].sum()
    said = join_words(
        [formats.amount(float(value), str(code)) for code, value in sums.items()]
    )
    mean = cost_per_claim(inputs)
    return f"{said} so far" + (f", {mean} a claim." if mean else ".")


def cost_per_claim(inputs: ComponentInputs) -> str:
    """Say what a claim costs in the mean; nothing where that is not told."""
    frame = inputs.to_come.components_to_come
    own = frame[(frame["expected"] > 0) & frame["cost"].notna()]
    if len(own):
        row = own.iloc[0]
        mean = money_of(row["cost"] / row["expected"], row["currency"])
        return f"about {mean}"
    told = inputs.severity.dropna(subset=["mean"])
    if len(told) == 1:
        row = told.iloc[0]
        return f"about {money_of(row['mean'], row['currency'])}"
    return ""


def band_of(row: Row) -> str:
    """Write the band of 80 % of an amount."""
    low = formats.decimal_text(float(row["lower80"]), 0, "lower")
    high = formats.decimal_text(float(row["upper80"]), 0, "upper")
    return f"{low}–{high}"


def cost_ahead(inputs: ComponentInputs) -> str:
    """Say which claims are to come in twelve months, and what they cost."""
    months = inputs.to_come.months_to_come
    if months.empty:
        return f"Nothing is said of claims to come: {inputs.to_come.not_told}"
    last = months.iloc[-1]
    frame = inputs.to_come.components_to_come
    cost = (
        ""
        if frame.empty or pd.isna(frame["cost"].iloc[0])
        else f", {money_of(frame['cost'].iloc[0], frame['currency'].iloc[0])}"
    )
    return (
        f"Next {formats.count(len(months))} months: {claims_of(last['total'])} "
        f"({range_of(last, '80', 'total_')} with 80{formats.PER_CENT.suffix} "
        f"chance){cost}."
    )
