"""Comparing segments at equal ages: edges, and what is refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import optimize, stats

from claimlens.errors import InputError
from claimlens.stats.comparison import adjusted_for_many, compare_segments, log_rank
from claimlens.stats.conditional_ratio import ratio_limits


def test_two_of_thirty_do_not_outrank_sixty_of_two_thousand() -> None:
    found = compare_segments([[2], [60], [500]], [[28], [1940], [29_500]], seed=1)
    assert found.ratio[0] > found.ratio[1]
    assert found.shrunk[0] < found.shrunk[1]
    assert found.lower[0] < 1 < found.lower[1]
    assert found.rank_upper[0] > found.rank_upper[1]


def test_unequal_ages_alone_make_no_difference() -> None:
    """One hazard by age; one segment is young, the other old."""
    hazard = np.array([0.02, 0.01, 0.004, 0.002])
    exposed = np.array([[9000.0, 8000, 100, 50], [1000.0, 900, 850, 8000]])
    failed = hazard * exposed / (1 - hazard)
    found = compare_segments(failed, exposed, seed=1)
    np.testing.assert_allclose(found.ratio, 1.0, rtol=1e-9)
    np.testing.assert_allclose(found.p_value, 1.0, atol=0.05)
    pooled = failed.sum(axis=1) / exposed[:, 0]
    assert pooled[1] > 1.4 * pooled[0]


def test_ratio_is_not_drawn_to_one_by_the_segments_own_part_of_the_fleet() -> None:
    exposed = np.full((2, 5), 1e6)
    failed = np.array([[40.0] * 5, [20.0] * 5])
    found = compare_segments(failed, exposed, seed=1)
    np.testing.assert_allclose(found.ratio, [2, 0.5], rtol=1e-4)
    np.testing.assert_allclose(found.comparable / found.expected, found.ratio)


def test_limits_exclude_one_where_the_p_value_says_so() -> None:
    rng = np.random.default_rng(20240607)
    exposed = rng.uniform(100, 5000, (60, 12))
    failed = rng.poisson(exposed * 0.002).astype(float)
    found = compare_segments(failed, exposed, seed=1)
    outside = (found.lower > 1) | (found.upper < 1)
    assert (outside == (found.p_value < 0.05)).all()
    assert 0 < outside.sum() < 12


def test_limits_agree_with_the_whole_distribution_of_the_sum() -> None:
    """Twelve failures at ages with unlike odds: every outcome is enumerated."""
    odds = np.array([0.05, 0.3, 0.3, 1.0, 2.0, 4.0, 0.8, 0.1, 0.6, 7.0])
    failures = np.array([1.0, 2, 1, 1, 1, 2, 1, 1, 1, 1])
    x = 5.0

    def at_most(ratio: float) -> float:
        chance = np.array([1.0])
        for n, one in zip(failures, odds, strict=True):
            share = ratio * one / (1 + ratio * one)
            chance = np.convolve(chance, stats.binom.pmf(np.arange(n + 1), n, share))
        return float(chance[:5].sum() + 0.5 * chance[5])

    lower = optimize.brentq(lambda r: at_most(r) - 0.975, 1e-4, 1e4, rtol=1e-13)
    upper = optimize.brentq(lambda r: at_most(r) - 0.025, 1e-4, 1e4, rtol=1e-13)
    found = ratio_limits(
        failures[None], odds[None], np.array([x]), np.array([12 - x]), 0.025
    )
    assert [found.lower[0], found.upper[0]] == pytest.approx([lower, upper], rel=1e-9)
    one = at_most(1.0)
    assert found.p_value[0] == pytest.approx(2 * min(one, 1 - one), rel=1e-9)


def test_third_order_limits_go_on_where_the_exact_ones_end() -> None:
    odds = np.array([[0.2, 0.5, 1.0, 0.1]])
    failures = np.array([[40.0, 30, 20, 60]])
    both = []
    for x in (20.0, 20.0 + 1e-6):
        found = ratio_limits(
            failures, odds, np.array([x]), np.array([150.0 - x]), 0.025
        )
        both.append([found.ratio[0], found.lower[0], found.upper[0], found.p_value[0]])
    np.testing.assert_allclose(both[0][:3], both[1][:3], rtol=5e-3)
    assert both[0][3] == pytest.approx(both[1][3], abs=5e-3)


def test_part_of_a_failure_lies_between_its_neighbours() -> None:
    limits = [
        ratio_limits(
            np.array([[12.0, 8.0]]),
            np.array([[0.5, 0.7]]),
            np.array([x]),
            np.array([20.0 - x]),
            0.025,
        )
        for x in (3.0, 3.4, 4.0)
    ]
    for key in ("lower", "ratio", "upper"):
        values = [float(getattr(one, key)[0]) for one in limits]
        assert values == sorted(values)


def test_no_failure_gives_an_upper_limit_and_no_failure_of_others_a_lower_one() -> None:
    found = compare_segments([[0, 0], [9, 5]], [[500, 400], [900, 850]], seed=1)
    assert found.ratio[0] == 0
    assert found.lower[0] == 0
    assert 0 < found.upper[0] < 1
    assert np.isposinf(found.ratio[1])
    assert np.isposinf(found.upper[1])
    assert found.lower[1] > 1
    assert np.isfinite(found.shrunk).all()
    assert found.expected[0] > 0
    assert found.expected[1] == 0


def test_what_cannot_be_compared_is_not_a_number_and_never_an_error() -> None:
    alone = compare_segments([[3, 1]], [[10, 5]], seed=1)
    assert np.isnan(alone.ratio).all()
    assert np.isnan(alone.p_value).all()
    assert alone.rank_lower.tolist() == [0]
    apart = compare_segments([[3, 0], [0, 2]], [[10, 0], [0, 7]], seed=1)
    assert np.isnan(apart.ratio).all()
    assert apart.comparable.tolist() == [0, 0]
    nothing = compare_segments([[0, 0], [0, 0]], [[10, 9], [8, 7]], seed=1)
    assert np.isnan(nothing.shrunk).all()
    empty = compare_segments(np.zeros((0, 4)), np.zeros((0, 4)), seed=1)
    assert empty.ratio.size == 0
    no_ages = compare_segments(np.zeros((3, 0)), np.zeros((3, 0)), seed=1)
    assert np.isnan(no_ages.ratio).all()


def test_log_rank_without_a_common_age_has_no_statistic() -> None:
    for failed, exposed in (
        ([[3, 1]], [[10, 5]]),
        ([[3, 0], [0, 2]], [[10, 0], [0, 7]]),
        ([[0], [0]], [[10], [10]]),
    ):
        test = log_rank(failed, exposed)
        assert test.degrees == 0
        assert np.isnan(test.chi_square)
        assert np.isnan(test.p_value)


def test_segments_in_two_groups_that_never_met_have_a_degree_less() -> None:
    failed = np.array([[3, 0], [4, 0], [0, 2], [0, 5]])
    exposed = np.array([[90, 0], [70, 0], [0, 80], [0, 60]])
    assert log_rank(failed, exposed).degrees == 2


def test_ranks_are_not_surer_than_the_ratio_of_two_segments() -> None:
    """With two segments the ratio alone decides which is first."""
    failed, exposed = np.array([[50.0], [36.0]]), np.array([[1e6], [1e6]])
    found = compare_segments(failed, exposed, seed=1, draws=20_000)
    assert found.lower[0] < 1 < found.upper[0]
    assert (found.rank_lower[0], found.rank_upper[0]) == (1, 2)


def test_same_seed_gives_the_same_ranks_and_another_almost_the_same() -> None:
    rng = np.random.default_rng(20240607)
    exposed = rng.uniform(100, 5000, (20, 5))
    failed = rng.poisson(exposed * 0.004).astype(float)
    one, same, other = (compare_segments(failed, exposed, seed=k) for k in (1, 1, 2))
    np.testing.assert_array_equal(one.rank_upper, same.rank_upper)
    assert np.abs(one.rank_upper - other.rank_upper).max() <= 1
    np.testing.assert_array_equal(one.shrunk_upper, other.shrunk_upper)


def test_adjusted_p_values_leave_out_what_is_missing() -> None:
    found = adjusted_for_many([0.01, np.nan, 0.04])
    assert np.isnan(found[1])
    assert found[[0, 2]].tolist() == [0.02, 0.04]
    assert adjusted_for_many([]).size == 0


@pytest.mark.parametrize(
    ("call", "rule"),
    [
        (lambda: log_rank([[1, 2]], [[3]]), "one shape"),
        (lambda: log_rank([1, 2], [3, 4]), "one shape"),
        (lambda: log_rank([[-1.0]], [[3.0]]), "failures must not be negative"),
        (lambda: log_rank([[np.nan]], [[3.0]]), "failures must be finite"),
        (lambda: compare_segments([[1]], [[-3]], seed=1), "exposed must not be neg"),
        (lambda: compare_segments([[1]], [[3]], seed=1, confidence=95), "between 0"),
        (lambda: adjusted_for_many([0.2, 1.2]), "between 0 and 1"),
        (lambda: adjusted_for_many([[0.2]]), "one row"),
    ],
)
def test_what_cannot_be_is_refused_with_the_rule(call: Any, rule: str) -> None:
    with pytest.raises(InputError, match=rule):
        call()


def test_failures_in_parts_over_ages_of_equal_odds_are_whole_failures() -> None:
    """A unit without a date of its own spreads its failure over possible ages."""
    whole = ratio_limits(
        np.array([[9.0, 15.0]]),
        np.array([[0.4, 0.7]]),
        np.array([6.0]),
        np.array([18.0]),
        0.025,
    )
    parts = np.concatenate([np.full(30, 0.1), [6.0], np.full(8, 0.25), [13.0]])
    odds = np.concatenate([np.full(31, 0.4), np.full(9, 0.7)])
    split = ratio_limits(
        parts[None], odds[None], np.array([6.0]), np.array([18.0]), 0.025
    )
    for key in ("ratio", "lower", "upper", "p_value", "information"):
        np.testing.assert_allclose(getattr(split, key), getattr(whole, key), rtol=1e-9)


@pytest.mark.parametrize(("x", "y"), [(0.3, 0.1), (0.0, 0.2), (4.6, 9.8), (19.4, 30.3)])
def test_limits_of_parts_lie_about_those_of_the_nearest_whole_counts(
    x: float, y: float
) -> None:
    ages = 40
    failures = np.full((1, ages), (x + y) / ages)
    odds = np.linspace(0.4, 0.6, ages)[None]
    found = ratio_limits(failures, odds, np.array([x]), np.array([y]), 0.025)
    assert 0 <= found.lower[0] < 1
    assert found.upper[0] > found.lower[0]
    if x > 1:
        log = np.log([found.lower[0], found.ratio[0], found.upper[0]])
        error = np.sqrt(1 / x + 1 / y)
        assert 0.8 < (log[1] - log[0]) / (1.96 * error) < 1.5
        assert 0.8 < (log[2] - log[1]) / (1.96 * error) < 1.5
