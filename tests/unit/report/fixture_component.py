"""The dossier of one invented component, from the fixed arrays of the month."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import fixture_monthly
import fixture_rising
import fixture_to_come
import pandas as pd

from claimlens.monthly_inputs import Rising, SafetyClaim
from claimlens.report_inputs.component import ComponentInputs, Example, Place

COMPONENT = "wiring harness"


def rising(component: str = COMPONENT) -> Rising:
    """Keep what the fixture says of one component."""
    whole = fixture_rising.build()
    changes = whole.design_changes.assign(component=component)
    return replace(
        whole,
        signals=whole.signals[whole.signals["component"] == component].assign(
            shrunk_ratio=2.4
        ),
        signal_months=whole.signal_months[
            whole.signal_months["component"] == component
        ],
        windows=whole.windows[whole.windows["component"] == component],
        window_months=whole.window_months[
            whole.window_months["component"] == component
        ],
        design_changes=changes,
    )


def shares(first: str, names: list[str], claims: list[int]) -> pd.DataFrame:
    """Build a table of shares of all."""
    whole = sum(claims)
    limits = [fixture_monthly.wilson(n / whole, whole) for n in claims]
    return pd.DataFrame(
        {
            first: names,
            "claims": claims,
            "no_fault_found": [n // 5 for n in claims],
            "share": [n / whole for n in claims],
            "lower": [low for low, _ in limits],
            "upper": [high for _, high in limits],
        }
    )


def repeats() -> pd.DataFrame:
    """Build the rows of ``repeats``."""
    row = {
        "component": COMPONENT,
        "units": 20_540,
        "events": 800,
        "repeats": 41,
        "mean_events": 0.039,
        "mean_events_lower": 0.035,
        "mean_events_upper": 0.043,
        "mean_cost": 3.1,
        "mean_cost_lower": 2.8,
        "mean_cost_upper": 3.5,
        "currency": "EUR",
        "at_months": 12.0,
        "mature": True,
        "repairs_followed": 700,
        "repeated_90": 21,
        "first_time_fix": 0.97,
        "first_time_fix_lower": 0.955,
        "first_time_fix_upper": 0.98,
        "after_repair": 21,
        "ratio": 6.0,
        "ratio_lower": 3.9,
        "ratio_upper": 9.1,
        "inspected": 160,
        "no_fault_found": 31,
        "no_fault_found_share": 31 / 160,
        "no_fault_found_lower": 0.14,
        "no_fault_found_upper": 0.262,
    }
    return pd.DataFrame([row, row | {"at_months": 24.0}])


def at_risk(units: int = 250) -> pd.DataFrame:
    """Build the units of a window that have not failed."""
    return pd.DataFrame(
        {
            "serial": [f"TRK-24{number:05}" for number in range(units)],
            "model": "Lark 3",
            "model_year": 2024,
            "build_date": pd.Timestamp(2024, 4, 2),
            "build_lot": "L24-07",
            "in_service_date": pd.Timestamp(2024, 6, 1),
            "state": ["out of service", *["not yet failed"] * (units - 1)],
            "cover_days_left": 62,
            "window": 1,
        }
    )


def build(**changes: object) -> ComponentInputs:
    """Build the dossier; a keyword replaces that field."""
    month = fixture_monthly.build()

    def own(frame: pd.DataFrame) -> pd.DataFrame:
        return frame[frame["component"] == COMPONENT]

    rates = own(month.rates_by_component)
    models = own(month.rates_by_model_year).head(3)
    ages = range(1, 25)
    to_come = fixture_to_come.build()
    ahead = to_come.components_to_come
    inputs = ComponentInputs(
        meta=month.meta,
        component=COMPONENT,
        internal=False,
        place=Place(
            claims=1_000,
            all_claims=9_000,
            counted=800,
            by_claims=1,
            by_rate=2,
            components=14,
            rated=14,
            at_months=12.0,
            median_rate=0.021,
        ),
        claims_by_month=month.claims_by_month,
        classes=pd.DataFrame(
            {"claim_class": ["counted", "denied"], "claims": [800, 200]}
        ),
        modes=pd.DataFrame(
            {
                "failure_mode": ["chafed/cut", None],
                "claims": [900, 100],
                "claims_counted": [700, 100],
                "share": [0.9, 0.1],
            }
        ),
        causes=shares("component", [COMPONENT, "connector"], [70, 12]),
        symptoms=shares("symptom", ["no power", "display"], [300, 81]),
        cause_claims=400,
        unread=19,
        rates=rates,
        by_year=own(month.rates_by_model_year),
        by_model=models.assign(model=["Lark 3", "Lark 4", "Finch S"]),
        by_supplier=models.head(2).assign(supplier=["Mossgate", "Tarnwick"]),
        no_suppliers="",
        build_months=own(month.build_months),
        curves=own(month.curves),
        life=own(month.life),
        life_points=own(month.life_points),
        life_line=own(month.life_line),
        ages=pd.DataFrame(
            {
                "month": ages,
                "failures": [30.0 + age for age in ages],
                "unit_months": [20_000.0 - 700 * age for age in ages],
                "rate": [(30.0 + age) / (20.0 - 0.7 * age) for age in ages],
                "lower": [1.0 + 0.1 * age for age in ages],
                "upper": [2.0 + 0.9 * age for age in ages],
            }
        ),
        rising=rising(),
        at_risk=at_risk(),
        repeats=repeats(),
        repeat_units=pd.DataFrame(
            {
                "serial": ["TRK-2403117"],
                "model": ["Lark 3"],
                "events": [3],
                "claims": [4],
                "first_failed_on": [pd.Timestamp(2025, 2, 3)],
                "last_failed_on": [pd.Timestamp(2025, 9, 1)],
                "cost": [210.5],
                "currency": ["EUR"],
            }
        ),
        costs=pd.DataFrame(
            {
                "month": pd.date_range("2025-01-01", periods=12, freq="MS"),
                "claims": 20,
                "cost": 1_480.0,
                "currency": "EUR",
            }
        ),
        cost_parts=pd.DataFrame(
            {
                "currency": ["EUR"],
                "claims": [990],
                "cost": [74_000.0],
                "cost_parts": [30_000.0],
                "cost_labour": [40_000.0],
                "cost_freight": [3_000.0],
            }
        ),
        severity=pd.DataFrame(
            {
                "currency": ["EUR"],
                "claims": [400],
                "mean": [74.0],
                "lower": [70.2],
                "upper": [78.1],
                "largest": [301.0],
            }
        ),
        no_cost="",
        to_come=replace(
            to_come, components_to_come=ahead[ahead["component"] == COMPONENT]
        ),
        reserve=pd.DataFrame(
            {
                "part": ["to fail under cover", "total"],
                "claims": [410.2, 420.9],
                "amount": [30_354.8, 31_146.6],
                "lower80": [26_000.4, 27_000.4],
                "upper80": [34_900.2, 35_900.2],
                "currency": "EUR",
            }
        ),
        no_reserve="",
        dangers=(
            SafetyClaim(
                claim_no="C-2026-0412",
                serial="TRK-2403117",
                component=COMPONENT,
                failure_mode="short circuit/burnt",
                reported_on=date(2026, 3, 19),
                told_on=date(2026, 3, 19),
                words_read="narrative: melted",
                why="open",
            ),
        ),
        examples=(
            Example(
                claim_no="C-2026-0398",
                reported_on=date(2026, 3, 11),
                failure_mode="chafed/cut",
                model="Lark 3",
                language="English",
                text="Dead after the rain, works again when I move the cable.",
                is_cut=False,
            ),
            Example(
                claim_no="C-2026-0371",
                reported_on=date(2026, 3, 4),
                failure_mode="intermittent",
                model="",
                language="",
                text="הכבל קרוע והאופנוע לא נדלק",
                is_cut=True,
            ),
        ),
    )
    return replace(inputs, **changes)  # type: ignore[arg-type]  # fields by name
