"""Draw the demo's fleet: who got which unit when, with whose parts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from claimlens.demo.draws import (
    Bools,
    Days,
    Draws,
    Floats,
    Ints,
    Texts,
    add_months,
    later,
)
from claimlens.demo.truth import DAYS_PER_MONTH, ComponentTruth, Truth

__all__ = ["GENERATION_STARTS", "Fleet", "build_fleet", "generation_of", "part_number"]

DAY = np.timedelta64(1, "D")
YEAR_DAYS = 365
# model years (counted from the first) from which a part generation is built in
GENERATION_STARTS = (0, 2, 4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """The fleet as it truly is; arrays have one value a unit, shape ``(U,)``.

    Parameters
    ----------
    model, region : ndarray of int
        Positions in ``truth.models`` and ``truth.regions``.
    in_service : ndarray of datetime64
        The true date, also where the register leaves it out.
    retired : ndarray of datetime64
        NaT where the unit is still in use at the end of the data.
    dated : ndarray of bool
        The register knows the in-service date.
    supplier : dict of str to ndarray of int
        For components with several suppliers: whose part the unit carries.
    km_per_day : ndarray of float
        Use of the unit.
    """

    serial: Texts
    model: Ints
    model_year: Ints
    region: Ints
    dealer: Texts
    build: Days
    ship: Days
    in_service: Days
    coverage_end: Days
    retired: Days
    dated: Bools
    supplier: dict[str, Ints]
    retrofits: pd.DataFrame
    km_per_day: Floats

    @property
    def size(self) -> int:
        """Return the number of units."""
        return len(self.serial)


def build_fleet(truth: Truth, seed: int) -> Fleet:
    """Draw the fleet of a world.

    Parameters
    ----------
    truth : Truth
        The written truth; ``truth.units`` units are made.
    seed : int
        Seed of the world.

    Returns
    -------
    Fleet
        Units in the order of building.
    """
    draws = Draws(seed, "fleet")
    size = truth.units
    year = draws.pick(truth.growth, size)
    first = np.array(
        [f"{truth.first_model_year - 1 + y}-09-01" for y in range(truth.model_years)],
        dtype="datetime64[D]",
    )
    build = np.sort(later(first[year], draws.below(YEAR_DAYS, size)))
    year = np.searchsorted(first, build, side="right") - 1
    model = _models(truth, draws.uniform(size), year)
    region = draws.pick([r.share for r in truth.regions], size)
    ship = later(build, 4 + draws.erlang2(16.0, size))
    lag = draws.erlang2(truth.sales_lag_months * DAYS_PER_MONTH, size)
    in_service = later(ship, lag)
    months = np.array([m.coverage_months for m in truth.models])[model]
    retired = later(
        in_service, draws.exponential(size) * 365.25 / truth.retired_per_year
    )
    retired = np.where(retired <= _day(truth.data_end), retired, _NAT)
    dated = ~draws.chance(truth.undated_share, size)
    dealers = np.array([r.dealers for r in truth.regions])
    dealer = draws.below(dealers[region], size)
    model_year = truth.first_model_year + year
    serial = _serials(truth, model, model_year)
    return Fleet(
        serial=serial,
        model=model,
        model_year=model_year,
        region=region,
        dealer=_dealer_codes(region, dealer),
        build=build,
        ship=ship,
        in_service=in_service,
        coverage_end=add_months(in_service, months),
        retired=retired,
        dated=dated & (in_service <= _day(truth.data_end)),
        supplier={
            s.component: Draws(seed, f"supplier {s.component}").pick(s.shares, size)
            for s in truth.suppliers
        },
        retrofits=_retrofits(truth, seed, serial, build, in_service),
        km_per_day=18.0 * np.exp(0.5 * draws.normal(size)),
    )


_NAT = np.datetime64("NaT", "D")


def _day(value: object) -> np.datetime64:
    return np.datetime64(str(value), "D")


def _models(truth: Truth, uniform: Floats, year: Ints) -> Ints:
    """Return each unit's model among those built in its model year."""
    model = np.zeros(len(year), dtype=np.int64)
    for position in range(truth.model_years):
        calendar = truth.first_model_year + position
        weights = [
            m.share if m.years[0] <= calendar <= m.years[1] else 0.0
            for m in truth.models
        ]
        edges = np.cumsum(weights) / np.sum(weights)
        mask = year == position
        model[mask] = np.searchsorted(edges, uniform[mask], side="right")
    return model


def _serials(truth: Truth, model: Ints, model_year: Ints) -> Texts:
    """Return serials that count up by model in the order of building."""
    running = pd.Series(model).groupby(model).cumcount().to_numpy() + 1
    codes = [m.code for m in truth.models]
    return np.array(
        [
            f"{codes[m]}{y % 100:02d}{n:05d}"
            for m, y, n in zip(model, model_year, running, strict=True)
        ],
        dtype=object,
    )


def _dealer_codes(region: Ints, dealer: Ints) -> Texts:
    # leading zeros on purpose: codes of this trade often carry them
    numbers = (region + 1) * 1000 + 13 + dealer * 7
    return np.array([f"{number:05d}" for number in numbers], dtype=object)


def _retrofits(
    truth: Truth, seed: int, serial: Texts, build: Days, in_service: Days
) -> pd.DataFrame:
    """Return the units changed in the field, unit by unit."""
    frames = []
    for change in truth.changes:
        draws = Draws(seed, f"retrofit {change.change_no}")
        effective = _day(change.effective_build_date)
        # past their cover at the time, so that the hazards stay as written
        old = np.flatnonzero(
            (build < effective) & (add_months(in_service, 36) < effective + 400 * DAY)
        )
        if change.retrofits == 0 or len(old) == 0:
            continue
        chosen = np.unique(old[draws.below(len(old), change.retrofits)])
        done = later(
            np.full(len(chosen), effective), 400 + draws.below(500, len(chosen))
        )
        frames.append(
            pd.DataFrame(
                {
                    "serial": serial[chosen],
                    "change_no": change.change_no,
                    "done_on": done,
                }
            )
        )
    if not frames:
        return pd.DataFrame({"serial": [], "change_no": [], "done_on": []})
    return pd.concat(frames, ignore_index=True)


def part_number(
    component: ComponentTruth,
    model: Ints | int,
    generation: Ints | int,
    supplier: Ints | int = 0,
) -> Texts:
    """Return invented part numbers: eight digits with leading zeros.

    Parameters
    ----------
    component : ComponentTruth
        Whose ``part_group`` leads the number.
    model, generation, supplier : ndarray of int, shape (n,), or int
        Position of the model (used only by parts made per model), of the
        part generation, and of the supplier among several.
    """
    variant = np.asarray(model) + 1 if component.part_per_model else 0
    numbers = (
        component.part_group * 10_000
        + np.asarray(variant) * 100
        + np.asarray(supplier) * 10
        + np.asarray(generation)
        + 1
    )
    return np.array([f"{n:08d}" for n in np.atleast_1d(numbers)], dtype=object)


def generation_of(truth: Truth, model_year: Ints) -> Ints:
    """Return the part generation (0, 1, 2) built in that model year."""
    starts = [truth.first_model_year + start for start in GENERATION_STARTS]
    return np.searchsorted(starts, model_year, side="right") - 1
