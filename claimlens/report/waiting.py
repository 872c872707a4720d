"""What waiting costs, and who acts: two of the four parts of a decision."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, Protocol

import pandas as pd

from claimlens.language import N_, _, language
from claimlens.monthly_inputs import Meta, MonthlyInputs
from claimlens.report import formats
from claimlens.report.findings import chained

__all__ = [
    "ROLES",
    "Role",
    "beside",
    "component_to_come",
    "cost_of_a_claim",
    "left_to_fail",
    "role",
]

#: Who can act; a workspace may name them.
Role = Literal["quality", "service", "purchasing", "management", "records"]

_NAMES: dict[str, str] = {
    "quality": N_("Quality"),
    "service": N_("Service"),
    "purchasing": N_("Purchasing"),
    "management": N_("Management"),
    "records": N_("Whoever prepares the exports"),
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
    """Return who acts, as the settings name them; else in the language in force."""
    return inputs.meta.roles.get(name) or _(_NAMES[name])


def beside(inputs: _Told, name: Role) -> str:
    """Return who acts as it stands within a sentence; German keeps its capitals."""
    named = role(inputs, name)
    return named if language() == "de" else named.lower()


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
        return _("What is to come of it is not known.")
    claims = float(rows["expected"].iloc[0]) / months
    sums = [
        formats.amount(row["cost"] / months, str(row["currency"]))
        for row in rows.dropna(subset=["cost", "currency"]).to_dict("records")
    ]
    said = (
        _(
            "About {claims} {component} claims a month to come, {cost}, all units "
            "together."
        )
        if sums
        else _(
            "About {claims} {component} claims a month to come, at a cost not known, "
            "all units together."
        )
    )
    return said.format(claims=_about(claims), component=component, cost=chained(sums))


def _about(value: float) -> str:
    return formats.decimal_text(value, 0 if value >= _FEW else 1)


def cost_of_a_claim(row: Mapping[Any, Any]) -> str:
    """Say what a claim has cost so far; empty where no cost is known."""
    cost, claims = row["cost"], row["claims"]
    if pd.isna(cost) or not claims or not cost or pd.isna(row["currency"]):
        return ""
    mean = formats.amount(float(cost) / float(claims), str(row["currency"]))
    return _("{mean} a claim so far.").format(mean=mean)


def left_to_fail(units: float, claims: float) -> str:
    """Say how many units have not failed yet."""
    left = max(float(units) - float(claims), 0.0)
    return _("{left} of {units} such units have not failed yet.").format(
        left=formats.count(left), units=formats.count(units)
    )
