"""What the pack for a supplier says again and again, and what it rests on."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pandas as pd

from claimlens.report import formats
from claimlens.report.findings import join_words
from claimlens.report_inputs.supplier import SupplierInputs

__all__ = [
    "SHOWN",
    "Topic",
    "cut_off",
    "due_on",
    "money_sums",
    "own_claims",
    "settled_cost",
    "topics",
]

Row = Mapping[Hashable, Any]

#: The p-value up to which a finding is told as one.
SHOWN = 0.05
# claims that an inspection must have seen before their shares ask for an answer
_INSPECTED = 20
_MANY_SOUND = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Topic:
    """One thing that the supplier is asked about.

    Parameters
    ----------
    component : str
        Of his parts.
    kind : str
        ``window``, ``rate``, ``lot``, ``danger``, ``sound`` or ``fault``.
    row : mapping
        The figures behind it.
    is_hint : bool
        Whether chance may explain it.
    """

    component: str
    kind: str
    row: Mapping[str, Any]
    is_hint: bool = False


def cut_off(inputs: SupplierInputs) -> str:
    """Write the cut-off."""
    return f"cut-off {formats.day(inputs.meta.as_of)}"


def due_on(inputs: SupplierInputs) -> date:
    """Return the day by which an answer is due."""
    return inputs.meta.as_of + timedelta(days=inputs.answer_days)


def own_claims(inputs: SupplierInputs, component: str) -> pd.DataFrame:
    """Return the claims on his part of one component."""
    return inputs.claims[inputs.claims["component"] == component]


def settled_cost(claims: pd.DataFrame) -> dict[str, Decimal]:
    """Add up what counted claims cost, by currency."""
    counted = claims[(claims["class"] == "counted") & (claims["state"] == "settled")]
    sums: dict[str, Decimal] = {}
    for row in counted.to_dict("records"):
        known = [
            row[name]
            for name in ("cost_parts", "cost_labour", "cost_freight")
            if isinstance(row[name], Decimal)
        ]
        if known and row["currency"]:
            before = sums.get(row["currency"], Decimal(0))
            sums[row["currency"]] = before + sum(known, Decimal(0))
    return dict(sorted(sums.items()))


def money_sums(sums: Mapping[str, Decimal] | Iterable[tuple[str, Decimal]]) -> str:
    """Write sums of money, one a currency, empty where there is none."""
    pairs = sums.items() if isinstance(sums, Mapping) else sums
    return join_words(
        [formats.amount(float(amount), currency) for currency, amount in pairs]
    )


def topics(inputs: SupplierInputs) -> tuple[Topic, ...]:
    """Return what the supplier is asked about, gravest first.

    Parameters
    ----------
    inputs : SupplierInputs
        Frames and scalars.

    Returns
    -------
    tuple of Topic
        Dangers, then what is shown beyond chance (rates above those of other
        suppliers, production windows, lots), then hints, then findings of
        inspections.
    """
    sure: list[Topic] = []
    hints: list[Topic] = []
    for row in inputs.against.to_dict("records"):
        if row["difference"] == "higher":
            sure.append(_topic("rate", row))
    for row in inputs.windows.to_dict("records"):
        if not row["p_value"] <= SHOWN:
            continue
        hint = not row["adjusted_p"] <= SHOWN
        topic = _topic("window", row, is_hint=hint)
        (hints if hint else sure).append(topic)
    for row in inputs.lots.to_dict("records"):
        if row["difference"] == "higher":
            sure.append(_topic("lot", row))
    return (*_dangers(inputs), *sure, *hints, *_inspections(inputs, sure))


def _topic(kind: str, row: Row, *, is_hint: bool = False) -> Topic:
    told = {str(name): value for name, value in row.items()}
    return Topic(component=str(row["component"]), kind=kind, row=told, is_hint=is_hint)


def _dangers(inputs: SupplierInputs) -> list[Topic]:
    """Return one topic for all claims of the last year that tell of a danger."""
    since = pd.Timestamp(inputs.meta.as_of) - pd.DateOffset(years=1)
    claims = inputs.claims
    told = claims[(claims["safety"] == "yes") & (claims["reported_on"] > since)]
    if told.empty:
        return []
    counted = told["component"].value_counts(sort=False)
    rows = sorted(counted.items(), key=lambda pair: (-pair[1], str(pair[0])))
    by = join_words([f"{name} ({formats.count(n)})" for name, n in rows])
    return [
        Topic(
            component=join_words([str(name) for name, _ in rows]),
            kind="danger",
            row={"claims": len(told), "by": by, "components": [n for n, _ in rows]},
        )
    ]


def _inspections(inputs: SupplierInputs, sure: list[Topic]) -> list[Topic]:
    """Return what the inspections of returned parts ask."""
    claims = inputs.claims[inputs.claims["finding"].notna()]
    found: list[Topic] = []
    named = {topic.component for topic in sure}
    for component in sorted(set(claims["component"])):
        own = claims[claims["component"] == component]["finding"]
        row = {
            "inspected": len(own),
            "sound": int((own == "no fault found").sum()),
            "confirmed": int((own == "confirmed fault").sum()),
        }
        if len(own) < _INSPECTED:
            continue
        if row["sound"] >= _MANY_SOUND * len(own):
            found.append(Topic(component=component, kind="sound", row=row))
        if component not in named:
            found.append(Topic(component=component, kind="fault", row=row))
    return found
