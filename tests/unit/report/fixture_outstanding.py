"""Money and parts still to come at the invented maker's: fixed figures."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from claimlens.monthly_inputs import (
    RESERVE_COLUMNS,
    RESERVE_PARTS,
    RESERVE_TOTAL,
    SPARES_COLUMNS,
    Reserve,
    SpareParts,
)

#: Amounts of the four parts of a model year; the cover of 2021 has ended.
_YEARS = {
    2021: (0.0, 0.0, 0.0, 0.0),
    2024: (2_400.0, 3_600.0, 54_000.0, 0.0),
    2025: (1_900.0, 4_100.0, 118_000.0, 0.0),
    2026: (300.0, 700.0, 31_000.0, 6_200.0),
}


def _rows(amounts: tuple[float, ...], currency: str) -> list[dict[str, object]]:
    """Build the rows of the parts and of their sum; limits are a tenth or more off."""
    named = {**dict(zip(RESERVE_PARTS, amounts, strict=True))}
    named[RESERVE_TOTAL] = sum(amounts)
    return [
        {
            "part": part,
            "claims": amount / 200,
            "amount": amount,
            "lower80": 0.9 * amount,
            "upper80": 1.1 * amount,
            "lower95": 0.85 * amount,
            "upper95": 1.15 * amount,
            "currency": currency,
        }
        for part, amount in named.items()
    ]


def reserve(*, currencies: tuple[str, ...] = ("EUR",), **changes: object) -> Reserve:
    """Build the reserve; a keyword replaces that field."""
    years, whole = [], []
    for currency in currencies:
        for year, amounts in _YEARS.items():
            years += [{"model_year": year} | row for row in _rows(amounts, currency)]
        sums = tuple(sum(column) for column in zip(*_YEARS.values(), strict=True))
        whole += _rows(sums, currency)
    built = Reserve(
        not_told="",
        taken_for_granted=(
            "13,480 units under cover, 312 shipped and not yet in service",
            "of 900 claims settled in the last 24 months 850 were paid",
        ),
        reserve_years=pd.DataFrame(years),
        reserve_all=pd.DataFrame(whole),
    )
    return replace(built, **changes)  # type: ignore[arg-type]  # fields by name


def no_reserve(why: str) -> Reserve:
    """Build a month in which no amount can be told."""
    empty = {
        name: pd.DataFrame(columns=list(columns))
        for name, columns in RESERVE_COLUMNS.items()
    }
    return Reserve(not_told=why, taken_for_granted=(), **empty)


def spares(number: int = 23, **changes: object) -> SpareParts:
    """Build a list of so many parts; a keyword replaces a field."""
    rows = [
        {
            "part_no": f"PT-{place:03d}",
            "description": f"part of kind {place}",
            "component": "wiring harness",
            "lead_time_days": 30 + place,
            "demand_mean": 40.0 - place,
            "quantity_to_hold": 50 - place,
            "unit_cost": 12.5 if place else None,
            "currency": "EUR" if place else None,
            "note": "",
        }
        for place in range(number)
    ]
    built = SpareParts(
        not_told="",
        service_level=0.95,
        review_months=1.0,
        spare_parts=pd.DataFrame(rows, columns=list(SPARES_COLUMNS["spare_parts"])),
    )
    return replace(built, **changes)  # type: ignore[arg-type]  # fields by name


def no_spares(why: str) -> SpareParts:
    """Build a month in which no part can be told."""
    return spares(0, not_told=why)
