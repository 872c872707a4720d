"""Fleets whose claims cost money, and the costs added up again claim by claim."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal

import numpy as np
from fleet_maker import Fleet, Row

COMPONENTS = ("battery pack", "motor", "display")
AS_OF = date(2025, 6, 30)
SETTLED = ("closed", "denied", "cancelled")


def cost_fleet(
    seed: int = 1, *, n_units: int = 160, currencies: tuple[str, ...] = ("EUR",)
) -> Fleet:
    """Draw a fleet with a unit register and labelled claims under cover.

    Some costs are missing, nothing or negative; some claims are open, and some are
    refused.
    """
    rng = np.random.default_rng([seed, 4])
    fleet = Fleet(units=[], claims=[])
    for number in range(n_units):
        built = date(2022, 7, 1) + timedelta(days=int(number * 1080 / n_units))
        started = built + timedelta(days=int(rng.integers(20, 60)))
        unit: Row = {
            "serial": f"K{number:04d}",
            "model": ("Trike", "Scooter")[number % 2],
            "model_year": built.year,
            "build_date": built,
            "ship_date": built + timedelta(days=5),
            "in_service_date": started if started <= AS_OF else None,
            "region": ("North", "South")[number % 3 == 0],
        }
        fleet.units.append(unit)
        for _ in range(rng.poisson(1.1)):
            failed = started + timedelta(days=int(rng.integers(0, 700)))
            _add(fleet, rng, unit, failed, currencies)
    return fleet


def _add(
    fleet: Fleet,
    rng: np.random.Generator,
    unit: Row,
    failed: date,
    currencies: tuple[str, ...],
) -> None:
    reported = failed + timedelta(days=int(rng.integers(0, 50)))
    if reported > AS_OF + timedelta(days=60):
        return
    number = f"C{len(fleet.claims):04d}"
    closed = reported + timedelta(days=int(rng.integers(3, 90)))
    component = COMPONENTS[int(rng.choice(3, p=(0.5, 0.3, 0.2)))]
    status = str(rng.choice(["open", *SETTLED], p=[0.05, 0.8, 0.1, 0.05]))
    cost: str | None = f"{rng.lognormal(4 + len(component) / 10, 0.7):.2f}"
    chance = rng.random()
    if chance < 0.1:
        cost = (None, "0", "-12.25")[int(chance * 30)]
    fleet.claims.append(
        {
            "claim_no": number,
            "reported_on": reported,
            "serial": unit["serial"],
            "failed_on": failed,
            "status": status,
            "closed_on": None if status == "open" else closed,
            "cost_total": cost if status == "closed" else None,
            "currency": currencies[int(rng.integers(len(currencies)))],
        }
    )
    fleet.labels.append(
        {
            "claim_no": number,
            "component": component,
            "failure_mode": "worn",
            "reviewer": "R. Viewer",
            "reviewed_on": reported,
        }
    )


class Recount:
    """Claims of a fleet under a cover of 24 months, told one by one.

    Parameters
    ----------
    fleet : Fleet
        As drawn.
    as_of : date
        Cut-off.
    """

    def __init__(self, fleet: Fleet, as_of: date = AS_OF) -> None:
        self.as_of = as_of
        units = {row["serial"]: row for row in fleet.units}
        component = {row["claim_no"]: row["component"] for row in fleet.labels}
        self.rows: list[Row] = []
        for claim in fleet.claims:
            reported, closed = claim["reported_on"], claim["closed_on"]
            assert isinstance(reported, date)
            if reported > as_of:
                continue
            is_settled = isinstance(closed, date) and closed <= as_of
            state = "open"
            if is_settled:
                state = "settled" if claim["status"] == "closed" else "refused"
            unit = units[claim["serial"]]
            self.rows.append(
                claim
                | {
                    "state": state,
                    "component": component[claim["claim_no"]],
                    "model": unit["model"],
                    "model_year": unit["model_year"],
                    "sold_on": unit["ship_date"],
                }
            )

    def of(self, state: str, **wanted: object) -> list[Row]:
        """Return the claims in a state that have the values wanted."""
        return [
            row
            for row in self.rows
            if row["state"] == state
            and all(row[name] == value for name, value in wanted.items())
        ]

    def recent(self, rows: Iterable[Row]) -> list[Row]:
        """Return those settled in the 24 months before the cut-off."""
        first = date(self.as_of.year - 2, self.as_of.month, self.as_of.day)
        return [row for row in rows if first < row["closed_on"]]  # type: ignore[operator]

    @staticmethod
    def costs(rows: Iterable[Row]) -> list[Decimal]:
        """Return the costs that are known."""
        return [
            Decimal(str(row["cost_total"]))
            for row in rows
            if row["cost_total"] is not None
        ]

    def leaning_mean(self, component: str, model: str) -> float:
        """Return the mean cost of a component in a model, leaning on all models."""
        every = self.costs(self.recent(self.of("settled", component=component)))
        own = self.costs(
            self.recent(self.of("settled", component=component, model=model))
        )
        weight = len(own) / (len(own) + 20)
        mean = float(sum(every)) / len(every)
        return weight * float(sum(own)) / max(len(own), 1) + (1 - weight) * mean
