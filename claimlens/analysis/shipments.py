"""Fleets without a register: units shipped by month, as they came into service."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.count_tables import DAYS_PER_MONTH
from claimlens.analysis.sales_lag import FEWEST_DATED, STEP_DAYS, SalesLag
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats import weibull
from claimlens.stats.inflow import Inflow, fit_lag, gamma_lag, inflow
from claimlens.stats.sales_lag import in_steps

__all__ = ["Shipped", "put_shipments", "unmatched_notes"]

Floats = NDArray[np.float64]
Kind = tuple[str, int, str]

# failures so recent are not all reported: lag and hazard are judged without them
_SETTLED_DAYS = 90
# older ages add little, and not every cover reaches them
_JUDGED_DAYS = 365
_AGE_STEP = 30
_KIND = ["model", "model_year", "region"]
# failures that a step of age borrows from all ages, where claims are few
_BORROWED = 5.0
_FEWEST_FOR_A_LIFE = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Shipped:
    """What stands for units that no register names.

    Parameters
    ----------
    n_units : int
        Units shipped of models without a register.
    lag_days : float
        Their mean sales lag.
    notes : tuple of str
        What a reader of any number from here must know.
    """

    n_units: int
    lag_days: float
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Fleet:
    """Shipments by day, and the claims that say when their unit came into service.

    Days count from the first day of the first month to ``last``; shipments are by
    model, model year and region, and ``covers`` holds the days of the shortest and
    longest cover of a model.
    """

    shipped: dict[Kind, Floats]
    covers: dict[str, tuple[int, int]]
    claims: pd.DataFrame
    last: int


def put_shipments(
    session: Session,
    settings: Settings,
    as_of: date,
    sales_lag: SalesLag,
    *,
    stretch: float = 1.0,
) -> Shipped:
    """Make ``int_stock`` and ``claim_hazards``.

    The sales lag of shipments is that of the settings; else that of units which
    have both dates, if at least 20 do; else what the in-service dates of claims
    tell.

    Parameters
    ----------
    session : Session
        With ``int_units`` and ``int_cover``.
    settings : Settings
        Sales lag.
    as_of : date
        Cut-off.
    sales_lag : SalesLag
        Of the register.
    stretch : float, default 1.0
        Factor on every lag, to see how much a rate depends on them.

    Returns
    -------
    Shipped
        Nothing shipped where every model has its register.
    """
    months = session.frame("intermediate/int_shipped_days", {"as_of": as_of})
    if months.empty:
        _put_lag(session, np.ones(1), 1.0)
        session.run("intermediate/int_stock", {"after": date.min, "as_of": as_of})
        _put_hazards(session, [], np.ones((1, 1)), {})
        return Shipped(n_units=0, lag_days=0.0, notes=())
    # an open cut-off, or one beyond the data, is not a time under watch
    newest = session.frame("marts/newest_report").iloc[0]["newest_on"]
    fleet = _fleet(session, months, min(as_of, newest.date()))
    chance, source = _lag(fleet, settings, sales_lag)
    _put_lag(session, chance, stretch)
    session.run("intermediate/int_stock", {"after": date.min, "as_of": as_of})
    _put_hazards(session, *_hazards(fleet, chance), fleet.covers)
    n_units = int(months["n_units"].sum())
    mean = float(chance @ np.arange(chance.size)) * stretch
    note = (
        f"no register of {', '.join(fleet.covers)}: {n_units:,} units by month of "
        f"shipment, in service {mean / DAYS_PER_MONTH:.1f} months later on average "
        f"({source})"
    )
    return Shipped(
        n_units=n_units, lag_days=mean, notes=(note, *_about_claims(session))
    )


def _fleet(session: Session, months: pd.DataFrame, as_of: date) -> _Fleet:
    """Spread each month's shipments over its days; gather the claims that tell."""
    first = months["ship_date"].min()
    last = (pd.Timestamp(as_of) - first).days
    shipped: dict[Kind, Floats] = {}
    for kind, rows in months.groupby(_KIND, sort=True):
        by_day = np.zeros(last + 32)
        starts = (rows["ship_date"] - first).dt.days.to_numpy()
        lengths = rows["n_days"].to_numpy()
        for start, length, n in zip(starts, lengths, rows["n_units"], strict=True):
            by_day[start : start + length] += n / length
        shipped[str(kind[0]), int(kind[1]), str(kind[2])] = by_day[: last + 1]
    spans = session.frame("intermediate/int_cover_spans").set_index("model")
    covers = {
        model: (
            int(spans["shortest_months"].get(model, 0) * DAYS_PER_MONTH),
            int(np.ceil(spans["longest_months"].get(model, 0) * DAYS_PER_MONTH)),
        )
        for model in sorted({model for model, _, _ in shipped})
    }
    claims = session.frame("intermediate/int_inflow_claims", {"as_of": as_of})
    claims["start"] = (claims["in_service_date"] - first).dt.days
    longest = claims["model"].map({model: days for model, (_, days) in covers.items()})
    claims = claims[(claims["start"] >= 0) & (claims["age_days"] <= longest)]
    settled = claims["start"] + claims["age_days"] <= last - _SETTLED_DAYS
    if settled.any():
        claims, last = claims[settled], last - _SETTLED_DAYS
    return _Fleet(shipped, covers, claims, last)


