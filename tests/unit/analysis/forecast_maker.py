"""Units and claims for forecasts: as tables made by hand, and as small fleets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd
from fleet_maker import Fleet
from rising_maker import rising_fleet

from claimlens.analysis.forecast_cells import Places, age_bands
from claimlens.analysis.forecast_counts import Ahead
from claimlens.analysis.months import first_of, month_no

AS_OF = date(2023, 6, 30)
PLAIN = '[classify]\nlanguages = ["en"]\n[coverage]\nmonths = 24\n'
RATES = (("motor", 0.02), ("display", 0.01), ("rear light", 0.003))


def small_fleet(seed: int = 1, *, until: date = AS_OF) -> Fleet:
    """Draw 450 units of 30 build months, of which each month 15."""
    return rising_fleet(seed, months=30, a_month=15, rates=RATES, until=until)


@dataclass(frozen=True, kw_only=True)
class Watched:
    """One unit, in service and under watch from day to day."""

    started: date
    first: date
    last: date
    weight: float = 1.0
    model: int = 0
    cohort: int = 0
    cover: int = 0
    row: int = 0
    distance: int = 0

    @property
    def days(self) -> list[date]:
        """Return the days under watch."""
        n_days = (self.last - self.first).days + 1
        return [self.first + timedelta(days=n) for n in range(n_days)]


def days_in(month: int) -> int:
    """Return how long a numbered month is."""
    return (first_of(month + 1) - first_of(month)).days


def _row(unit: Watched) -> dict[str, object]:
    """Return a unit as a row of ``forecast_units``."""
    first, last = month_no(unit.first), month_no(unit.last)
    start = (unit.first - first_of(first)).days
    end = (unit.last - first_of(last)).days + 1
    begun = (end if first == last else days_in(first)) - start
    return {
        "r": unit.row,
        "m": unit.model,
        "v": unit.cover,
        "cohort": unit.cohort,
        "service_month": month_no(unit.started),
        "first_month": first,
        "last_month": last,
        "distance": unit.distance,
        "n_units": unit.weight,
        "first_part": unit.weight * begun / days_in(first),
        "last_part": unit.weight * end / days_in(last),
    }


def ahead_of(
    units: Sequence[Watched] = (),
    *,
    claims: pd.DataFrame | None = None,
    as_of: date = AS_OF,
    months: int = 12,
    distance: np.ndarray | None = None,
) -> Ahead:
    """Return what a forecast is made from."""
    return Ahead(
        as_of=as_of,
        months=months,
        unit_keys=(),
        units=pd.DataFrame([_row(unit) for unit in units]),
        claims=pd.DataFrame() if claims is None else claims,
        cohorts=pd.DataFrame(
            {
                "cohort": [0, 1],
                "from_date": pd.to_datetime(["2020-01-01", "2021-01-01"]),
                "to_date": pd.to_datetime(["2021-01-01", "2022-01-01"]),
            }
        ),
        changes=pd.DataFrame(columns=["change_no", "component", "model", "starts_on"]),
        distance=np.ones((1, 1)) if distance is None else distance,
        retired=0.0,
    )


def places_of(units: Sequence[Watched]) -> Places:
    """Return what the cells of units are told apart by: two of everything."""
    oldest = max(month_no(unit.last) - month_no(unit.started) for unit in units)
    return Places(
        models=("A", "B"),
        n_cohorts=2,
        n_bands=int(age_bands(np.array([oldest]))[0]) + 1,
        covers=("", "motor"),
        rows=pd.DataFrame({"region": ["North", "South"]}),
    )
