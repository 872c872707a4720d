"""Failures of one component by month of production, and how many were to be expected.

A month of production is set against the others at equal ages: of the failures of an
age, each month should have its share of the units that passed that age.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import counts_of, refuse
from claimlens.stats.paired_counts import rates_of
from claimlens.stats.shrinkage import spread_of

__all__ = ["ProductionCounts", "counts_by_age", "counts_by_expectation"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

# model factors and pooled hazard settle in a few rounds
_ROUNDS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductionCounts:
    """Failures and exposure of B months of production in K classes of equal hazard.

    Parameters
    ----------
    failures : ndarray, shape (K, B)
        Failures of each class (an age, in months in service) and month.
    exposure : ndarray, shape (K, B)
        Unit-months of the class, each weighted by the factor of its model; above 0
        where there are failures. A month without any was not produced in.
    """

    failures: Floats
    exposure: Floats

    @property
    def produced(self) -> Mask:
        """Return which months hold units, shape (B,)."""
        return np.asarray(self.exposure.any(axis=0))

    @property
    def observed(self) -> Floats:
        """Return the failures of each month, shape (B,)."""
        return np.asarray(self.failures.sum(axis=0))

    @property
    def at_stake(self) -> Floats:
        """Return the failures of each class over all months, shape (K,)."""
        return np.asarray(self.failures.sum(axis=1))

    @property
    def share(self) -> Floats:
        """Return the part of each class's exposure that a month has, shape (K, B)."""
        total = self.exposure.sum(axis=1, keepdims=True)
        share = np.zeros(self.exposure.shape)
        np.divide(self.exposure, total, out=share, where=total > 0)
        return share

    @property
    def expected(self) -> Floats:
        """Return the failures expected of each month at the pooled hazard, (B,).

        The hazard is pooled over all months, the month itself included: the sum is
        that of the failures.
        """
        return np.asarray(self.at_stake @ self.share)

    @property
    def variance(self) -> Floats:
        """Return the variance of observed - expected if all months are alike, (B,)."""
        share = self.share
        return np.asarray(self.at_stake @ (share * (1.0 - share)))

    def only(self, months: Mask) -> ProductionCounts:
        """Return the chosen months alone."""
        return ProductionCounts(
            failures=self.failures[:, months], exposure=self.exposure[:, months]
        )


def counts_by_expectation(observed: ArrayLike, expected: ArrayLike) -> ProductionCounts:
    """Take failures by month with an expectation that was made elsewhere.

    Parameters
    ----------
    observed : array_like, shape (B,)
        Failures of units built in each month (week, or lot), in order of production.
    expected : array_like, shape (B,)
        Failures expected, or units, up to a common factor; 0 where nothing was
        built.

    Returns
    -------
    ProductionCounts
        One class.

    Raises
    ------
    InputError
        If shapes disagree, a value is negative or not finite, or there are failures
        where none can be.
    """
    o, e = rates_of("observed", observed, "expected", expected)
    if o.ndim != 1:
        raise refuse("observed must be one row, one value a month", f"shape {o.shape}")
    return ProductionCounts(failures=o[None], exposure=e[None])


def counts_by_age(
    failures: ArrayLike, unit_months: ArrayLike
) -> tuple[ProductionCounts, Floats]:
    """Set months of production against each other at equal ages, model by model.

    Parameters
    ----------
    failures : array_like, shape (B, A) or (M, B, A)
        First failures of the component among units built in month b, at age a in
        months in service; by model where the mix of models changes in time.
    unit_months : array_like, same shape
        Unit-months under observation at that age, weighted by the chance that a
        failure would have been reported by now; above 0 where there are failures.

    Returns
    -------
    counts : ProductionCounts
        One class an age. The hazard of a model is ``factor * h(age)``, h pooled over
        models and months, so that a month that built more of a model that fails more
        often expects more.
    factor : ndarray, shape (M,)
        ``(alpha + observed) / (alpha + expected)`` of each model: drawn towards 1 for
        small models by as much as chance explains; 1 for a single one.

    Raises
    ------
    InputError
        If shapes disagree, a value is negative or not finite, or there are failures
        without unit-months.

    References
    ----------
    .. [1] Clayton, Kaldor (1987), Biometrics 43, 671-681 (the factors).
    """
    d, n = rates_of("failures", failures, "unit_months", unit_months)
    if d.ndim == 2:
        d, n = d[None], n[None]
    if d.ndim != 3 or 0 in d.shape:
        raise refuse(
            "failures must have shape (months, ages) or (models, months, ages)",
            f"shape {d.shape}",
        )
    factor = _model_factors(d.sum(axis=1), n.sum(axis=1))
    exposure = np.einsum("m,mba->ab", factor, n)
    return ProductionCounts(failures=d.sum(axis=0).T, exposure=exposure), factor


def _model_factors(failed: Floats, exposed: Floats) -> Floats:
    """Return each model's hazard over the pooled one, from tables (M, A)."""
    models = failed.shape[0]
    factor = np.ones(models)
    if models == 1:
        return factor
    observed, total = failed.sum(axis=1), failed.sum(axis=0)
    for _ in range(_ROUNDS):
        weighted = factor @ exposed
        hazard = np.divide(
            total, weighted, out=np.zeros(total.shape), where=weighted > 0
        )
        expected = exposed @ hazard
        some = expected > 0
        alpha = spread_of(observed[some], expected[some])
        factor = (alpha + observed) / (alpha + expected)
    return counts_of("factor", factor)
