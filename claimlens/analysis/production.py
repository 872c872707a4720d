"""First failures and unit-months by the production they come from.

The table that tells what is rising, which production is worse, and whether a change
helped. It holds dates, so that it can be read as it stood at any earlier cut-off.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.events import put_events
from claimlens.analysis.reporting_classes import put_reporting_classes
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.unit_months import DAYS_PER_MONTH, Watched, unit_months

__all__ = ["Grain", "Production", "Standing", "count_production"]

Grain = Literal["month", "week", "day", "lot"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

# in_service_day counts from here
_EPOCH = pd.Timestamp(2000, 1, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What was known at a cut-off.

    Parameters
    ----------
    failures : ndarray, shape (C, M, B, A)
        Units with a first failure by component, model, build date and month in
        service.
    unit_months : ndarray, shape (C, M, B, A)
        Weighted unit-months at risk; a view, the same for components on one cover.
    """

    failures: Floats
    unit_months: Floats


@dataclass(frozen=True, kw_only=True)
class Production:
    """Failures and units by production, with their dates.

    Parameters
    ----------
    as_of : date
        Cut-off; no failure or report after it is held.
    components, models : tuple of str
        In alphabetical order. A unit without a model has the model "".
    built : DatetimeIndex
        Build dates B: the first days of all months from the first to the last one
        with units, or the days on which units were built.
    units, failures : DataFrame
        Rows of ``production_units`` and ``production_failures``, with the places of
        component, model and build date (``c``, ``m``, ``b``).
    reported : ndarray, shape (L, K)
        Share reported within so many days, by class of reporting.
    covered : ndarray, shape (D, A)
        Share within the distance limit by day of age, by class of limit.
    cover_of : ndarray of int, shape (C,)
        Place of each component's cover class in ``covers``.
    covers : tuple of str
        Cover classes of the units.
    n_guessed : float
        Units whose build date is guessed.
    """

    as_of: date
    components: tuple[str, ...]
    models: tuple[str, ...]
    built: pd.DatetimeIndex
    units: pd.DataFrame
    failures: pd.DataFrame
    reported: Floats
    covered: Floats
    cover_of: Indices
    covers: tuple[str, ...]
    n_guessed: float

    @property
    def n_months(self) -> int:
        """Return the months in service that the oldest unit has reached."""
        longest = self.units["planned_days"].max() if len(self.units) else 0
        return int(longest // DAYS_PER_MONTH) + 1

    @cached_property
    def n_units(self) -> Floats:
        """Units by model and build date, shape (M, B): those in service by now."""
        total = np.zeros((len(self.models), len(self.built)))
        own = self.units[self.units["v"] == self.units["v"].min()]
        np.add.at(total, (own["m"], own["b"]), own["n_units"])
        return total

    def at(self, day: date) -> Standing:
        """Return what was known at an earlier cut-off, or at this one.

        The share of failures reported by a given time is that of the newest
        cut-off, so that one question weighs all its months alike.
        """
        return Standing(
            failures=self._failures_at(pd.Timestamp(day)),
            unit_months=self._unit_months_at(pd.Timestamp(day)),
        )

    def _failures_at(self, day: pd.Timestamp) -> Floats:
        rows = self.failures
        known = (rows["failed_on"] <= day) & (rows["reported_on"] <= day)
        rows = rows[known]
        age = (rows["failed_on"] - rows["in_service_date"]).dt.days.clip(lower=0)
        ends = rows["in_service_date"] + pd.to_timedelta(
            rows["planned_days"] + rows["seen_after"], unit="D"
        )
        left = (ends.clip(upper=day) - rows["failed_on"]).dt.days.to_numpy()
        within = np.clip(left, 0, self.reported.shape[1] - 1)
        seen = self.reported[rows["reporting"].to_numpy(), within] > 0
        month = (age // DAYS_PER_MONTH).astype(int).to_numpy()
        total = np.zeros(
            (len(self.components), len(self.models), len(self.built), self.n_months)
        )
        chosen = seen & (month < self.n_months)
        places = tuple(rows[name].to_numpy()[chosen] for name in ("c", "m", "b"))
        np.add.at(total, (*places, month[chosen]), rows["n_failures"][chosen])
        return total

    def _unit_months_at(self, day: pd.Timestamp) -> Floats:
        n_models, n_built = len(self.models), len(self.built)
        age = (day - _EPOCH).days - self.units["in_service_day"].to_numpy() + 1.0
        watched = self._watched.until(age)
        by_cover = unit_months(
            watched,
            reported=self.reported,
            covered=self.covered,
            n_rows=len(self.covers) * n_models * n_built,
            n_months=self.n_months,
        ).reshape(len(self.covers), n_models, n_built, self.n_months)
        if len(self.covers) == 1:
            return np.broadcast_to(
                by_cover, (len(self.components), *by_cover.shape[1:])
            )
        return by_cover[self.cover_of]

    @cached_property
    def _watched(self) -> Watched:
        units = self.units
        place = (units["v"] * len(self.models) + units["m"]) * len(self.built)
        to_day = units["planned_days"].to_numpy(dtype=np.float64) + 1.0
        return Watched(
            row=(place + units["b"]).to_numpy(dtype=np.intp),
            from_day=units["entry_days"].to_numpy(dtype=np.float64),
            to_day=to_day,
            reported_to=to_day + units["seen_after"].to_numpy(dtype=np.float64),
            reporting=units["reporting"].to_numpy(dtype=np.intp),
            distance=units["distance"].to_numpy(dtype=np.intp),
            n=units["n_units"].to_numpy(dtype=np.float64),
        )


def count_production(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    grain: Grain = "month",
) -> Production:
    """Count first failures and watched units by component, model and build date.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``; ``int_events`` and ``int_built`` are made.
    settings : Settings
        Counting rules.
    scope : Scope
        Cut-off and filters in force.
    grain : {"month", "week", "day", "lot"}, default "month"
        What units are put together by; a lot stands at its first build date.

    Returns
    -------
    Production
        For every component that some claim in sight names.

    Raises
    ------
    InputError
        If there is no unit register, or the question is for one supplier.
    """
    if session.count("int_units") == 0:
        raise InputError(
            "There is no unit register, so it is not known when units were built.",
            remedy="load one (serial, model, model_year, build_date, in_service_date): "
            "claimlens ingest FILE",
        )
    if "supplier" in scope.wanted:
        raise InputError(
            "Production is not told apart by supplier here: a supplier is an answer, "
            "not a filter.",
            remedy="leave --supplier out; claimlens compare --by component,supplier "
            "sets suppliers side by side",
        )
    put_events(session, settings)
    put_reporting_classes(session, scope)
    session.run("intermediate/int_built")
    units = session.frame("marts/production_units", {"grain": grain})
    failures = session.frame(
        "marts/production_failures",
        {
            "grain": grain,
            "tolerance_days": settings.counting.predelivery_tolerance_days,
        },
    )
    seen = session.frame("marts/components_seen")["component"]
    asked = scope.wanted.get("component")
    names = set(asked) if asked else set(seen.dropna())
    return _placed(
        units, failures, sorted(names), grain=grain, settings=settings, scope=scope
    )


def _placed(
    units: pd.DataFrame,
    failures: pd.DataFrame,
    components: list[str],
    *,
    grain: Grain,
    settings: Settings,
    scope: Scope,
) -> Production:
    """Give every row its place among components, models and build dates."""
    # units of no lot have no place among lots
    units = units[units["built_on"].notna()].assign(model=units["model"].fillna(""))
    failures = failures[failures["built_on"].notna()]
    failures = failures.assign(model=failures["model"].fillna(""))
    failures = failures[failures["component"].isin(components)]
    models = sorted(set(units["model"]))
    built = pd.DatetimeIndex(sorted(set(units["built_on"])))
    if grain == "month" and len(built):
        built = pd.date_range(built[0], built[-1], freq="MS")
    own = set(settings.coverage.own_cover)
    wanted_cover = [name if name in own else "" for name in components]
    # a component that is covered nowhere has a class without units
    covers = sorted({*units["cover_class"], *wanted_cover}) or [""]
    place_of = {name: i for i, name in enumerate(covers)}
    units = units.assign(
        v=units["cover_class"].map(place_of).astype(int),
        m=pd.Index(models).get_indexer(units["model"]),
        b=built.get_indexer(pd.DatetimeIndex(units["built_on"])),
    )
    failures = failures.assign(
        c=pd.Index(components).get_indexer(failures["component"]),
        m=pd.Index(models).get_indexer(failures["model"]),
        b=built.get_indexer(pd.DatetimeIndex(failures["built_on"])),
    ).reset_index(drop=True)
    default = units["v"] == place_of.get("", 0)
    return Production(
        as_of=scope.as_of,
        components=tuple(components),
        models=tuple(models),
        built=built,
        units=units,
        failures=failures,
        reported=scope.reporting.share,
        covered=scope.covered(
            int(units["planned_days"].max()) + 1 if len(units) else 1
        ),
        cover_of=np.array([place_of[name] for name in wanted_cover], dtype=np.intp),
        covers=tuple(covers),
        n_guessed=float(units.loc[default, "n_guessed"].sum()),
    )
