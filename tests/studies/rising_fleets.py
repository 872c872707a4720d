"""Fleets with a known truth: nothing rises in them but what is planted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from claimlens.stats.rising import FailureTable, UnitTable, Views

Floats = NDArray[np.float64]

LAG = np.array([0.35, 0.75, 0.90, 0.95, 0.98, 1.0])
# claims a unit has by 24 months in service, all components together
CLAIMS = 0.35


@dataclass(frozen=True, kw_only=True)
class Fault:
    """A component that fails more often in units of some build months."""

    component: int
    first: int
    last: int
    times: float
    model: int | None = None


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What a fleet is like.

    ``units`` are built in a month ten months before the last one; ``growth`` is by
    month; ``swing`` is the seasonal part of the volume, ``season`` that of all
    failure rates, ``own_season`` that of each component with a peak of its own;
    ``noise`` is the variance of each component's rate from build month to build
    month; ``sales_lag`` the mean of months from build to service; ``assumed`` the
    shares reported as the rule is told.
    """

    units: float = 300.0
    components: int = 30
    models: int = 13
    builds: int = 60
    growth: float = 0.015
    swing: float = 0.3
    season: float = 0.25
    own_season: float = 0.15
    noise: float = 0.0
    cells: float = 0.5
    sales_lag: float = 0.0
    reported: Floats = field(default_factory=lambda: LAG)
    assumed: Floats = field(default_factory=lambda: LAG)
    at_once: tuple[int, int, int] | None = None


@dataclass(frozen=True, kw_only=True)
class Fleet:
    """A fleet as it was drawn, and its truth.

    ``hazard`` has shape (C, A), ``volume`` shape (B,).
    """

    views: Views
    hazard: Floats
    volume: Floats

    def first_year(self, component: int, first: int, last: int) -> float:
        """Return failures expected in the first year of some build months."""
        units = self.volume[first : last + 1].sum()
        return float(self.hazard[component, :12].sum() * units)


def draw_fleet(seed: Sequence[int], plan: Plan, faults: Sequence[Fault] = ()) -> Fleet:
    """Draw one fleet; the same seed gives the same truth whatever is planted."""
    rng = np.random.default_rng(list(seed))
    shape = rng.uniform(0.6, 2.0, plan.components)
    rate = rng.lognormal(0.0, 1.0, plan.components)
    reached = (np.arange(plan.builds + 1.0) / 24.0) ** shape[:, None]
    hazard = (CLAIMS * rate / rate.sum())[:, None] * np.diff(reached, axis=1)
    share = rng.dirichlet(np.full(plan.models, 1.5))
    cell = rng.lognormal(0.0, plan.cells, (plan.components, plan.models))
    cell /= (cell * share).sum(axis=1, keepdims=True)
    month = np.arange(plan.builds)
    volume = plan.units * np.exp(plan.growth * (month - (plan.builds - 10)))
    volume *= 1.0 + plan.swing * _wave(month, rng.uniform(0.0, 12.0))
    calendar = np.arange(2 * plan.builds + 40)
    season = 1.0 + plan.season * _wave(calendar, rng.uniform(0.0, 12.0))
    peaks = rng.uniform(0.0, 12.0, (plan.components, 1))
    season = season * (1.0 + plan.own_season * _wave(calendar, peaks))
    factor = np.tile(cell[:, :, None], (1, 1, plan.builds))
    if plan.noise:
        batch = rng.gamma(1.0 / plan.noise, plan.noise, (plan.components, plan.builds))
        factor *= batch[:, None]
    for fault in faults:
        models = slice(None) if fault.model is None else fault.model
        factor[fault.component, models, fault.first : fault.last + 1] *= fault.times
    built = np.round(share[:, None] * volume)
    views = _tables(rng, plan, built, (hazard, season, factor))
    return Fleet(views=views, hazard=hazard, volume=volume)


def _wave(month: NDArray[np.int64], peak: float | Floats) -> Floats:
    return np.asarray(np.cos(2.0 * np.pi * (month - peak) / 12.0))


def _tables(
    rng: np.random.Generator,
    plan: Plan,
    built: Floats,
    rates: tuple[Floats, Floats, Floats],
) -> Views:
    """Put units into service, let them fail, and their failures be reported."""
    hazard, season, factor = rates
    month, age = np.arange(plan.builds), np.arange(plan.builds)
    units: list[NDArray[np.int64]] = []
    failed: list[NDArray[np.int64]] = []
    for lag, number in _into_service(rng, plan, built):
        service = month + lag
        model, build = np.nonzero(number)
        units.append(
            np.stack((model, build, build + lag, number[model, build].astype(int)))
        )
        for half in (0, 1):
            calendar = service[:, None] + age + half
            mean = 0.5 * hazard[:, None, :] * season[:, calendar]
            mean = mean * (calendar < plan.builds)
            drawn = rng.poisson(
                number[:, :, None] * (factor[..., None] * mean[:, None])
            )
            where = np.nonzero(drawn)
            rows = np.stack((*where, service[where[2]] + where[3] + half))
            failed.append(np.repeat(rows, drawn[where], axis=1))
    component, model, build, ages, at = np.concatenate(failed, axis=1)
    wait = np.searchsorted(plan.reported, rng.random(at.size), side="right")
    if plan.at_once is not None:
        which, first, last = plan.at_once
        wait[(component == which) & (build >= first) & (build <= last)] = 0
    of_units = np.concatenate(units, axis=1)
    return Views(
        FailureTable(
            component=component,
            model=model,
            build_month=build,
            age_month=ages,
            failed_month=at,
            reported_month=at + wait,
            n=np.ones(at.size),
        ),
        UnitTable(
            model=of_units[0],
            build_month=of_units[1],
            service_month=of_units[2],
            months_watched=np.full(of_units.shape[1], plan.builds),
            n=of_units[3].astype(float),
        ),
        plan.assumed,
        n_components=plan.components,
        n_models=plan.models,
    )


def _into_service(
    rng: np.random.Generator, plan: Plan, built: Floats
) -> list[tuple[int, Floats]]:
    """Return units by months from build to service."""
    if not plan.sales_lag:
        return [(0, built)]
    waits = stats.gamma.cdf(np.arange(13.0), 1.5, scale=plan.sales_lag / 1.5)
    chance = np.diff(waits) / waits[-1]
    drawn = rng.multinomial(built.astype(int), chance)
    return [(lag, drawn[..., lag].astype(float)) for lag in range(chance.size)]
