"""Months against the year before, and the true count of a class."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.spatial.distance import jensenshannon

from claimlens.errors import InputError
from claimlens.stats.drift import class_divergence, share_chart, unseen_chart
from claimlens.stats.intervals import wilson
from claimlens.stats.misclassified import audited_counts, bounded_counts


def test_a_jump_of_the_share_is_an_alarm_and_the_months_before_are_not() -> None:
    totals = np.full(16, 400)
    counts = np.array([40, 36, 44, 41, 39, 42, 38, 40, 37, 43, 40, 41, 42, 39, 40, 90])
    chart = share_chart(counts, totals)
    assert chart.alarm.tolist() == [False] * 15 + [True]
    assert np.isnan(chart.upper[:12]).all()
    assert chart.centre[-1] == pytest.approx(counts[3:15].sum() / 4800)
    p = (counts[3:15].sum() + 0.5) / 4801
    assert chart.upper[-1] - chart.centre[-1] == pytest.approx(
        3 * np.sqrt(p * (1 - p) * (1 / 400 + 1 / 4800)) + 0.5 / 400
    )


def test_months_that_vary_among_each_other_widen_the_limits() -> None:
    totals = np.full(13, 400)
    steady = share_chart([40] * 12 + [55], totals)
    shaky = share_chart([20, 60] * 6 + [55], totals)
    assert steady.dispersion[-1] == 1.0
    assert shaky.dispersion[-1] == pytest.approx(
        12 * 20**2 / 400 / (0.1 * 0.9) / 11, rel=0.01
    )
    assert shaky.upper[-1] > steady.upper[-1]


def test_the_first_case_after_a_clean_year_is_no_alarm() -> None:
    chart = share_chart([0] * 12 + [1], [60] * 13)
    assert not chart.alarm.any()
    assert share_chart([0] * 12 + [12], [60] * 13).alarm[-1]


def test_empty_months_have_no_share_and_do_not_stop_the_chart() -> None:
    totals = np.r_[[100, 0] * 6, 0, 100]
    chart = share_chart(totals // 10, totals)
    assert np.isnan(chart.share[1])
    assert np.isnan(chart.upper[12])
    assert chart.centre[13] == pytest.approx(0.1)


def test_new_words_above_twice_their_mean_are_an_alarm() -> None:
    words = np.r_[np.zeros(12), np.full(6, 1_000)]
    unseen = np.r_[np.zeros(12), 10, 12, 8, 11, 20, 25]
    chart = unseen_chart(unseen, words)
    assert np.isnan(chart.upper[:15]).all()
    assert chart.centre[15] == pytest.approx(0.01)
    assert chart.alarm.tolist() == [False] * 17 + [True]
    assert chart.upper[17] == pytest.approx(2 * (10 + 12 + 8 + 11 + 20) / 5_000)


def test_divergence_is_that_of_scipy_to_base_two() -> None:
    now, before = np.array([30, 10, 0, 5]), np.array([200, 150, 20, 30])
    found = class_divergence(now, before)
    theirs = jensenshannon(now, before, base=2) ** 2
    assert found.value == pytest.approx(theirs, abs=1e-12)
    assert class_divergence([3, 0], [0, 9]).value == pytest.approx(1.0)
    assert class_divergence(before, before).value == pytest.approx(0.0, abs=1e-15)
    assert np.isnan(class_divergence([0, 0], before[:2]).value)


def test_what_chance_lets_through_is_passed_once_in_a_hundred_times() -> None:
    rng = np.random.default_rng(20240607)
    shares = np.array([0.3, 0.25, 0.2, 0.15, 0.1])
    passed = []
    for _ in range(4_000):
        found = class_divergence(
            rng.multinomial(200, shares), rng.multinomial(2_000, shares)
        )
        passed.append(found.value > found.by_chance)
    assert 0.005 < np.mean(passed) < 0.017


def test_a_count_audited_on_both_sides_squares_and_adds_the_distances() -> None:
    found = audited_counts(
        1_000, 8_000, share_in=0.9, audited_in=30, share_out=0.01, audited_out=270
    )
    low_in, high_in = wilson(27, 30)
    low_out, high_out = wilson(2.7, 270)
    assert found.value == pytest.approx(980)
    assert found.lower == pytest.approx(
        980 - np.hypot(1_000 * (0.9 - low_in), 8_000 * (0.01 - low_out))
    )
    assert found.upper == pytest.approx(
        980 + np.hypot(1_000 * (high_in - 0.9), 8_000 * (high_out - 0.01))
    )


def test_a_side_that_was_not_audited_may_hold_anything() -> None:
    found = audited_counts(
        [50, 50],
        1_000,
        share_in=[np.nan, 1.0],
        audited_in=[0, 20],
        share_out=0.0,
        audited_out=200,
    )
    _, high = wilson(0, 200)
    assert np.isnan(found.value[0])
    assert found.lower[0] == 0.0
    assert found.upper[0] == pytest.approx(50 + 1_000 * high)
    low, _ = wilson(20, 20)
    assert found.lower[1] == pytest.approx(50 * low)


def test_bounds_of_a_small_audit_are_precision_over_recall() -> None:
    found = bounded_counts(
        [100, 100, 100, 0],
        40,
        precision_lower=[0.8, 0.8, np.nan, 0.5],
        precision_upper=[0.95, 0.95, np.nan, 0.9],
        recall_lower=[0.7, np.nan, 0.7, 0.0],
    )
    assert found.lower[:2].tolist() == pytest.approx([80, 80])
    assert found.upper[:2].tolist() == pytest.approx([95 / 0.7, 140])
    assert np.isnan([found.lower[2], found.upper[2]]).all()
    assert found.upper[3] == 40


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: share_chart([3], [2]),
        lambda: share_chart([1], [2], window=1),
        lambda: unseen_chart([3], [2]),
        lambda: class_divergence([1, 2], [1]),
        lambda: audited_counts(
            1, 1, share_in=1.5, audited_in=3, share_out=0, audited_out=1
        ),
    ],
)
def test_counts_of_no_meaning_are_refused(wrong: Callable[[], object]) -> None:
    with pytest.raises(InputError):
        wrong()
