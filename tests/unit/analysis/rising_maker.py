"""Fleets of some thousand units in which faults of known build months are planted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from fleet_maker import Fleet, Row

FIRST = date(2021, 1, 1)
MODELS = ("Trike", "Scooter")


@dataclass(frozen=True, kw_only=True)
class Planted:
    """A component whose rate is another one in units of some build days."""

    component: str
    first: date
    last: date
    times: float
    model: str | None = None

    def holds(self, component: str, unit: Row) -> bool:
        """Tell whether a unit is one of them; ``last`` is not inside."""
        built = unit["build_date"]
        return (
            component == self.component
            and self.first <= built < self.last  # type: ignore[operator]
            and self.model in (None, unit["model"])
        )


def rising_fleet(
    seed: int,
    *planted: Planted,
    months: int = 48,
    a_month: int = 40,
    rates: tuple[tuple[str, float], ...] = (
        ("motor", 0.002),
        ("display", 0.002),
        ("rear light", 0.001),
    ),
    until: date = date(2025, 6, 30),
) -> Fleet:
    """Draw a fleet: failures come at a steady rate by month in service.

    Units are built one after the other from January 2021 on, two models in turn, ship
    after 10 days and go into service after 30; every failure within two years is
    reported 5 to 25 days later and labelled on that day.
    """
    rng = np.random.default_rng([20240611, seed])
    fleet = Fleet(units=[], claims=[])
    size = months * a_month
    for number in range(size):
        built = FIRST + timedelta(days=int(number * months * 30.4375 / size))
        unit: Row = {
            "serial": f"S{number:05d}",
            "model": MODELS[number % 2],
            "model_year": built.year,
            "build_date": built,
            "build_lot": f"L{built:%y%m}",
            "ship_date": built + timedelta(days=10),
            "in_service_date": built + timedelta(days=30),
            "region": ("North", "South")[number % 3 == 0],
            "dealer": f"D{number % 7}",
        }
        fleet.units.append(unit)
        started = built + timedelta(days=30)
        for component, rate in rates:
            times = [one.times for one in planted if one.holds(component, unit)]
            often = rate * float(np.prod(times))
            wait = min(rng.exponential() / often, 999.0)
            failed = started + timedelta(days=int(wait * 30.4375))
            reported = failed + timedelta(days=int(rng.integers(5, 26)))
            if wait < 23.9 and reported <= until:
                add_claim(fleet, unit, component, failed, reported)
    return fleet


def add_claim(
    fleet: Fleet, unit: Row, component: str, failed: date, reported: date
) -> Row:
    """Add a claim of a unit with its label."""
    number = f"C{len(fleet.claims):05d}"
    claim: Row = {
        "claim_no": number,
        "serial": unit["serial"],
        "reported_on": reported,
        "failed_on": failed,
        "status": "closed",
        "dealer": unit.get("dealer"),
        "region": unit.get("region"),
        "cost_total": "40.50",
        "currency": "EUR",
    }
    fleet.claims.append(claim)
    fleet.labels.append(
        {
            "claim_no": number,
            "component": component,
            "failure_mode": "no power",
            "reviewer": "R. Viewer",
            "reviewed_on": reported,
        }
    )
    return claim
