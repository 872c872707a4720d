"""Kaplan-Meier, Weibull and repairs against lifelines, scipy and reliability."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest
from reference_rows import assert_row, dataset, rows
from scipy import optimize, stats

from claimlens.stats import recurrence, survival, weibull

with warnings.catch_warnings():
    # the reference libraries lag behind numpy and pandas; their warnings are
    # not ours to fix
    warnings.simplefilter("ignore")
    import lifelines
    from lifelines import datasets
    from reliability.Fitters import Fit_Weibull_2P
    from reliability.Repairable_systems import MCF_nonparametric

pytestmark = pytest.mark.filterwarnings("ignore:::lifelines")


def _censored(rng: np.random.Generator) -> tuple[Any, Any]:
    """Draw ages and whether the unit failed, at least three failures."""
    while True:
        size = int(rng.integers(20, 200))
        life = 400 * rng.weibull(rng.uniform(0.6, 3.0), size)
        end = rng.uniform(30, 700, size)
        age, failed = np.minimum(life, end), life <= end
        if failed.sum() >= 3:
            return age, failed.astype(float)


@pytest.mark.parametrize("seed", range(20))
def test_fit_equals_lifelines_and_scipy_on_censored_lives(seed: int) -> None:
    age, failed = _censored(np.random.default_rng([20240607, seed]))
    fit = weibull.fit(age, failed, 1 - failed)
    theirs = lifelines.WeibullFitter().fit(age, failed)
    assert fit.shape == pytest.approx(theirs.rho_, rel=1e-4)
    assert fit.scale == pytest.approx(theirs.lambda_, rel=1e-4)
    assert fit.log_likelihood == pytest.approx(theirs.log_likelihood_, rel=1e-7)
    data = stats.CensoredData.right_censored(age, failed == 0)

    def tight(function: Any, start: Any, args: Any = (), disp: int = 0) -> Any:
        options = {"xatol": 1e-10, "fatol": 1e-12, "maxiter": 10_000}
        return optimize.minimize(
            function, start, args=args, method="Nelder-Mead", options=options
        ).x

    shape, _, scale = stats.weibull_min.fit(data, floc=0, optimizer=tight)
    assert fit.shape == pytest.approx(shape, rel=1e-5)
    assert fit.scale == pytest.approx(scale, rel=1e-5)


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", range(25))
def test_survival_equals_lifelines_with_and_without_entry(
    seed: int, late: bool
) -> None:
    rng = np.random.default_rng([20240608, seed])
    size = 60
    # rounding makes ties among failures, ends and entries
    age = np.ceil(rng.uniform(1, 40, size))
    entry = np.floor(rng.uniform(0, 0.8, size) * age) if late else np.zeros(size)
    entry[:10] = 0.0
    failed = (rng.uniform(size=size) < 0.5).astype(float)
    curve = survival.kaplan_meier(
        age, failed, 1 - failed, entry=entry if late else None
    )
    theirs = lifelines.KaplanMeierFitter().fit(age, failed, entry=entry)
    expected = theirs.survival_function_at_times(curve.ages).to_numpy()
    np.testing.assert_allclose(curve.survival, expected, atol=1e-10)


def test_survival_of_the_cohort_study_agrees_with_r_and_lifelines() -> None:
    """Open data packaged in lifelines: 78 rows with late entry."""
    data = datasets.load_multicenter_aids_cohort_study()
    row = rows("survival")["K08"]
    failed = data["D"].to_numpy(dtype=float)
    curve = survival.kaplan_meier(data["T"], failed, 1 - failed, entry=data["W"])
    at = np.searchsorted(curve.ages, row["inputs"]["times"], side="right") - 1
    assert_row(row, curve.survival[at], row["expected"])


def test_left_truncated_fit_of_the_cohort_study_agrees_with_r() -> None:
    data = datasets.load_multicenter_aids_cohort_study()
    row = rows("weibull")["W16"]
    failed = data["D"].to_numpy(dtype=float)
    fit = weibull.fit(data["T"], failed, 1 - failed, entry=data["W"])
    expected = row["expected"]
    assert_row(row, fit.shape, expected["shape"])
    assert_row(row, fit.scale, expected["scale"])
    assert_row(row, fit.log_likelihood, expected["log_likelihood"])
    assert_row(row, fit.shape_interval, expected["shape_interval"])


def test_survival_of_the_fly_data_agrees_with_exact_fractions() -> None:
    """Open data packaged in lifelines: 163 rows, 156 events."""
    data = datasets.load_waltons()
    row = rows("survival")["K09"]
    failed = data["E"].to_numpy(dtype=float)
    curve = survival.kaplan_meier(data["T"], failed, 1 - failed)
    at = np.searchsorted(curve.ages, row["inputs"]["times"])
    assert_row(row, curve.survival[at], row["expected"]["survival"])
    median = curve.ages[curve.survival <= 0.5][0]
    assert_row(row, median, row["expected"]["median"])


def test_grouped_fit_equals_lifelines_on_intervals() -> None:
    """Meeker and Escobar 1998, heat-exchanger tubes."""
    data = dataset("heat_exchanger")
    fit = weibull.fit(
        data["interval_upper"],
        data["failures"],
        data["censored"],
        lower=data["interval_lower"],
    )
    low = data["interval_lower"] + data["censored_age"]
    high = data["interval_upper"] + [np.inf] * len(data["censored"])
    theirs = lifelines.WeibullFitter().fit_interval_censoring(
        np.array(low, dtype=float) + 1e-12,
        np.array(high, dtype=float),
        weights=np.array(data["failures"] + data["censored"]),
    )
    assert fit.shape == pytest.approx(theirs.rho_, rel=1e-4)
    assert fit.scale == pytest.approx(theirs.lambda_, rel=1e-4)


def test_fit_and_mean_cumulative_equal_the_reliability_library() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        data = dataset("nist_8413")
        theirs = Fit_Weibull_2P(
            failures=data["failures"],
            right_censored=[500] * 10,
            show_probability_plot=False,
            print_results=False,
        )
        systems = dataset("mcf_small")["systems"]
        steps = MCF_nonparametric(data=systems, print_results=False, show_plot=False)
    fit = weibull.fit(data["failures"] + [500], [1] * 10 + [0], [0] * 10 + [10])
    assert fit.shape == pytest.approx(theirs.beta, rel=1e-5)
    assert fit.scale == pytest.approx(theirs.alpha, rel=1e-5)
    curve = recurrence.mean_cumulative(
        [age for system in systems for age in system[:-1]],
        [i for i, system in enumerate(systems) for _ in system[:-1]],
        [system[-1] for system in systems],
    )
    assert curve.mean[-1] == pytest.approx(float(steps.MCF[-1]), abs=1e-8)


def test_limits_equal_a_direct_search_of_the_profile() -> None:
    """The same limits by scipy's optimisers on a likelihood written apart.

    Meeker and Escobar 1998, ch. 8: 2 (l_max - l_profile) = chi-square.
    """
    rng = np.random.default_rng(20240609)
    age, failed = _censored(rng)
    fit = weibull.fit(age, failed, 1 - failed, confidence=0.9)
    drop = stats.chi2.ppf(0.9, 1) / 2

    def log_likelihood(shape: float, life: float) -> float:
        """Of shape and B10 life."""
        scale = life / (-np.log(0.9)) ** (1 / shape)
        unit = stats.weibull_min(shape, scale=scale)
        return float(
            unit.logpdf(age)[failed == 1].sum() + unit.logsf(age)[failed == 0].sum()
        )

    def profile(life: float) -> float:
        best = optimize.minimize_scalar(
            lambda s: -log_likelihood(np.exp(s), life), bounds=(-3, 3), method="bounded"
        )
        return float(-best.fun)

    lower, upper = fit.quantile_interval(0.1)
    for end in (lower, upper):
        assert fit.log_likelihood - profile(end) == pytest.approx(drop, abs=1e-5)