def _lag(fleet: _Fleet, settings: Settings, sales_lag: SalesLag) -> tuple[Floats, str]:
    """Return the sales lag by days, and in words where it comes from."""
    stated = settings.shipments.sales_lag_months
    if stated is not None:
        return gamma_lag(stated * DAYS_PER_MONTH), "as the settings say"
    if sales_lag.n_units >= FEWEST_DATED:
        return (
            sales_lag.chance,
            f"as the {sales_lag.n_units:,} units of other models that have both dates",
        )
    young = fleet.claims["model"].map(
        {model: min(_JUDGED_DAYS, days) for model, (days, _) in fleet.covers.items()}
    )
    claims = fleet.claims[fleet.claims["age_days"] <= young]
    judged = [
        Inflow(
            shipped=fleet.shipped[model, year, region][: fleet.last + 1],
            started=rows["start"].to_numpy(dtype=np.int64),
            latest=fleet.last - rows["age_days"].to_numpy(dtype=np.int64),
        )
        for (model, year, region), rows in claims.groupby(_KIND, sort=True)
        if (model, year, region) in fleet.shipped
    ]
    fit = fit_lag(judged)
    if fit.n_claims < FEWEST_DATED:
        return np.ones(1), (
            f"taken as at once: {fit.n_claims} claims carry an in-service date, "
            f"{FEWEST_DATED} needed; state sales_lag_months under [shipments]"
        )
    limits = (
        f"{fit.lower / DAYS_PER_MONTH:.1f} to {fit.upper / DAYS_PER_MONTH:.1f} months"
    )
    source = (
        f"told by the in-service dates of {fit.n_claims:,} claims, 95 % limits {limits}"
    )
    if fit.note:
        source += f"; {fit.note}: state sales_lag_months under [shipments] if known"
    return gamma_lag(fit.mean_days, fit.shape), source


def _put_lag(session: Session, chance: Floats, stretch: float) -> None:
    lags, weight = in_steps(chance, STEP_DAYS)
    session.put(
        "shipment_lag",
        pd.DataFrame(
            {
                "lag_days": np.rint(lags * stretch).astype(np.int64),
                "weight": weight,
            }
        ),
    )


