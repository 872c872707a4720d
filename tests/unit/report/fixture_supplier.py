"""The pack for one invented supplier, from fixed arrays."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import fixture_monthly
import fixture_rising
import pandas as pd

from claimlens.report_inputs.supplier import SupplierInputs, SupplierTerms

COMPONENT = "wiring harness"
CAUTIOUS = "brake hydraulic"


def claims(rows: int = 40, text: str = "no light, [name] called") -> pd.DataFrame:
    """Build claims, newest first."""
    day = pd.Timestamp("2026-03-20")
    return pd.DataFrame(
        [
            {
                "claim_no": f"C{n:04d}", "serial": f"…{n:03d}", "model": "Lasto",
                "model_year": 2025, "build_date": day - pd.Timedelta(days=300 + n),
                "build_lot": "L25-07", "in_service_date": day - pd.Timedelta(days=250),
                "failed_on": day - pd.Timedelta(days=3 * n + 4),
                "reported_on": day - pd.Timedelta(days=3 * n), "age_months": 7.5,
                "component": COMPONENT, "failure_mode": "chafed/cut",
                "part_no": "WH-2210", "lot": "Q7", "told_by": "fitted",
                "class": "counted" if n % 5 else "denied",
                "state": "settled" if n % 5 else "refused",
                "finding": "confirmed fault" if n % 2 else None,
                "inspected_on": day if n % 2 else pd.NaT,
                "cost_parts": Decimal("40.1000"), "cost_labour": Decimal("21.0500"),
                "cost_freight": None, "currency": "EUR",
                "safety": "yes" if n == 3 else "no", "narrative": text,
                "technician_note": None, "resolution": None, "finding_note": None,
                "agreement": 1 if n % 5 else None,
                "share": Decimal("0.5") if n % 5 else None,
                "owed": Decimal("20.05") if n % 5 else None,
                "not_owed": "" if n % 5 else "denied",
            }
            for n in range(rows)
        ]
    )  # fmt: skip


def responses() -> pd.DataFrame:
    """Build one answered question and one that is overdue."""
    asked = pd.Timestamp("2026-02-27")
    return pd.DataFrame(
        {
            "question_no": ["Q2026-02-1", "Q2026-02-2"],
            "component": [COMPONENT, COMPONENT],
            "part_no": [None, None],
            "claim_no": [None, None],
            "asked_on": [asked, asked],
            "due_on": [asked + pd.Timedelta(days=14)] * 2,
            "answered_on": [asked + pd.Timedelta(days=10), pd.NaT],
            "answer": ["The crimp was changed.", None],
            "charged_on": [asked, pd.NaT],
            "charged": [Decimal(500), None],
            "accepted": [Decimal(250), None],
            "received": [Decimal(100), None],
            "currency": ["EUR", ""],
        }
    )


def build(**changes: Any) -> SupplierInputs:
    """Build the pack; a keyword replaces that field."""
    rising = fixture_rising.build()
    own = rising.windows["component"] == COMPONENT
    rates = fixture_monthly.build().rates_by_component
    life = fixture_monthly.build().life
    against = {
        "component": COMPONENT, "units": 900, "claims": 40, "expected": 19.0,
        "rate_ratio": 2.1, "lower": 1.6, "upper": 2.7, "p_value": 0.0004,
        "adjusted_p": 0.0004, "difference": "higher", "other_units": 1400,
        "other_claims": 31, "note": "",
    }  # fmt: skip
    lots = [
        {
            "component": COMPONENT, "lot": f"Q{n}", "units": 90, "claims": 4 + n,
            "expected": 4.0, "rate_ratio": 1.0 + n / 4, "lower": 0.5 + n / 9,
            "upper": 2.0 + n, "p_value": 0.2, "adjusted_p": 0.4,
            "difference": "not shown",
        }
        for n in range(5)
    ]  # fmt: skip
    made = SupplierInputs(
        meta=fixture_monthly.build().meta,
        supplier="Quillfer Controls",
        alone=(),
        fitted=(COMPONENT,),
        unplaced=("display",),
        parts=pd.DataFrame(
            {
                "part_no": ["WH-2210"],
                "description": ["main harness"],
                "component": [COMPONENT],
                "generation": ["G1"],
                "superseded_by": [None],
            }
        ),
        claims=claims(),
        claims_by_month=pd.DataFrame(
            {
                "month": pd.date_range("2024-01-01", "2026-03-01", freq="MS"),
                "claims": range(27),
                "counted": [n // 2 for n in range(27)],
            }
        ),
        rates=rates[rates["component"] == COMPONENT],
        life=life[life["component"] == COMPONENT],
        against=pd.DataFrame([against]),
        windows=rising.windows[own],
        window_months=rising.window_months[
            rising.window_months["component"] == COMPONENT
        ],
        lots=pd.DataFrame(lots),
        to_come=pd.DataFrame(
            {
                "component": [COMPONENT], "claims": [24.4], "lower80": [17.0],
                "upper80": [32.0], "lower95": [13.0], "upper95": [37.0],
                "cost": [1500.0], "currency": ["EUR"],
            }
        ),
        responses=responses(),
        statement=pd.DataFrame(
            [
                {
                    "currency": "EUR", "claims": 32, "cost_parts": Decimal("1283.20"),
                    "cost_labour": Decimal("673.60"), "cost_freight": Decimal("0.00"),
                    "owed": Decimal("641.60"), "charged": Decimal("500.00"),
                    "accepted": Decimal("250.00"), "received": Decimal("100.00"),
                    "not_charged": Decimal("141.60"),
                    "not_received": Decimal("150.00"),
                }
            ]
        ),
        not_owed=pd.DataFrame({"reason": ["denied"], "claims": [8]}),
        terms=(SupplierTerms(1, "50 % of the cost of the parts; all parts"),),
        answer_days=14,
        no_rates="",
        removed=pd.DataFrame({"kind": ["person"], "pieces": [40]}),
    )  # fmt: skip
    return replace(made, **changes)
