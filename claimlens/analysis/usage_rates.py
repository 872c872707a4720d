"""How far the units of each model go, as set or as the claims' readings tell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claimlens.db import Session
from claimlens.settings import CoverageSettings
from claimlens.stats.usage import UsageRates, fit_usage

__all__ = ["ModelUsage", "known_rates", "usage_by_model"]

_DAYS_PER_YEAR = 365.25


@dataclass(frozen=True, slots=True)
class ModelUsage:
    """Usage rates of a model, and how well they are known.

    Parameters
    ----------
    rates : UsageRates
        Kilometres a day.
    covariance : ndarray, shape (2, 2)
        Of the errors of ln median and ln spread; zeros for rates that are set.
    """

    rates: UsageRates
    covariance: NDArray[np.float64]


def usage_by_model(
    session: Session, cover: CoverageSettings, models: set[str]
) -> tuple[dict[str, ModelUsage], tuple[str, ...]]:
    """Return kilometres a day by model: as set, or as the claims' readings tell.

    Parameters
    ----------
    session : Session
        With ``int_claim_facts`` and ``int_claims_covered``.
    cover : CoverageSettings
        Rates that are known; readings that an estimate needs.
    models : set of str
        Those wanted; '' is a unit without a model.

    Returns
    -------
    usage : dict of str to ModelUsage
        A model whose rates nobody can tell is not in it.
    notes : tuple of str
        Where the rates come from, what is assumed, and what they cannot tell.
    """
    readings = session.frame("marts/usage_readings")
    usage: dict[str, ModelUsage] = {}
    from_readings: list[str] = []
    unknown: list[str] = []
    for model in sorted(models):
        known = known_rates(cover, model)
        if known is not None:
            usage[model] = ModelUsage(known, np.zeros((2, 2)))
            continue
        mine = readings[readings["model"] == model]
        fit = fit_usage(
            mine["distance_km"],
            mine["age_days"] + 0.5,
            mine["limit_km"].fillna(np.inf),
            fewest=cover.usage_readings,
        )
        if fit.rates is None:
            unknown.append(f"{model or 'no model'}: {fit.note}")
        else:
            usage[model] = ModelUsage(fit.rates, fit.covariance)
            from_readings.append(
                f"{model or 'no model'} {fit.rates.median * _DAYS_PER_YEAR:,.0f} km a "
                f"year in the median ({fit.n} readings)"
            )
    notes: tuple[str, ...] = ()
    if from_readings:
        notes += (
            "cover ends by distance too: the share still covered at each age is "
            f"allowed for, from what claimants had gone, {'; '.join(from_readings)}, "
            "with rates taken as lognormal, constant over a unit's life and alike in "
            "units that fail and that do not",
        )
    if unknown:
        notes += (
            "cover ends by distance too, which is not allowed for, so that rates are "
            f"by age only, a lower bound ({'; '.join(unknown)})",
        )
    return usage, notes


def known_rates(cover: CoverageSettings, model: str) -> UsageRates | None:
    """Return the rates that the settings give for a model, or for every one.

    Parameters
    ----------
    cover : CoverageSettings
        With the rates.
    model : str
        The model; '' for none.

    Returns
    -------
    UsageRates or None
        Kilometres a day; None where the settings say nothing.
    """
    given = {rate.model: rate for rate in cover.usage}
    rate = given.get(model) or given.get(None)
    if rate is None:
        return None
    per_day = rate.per_year * cover.km_per_unit / _DAYS_PER_YEAR
    return UsageRates(median=per_day, spread=rate.spread)
