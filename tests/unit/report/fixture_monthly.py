"""An invented maker's month, built from fixed arrays: no database, no dice."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import fixture_open
import fixture_outstanding
import fixture_rising
import fixture_to_come
import numpy as np
import pandas as pd

from claimlens.monthly_inputs import (
    Arrivals,
    Backlog,
    Changes,
    Finding,
    InputFile,
    LateReports,
    Meta,
    Money,
    MonthCounts,
    MonthlyInputs,
    Quality,
    SafetyClaim,
    ShownCounts,
    Thresholds,
)

AS_OF = date(2026, 3, 31)

#: component -> (shape, characteristic life in months, cost of a claim)
COMPONENTS = {
    "wiring harness": (1.0, 300.0, 74.0),
    "battery pack": (1.9, 115.0, 610.0),
    "controller": (0.7, 900.0, 185.0),
    "brake hydraulic": (1.4, 170.0, 96.0),
    "connector": (1.0, 420.0, 31.0),
    "display": (0.6, 2600.0, 88.0),
    "charger": (1.1, 520.0, 120.0),
    "lock/key": (1.0, 800.0, 42.0),
    "wheel/spokes": (1.7, 260.0, 58.0),
    "frame": (2.2, 220.0, 940.0),
    "throttle": (1.0, 1400.0, 27.0),
    "rear light": (0.9, 2100.0, 18.0),
    "seat/seatpost": (1.0, 3000.0, 35.0),
    "mudguard": (1.0, 5200.0, 16.0),
}
UNITS_BY_YEAR = {2021: 2100, 2022: 3300, 2023: 4200, 2024: 4900, 2025: 5400, 2026: 640}
AGE_BY_YEAR = {2021: 58.0, 2022: 46.0, 2023: 34.0, 2024: 22.0, 2025: 13.1, 2026: 1.4}


def wilson(share: float, n: float) -> tuple[float, float]:
    """Compute a Wilson interval; Wilson (1927), written from memory."""
    z = 1.959964
    middle = (share + z * z / (2 * n)) / (1 + z * z / n)
    half = (
        z * math.sqrt(share * (1 - share) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    )
    return max(middle - half, 0.0), min(middle + half, 1.0)


def share_failed(component: str, months: float, factor: float = 1.0) -> float:
    """Give the invented truth: the share of units failed by that age."""
    shape, scale, _ = COMPONENTS[component]
    return 1 - math.exp(-factor * (months / scale) ** shape)


def _rate_row(
    component: str, units: int, age: float, at: float, factor: float
) -> dict[str, object]:
    """Build one row of ``rates``."""
    reached = age >= at
    share = share_failed(component, at, factor)
    old_enough = int(units * min(1.0, max(age - at, 0.0) / 6)) if reached else 0
    claims = round(units * share) if reached else 0
    share = claims / units if reached else None
    seen = max(units * min(1.0, (age - at) / 6), 6.0)
    lower, upper = wilson(share, seen) if share is not None else (None, None)
    plain = share if old_enough else None
    low, high = wilson(plain, old_enough) if plain is not None else (None, None)
    mature = age >= at + 2.5
    note = ""
    if not reached:
        note = f"oldest unit is {age:.1f} months"
    elif not mature:
        note = "too young"
    return {
        "units": units,
        "units_old_enough": old_enough,
        "claims": claims,
        "repeats": claims // 9,
        "rate": share,
        "lower": lower,
        "upper": upper,
        "effective_n": seen if reached else None,
        "plain_rate": plain,
        "plain_lower": low,
        "plain_upper": high,
        "at_months": at,
        "mature": mature,
        "note": note,
        "as_of": AS_OF,
    }


def _rates_by_model_year() -> pd.DataFrame:
    rows = []
    for component in COMPONENTS:
        for year, units in UNITS_BY_YEAR.items():
            # the planted fact of this fixture: harnesses of 2024 fail thrice as often
            factor = 3.0 if (component, year) == ("wiring harness", 2024) else 1.0
            row = _rate_row(component, units, AGE_BY_YEAR[year], 12.0, factor)
            rows.append({"component": component, "model_year": year, **row})
    return pd.DataFrame(rows)


def _rates_by_component() -> pd.DataFrame:
    total = sum(UNITS_BY_YEAR.values())
    return pd.DataFrame(
        [
            {"component": name, **_rate_row(name, total, 58.0, at, 1.1)}
            for name in COMPONENTS
            for at in (3.0, 6.0, 12.0, 24.0)
        ]
    )


def _build_months() -> pd.DataFrame:
    rows = []
    months = pd.date_range("2021-01-01", "2026-01-01", freq="MS")
    for component in list(COMPONENTS)[:8]:
        for index, month in enumerate(months):
            units = 240 + 150 * ((index * 7) % 5) - (190 if index % 12 == 7 else 0)
            age = (pd.Timestamp(AS_OF) - month).days / 30.4375 - 2
            bad = component == "wiring harness" and "2024-03" <= f"{month:%Y-%m}" < (
                "2024-07"
            )
            row = _rate_row(component, units, age, 12.0, 6.0 if bad else 1.0)
            rows.append(
                {
                    "component": component,
                    "build_month": month,
                    **{
                        key: row[key]
                        for key in (
                            "units",
                            "claims",
                            "rate",
                            "lower",
                            "upper",
                            "mature",
                            "at_months",
                            "note",
                        )
                    },
                }
            )
    return pd.DataFrame(rows)


def _curves() -> pd.DataFrame:
    rows = []
    total = sum(UNITS_BY_YEAR.values())
    for component in list(COMPONENTS)[:10]:
        for months in np.arange(0.0, 24.01, 0.5):
            at_risk = int(total * (1 - months / 24.6) ** 1.2)
            share = share_failed(component, float(months))
            lower, upper = wilson(share, max(at_risk, 60) / 1.5)
            rows.append(
                {
                    "component": component,
                    "months": float(months),
                    "share": share,
                    "lower": 0.0 if months == 0 else lower,
                    "upper": 0.0 if months == 0 else upper,
                    "at_risk": at_risk,
                    "mature": months <= 21,
                }
            )
    return pd.DataFrame(rows)


def _life() -> pd.DataFrame:
    words = {"battery pack": "wear-out", "brake hydraulic": "wear-out"}
    rows = []
    for component, (shape, scale, _) in COMPONENTS.items():
        failures = round(sum(UNITS_BY_YEAR.values()) * share_failed(component, 12))
        fitted = failures >= 30
        b10 = scale * (-math.log(0.9)) ** (1 / shape)
        b1 = scale * (-math.log(0.99)) ** (1 / shape)
        pattern = words.get(component, "early-life" if shape < 0.8 else "undecided")
        rows.append(
            {
                "component": component,
                "units": sum(UNITS_BY_YEAR.values()),
                "failures": failures,
                "shape": shape if fitted else None,
                "shape_lower": shape * 0.9 if fitted else None,
                "shape_upper": shape * 1.12 if fitted else None,
                "scale_months": scale if fitted else None,
                "scale_lower": scale * 0.8 if fitted else None,
                "scale_upper": scale * 1.4 if fitted else None,
                "b1_months": b1 if fitted else None,
                "b1_lower": b1 * 0.9 if fitted else None,
                "b1_upper": b1 * 1.1 if fitted else None,
                "b10_months": b10 if fitted else None,
                "b10_lower": b10 * 0.9 if fitted else None,
                "b10_upper": None if scale > 500 or not fitted else b10 * 1.2,
                "pattern": pattern if fitted else None,
                "fit_p_value": 0.41 if fitted else None,
                "note": "" if fitted else "4 failures, 5 needed",
                "as_of": AS_OF,
            }
        )
    return pd.DataFrame(rows)


def _probability() -> tuple[pd.DataFrame, pd.DataFrame]:
    points, line = [], []
    for component in [name for name in COMPONENTS if name != "mudguard"][:8]:
        for months in range(1, 25):
            share = share_failed(component, months) * (1 + 0.05 * math.sin(months))
            lower, upper = wilson(share, 14000.0 / (1 + months / 6))
            points.append((component, float(months), share, lower, upper))
        for months in np.geomspace(0.5, 36.0, 40):
            share = share_failed(component, float(months))
            lower, upper = wilson(share, 6000.0)
            line.append(
                (component, float(months), share, lower, upper, bool(months > 24))
            )
    names = ["component", "months", "share", "lower", "upper"]
    return (
        pd.DataFrame(points, columns=names),
        pd.DataFrame(line, columns=[*names, "beyond"]),
    )


def _ranking() -> pd.DataFrame:
    total = sum(UNITS_BY_YEAR.values())
    rows = []
    for component, (_, _, cost) in COMPONENTS.items():
        failed = round(total * share_failed(component, 14))
        claims = round(failed * 1.25)
        rows.append((component, claims, failed, claims - failed, claims * cost))
    frame = pd.DataFrame(
        rows, columns=["component", "claims", "units_failed", "repeats", "cost"]
    )
    frame["currency"] = "EUR"
    frame["share"] = frame["claims"] / frame["claims"].sum()
    return frame.sort_values("claims", ascending=False, ignore_index=True)


def _changes() -> Changes:
    return Changes(
        this_month=MonthCounts(
            month=date(2026, 3, 1),
            claims_reported=171,
            first_failures=118,
            open_claims=64,
            units_in_service=20_211,
            cost=(Money(31_480.5, "EUR"),),
        ),
        last_month=MonthCounts(
            month=date(2026, 2, 1),
            claims_reported=158,
            first_failures=131,
            open_claims=51,
            units_in_service=19_870,
            cost=(Money(28_017.25, "EUR"),),
        ),
        new_in_top_five=("connector",),
        safety_claims=(
            SafetyClaim(
                claim_no="C-2026-0412",
                serial="TRK-2403117",
                component="battery pack",
                failure_mode="swollen",
                reported_on=date(2026, 3, 19),
                told_on=date(2026, 3, 19),
                words_read="narrative: bulging",
                why="reported",
            ),
            SafetyClaim(
                claim_no="C-2026-0377",
                serial="",
                component="brake hydraulic",
                failure_mode="leaking",
                reported_on=date(2026, 3, 4),
                told_on=date(2026, 3, 4),
                words_read="finding: brake hydraulic, leaking",
                why="reported",
            ),
        ),
        open_too_long=17,
        last_shown=ShownCounts(
            claims_reported=151,
            first_failures=58,
            open_claims=51,
            units_in_service=19_870,
        ),
    )


def arrivals(*findings: Finding) -> Arrivals:
    """Build what arrived: two sources, and what is amiss with them."""
    return Arrivals(
        findings=findings,
        sources=pd.DataFrame(
            {
                "source": ["desk", "register"],
                "kind": ["claims", "units"],
                "files": [4, 1],
                "newest_file": ["claims_2026_q1.csv", "register.xlsx"],
                "known_on": [date(2026, 3, 31), None],
                "rows": [9_204, 20_540],
                "usual_rows": [8_900.0, None],
                "usual_from": ["3 files before", ""],
                "every": ["every quarter", ""],
                "state": ["as expected", "as expected"],
            }
        ),
    )


def build(**changes: object) -> MonthlyInputs:
    """Build the month; a keyword replaces that field."""
    ranking = _ranking()
    total = int(ranking["claims"].sum()) + 312
    months = pd.date_range("2022-01-01", "2026-03-01", freq="MS")
    volume = [60 + 2 * index + 17 * ((index * 5) % 4) for index in range(len(months))]
    points, line = _probability()
    left_out = {
        "outside coverage": 402,
        "goodwill": 61,
        "denied or cancelled": 118,
        "misuse": 44,
        "transport damage": 37,
        "no fault found": 209,
        "unclassified": 312,
        "flagged": 22,
    }
    inputs = MonthlyInputs(
        meta=Meta(
            workspace="Larkspur Cargo Trikes",
            as_of=AS_OF,
            as_known=None,
            version="0.1.0",
            settings_digest="5b0c2f9d11aa",
            inputs=(
                InputFile("claims_2026_q1.csv", "claims", "a1b2c3d4e5f6", 9_204, 12),
                InputFile("register.xlsx", "units", "0f9e8d7c6b5a", 20_540, 3),
            ),
            report_currency="EUR",
            coverage="24 months from the in-service date, last day included",
        ),
        thresholds=Thresholds(unclassified_share=0.05, open_days=30),
        changes=_changes(),
        arrivals=arrivals(),
        quality=Quality(
            unclassified_claims=312,
            unclassified_share=312 / total,
            flags=(("unknown serial", 14), ("failed before in service", 8)),
            rejects=(("reported_on is not a date", 9), ("wrong field count", 6)),
            undated_units=1_934,
            undated_claims=41,
            undated_method="Ship date plus the sales lag of units with both dates.",
            unknown_serial_claims=14,
            unknown_serial_bound=0.003,
            units=20_540,
        ),
        claims_read=total,
        claims_by_month=pd.DataFrame(
            {
                "month": months,
                "claims": volume,
                "counted": [round(claims * 0.8) for claims in volume],
            }
        ),
        late=LateReports(
            claims=2_914,
            fewest=20,
            undated_share=0.04,
            speed_changed=False,
            backlogs=(Backlog(date(2025, 8, 29), 61, 140),),
        ),
        late_months=_late_months(),
        delays=_delays(),
        classes=pd.DataFrame(
            {
                "class": ["counted", *left_out],
                "claims": [total - sum(left_out.values()), *left_out.values()],
            }
        ),
        ranking=ranking,
        rates_by_model_year=_rates_by_model_year(),
        rates_by_component=_rates_by_component(),
        build_months=_build_months(),
        curves=_curves(),
        life=_life(),
        life_points=points,
        life_line=line,
        predelivery=_predelivery(),
        account=_account(),
        rising=fixture_rising.build(),
        to_come=fixture_to_come.build(),
        reserve=fixture_outstanding.reserve(),
        spares=fixture_outstanding.spares(),
        open_claims=fixture_open.build(),
    )
    return replace(inputs, **changes)  # type: ignore[arg-type]  # fields by name


SHARES = (0.35, 0.75, 0.90, 0.95, 0.98, 1.0)


def _late_months() -> pd.DataFrame:
    rows = []
    months = pd.date_range("2024-04-01", "2026-03-01", freq="MS")
    for index, month in enumerate(months):
        ago = len(months) - 1 - index
        final = 100 + 10 * (index % 4)
        share = SHARES[min(ago, 5)]
        claims = round(final * share)
        half = 2 * math.sqrt(final * (1 - share)) / share
        rows.append(
            {
                "month": month,
                "claims": claims,
                "share_reported": share,
                "completed": claims / share,
                "lower": max(claims, round(claims / share - half)),
                "upper": round(claims / share + half),
                "first_shown": round(final * SHARES[0]) if ago < 6 else None,
                "last_shown": round(final * SHARES[min(ago - 1, 5)]) if ago else None,
                "restated": 0 < ago < 6,
                "note": "less than half reported: no trend can be read"
                if share < 0.5
                else "",
            }
        )
    return pd.DataFrame(rows)


def _delays() -> pd.DataFrame:
    shares = [*SHARES, *[1.0] * 7]
    return pd.DataFrame(
        {
            "delay_months": range(13),
            "claims": [1020, 1165, 437, 146, 88, 58, *[0] * 7],
            "share_reported": shares,
            "lower": [max(share - 0.02, 0.0) for share in shares],
            "upper": [min(share + 0.02, 1.0) for share in shares],
        }
    )


def _predelivery() -> pd.DataFrame:
    rows = []
    for model, units, claims in (("Hauler 3", 12_404, 31), ("Finch S", 8_136, 9)):
        lower, upper = wilson(claims / units, units)
        rows.append(
            (model, units, claims, 1000 * claims / units, 1000 * lower, 1000 * upper)
        )
    return pd.DataFrame(
        rows,
        columns=[
            "model",
            "units_shipped",
            "claims",
            "rate_per_thousand",
            "lower",
            "upper",
        ],
    )


def _account() -> pd.DataFrame:
    return pd.DataFrame(
        [
            ("claims_2026_q1.csv", "claims", 9204, 171, 240, 8770, 11, 12, 22, 4, 7),
            ("register.xlsx", "units", 20540, 341, 12, 20184, 0, 3, 0, 2, 8),
        ],
        columns=[
            "file",
            "kind",
            "rows_read",
            "inserted",
            "updated",
            "unchanged",
            "superseded",
            "rejected",
            "flagged",
            "skipped_lines",
            "batch",
        ],
    )
