"""Laws that the statistics must keep for any counts."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from claimlens.stats import intervals, recurrence, survival, weibull

quick = settings(max_examples=60, deadline=None, derandomize=True)

counts = st.integers(0, 10_000)
levels = st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99])


@st.composite
def shares(draw: Any) -> tuple[int, int]:
    """Return events and trials."""
    n = draw(st.integers(1, 10_000))
    return draw(st.integers(0, n)), n


@st.composite
def tables(draw: Any, low: int = 1) -> tuple[Any, Any, Any]:
    """Return ages, failures and survivors of one segment."""
    width = draw(st.integers(2, 30))
    ages = np.cumsum(draw(st.lists(st.integers(1, 60), min_size=width, max_size=width)))
    few = st.lists(st.integers(0, 6), min_size=width, max_size=width)
    fails = np.array(draw(few), dtype=float)
    left = np.array(draw(few), dtype=float) * draw(st.integers(1, 50))
    assume((fails > 0).sum() >= low)
    return ages.astype(float), fails, left


@quick
@given(shares(), levels, st.booleans())
def test_wilson_holds_the_share(
    pair: tuple[int, int], level: float, continuity: bool
) -> None:
    x, n = pair
    lower, upper = intervals.wilson(x, n, level, continuity=continuity)
    assert 0 <= lower <= x / n + 1e-15
    assert x / n - 1e-15 <= upper <= 1


@quick
@given(shares(), levels)
def test_doubling_the_counts_narrows_wilson(
    pair: tuple[int, int], level: float
) -> None:
    x, n = pair
    lower, upper = intervals.wilson([x, 2 * x], [n, 2 * n], level)
    assert upper[1] - lower[1] < upper[0] - lower[0]


@quick
@given(shares(), levels)
def test_clopper_pearson_holds_the_share_and_mirrors(
    pair: tuple[int, int], level: float
) -> None:
    """Swapping events and non-events mirrors the interval."""
    x, n = pair
    lower, upper = intervals.clopper_pearson(x, n, level)
    mirrored = intervals.clopper_pearson(n - x, n, level)
    assert lower <= x / n <= upper
    assert abs(1 - mirrored[1] - lower) < 1e-12
    assert abs(1 - mirrored[0] - upper) < 1e-12


@quick
@given(shares(), shares(), levels)
def test_a_difference_of_shares_turns_its_sign_with_the_groups(
    one: tuple[int, int], other: tuple[int, int], level: float
) -> None:
    lower, upper = intervals.newcombe_difference(*one, *other, level)
    back = intervals.newcombe_difference(*other, *one, level)
    assert -1 <= lower <= one[0] / one[1] - other[0] / other[1] <= upper <= 1
    assert abs(lower + back[1]) < 1e-12


@quick
@given(counts, st.floats(0.01, 1e6), levels)
def test_poisson_interval_holds_the_rate_and_scales_with_exposure(
    events: int, exposure: float, level: float
) -> None:
    lower, upper = intervals.poisson_exact(events, exposure, level)
    assert lower <= events / exposure <= upper
    plain = intervals.poisson_exact(events, 1.0, level)
    assert abs(lower * exposure - plain[0]) <= 1e-9 * (1 + plain[0])


@quick
@given(counts, st.floats(0.1, 1e4), counts, st.floats(0.1, 1e4))
def test_rate_ratio_holds_the_ratio(x1: int, t1: float, x2: int, t2: float) -> None:
    lower, upper = intervals.rate_ratio_exact(x1, t1, x2, t2)
    assert 0 <= lower <= upper
    if x2:
        assert lower <= (x1 / t1) / (x2 / t2) * (1 + 1e-9)
        assert (x1 / t1) / (x2 / t2) <= upper * (1 + 1e-9)


@quick
@given(tables())
def test_the_survival_curve_never_rises(table: tuple[Any, Any, Any]) -> None:
    curve = survival.kaplan_meier(*table)
    seen = curve.at_risk > 0
    assert (np.diff(curve.survival[seen]) <= 0).all()
    assert (curve.lower[seen] <= curve.survival[seen] + 1e-12).all()
    assert (curve.survival[seen] <= curve.upper[seen] + 1e-12).all()
    entered = table[1].sum() + table[2].sum()
    assert (curve.effective_n[seen] <= entered).all()


@quick
@given(tables(), st.randoms(use_true_random=False))
def test_shuffled_rows_change_nothing(table: tuple[Any, Any, Any], random: Any) -> None:
    order = list(range(table[0].size))
    random.shuffle(order)
    shuffled = [column[order] for column in table]
    first, second = survival.kaplan_meier(*table), survival.kaplan_meier(*shuffled)
    np.testing.assert_array_equal(second.survival, first.survival)
    np.testing.assert_array_equal(second.upper, first.upper)
    one, other = weibull.fit(*table), weibull.fit(*shuffled)
    np.testing.assert_allclose(other.shape, one.shape, rtol=1e-9)
    assert other.note == one.note


@quick
@given(tables(), st.floats(0.01, 100.0))
def test_rescaled_ages_leave_every_share_alone(
    table: tuple[Any, Any, Any], factor: float
) -> None:
    ages, fails, left = table
    at = ages[[0, ages.size // 2, -1]]
    first = survival.share_failed(ages, fails, left, at)
    ages = ages * factor
    at = ages[[0, ages.size // 2, -1]]
    second = survival.share_failed(ages, fails, left, at)
    np.testing.assert_allclose(second.share, first.share, rtol=1e-12)
    np.testing.assert_allclose(second.effective_n, first.effective_n, rtol=1e-9)


@quick
@given(tables(low=3), st.sampled_from([30.4375, 0.001, 7.0]))
def test_rescaled_ages_rescale_the_scale_and_leave_the_shape(
    table: tuple[Any, Any, Any], factor: float
) -> None:
    """Acceptance test C-4: grouped log-likelihoods do not know the unit."""
    ages, fails, left = table
    lower = np.r_[0.0, ages[:-1]]
    first = weibull.fit(ages, fails, left, lower=lower)
    second = weibull.fit(ages * factor, fails, left, lower=lower * factor)
    assume(first.converged)
    np.testing.assert_allclose(second.shape, first.shape, rtol=1e-8)
    np.testing.assert_allclose(
        second.scale, np.multiply(first.scale, factor), rtol=1e-8
    )
    np.testing.assert_allclose(second.log_likelihood, first.log_likelihood, rtol=1e-8)
    np.testing.assert_allclose(
        second.shape_interval, first.shape_interval, rtol=1e-6, atol=0
    )


@quick
@given(tables(low=3))
def test_doubled_counts_keep_the_fit_and_narrow_its_interval(
    table: tuple[Any, Any, Any],
) -> None:
    ages, fails, left = table
    once = weibull.fit(ages, fails, left)
    twice = weibull.fit(ages, 2 * fails, 2 * left)
    assume(once.converged)
    np.testing.assert_allclose(twice.shape, once.shape, rtol=1e-8)
    assert twice.shape_interval[0] > once.shape_interval[0]
    assert twice.shape_interval[1] < once.shape_interval[1]


@quick
@given(tables(low=2), levels)
def test_every_interval_of_a_fit_holds_its_estimate(
    table: tuple[Any, Any, Any], level: float
) -> None:
    ages, fails, left = table
    fit = weibull.fit(ages, fails, left, lower=np.r_[0.0, ages[:-1]], confidence=level)
    assume(fit.converged)
    assert fit.shape_interval[0] < fit.shape < fit.shape_interval[1]
    assert fit.scale_interval[0] < fit.scale < fit.scale_interval[1]
    low, high = fit.quantile_interval([0.01, 0.1])
    assert (low < fit.quantile([0.01, 0.1])).all()
    assert (fit.quantile([0.01, 0.1]) < high).all()


@quick
@given(tables(low=2))
def test_split_rows_give_the_same_fit(table: tuple[Any, Any, Any]) -> None:
    """Half of each row's units on a row of their own."""
    ages, fails, left = table
    whole = weibull.fit(ages, fails, left)
    split = weibull.fit(
        np.r_[ages, ages], np.r_[fails / 2, fails / 2], np.r_[left / 2, left / 2]
    )
    np.testing.assert_allclose(split.shape, whole.shape, rtol=1e-8)
    np.testing.assert_allclose(split.scale, whole.scale, rtol=1e-8)


@quick
@given(st.lists(st.tuples(st.integers(1, 40), st.integers(0, 4)), max_size=30))
def test_the_mean_cumulative_function_never_falls(events: list[Any]) -> None:
    ages = [age for age, _ in events]
    units = [unit for _, unit in events]
    found = recurrence.mean_cumulative(ages, units, [40.0] * 9)
    assert (np.diff(found.mean) > 0).all()
    held = ~np.isnan(found.lower)
    assert (found.lower[held] <= found.mean[held]).all()
    assert (found.mean[held] <= found.upper[held]).all()
    np.testing.assert_allclose(found.mean[-1], len(events) / 9)
