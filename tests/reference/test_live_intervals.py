"""Intervals against scipy and statsmodels, run side by side."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats
from statsmodels.stats.proportion import (
    confint_proportions_2indep,
    proportion_confint,
)
from statsmodels.stats.rates import confint_poisson

from claimlens.stats import intervals

PAIRS = [(k, n) for n in range(1, 51) for k in range(n + 1)]


def test_wilson_equals_scipy_for_every_count_up_to_50() -> None:
    """scipy.stats.binomtest takes one pair at a time; ours takes them all."""
    k, n = np.array(PAIRS).T
    lower, upper = intervals.wilson(k, n)
    for i, (x, trials) in enumerate(PAIRS):
        theirs = stats.binomtest(x, trials).proportion_ci(method="wilson")
        assert lower[i] == pytest.approx(theirs.low, abs=1e-12)
        assert upper[i] == pytest.approx(theirs.high, abs=1e-12)


def test_wilson_with_continuity_equals_scipy() -> None:
    k, n = np.array(PAIRS[::7]).T
    lower, upper = intervals.wilson(k, n, 0.9, continuity=True)
    for i, (x, trials) in enumerate(PAIRS[::7]):
        theirs = stats.binomtest(x, trials).proportion_ci(0.9, method="wilsoncc")
        assert lower[i] == pytest.approx(theirs.low, abs=1e-12)
        assert upper[i] == pytest.approx(theirs.high, abs=1e-12)


def test_wilson_equals_statsmodels_for_an_effective_size_that_is_not_whole() -> None:
    lower, upper = proportion_confint(3.3, 171.25, method="wilson")
    assert intervals.wilson(3.3, 171.25) == pytest.approx((lower, upper), abs=1e-12)


def test_clopper_pearson_equals_scipy() -> None:
    k, n = np.array(PAIRS[::11]).T
    lower, upper = intervals.clopper_pearson(k, n, 0.99)
    for i, (x, trials) in enumerate(PAIRS[::11]):
        theirs = stats.binomtest(x, trials).proportion_ci(0.99, method="exact")
        assert lower[i] == pytest.approx(theirs.low, abs=1e-10)
        assert upper[i] == pytest.approx(theirs.high, abs=1e-10)


@pytest.mark.parametrize("counts", [(56, 70, 48, 80), (1, 400, 0, 30), (7, 7, 3, 1000)])
def test_newcombe_difference_equals_statsmodels(
    counts: tuple[int, int, int, int],
) -> None:
    theirs = confint_proportions_2indep(*counts, method="newcomb")
    assert intervals.newcombe_difference(*counts) == pytest.approx(theirs, abs=1e-10)


@pytest.mark.parametrize("events", [0, 1, 10, 1000])
def test_poisson_interval_equals_the_chi_square_form(events: int) -> None:
    """Garwood 1936 by scipy's chi-square quantiles."""
    lower = stats.chi2.ppf(0.025, 2 * events) / 2 if events else 0.0
    upper = stats.chi2.ppf(0.975, 2 * events + 2) / 2
    found = intervals.poisson_exact(events)
    assert found == pytest.approx((lower, upper), rel=1e-10, abs=1e-10)


def test_poisson_interval_equals_statsmodels() -> None:
    theirs = confint_poisson(137, 24.19893, method="exact-c")
    assert intervals.poisson_exact(137, 24.19893) == pytest.approx(theirs, rel=1e-10)


@pytest.mark.parametrize(
    ("x1", "t1", "x2", "t2"), [(11, 800, 3, 1000), (2, 1e6, 900, 3.5), (900, 2, 1, 7)]
)
def test_rate_ratio_equals_scipys_exact_binomial(
    x1: int, t1: float, x2: int, t2: float
) -> None:
    """Przyborowski and Wilenski 1940: given the total, a binomial share."""
    share = stats.binomtest(x1, x1 + x2).proportion_ci(method="exact")
    theirs = [p / (1 - p) * t2 / t1 for p in (share.low, share.high)]
    found = intervals.rate_ratio_exact(x1, t1, x2, t2)
    assert found == pytest.approx(theirs, rel=1e-8)


@pytest.mark.parametrize("events", [1, 4, 60, 3000])
def test_mid_p_poisson_interval_equals_statsmodels(events: int) -> None:
    theirs = confint_poisson(events, 3.5, method="midp-c", alpha=0.1)
    assert intervals.poisson_mid_p(events, 3.5, 0.9) == pytest.approx(theirs, rel=1e-7)


def test_mid_p_ratio_equals_the_inversion_of_scipys_binomial() -> None:
    """Root of the tail with half the chance of what was seen, row by row."""
    rng = np.random.default_rng(20240607)
    x1, x2 = rng.integers(1, 60, (2, 50))
    for mid_p in (False, True):
        half = 0.5 if mid_p else 0.0
        lower, upper = intervals.rate_ratio_exact(x1, 2.0, x2, 5.0, mid_p=mid_p)
        for i, (a, b) in enumerate(zip(x1, x2, strict=True)):

            def above(
                p: float, a: int = a, n: int = a + b, half: float = half
            ) -> float:
                chance = stats.binom.sf(a - 1, n, p) - half * stats.binom.pmf(a, n, p)
                return float(chance - 0.025)

            def below(
                p: float, a: int = a, n: int = a + b, half: float = half
            ) -> float:
                chance = stats.binom.cdf(a, n, p) - half * stats.binom.pmf(a, n, p)
                return float(chance - 0.025)

            low, high = (
                optimize.brentq(one, 1e-12, 1 - 1e-12, xtol=1e-15)
                for one in (above, below)
            )
            assert lower[i] == pytest.approx(low / (1 - low) * 2.5, rel=1e-9)
            assert upper[i] == pytest.approx(high / (1 - high) * 2.5, rel=1e-9)
