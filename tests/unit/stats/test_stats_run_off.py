"""Run-off triangles: laws that hold for every triangle, and the edges."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from claimlens.errors import InputError
from claimlens.stats.run_off import chain_ladder, totals_of

NAN = np.nan
TRIANGLE = np.array(
    [
        [100, 180, 200, 205],
        [120, 210, 240, NAN],
        [90, 170, NAN, NAN],
        [80, NAN, NAN, NAN],
    ]
)


def test_another_currency_rescales_money_and_its_error_alike() -> None:
    ours, cents = chain_ladder(TRIANGLE), chain_ladder(100 * TRIANGLE)
    assert_allclose(cents.factors, ours.factors, rtol=1e-12)
    assert_allclose(cents.final, 100 * ours.final, rtol=1e-12)
    assert_allclose(cents.standard_error, 100 * ours.standard_error, rtol=1e-12)
    assert_allclose(cents.total_standard_error, 100 * ours.total_standard_error)


def test_rows_may_come_in_any_order() -> None:
    order = [2, 0, 3, 1]
    ours, shuffled = chain_ladder(TRIANGLE), chain_ladder(TRIANGLE[order])
    assert_allclose(shuffled.final, ours.final[order], rtol=1e-12)
    assert_allclose(shuffled.standard_error, ours.standard_error[order], rtol=1e-12)
    assert_allclose(shuffled.total_standard_error, ours.total_standard_error)


def test_the_last_sigma_falls_on_as_those_before_it() -> None:
    """By hand: s2 of 10/3 and 1/60, so (1/60)**2 / (10/3) = 1/12000."""
    table = [[10, 20, 21, 22], [10, 10, 11, NAN], [10, 10, NAN, NAN], [10] + 3 * [NAN]]
    found = chain_ladder(table)
    assert_allclose(found.sigma**2, [10 / 3, 1 / 60, 1 / 12_000], rtol=1e-9)


def test_errors_of_rows_that_share_factors_add_up_to_more_than_their_squares() -> None:
    ours = chain_ladder(TRIANGLE)
    squares = np.sqrt((ours.standard_error**2).sum())
    assert squares < ours.total_standard_error < ours.standard_error.sum()


def test_a_triangle_without_scatter_has_no_error() -> None:
    start = np.array([100.0, 150.0, 80.0, 60.0])
    whole = start[:, None] * np.array([1.0, 1.5, 1.8, 1.9])
    whole[np.add.outer(np.arange(4), np.arange(4)) >= 4] = NAN
    found = chain_ladder(whole)
    assert_allclose(found.final, start * 1.9, rtol=1e-12)
    assert_allclose(found.standard_error, 0.0, atol=1e-9)


def test_simulated_totals_fall_within_two_errors_as_often_as_they_should() -> None:
    """Mack's model drawn: mean and variance of each step proportional to the total."""
    rng = np.random.default_rng(20240607)
    factors, sigma = np.array([1.8, 1.25, 1.05]), np.array([3.0, 2.0, 1.0])
    size, repeats, inside = 10, 600, 0
    misses = np.empty(repeats)
    for i in range(repeats):
        total = np.empty((size, 4))
        total[:, 0] = rng.uniform(500, 2000, size)
        for j in range(3):
            noise = sigma[j] * np.sqrt(total[:, j]) * rng.standard_normal(size)
            total[:, j + 1] = total[:, j] * factors[j] + noise
        truth = total[:, -1].sum()
        total[np.add.outer(np.arange(size), np.arange(4)) >= size] = NAN
        found = chain_ladder(total)
        misses[i] = truth - found.final.sum()
        inside += abs(misses[i]) < 1.96 * found.total_standard_error
    assert 0.90 < inside / repeats < 0.985
    assert abs(misses.mean()) < 4 * misses.std() / np.sqrt(repeats)


def test_totals_of_counts_with_a_known_lag_are_unbiased() -> None:
    """Poisson counts of 12 months, 60 a month, reported 50/80/95/100 %."""
    rng = np.random.default_rng(20240607)
    share, size, repeats = np.array([0.5, 0.3, 0.15, 0.05]), 12, 1500
    all_new = rng.poisson(60 * share, (repeats, size, 4)).astype(float)
    hidden = np.add.outer(np.arange(size), np.arange(4)) >= size
    still = (all_new * hidden).sum(axis=(1, 2))
    found = [chain_ladder(totals_of(np.where(hidden, NAN, new))) for new in all_new]
    misses = np.array([one.total_to_come for one in found]) - still
    assert abs(misses.mean()) < 4 * misses.std() / np.sqrt(repeats)
    # 60 * (50 + 20 + 5) %
    assert abs(still.mean() - 45) < 1
    # a step's variance is that of its new claims, much as Mack has it
    errors = np.array([one.total_standard_error for one in found])
    assert 0.9 < errors.mean() / misses.std() < 1.1


