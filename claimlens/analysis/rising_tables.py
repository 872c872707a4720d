"""The tables of calendar months from which rising faults are told."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.months import MONTHS_A_YEAR
from claimlens.analysis.production import Production
from claimlens.stats.rising import FailureTable, UnitTable, Views
from claimlens.stats.unit_months import DAYS_PER_MONTH

__all__ = ["views_of"]

Indices = NDArray[np.int64]
Floats = NDArray[np.float64]

_EPOCH = pd.Timestamp(2000, 1, 1)
# months after which every failure is taken as reported, at the least
_SHARES = 13


def _numbers(days: pd.Series) -> Indices:
    stamps = pd.DatetimeIndex(days)
    return np.asarray(stamps.year * MONTHS_A_YEAR + stamps.month - 1, dtype=np.int64)


def views_of(production: Production, chosen: Indices) -> Views:
    """Return the view of some components that are covered alike.

    Parameters
    ----------
    production : Production
        By month of build.
    chosen : ndarray of int
        Places of the components.

    Returns
    -------
    Views
        Components in the order of ``chosen``.
    """
    place = np.full(len(production.components), -1, dtype=np.int64)
    place[chosen] = np.arange(chosen.size)
    cover = int(production.cover_of[chosen[0]]) if chosen.size else 0
    return Views(
        _failures(production, place),
        _units(production, cover),
        _reported(production),
        n_components=chosen.size,
        n_models=len(production.models),
    )


def _failures(production: Production, place: Indices) -> FailureTable:
    rows = production.failures
    rows = rows[place[rows["c"].to_numpy()] >= 0]
    age = (rows["failed_on"] - rows["in_service_date"]).dt.days.clip(lower=0)
    failed = _numbers(rows["failed_on"])
    return FailureTable(
        component=place[rows["c"].to_numpy()],
        model=rows["m"].to_numpy(dtype=np.int64),
        build_month=_numbers(production.built[rows["b"].to_numpy()]),
        age_month=(age // DAYS_PER_MONTH).to_numpy(dtype=np.int64),
        failed_month=failed,
        reported_month=np.maximum(_numbers(rows["reported_on"]), failed),
        n=rows["n_failures"].to_numpy(dtype=np.float64),
    )


def _units(production: Production, cover: int) -> UnitTable:
    """Return units by the months that they can be watched.

    Those still watched at the cut-off leave at no known age: the cut-off itself
    limits them. A limit by distance ends the cover of some units each month. What
    had passed before a unit was watched is taken away.
    """
    rows = production.units
    rows = rows[rows["v"] == cover]
    service_day = rows["in_service_day"].to_numpy()
    days = rows["planned_days"].to_numpy(dtype=np.float64) + 1.0
    to_cut_off = (pd.Timestamp(production.as_of) - _EPOCH).days - service_day + 1.0
    months = np.where(
        days >= to_cut_off - 1.0,
        np.ceil(to_cut_off / DAYS_PER_MONTH) + 1.0,
        np.rint(days / DAYS_PER_MONTH),
    )
    service = _EPOCH + pd.to_timedelta(np.rint(service_day), unit="D")
    units = pd.DataFrame(
        {
            "model": rows["m"].to_numpy(dtype=np.int64),
            "build": _numbers(production.built[rows["b"].to_numpy()]),
            "service": _numbers(pd.Series(service)),
            "months": months.astype(np.int64),
            "n": rows["n_units"].to_numpy(dtype=np.float64),
            "early": np.rint(rows["entry_days"].to_numpy() / DAYS_PER_MONTH),
            "distance": rows["distance"].to_numpy(),
        }
    )
    unwatched = units[units["early"] > 0]
    taken = unwatched.assign(months=unwatched["early"], n=-unwatched["n"])
    units = pd.concat([_within_distance(units, production), taken], ignore_index=True)
    return UnitTable(
        model=units["model"].to_numpy(dtype=np.int64),
        build_month=units["build"].to_numpy(dtype=np.int64),
        service_month=units["service"].to_numpy(dtype=np.int64),
        months_watched=units["months"].to_numpy(dtype=np.int64),
        n=units["n"].to_numpy(dtype=np.float64),
    )


def _within_distance(units: pd.DataFrame, production: Production) -> pd.DataFrame:
    """Let units with a limit by distance leave month by month, as they reach it."""
    limited = units[units["distance"] > 0]
    if limited.empty:
        return units
    longest = int(limited["months"].max())
    day = ((np.arange(longest + 1) + 0.5) * DAYS_PER_MONTH).astype(np.int64)
    share = production.covered[:, np.minimum(day, production.covered.shape[1] - 1)]
    parts = [units[units["distance"] == 0]]
    for month in range(longest + 1):
        rows = limited[limited["months"] >= month]
        own = share[rows["distance"].to_numpy()]
        # the last month takes all that are left
        last = rows["months"].to_numpy() == month
        gone = own[:, month] - np.where(last, 0.0, own[:, min(month + 1, longest)])
        parts.append(rows.assign(months=month, n=rows["n"] * np.maximum(gone, 0.0)))
    return pd.concat(parts, ignore_index=True)


def _reported(production: Production) -> Floats:
    """Return the share of a month's failures reported by the end of later months."""
    daily = production.reported[0]
    months = max(_SHARES, int(np.ceil(daily.size / DAYS_PER_MONTH)) + 1)
    start = np.arange(months) * DAYS_PER_MONTH
    days = start[:, None] + np.arange(int(DAYS_PER_MONTH))
    within = np.minimum(days.astype(np.int64), daily.size - 1)
    # days of which too little is known count as nothing, but a month is a mean
    return np.asarray(np.maximum.accumulate(daily[within].mean(axis=1)))
