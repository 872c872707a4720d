"""What waiting costs, and who acts: two of the four parts of a decision."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, Protocol

import pandas as pd

from claimlens.monthly_inputs import Meta, MonthlyInputs
from claimlens.report import formats

__all__ = [
    "ROLES",
    "Role",
    "component_to_come",
    "cost_of_a_claim",
    "left_to_fail",
    "role",
]

#: Who can act; a workspace may name them.
Role = Literal["quality", "service", "purchasing", "management", "records"]

_NAMES: dict[str, str] = {
    "quality": "Quality",
    "service": "Service",
    "purchasing": "Purchasing",
    "management": "Management",
    "records": "Whoever prepares the exports",
}
ROLES = tuple(_NAMES.values())
"""What those who act are called where the settings say nothing."""

# a count below it is printed with a decimal
_FEW = 10.0


class _Told(Protocol):
    """What a report is made from, of whatever kind."""

    @property
    def meta(self) -> Meta: ...


def role(inputs: _Told, name: Role) -> str:
    """Return who acts, as the settings name them."""
    return inputs.meta.roles.get(name) or _NAMES[name]


def component_to_come(inputs: MonthlyInputs, component: str) -> str:
    """Say what a component brings a month by the forecast; where unknown, that.

    Parameters
    ----------
    inputs : MonthlyInputs
        With the claims to come.
    component : str
        Of all units, not only of those that a decision is about.
    """
    months = len(inputs.to_come.months_to_come)
    frame = inputs.to_come.components_to_come
    rows = frame[frame["component"] == component]
    if not months or rows.empty:
        return "What is to come of it is not known"
    claims = float(rows["expected"].iloc[0]) / months
    said = f"{_about(claims)} {component} claims a month to come"
    sums = [
        formats.amount(row["cost"] / months, str(row["currency"]))
        for row in rows.dropna(subset=["cost", "currency"]).to_dict("records")
    ]
    money = f", {' and '.join(sums)}" if sums else ", at a cost not known"
    return f"About {said}{money}, all units together"


def _about(value: float) -> str:
    return formats.decimal_text(value, 0 if value >= _FEW else 1)


def cost_of_a_claim(row: Mapping[Any, Any]) -> str:
    """Say what a claim has cost so far; empty where no cost is known."""
    cost, claims = row["cost"], row["claims"]
    if pd.isna(cost) or not claims or not cost or pd.isna(row["currency"]):
        return ""
    mean = formats.amount(float(cost) / float(claims), str(row["currency"]))
    return f"{mean} a claim so far"


def left_to_fail(units: float, claims: float) -> str:
    """Say how many units have not failed yet."""
    left = max(float(units) - float(claims), 0.0)
    return (
        f"{formats.count(left)} of {formats.count(units)} such units have not "
        "failed yet"
    )
