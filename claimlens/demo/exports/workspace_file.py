"""The settings of the demo's workspace."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from datetime import date
from typing import Any

from claimlens.demo.truth import Truth

__all__ = ["monthly_rates", "settings_text"]

SWING = 0.03  # invented rates move by so much around their mean


def monthly_rates(truth: Truth) -> dict[str, dict[str, float]]:
    """Return invented exchange rates by month.

    Returns
    -------
    dict
        ``YYYY-MM`` to currency to the value of one unit of it in the maker's
        currency, from the first build to the end of the data.
    """
    foreign = sorted(
        {(r.currency, r.in_euro) for r in truth.regions if r.currency != truth.currency}
    )
    rates = {}
    day = date(truth.first_model_year - 1, 9, 1)
    number = 0
    while day <= truth.data_end:
        rates[f"{day:%Y-%m}"] = {
            code: round(
                mean * (1 + SWING * math.sin(number / (7 + 2 * place) + place)), 4
            )
            for place, (code, mean) in enumerate(foreign)
        }
        day = date(day.year + day.month // 12, day.month % 12 + 1, 1)
        number += 1
    return rates


def settings_text(truth: Truth, blocks: list[str]) -> str:
    """Return the demo's ``claimlens.toml``.

    Parameters
    ----------
    truth : Truth
        Coverage terms, currencies, period.
    blocks : list of str
        Source blocks, each once.
    """
    parts = [
        f"# The demo's workspace: the invented maker {truth.maker}.\n"
        "# Everything here is invented, the exchange rates too.\n",
        f'[workspace]\nname = "{truth.maker}"\n',
        f"[coverage]\nmonths = {truth.coverage_months}\n",
    ]
    parts += [
        f'[[coverage.terms]]\nmodel = "{model.name}"\n'
        f"months = {model.coverage_months}\n"
        for model in truth.models
        if model.coverage_months != truth.coverage_months
    ]
    parts.append(f'[currency]\nreport = "{truth.currency}"\n')
    for month, values in monthly_rates(truth).items():
        shown = "\n".join(f"{code} = {value:.4f}" for code, value in values.items())
        parts.append(f'[currency.rates."{month}"]\n{shown}\n')
    parts += [_agreement_block(agreement) for agreement in truth.agreements]
    return "\n".join([*parts, *blocks])


def _agreement_block(agreement: Mapping[str, Any]) -> str:
    """Write an agreement as a block of the settings."""
    lines = []
    for name, value in agreement.items():
        told = json.dumps(value) if isinstance(value, str | bool) else str(value)
        lines.append(f"{name} = {told}\n")
    return f"[[agreement]]\n{''.join(lines)}"
