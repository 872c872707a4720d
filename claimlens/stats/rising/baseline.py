"""What older production lets us expect of every component, model and build month."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.rising.counts import SEASON, View
from claimlens.stats.rising.hazards import gamma_shape, hazard_by_age, towards

__all__ = ["Expectation", "expect", "noise_between_months"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# claims that "as expected" weighs in the factor common to all components
_FLEET_WEIGHT = 50.0
# failures expected of a component that tell what most components do
_TELLING = 5.0
# months that the noise common to all components weighs in that of one
_NOISE_WEIGHT = 24.0
_NO_NOISE = 1.0 / 450.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Expectation:
    """Failures expected to be known at one month-end.

    Parameters
    ----------
    expected : ndarray, shape (C, M, B)
        By component, model and build month.
    at_once : ndarray, shape (C, M, B)
        The same, had every failure been reported at once.
    rates : ndarray, shape (C, 12, A)
        First failures per unit-month over all models, by calendar month and age
        month.
    cell_ratio : ndarray, shape (C, M)
        Shrunk ratio of each model to that.
    uncertainty : ndarray, shape (C, 1 + M)
        Relative variance of what is expected, for all models and for each: how
        little the older production tells of its level.
    noise : ndarray, shape (C,)
        Variance of the ratio of observed to expected from build month to build
        month, beyond chance.
    fleet_ratio : ndarray, shape (B,)
        Observed over expected of all components together, drawn towards 1. What is
        expected of a component has been multiplied by this ratio of all *others*.
    claims : ndarray, shape (C,)
        Failures of the older production.
    months : ndarray, shape (C,)
        Build months of the older production.
    """

    expected: Floats
    at_once: Floats
    rates: Floats
    cell_ratio: Floats
    uncertainty: Floats
    noise: Floats
    fleet_ratio: Floats
    claims: Floats
    months: Floats


def expect(view: View, older: Bools) -> Expectation:
    """Tell what to expect of every build month from those that are older.

    Parameters
    ----------
    view : View
        What is known at the month-end.
    older : ndarray of bool, shape (C, B)
        The build months that set the level of each component.

    Returns
    -------
    Expectation
        Levels are shrunk: ages of a component towards a power of age, and that
        towards the power of all; models towards the component; components towards
        each other; calendar months towards no season; each by as much as chance
        explains.

    References
    ----------
    .. [1] Clayton, Kaldor (1987), Biometrics 43, 671-681 (marginal likelihood of
       the gamma).
    .. [2] Wu, Meeker (2002), Technometrics 44, 120-133 (expected reports by build
       period and age).
    """
    mask = older.astype(float)
    shape = len(mask), SEASON, view.by_age.shape[2]
    exposed = view.exposed.sum(axis=0).reshape(mask.shape[1], -1)
    exposed = (mask @ exposed).reshape(shape)
    by_age = np.einsum("cb,cba->ca", mask, view.by_age)
    hazard, _ = hazard_by_age(by_age, exposed.sum(axis=1))
    season = _season(
        np.einsum("cb,cbq->cq", mask, view.by_season),
        np.einsum("cqa,ca->cq", exposed, hazard),
    )
    hazard, prior = hazard_by_age(by_age, np.einsum("cqa,cq->ca", exposed, season))
    rates = season[:, :, None] * hazard[:, None, :]
    level = _level(view.exposed, rates)
    ratio, cell_shape, claims = _cells(view, level, mask)
    observed = view.failed.sum(axis=1)
    factor, fleet = _fleet(observed, np.einsum("cmb,cm->cb", level, ratio))
    change = ratio[:, :, None] * factor[:, None, :]
    expected = level * change
    of_component = 1.0 / (prior + by_age.sum(axis=1))[:, None]
    of_cell = 1.0 / (cell_shape + claims) + of_component
    return Expectation(
        expected=expected,
        at_once=np.maximum(_level(view.passed, rates) * change, expected),
        rates=rates,
        cell_ratio=ratio,
        uncertainty=np.concatenate((of_component, of_cell), axis=1),
        noise=noise_between_months(observed, expected.sum(axis=1), older),
        fleet_ratio=fleet,
        claims=by_age.sum(axis=1),
        months=(older & (view.units.sum(axis=0) > 0)).sum(axis=1).astype(float),
    )


def _level(exposed: Floats, rates: Floats) -> Floats:
    """Return what the rates let expect of unit-months, shape (C, M, B)."""
    n_models, n_builds = exposed.shape[:2]
    flat = exposed.reshape(n_models * n_builds, -1) @ rates.reshape(len(rates), -1).T
    return np.ascontiguousarray(flat.T).reshape(-1, n_models, n_builds)


def _season(observed: Floats, expected: Floats) -> Floats:
    """Return a factor for each component and calendar month."""
    all_seen, all_expected = observed.sum(axis=0), expected.sum(axis=0)
    common = towards(all_seen, all_expected, gamma_shape(all_seen, all_expected))
    expected = expected * common
    return common * towards(observed, expected, gamma_shape(observed, expected))


def _cells(view: View, level: Floats, mask: Floats) -> tuple[Floats, float, Floats]:
    """Return the shrunk ratio of each cell, their gamma shape, and their claims."""
    observed = np.einsum("cmb,cb->cm", view.failed, mask)
    expected = np.einsum("cmb,cb->cm", level, mask)
    shape = gamma_shape(observed, expected)
    return towards(observed, expected, shape), shape, observed


def _fleet(observed: Floats, expected: Floats) -> tuple[Floats, Floats]:
    """Return the ratio over all other components (C, B), and over all (B,).

    A change of reporting or use shows in all components; a fault in one. What one
    of them has far beyond the ratio of most is left to itself.
    """
    told = expected >= _TELLING
    ratio = np.where(told, observed / np.maximum(expected, _TELLING), np.nan)
    ratio[:, ~told.any(axis=0)] = 1.0
    common = expected * np.maximum(np.nanmedian(ratio, axis=0), 1.0)
    most = np.maximum(common + 3.0 * np.sqrt(common) + 2.0, 1.5 * common)
    counted = np.minimum(observed, most)
    seen = counted.sum(axis=0) - counted
    likely = expected.sum(axis=0) - expected
    return (
        towards(seen, likely, _FLEET_WEIGHT),
        towards(counted.sum(axis=0), expected.sum(axis=0), _FLEET_WEIGHT),
    )


def noise_between_months(observed: Floats, expected: Floats, older: Bools) -> Floats:
    """Return each component's variance from build month to build month.

    Moments of its own months, drawn towards the variance that makes the months of
    all components most likely.

    Parameters
    ----------
    observed, expected : ndarray, shape (C, B)
        Failures.
    older : ndarray of bool, shape (C, B)
        Months that count.

    Returns
    -------
    ndarray, shape (C,)
        Variance of the ratio beyond that of chance; at least 0.

    References
    ----------
    .. [1] McCullagh, Nelder (1989), Generalized Linear Models, 2nd ed.
    """
    told = older & (expected >= 1.0)
    if not told.any():
        return np.zeros(len(observed))
    common = 1.0 / gamma_shape(observed[told], expected[told])
    common = 0.0 if common < _NO_NOISE else common
    months = told.sum(axis=1)
    e = np.where(told, expected, 0.0)
    squares = np.where(told, (observed - expected) ** 2 / np.maximum(e, 1.0), 0.0)
    beyond = squares.sum(axis=1) - np.maximum(months - 1.0, 0.0)
    mean = np.divide(e.sum(axis=1), months, out=np.ones(len(e)), where=months > 0)
    weight = _NOISE_WEIGHT * mean
    return np.asarray(
        np.maximum(0.0, (beyond + weight * common) / (e.sum(axis=1) + weight))
    )
