"""What the pack for a supplier says first."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

import pandas as pd

from claimlens.report import formats
from claimlens.report.document import PointView
from claimlens.report.findings import opened
from claimlens.report.production_section import span
from claimlens.report.rising_section import SHAPES
from claimlens.report.rising_sentences import times
from claimlens.report.supplier_words import (
    Topic,
    due_on,
    money_sums,
    own_claims,
    settled_cost,
    topics,
)
from claimlens.report_inputs.supplier import SupplierInputs

__all__ = ["points"]

_MOST = 4


def points(inputs: SupplierInputs) -> tuple[PointView, ...]:
    """Return what stands first: what is asked, and what is owed.

    Parameters
    ----------
    inputs : SupplierInputs
        Frames and scalars.
    """
    told = [topic for topic in topics(inputs) if topic.kind in _WORDS]
    return (
        *(_point(inputs, topic) for topic in told[:_MOST]),
        *_unanswered(inputs),
        *_owed(inputs),
    )


def _point(inputs: SupplierInputs, topic: Topic) -> PointView:
    what, sure, act = _WORDS[topic.kind](inputs, topic)
    return PointView(
        sign="" if topic.is_hint else SHAPES["alarm"],
        what=what,
        sure=sure,
        cost=_cost(inputs, topic),
        act=f"{act} by {formats.day(due_on(inputs))}.",
    )


def _cost(inputs: SupplierInputs, topic: Topic) -> str:
    """Say what the claims on a part cost so far, and what is still to come."""
    if topic.kind == "danger":
        return "Somebody can be hurt; that is not set against money."
    claims = own_claims(inputs, topic.component)
    spent = money_sums(settled_cost(claims))
    said = (
        f"{spent} for all {topic.component} claims so far."
        if spent
        else "No cost told so far."
    )
    if inputs.not_ahead and not inputs.no_rates:
        return f"{said} What is to come is not told: {inputs.not_ahead}"
    ahead = inputs.to_come[inputs.to_come["component"] == topic.component]
    if ahead.empty:
        return said
    row = ahead.iloc[0]
    price = (
        f", about {formats.amount(float(row['cost']), row['currency'])}"
        if pd.notna(row["cost"]) and isinstance(row["currency"], str)
        else ""
    )
    return (
        f"{said} {formats.count(row['claims'])} more expected in the next 12 months "
        f"({formats.decimal_text(row['lower80'], 0, 'lower')}–"
        f"{formats.decimal_text(row['upper80'], 0, 'upper')} with 80 % chance){price}."
    )


def _rate(inputs: SupplierInputs, topic: Topic) -> tuple[str, str, str]:
    row = topic.row
    return (
        f"{opened(topic.component)}: your part fails "
        f"{times(row['rate_ratio'], row['lower'], row['upper'])} times as often as "
        "that of other suppliers at the same age.",
        f"{formats.count(row['claims'])} of {formats.count(row['units'])} units failed "
        f"where {formats.decimal_text(row['expected'], 1)} were to be expected; p "
        f"{formats.p_value(row['p_value'])}.",
        "Name what differs, and what protects units with your part",
    )


def _window(inputs: SupplierInputs, topic: Topic) -> tuple[str, str, str]:
    row = topic.row
    hint = (
        " Looking at many components, that can be chance: a hint only."
        if topic.is_hint
        else ""
    )
    return (
        f"{opened(topic.component)}: units built in "
        f"{span(row['from_date'], row['to_date'])} fail "
        f"{times(row['rate_ratio'], row['lower'], row['upper'])} times as often as "
        f"others of the same age; {formats.count(row['not_yet_failed'])} have not "
        "failed yet.",
        f"{formats.count(row['claims'])} of {formats.count(row['units'])} units failed "
        f"where {formats.decimal_text(row['expected'], 1)} were to be expected; p "
        f"{formats.p_value(row['adjusted_p'])} after allowing for every window looked "
        f"at.{hint}",
        "Say which lots went into these units, and what is to be done with the rest",
    )


def _lot(inputs: SupplierInputs, topic: Topic) -> tuple[str, str, str]:
    row = topic.row
    return (
        f"{opened(topic.component)}: parts of lot {row['lot']} fail "
        f"{times(row['rate_ratio'], row['lower'], row['upper'])} times as often as "
        "your other lots at the same age.",
        f"{formats.count(row['claims'])} of {formats.count(row['units'])} units; p "
        f"{formats.p_value(row['adjusted_p'])} after allowing for every lot looked at.",
        "Say what is different in that lot",
    )


def _danger(inputs: SupplierInputs, topic: Topic) -> tuple[str, str, str]:
    claims = int(topic.row["claims"])
    one = claims == 1
    return (
        f"{formats.count(claims)} {'claim' if one else 'claims'} of the last 12 months "
        f"{'tells' if one else 'tell'} of a danger: {topic.row['by']}.",
        "Read in texts and findings by rules; each claim is in the list and the "
        "workbook.",
        "Tell us at once what you know of such cases; the full answer",
    )


_WORDS = {"rate": _rate, "window": _window, "lot": _lot, "danger": _danger}


def _unanswered(inputs: SupplierInputs) -> Iterator[PointView]:
    """Tell of the questions whose answer is overdue."""
    frame = inputs.responses
    day = pd.Timestamp(inputs.meta.as_of)
    late = frame[frame["answered_on"].isna() & (frame["due_on"] < day)]
    if late.empty:
        return
    oldest = late["due_on"].min()
    one = len(late) == 1
    yield PointView(
        sign=SHAPES["alarm"],
        what=(
            f"{formats.count(len(late))} earlier "
            f"{'question is' if one else 'questions are'} without an answer."
        ),
        sure=f"The oldest was due on {formats.day(oldest.date())}.",
        cost="Units go on failing, and the same is asked again.",
        act=f"Answer {'it' if one else 'them'} by {formats.day(due_on(inputs))}.",
    )


def _owed(inputs: SupplierInputs) -> Iterator[PointView]:
    """Tell what is owed by agreement."""
    rows = inputs.statement.to_dict("records")
    to_charge = [
        (row["currency"], row["not_charged"])
        for row in rows
        if row["not_charged"] > Decimal(0)
    ]
    to_receive = [
        (row["currency"], row["not_received"])
        for row in rows
        if row["not_received"] > Decimal(0)
    ]
    if not to_charge and not to_receive:
        return
    claims = sum(int(row["claims"]) for row in rows)
    owed = [(row["currency"], row["owed"]) for row in rows if row["owed"]]
    yield PointView(
        what=f"Your share of the cost by agreement is {money_sums(owed) or 'settled'}.",
        sure=(
            f"{formats.count(claims)} claims that an agreement fits, each in the "
            "workbook with its number."
        ),
        cost=" ".join(
            said
            for said, sums in (
                (f"{money_sums(to_charge)} not yet charged.", to_charge),
                (f"{money_sums(to_receive)} accepted and not received.", to_receive),
            )
            if sums
        ),
        act=f"Check the statement, and accept or contest it by "
        f"{formats.day(due_on(inputs))}.",
    )