def test_what_came_new_adds_up_to_the_triangle() -> None:
    new = np.diff(TRIANGLE, axis=1, prepend=0.0)
    assert_array_equal(totals_of(new), TRIANGLE)
    assert totals_of([[100, -40, NAN]]).tolist()[0][:2] == [100.0, 60.0]


def test_one_row_has_an_end_and_nothing_to_come() -> None:
    found = chain_ladder([[10.0, 12.0]])
    assert found.to_come.tolist() == [0.0]
    assert found.standard_error.tolist() == [0.0]


def test_a_step_that_one_row_alone_tells_has_no_error_to_give() -> None:
    found = chain_ladder([[10.0, 15.0], [20.0, NAN]])
    assert found.final.tolist() == [15.0, 30.0]
    assert np.isnan(found.standard_error[1])
    assert "too few rows" in found.note


def test_a_triangle_without_claims_grows_nowhere_and_says_so() -> None:
    found = chain_ladder([[0, 0, 0], [0, 0, NAN], [0, NAN, NAN]])
    assert found.factors.tolist() == [1.0, 1.0]
    assert found.final.tolist() == [0.0, 0.0, 0.0]
    assert "not growing" in found.note


def test_a_development_in_which_nothing_comes_has_factor_1() -> None:
    table = [[10, 10, 14, 14], [20, 20, 30, NAN], [10, 10, NAN, NAN]]
    found = chain_ladder(table)
    assert found.factors.tolist() == [1.0, 44 / 30, 1.0]
    assert found.final.tolist() == [14.0, 30.0, 10 * 44 / 30]
    assert found.note == ""


def test_a_first_development_without_claims_tells_nothing_of_the_newest_row() -> None:
    found = chain_ladder([[0, 10, 12], [0, 20, NAN], [0, NAN, NAN]])
    assert found.factors.tolist() == [1.0, 1.2]
    assert found.share.tolist() == [0.0, 1 / 1.2, 1.0]
    assert found.final.tolist() == [12.0, 24.0, 0.0]
    assert np.isnan(found.standard_error[2])
    assert "nothing is seen before" in found.note
    assert "not growing" not in found.note


def test_a_newest_period_without_money_is_growth_of_nothing() -> None:
    """The cut-off's own diagonal adds nothing: each factor shrinks, none fails."""
    found = chain_ladder(totals_of([[10, 5, 0], [20, 0, NAN], [0, NAN, NAN]]))
    assert found.factors.tolist() == [35 / 30, 1.0]
    assert found.final.tolist() == [15.0, 20.0, 0.0]
    assert found.to_come.tolist() == [0.0, 0.0, 0.0]
    assert found.standard_error[2] == 0.0


def test_totals_that_all_came_back_leave_nothing() -> None:
    """The cut-off's totals are all 0: money was taken back."""
    found = chain_ladder([[10, 5, 0], [20, 0, NAN], [0, NAN, NAN]])
    assert found.final.tolist() == [0.0, 0.0, 0.0]
    assert np.isnan(found.share[:2]).all()


def test_a_triangle_wider_than_long_runs_off_to_its_last_column() -> None:
    """By hand: (30 + 45) / (20 + 30), 36 / 30, 39 / 36, 39 / 39."""
    table = [[20, 30, 36, 39, 39], [30, 45, NAN, NAN, NAN], [10, NAN, NAN, NAN, NAN]]
    found = chain_ladder(table)
    assert_allclose(found.factors, [1.5, 1.2, 39 / 36, 1.0], rtol=1e-12)
    assert_allclose(found.final, [39, 58.5, 19.5], rtol=1e-12)
    assert np.isnan(found.standard_error[1:]).all()
    assert "too few rows" in found.note


def test_one_young_row_tells_of_no_development() -> None:
    found = chain_ladder([[10.0, NAN, NAN]])
    assert found.factors.tolist() == [1.0, 1.0]
    assert found.final.tolist() == [10.0]
    assert np.isnan(found.total_standard_error)
    assert "not growing" in found.note


@pytest.mark.parametrize(
    "table",
    [
        [[1, NAN, 3]],
        [[NAN, 2]],
        [[1, -2]],
        [[1, np.inf]],
        [1, 2],
        [[]],
        [["a"]],
    ],
)
def test_a_triangle_that_cannot_be_is_refused(table: list) -> None:
    with pytest.raises(InputError):
        chain_ladder(table)
    with pytest.raises(InputError):
        totals_of(table)
