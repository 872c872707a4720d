"""Accuracy, precision and recall from reviewed rows with unequal weights."""

from __future__ import annotations

import numpy as np
import pytest

from claimlens.errors import InputError
from claimlens.stats.accuracy import (
    class_scores,
    confusion,
    effective_size,
    weighted_shares,
)
from claimlens.stats.intervals import wilson
from claimlens.stats.stratified import stratified_share


def test_equal_weights_tell_as_much_as_there_are_rows() -> None:
    assert effective_size(np.full(17, 3.3)) == pytest.approx(17)
    assert effective_size([1.0, 0.0]) == 1.0
    assert effective_size([]) == 0.0
    # one row that speaks for hundred others leaves little more than itself
    assert effective_size([100.0, *[1.0] * 10]) == pytest.approx(110**2 / 10_010)


def test_a_weighted_share_has_the_wilson_limits_of_its_effective_size() -> None:
    found = weighted_shares([True, False, True], [0, 0, 0], 1, [1.0, 2.0, 3.0])
    n_eff = 36 / 14
    assert found.value[0] == pytest.approx(4 / 6)
    assert found.n_eff[0] == pytest.approx(n_eff)
    lower, upper = wilson(4 / 6 * n_eff, n_eff)
    assert (found.lower[0], found.upper[0]) == pytest.approx((lower, upper))


def test_a_group_without_rows_has_no_share_and_the_widest_limits() -> None:
    found = weighted_shares([True], [1], 3)
    assert np.isnan(found.value[0])
    assert (found.lower[0], found.upper[0]) == (0.0, 1.0)
    assert found.n.tolist() == [0, 1, 0]


def test_rows_that_were_picked_count_but_promise_nothing_of_the_others() -> None:
    hits = [True] * 50 + [False, True]
    weights = [1.0] * 50 + [25.0] * 2
    drawn = [False] * 50 + [True] * 2
    found = weighted_shares(hits, [0] * 52, 1, weights, random=drawn)
    assert found.value[0] == pytest.approx(0.75)
    assert found.n_eff[0] == pytest.approx(2.0)
    picked = weighted_shares(hits[:50], [0] * 50, 1, random=[False] * 50)
    assert picked.value[0] == 1.0
    assert (picked.lower[0], picked.upper[0]) == (0.0, 1.0)
    assert not picked.is_measured[0]


def test_twenty_equal_rows_are_a_measurement_and_nineteen_are_none() -> None:
    groups = np.r_[np.zeros(20, int), np.ones(19, int)]
    found = weighted_shares(np.ones(39), groups, 2, np.full(39, 0.1 * 3))
    assert found.is_measured.tolist() == [True, False]


def test_a_row_left_unclassified_is_a_miss_and_no_false_hit() -> None:
    scores = class_scores([0, 0, 1, 1], [0, -1, 1, 0], 2)
    assert scores.precision.value.tolist() == [0.5, 1.0]
    assert scores.recall.value.tolist() == [0.5, 0.5]
    assert scores.precision.n.tolist() == [2, 1]
    assert scores.micro_precision == pytest.approx(2 / 3)
    assert scores.micro_recall == 0.5
    assert scores.accuracy == 0.5
    assert confusion([0, 0, 1, 1], [0, -1, 1, 0], 2).tolist() == [
        [1, 0, 1],
        [1, 1, 0],
        [0, 0, 0],
    ]


def test_weights_bring_back_what_the_draw_left_out() -> None:
    """Rows drawn once in ten count ten times, as if all ten had been looked at."""
    true = np.array([0, 0, 1, 0, 1, 1])
    told = np.array([0, 1, 1, 0, 0, 1])
    drawn = np.array([1, 1, 1, 10, 10, 10])
    weighted = class_scores(true, told, 2, drawn.astype(float))
    whole = class_scores(np.repeat(true, drawn), np.repeat(told, drawn), 2)
    np.testing.assert_allclose(weighted.precision.value, whole.precision.value)
    np.testing.assert_allclose(weighted.recall.value, whole.recall.value)
    np.testing.assert_allclose(weighted.f1.value, whole.f1.value)
    assert weighted.accuracy == pytest.approx(whole.accuracy)
    assert (weighted.f1.n_eff < whole.f1.n_eff).all()


