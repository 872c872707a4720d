"""Weibull fits against lifelines, reliability and statsmodels, run side by side.

Relative 1e-5: their optimisers stop earlier than ours.
"""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest
from scipy import stats

from claimlens.stats import weibull

with warnings.catch_warnings():
    # the reference libraries lag behind numpy and pandas; their warnings are
    # not ours to fix
    warnings.simplefilter("ignore")
    import lifelines
    from reliability.Fitters import Fit_Weibull_2P
    from statsmodels.base.model import GenericLikelihoodModel

pytestmark = [
    pytest.mark.filterwarnings("ignore:::lifelines"),
    pytest.mark.filterwarnings("ignore:::statsmodels"),
]


def _lives(seed: int, size: int = 90) -> tuple[Any, Any, Any]:
    """Draw ages, whether the unit failed, and ages of entry."""
    rng = np.random.default_rng([20240610, seed])
    while True:
        life = 400 * rng.weibull(rng.uniform(0.6, 3.0), size)
        end = rng.uniform(30, 700, size)
        entry = np.where(
            rng.uniform(size=size) < 0.4, rng.uniform(0, 0.7, size) * end, 0
        )
        kept = np.minimum(life, end) > entry
        age, failed = np.minimum(life, end)[kept], (life <= end)[kept].astype(float)
        if failed.sum() >= 8:
            return age, failed, entry[kept]


def _same(fit: weibull.WeibullFit, shape: float, scale: float) -> None:
    assert fit.shape == pytest.approx(shape, rel=1e-5)
    assert fit.scale == pytest.approx(scale, rel=1e-5)


@pytest.mark.parametrize("seed", range(10))
def test_right_censored_lives_equal_lifelines(seed: int) -> None:
    age, failed, _ = _lives(seed)
    theirs = lifelines.WeibullFitter().fit(age, failed)
    fit = weibull.fit(age, failed, 1 - failed)
    _same(fit, theirs.rho_, theirs.lambda_)
    assert fit.log_likelihood == pytest.approx(theirs.log_likelihood_, rel=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_late_entries_equal_lifelines(seed: int) -> None:
    age, failed, entry = _lives(seed)
    theirs = lifelines.WeibullFitter().fit(
        age, failed, entry=entry, fit_options={"gtol": 1e-12, "ftol": 1e-15}
    )
    fit = weibull.fit(age, failed, 1 - failed, entry=entry)
    _same(fit, theirs.rho_, theirs.lambda_)


@pytest.mark.parametrize("seed", range(10))
def test_weighted_lives_equal_lifelines(seed: int) -> None:
    age, failed, _ = _lives(seed)
    weights = np.random.default_rng(seed).integers(1, 6, age.size)
    theirs = lifelines.WeibullFitter().fit(age, failed, weights=weights)
    fit = weibull.fit(age, failed * weights, (1 - failed) * weights)
    _same(fit, theirs.rho_, theirs.lambda_)


@pytest.mark.parametrize("seed", range(10))
def test_grouped_lives_equal_lifelines(seed: int) -> None:
    age, failed, _ = _lives(seed, 300)
    upper = np.ceil(age / 30) * 30
    theirs = lifelines.WeibullFitter().fit_interval_censoring(
        np.where(failed == 1, upper - 30 + 1e-12, upper),
        np.where(failed == 1, upper, np.inf),
    )
    fit = weibull.fit(upper, failed, 1 - failed, lower=upper - 30)
    _same(fit, theirs.rho_, theirs.lambda_)


@pytest.mark.parametrize("seed", range(10))
def test_right_censored_lives_equal_the_reliability_library(seed: int) -> None:
    age, failed, _ = _lives(seed)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = Fit_Weibull_2P(
            failures=age[failed == 1].tolist(),
            right_censored=age[failed == 0].tolist(),
            show_probability_plot=False,
            print_results=False,
        )
    _same(weibull.fit(age, failed, 1 - failed), theirs.beta, theirs.alpha)


class _Lives(GenericLikelihoodModel):  # type: ignore[misc]  # no types there
    """scipy's density and survival function, maximised by statsmodels."""

    def nloglikeobs(self, params: Any) -> Any:
        shape, scale = np.exp(params)
        life = stats.weibull_min(shape, scale=scale)
        age, failed, entry = self.endog, self.exog[:, 0], self.exog[:, 1]
        seen = np.where(failed == 1, life.logpdf(age), life.logsf(age))
        return -(seen - life.logsf(entry))


@pytest.mark.parametrize("seed", range(6))
def test_late_entries_equal_a_likelihood_maximised_by_statsmodels(seed: int) -> None:
    age, failed, entry = _lives(seed)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = _Lives(age, np.column_stack([failed, entry]))
        theirs = model.fit(
            start_params=[0.0, 6.0], method="nm", maxiter=5000, xtol=1e-10, disp=False
        )
    fit = weibull.fit(age, failed, 1 - failed, entry=entry)
    _same(fit, *np.exp(theirs.params))
