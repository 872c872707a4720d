"""Laws of usage rates and of covers that end by distance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from claimlens.stats.usage import UsageRates, fit_usage

READINGS = st.tuples(
    st.integers(0, 10**6), st.integers(30, 120), st.floats(0.2, 1.0), st.floats(1, 50)
)


def drawn(
    seed: int, n: int, spread: float, median: float, limit: float = np.inf
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    ages = rng.uniform(30, 700, 40 * n)
    rates = median * np.exp(spread * rng.standard_normal(40 * n))
    seen = np.flatnonzero(rates * ages <= limit)[:n]
    return rates[seen] * ages[seen], ages[seen], np.full(len(seen), limit)


@settings(max_examples=30, deadline=None)
@given(READINGS, st.floats(0.1, 10))
def test_scaling_distances_or_ages_scales_the_median_alone(
    case: tuple[int, int, float, float], factor: float
) -> None:
    seed, n, spread, median = case
    distance, age, limit = drawn(seed, n, spread, median, limit=400 * median)
    one = fit_usage(distance, age, limit)
    far = fit_usage(distance * factor, age, limit * factor)
    slow = fit_usage(distance, age * factor, limit)
    if one.rates is None:
        assert far.rates is None
        return
    assert far.rates is not None
    assert slow.rates is not None
    assert far.rates.median == pytest.approx(one.rates.median * factor, rel=1e-6)
    assert slow.rates.median == pytest.approx(one.rates.median / factor, rel=1e-6)
    assert far.rates.spread == pytest.approx(one.rates.spread, rel=1e-6)


@settings(max_examples=30, deadline=None)
@given(READINGS)
def test_a_limit_never_lowers_the_rates(case: tuple[int, int, float, float]) -> None:
    """What a limit hides are far riders: allowing for it moves the median up."""
    seed, n, spread, median = case
    distance, age, limit = drawn(seed, n, spread, median, limit=500 * median)
    without = fit_usage(distance, age)
    within = fit_usage(distance, age, limit)
    assert without.rates is not None
    if within.rates is not None:
        assert within.rates.median >= without.rates.median * (1 - 1e-9)


@settings(max_examples=30, deadline=None)
@given(READINGS, st.randoms(use_true_random=False))
def test_the_order_of_readings_and_doubling_them_change_no_estimate(
    case: tuple[int, int, float, float], shuffle: object
) -> None:
    seed, n, spread, median = case
    distance, age, limit = drawn(seed, n, spread, median, limit=600 * median)
    one = fit_usage(distance, age, limit)
    order = list(range(len(age)))
    shuffle.shuffle(order)  # type: ignore[attr-defined]
    twice = np.array([*order, *range(len(age))])
    both = fit_usage(distance[twice], age[twice], limit[twice])
    if one.rates is None or both.rates is None:
        return
    assert both.rates.median == pytest.approx(one.rates.median, rel=1e-6)
    assert both.rates.spread == pytest.approx(one.rates.spread, rel=1e-6)
    assert both.log_median_error == pytest.approx(
        one.log_median_error / np.sqrt(2), rel=1e-5
    )


@settings(max_examples=60, deadline=None)
@given(st.floats(0.01, 500), st.floats(0.01, 2.5), st.floats(10, 1e5))
def test_the_share_covered_falls_with_age_and_rises_with_the_limit(
    median: float, spread: float, limit: float
) -> None:
    rates = UsageRates(median=median, spread=spread)
    ages = np.array([0.0, 0.5, 30, 365, 3650, 1e7])
    share = rates.share_within(ages, limit)
    assert share[0] == 1.0
    assert ((share >= 0) & (share <= 1)).all()
    assert (np.diff(share) <= 0).all()
    assert (rates.share_within(ages, 2 * limit) >= share).all()
    passing = rates.share_passing([limit, 2 * limit], 400)
    assert (passing >= 0).all()
    assert passing[0].sum() == pytest.approx(
        1 - rates.share_within([400.0], limit)[0], abs=1e-12
    )
    assert passing[1].sum() <= passing[0].sum() + 1e-12