def test_limits_of_f1_are_those_of_the_overlap() -> None:
    scores = class_scores([0] * 30 + [1] * 10, [0] * 24 + [1] * 16, 2)
    lower, upper = wilson(24, 30)  # 24 of the 30 that are either
    assert scores.f1.value[0] == pytest.approx(2 * 24 / (24 + 30))
    assert scores.f1.lower[0] == pytest.approx(2 * lower / (1 + lower))
    assert scores.f1.upper[0] == pytest.approx(2 * upper / (1 + upper))


def test_without_rows_nothing_is_claimed() -> None:
    scores = class_scores(np.array([], int), np.array([], int), 2)
    assert np.isnan(scores.accuracy)
    assert np.isnan(scores.macro_f1)
    assert np.isnan(scores.micro_f1)


@pytest.mark.parametrize(
    ("true", "told", "weights"),
    [
        ([0, 2], [0, 1], None),
        ([0, 1], [0], None),
        ([0, 1], [0, 1], [1.0, 0.0]),
        ([0, 1], [0, 1], [1.0, -2.0]),
        ([0.5, 1], [0, 1], None),
    ],
)
def test_codes_and_weights_of_no_meaning_are_refused(
    true: list[int], told: list[int], weights: list[float] | None
) -> None:
    with pytest.raises(InputError):
        class_scores(true, told, 2, weights)


def test_one_large_stratum_gives_the_wilson_interval() -> None:
    found = stratified_share([36], [40], [10_000_000])
    lower, upper = wilson(36, 40)
    assert found.value == pytest.approx(0.9)
    assert found.lower == pytest.approx(lower, abs=1e-6)
    assert found.upper == pytest.approx(upper, abs=1e-6)


def test_a_stratum_looked_at_whole_adds_no_width() -> None:
    found = stratified_share([12, 36], [60, 40], [60, 8_940])
    alone = stratified_share([36], [40], [8_940])
    width = (alone.upper - alone.lower) * 8_940 / 9_000
    assert found.value == pytest.approx((12 + 8_940 * 0.9) / 9_000)
    assert found.upper - found.lower == pytest.approx(width)
    whole = stratified_share([12, 30], [60, 40], [60, 40])
    assert whole.lower == whole.value == whole.upper == pytest.approx(0.42)


def test_a_stratum_never_looked_at_leaves_the_whole_open() -> None:
    found = stratified_share([12, 0], [60, 0], [60, 8_940])
    assert np.isnan(found.value)
    assert (found.lower, found.upper) == (0.0, 1.0)
    assert stratified_share([12, 0], [60, 0], [60, 0]).value == pytest.approx(0.2)


def test_many_populations_are_estimated_at_once() -> None:
    hits, sizes = np.array([[12, 36], [30, 20]]), np.array([[60, 940], [60, 9_940]])
    both = stratified_share(hits, [60, 40], sizes)
    for i in range(2):
        one = stratified_share(hits[i], [60, 40], sizes[i])
        assert both.value[i] == one.value
        assert both.lower[i] == one.lower
        assert both.upper[i] == one.upper


@pytest.mark.parametrize(
    ("hits", "seen", "sizes", "effective"),
    [([5], [4], [10], None), ([4], [11], [10], None), ([4], [5], [10], [6])],
)
def test_a_part_larger_than_its_whole_is_refused(
    hits: list[float],
    seen: list[float],
    sizes: list[float],
    effective: list[float] | None,
) -> None:
    with pytest.raises(InputError):
        stratified_share(hits, seen, sizes, effective=effective)