def _hazards(fleet: _Fleet, chance: Floats) -> tuple[list[str], Floats]:
    """Return how often each component fails first, by steps of age, in proportion.

    A step with few failures leans on the component's Weibull life; where it has too
    few for one, on all components together, and these on the mean of all ages.

    Returns
    -------
    components : list of str
        Those that a claim of such a model names.
    hazard : ndarray, shape (C, K)
        At ages of 30 k days and more; 1 on average.
    """
    longest = max((days for _, days in fleet.covers.values()), default=0)
    n_steps = longest // _AGE_STEP + 1
    exposed = np.zeros(n_steps)
    steps = np.arange(n_steps)
    upto = np.floor(fleet.last - (steps + 0.5) * _AGE_STEP).astype(np.int64)
    for (model, _, _), shipped in fleet.shipped.items():
        in_service = np.cumsum(inflow(shipped[: fleet.last + 1], chance))
        # the last step of a cover may end within it
        part = np.clip((fleet.covers[model][1] + 1) / _AGE_STEP - steps, 0.0, 1.0)
        exposed += np.where(upto >= 0, in_service[np.maximum(upto, 0)] * part, 0.0)
    components = sorted(set(fleet.claims["component"]))
    failed = np.zeros((len(components), n_steps))
    row = pd.Categorical(fleet.claims["component"], categories=components).codes
    step = np.minimum(fleet.claims["age_days"].to_numpy() // _AGE_STEP, n_steps - 1)
    np.add.at(failed, (row, step.astype(np.int64)), 1.0)
    failed[:, exposed <= 0] = 0.0
    whole = _leaning(failed.sum(axis=0), exposed, np.ones(n_steps))
    own = [
        _leaning(of_component, exposed, shape)
        for of_component, shape in zip(
            failed, _weibull_shapes(failed, exposed, whole), strict=True
        )
    ]
    return components, np.stack([whole, *own])


def _weibull_shapes(failed: Floats, exposed: Floats, otherwise: Floats) -> Floats:
    """Return the hazard of each row's Weibull life by step of age, 1 on average."""
    ends = (np.arange(exposed.size) + 1.0) * _AGE_STEP
    lives = weibull.fit(
        ends,
        failed,
        None,
        lower=ends - _AGE_STEP,
        exposed=np.maximum(exposed - failed, 0.0),
    )
    shape = np.asarray(lives.shape)[:, None]
    # a life needs some failures before its shape says more than all together
    known = (failed.sum(axis=1) >= _FEWEST_FOR_A_LIFE) & np.isfinite(shape[:, 0])
    power = np.where(known[:, None], shape, 1.0)
    rise = (ends**power - (ends - _AGE_STEP) ** power) / ends[-1] ** power
    mean = (rise * exposed).sum(axis=1, keepdims=True) / exposed.sum()
    return np.where(known[:, None], rise / mean, otherwise)


def _leaning(failed: Floats, exposed: Floats, shape: Floats) -> Floats:
    """Return failures per unit by age over their mean, leaning on a given shape."""
    if failed.sum() <= 0:
        return shape
    mean = failed.sum() / exposed.sum()
    return np.asarray(
        (failed + _BORROWED * shape) / (exposed + _BORROWED / mean) / mean
    )


def _put_hazards(
    session: Session,
    components: list[str],
    hazard: Floats,
    covers: dict[str, tuple[int, int]],
) -> None:
    """Store the hazards as far as the cover of each model goes."""
    starts = np.arange(hazard.shape[1]) * _AGE_STEP
    tables = [
        pd.DataFrame(
            {
                "model": pd.array([], dtype="str"),
                "component": pd.array([], dtype="str"),
                "from_day": np.zeros(0, dtype=np.int64),
                "to_day": np.zeros(0, dtype=np.int64),
                "hazard": np.zeros(0),
            }
        )
    ]
    for model, (_, longest) in covers.items():
        for component, by_step in zip(["", *components], hazard, strict=True):
            tables.append(
                pd.DataFrame(
                    {
                        "model": pd.array([model] * starts.size, dtype="str"),
                        "component": pd.array([component] * starts.size, dtype="str"),
                        "from_day": starts,
                        "to_day": np.minimum(starts + _AGE_STEP - 1, longest),
                        "hazard": by_step,
                    }
                )
            )
    session.put("claim_hazards", pd.concat(tables, ignore_index=True))


def _about_claims(session: Session) -> list[str]:
    """Say how the claims of such models were placed."""
    row = session.frame("intermediate/int_unsaid").iloc[0]
    undated, unnamed = int(row["n_undated"]), int(row["n_unnamed"])
    notes = []
    if undated:
        notes.append(
            f"{undated:,} of {int(row['n_claimed']):,} units with claims have no "
            "in-service date: spread over the ages at which such units fail"
        )
    if unnamed:
        notes.append(
            f"{unnamed:,} claims without a serial are each taken for a unit of its own"
        )
    return notes


def unmatched_notes(session: Session) -> tuple[str, ...]:
    """Say how claims were counted, or left out, whose unit no register names.

    Parameters
    ----------
    session : Session
        With ``int_claims``.

    Returns
    -------
    tuple of str
        Empty where there is no such claim.
    """
    row = session.frame("intermediate/int_unmatched").iloc[0]
    counted, left_out = int(row["n_counted"]), int(row["n_left_out"])
    notes = []
    if int(row["n_matched"]):
        notes.append(
            f"{int(row['n_matched']):,} claims of unknown serial are counted by their "
            "model and in-service date"
        )
    if left_out:
        most = f"{left_out / counted:.1%}" if counted else "without limit"
        notes.append(
            f"{left_out:,} claims of unknown serial are left out: all rates together "
            f"may be up to {most} higher"
        )
    if int(row["n_models_both"]):
        notes.append(
            "shipments of models that have a register are not used: the register stands"
        )
    return tuple(notes)
