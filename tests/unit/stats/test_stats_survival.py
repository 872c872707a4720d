"""Kaplan-Meier on counts: edges, refusals and agreement of the two doors."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from claimlens.errors import InputError
from claimlens.stats import intervals, risk_sets, survival


def _table(seed: int, segments: int, width: int) -> tuple[Any, Any, Any]:
    rng = np.random.default_rng([20240607, seed])
    fails = rng.poisson(0.4, (segments, width)).astype(float)
    left = rng.poisson(2.0, (segments, width)).astype(float)
    return np.arange(width, dtype=float), fails, left


@pytest.mark.parametrize("seed", range(200))
def test_a_complete_cohort_has_its_plain_share_and_size(seed: int) -> None:
    rng = np.random.default_rng([20240607, seed])
    width = int(rng.integers(1, 30))
    ages = np.cumsum(rng.integers(1, 40, width)).astype(float)
    fails = rng.poisson(rng.uniform(0, 4), width).astype(float)
    left = np.zeros(width)
    left[-1] = rng.integers(1, 5000)
    units = fails.sum() + left[-1]
    found = survival.share_failed(ages, fails, left, [ages[-1]])
    curve = survival.kaplan_meier(ages, fails, left)
    lower, upper = intervals.wilson(fails.sum(), units)
    assert found.share[0] == pytest.approx(fails.sum() / units, abs=1e-12)
    assert found.effective_n[0] == pytest.approx(units, rel=1e-12)
    assert found.lower[0] == pytest.approx(lower, abs=1e-12)
    assert found.upper[0] == pytest.approx(upper, abs=1e-12)
    assert curve.effective_n == pytest.approx(np.full(width, units), rel=1e-12)


def test_both_doors_agree_at_every_age() -> None:
    ages, fails, left = _table(1, 4, 50)
    curve = survival.kaplan_meier(ages, fails, left)
    found = survival.share_failed(ages, fails, left, ages)
    np.testing.assert_allclose(found.share, 1 - curve.survival, atol=1e-14)
    np.testing.assert_allclose(found.effective_n, curve.effective_n, rtol=1e-12)
    np.testing.assert_allclose(found.upper, 1 - curve.lower, atol=1e-12)


def test_rows_in_any_order_give_one_curve() -> None:
    first = survival.kaplan_meier([5, 3, 5, 9], [1, 1, 0, 1], [0, 0, 2, 1])
    second = survival.kaplan_meier([3, 5, 9], [1, 1, 1], [0, 2, 1])
    assert first.ages.tolist() == [3, 5, 9]
    assert first.survival.tolist() == second.survival.tolist()
    assert first.at_risk.tolist() == [6, 5, 2]


def test_a_failure_on_day_zero_is_at_risk() -> None:
    curve = survival.kaplan_meier([0, 9], [1, 0], [0, 3], entry=[0, 0])
    assert curve.survival.tolist() == [0.75, 0.75]


def test_units_that_enter_late_are_not_at_risk_before() -> None:
    curve = survival.kaplan_meier([4, 9, 9], [1, 0, 0], [0, 2, 5], entry=[0, 0, 4])
    assert curve.at_risk.tolist() == [3, 7]
    assert curve.survival[0] == pytest.approx(2 / 3)


def test_without_failures_the_size_is_the_harmonic_mean_at_risk() -> None:
    """10 units for the first 30 days, 5 for the next 60: 90 / (30/10 + 60/5)."""
    found = survival.share_failed([30, 90], [0, 0], [5, 5], [15, 30, 90])
    assert found.effective_n == pytest.approx([10, 10, 90 / 15])
    assert found.share.tolist() == [0, 0, 0]
    assert found.lower.tolist() == [0, 0, 0]
    assert found.upper[2] == pytest.approx(intervals.wilson(0, 6)[1])


def test_where_all_at_risk_fail_the_last_size_stands() -> None:
    curve = survival.kaplan_meier([3, 5, 9], [1, 1, 1], [0, 0, 0])
    assert curve.survival[2] == 0
    assert curve.lower[2] == 0
    assert curve.effective_n.tolist() == pytest.approx([3, 3, 3])
    assert np.isnan(curve.standard_error[2])
    found = survival.share_failed([3, 5, 9], [1, 1, 1], [0, 0, 0], [9])
    assert (found.share[0], found.upper[0]) == (1, 1)


def test_an_age_that_nobody_reached_has_no_share() -> None:
    found = survival.share_failed([30, 200], [1, 0], [0, 9], [200, 201])
    assert found.reached.tolist() == [True, False]
    assert np.isnan([found.share[1], found.lower[1], found.effective_n[1]]).all()
    assert found.share[0] == pytest.approx(0.1)


def test_a_curve_stops_where_nobody_is_under_observation() -> None:
    curve = survival.kaplan_meier([10, 20, 30], [1, 0, 0], [4, 5, 0])
    assert np.isnan(curve.survival[2])
    assert curve.at_risk[2] == 0


def test_mean_at_risk_is_taken_over_the_last_span() -> None:
    found = survival.share_failed([10, 20], [0, 0], [4, 6], [5, 15, 20], last_span=10.0)
    assert found.at_risk_last == pytest.approx([10, (5 * 10 + 5 * 6) / 10, 6])


def test_a_failure_at_the_asked_age_counts() -> None:
    found = survival.share_failed([30, 31, 60], [1, 1, 0], [0, 0, 8], [30, 30.4375])
    assert found.share == pytest.approx([0.1, 0.1])


def test_before_the_first_age_nothing_has_failed() -> None:
    found = survival.share_failed([30, 60], [1, 0], [0, 9], [0, 10])
    assert found.share.tolist() == [0, 0]
    assert found.effective_n.tolist() == [10, 10]


def test_segments_do_not_touch_each_other() -> None:
    ages, fails, left = _table(2, 5, 40)
    together = survival.share_failed(ages, fails, left, [10, 30])
    for segment in range(5):
        alone = survival.share_failed(ages, fails[segment], left[segment], [10, 30])
        assert alone.share.tolist() == together.share[segment].tolist()
        assert alone.upper.tolist() == together.upper[segment].tolist()


def test_many_segments_pass_in_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    ages, fails, left = _table(3, 7, 20)
    whole = survival.share_failed(ages, fails, left, [5, 19])
    monkeypatch.setattr(survival, "_CHUNK_CELLS", 45)
    parts = survival.share_failed(ages, fails, left, [5, 19])
    assert parts.share.tolist() == whole.share.tolist()


def test_no_segments_give_no_rows() -> None:
    found = survival.share_failed([1, 2], np.zeros((0, 2)), np.zeros((0, 2)), [1])
    assert found.share.shape == (0, 1)


def test_a_segment_without_units_has_no_share() -> None:
    found = survival.share_failed([1, 2], np.zeros((1, 2)), np.zeros((1, 2)), [1])
    assert np.isnan(found.share).all()
    assert not found.reached.any()


def test_weights_stand_for_units() -> None:
    thrice = survival.kaplan_meier([5, 9], [3, 0], [0, 27])
    weighted = survival.kaplan_meier([5, 9], [0.3, 0], [0, 2.7])
    assert thrice.survival == pytest.approx(weighted.survival)
    assert thrice.effective_n == pytest.approx(10 * weighted.effective_n)


def test_rounding_of_weights_leaves_nobody_behind() -> None:
    curve = survival.kaplan_meier([1, 2, 3], [0.1, 0.2, 0.3], [0, 0, 0])
    assert curve.survival[-1] == 0.0


def test_the_harmonic_mean_skips_ages_without_observation() -> None:
    _, _, harmonic = risk_sets.truncated(
        np.array([50.0]), np.array([80.0]), np.array([4.0]), np.array([80.0])
    )
    assert harmonic.tolist() == [4.0]


@pytest.mark.parametrize(
    ("call", "rule"),
    [
        (
            lambda: survival.kaplan_meier([1], [-1], [2]),
            "failures must not be negative",
        ),
        (lambda: survival.kaplan_meier([1], [np.nan], [2]), "failures must be finite"),
        (lambda: survival.kaplan_meier([1, 2], [1], [2]), "must have shape"),
        (lambda: survival.kaplan_meier([], [], []), "at least one age"),
        (lambda: survival.kaplan_meier([1], [1], [[2]]), "the same shape"),
        (lambda: survival.kaplan_meier([-1], [1], [2]), "ages must not be negative"),
        (
            lambda: survival.kaplan_meier([5], [1], [0], entry=[5]),
            "entry must be below the age of its row; got entry 5 at age 5",
        ),
        (lambda: survival.kaplan_meier([5], [1], [0], entry=[1, 2]), "entry must have"),
        (
            lambda: survival.kaplan_meier([5], [1], [0], confidence=95),
            "strictly between",
        ),
        (lambda: survival.share_failed([5, 5], [1, 1], [0, 0], [5]), "rise strictly"),
        (lambda: survival.share_failed([5], [1], [0], [[5]]), "at must be one row"),
        (
            lambda: survival.share_failed([5], [1], [0], [5], last_span=0),
            "last_span must be above 0",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_the_rule(call: Any, rule: str) -> None:
    with pytest.raises(InputError, match=rule):
        call()


def test_an_entry_of_a_row_without_units_does_not_matter() -> None:
    curve = survival.kaplan_meier([5, 9], [1, 0], [2, 0], entry=[0, 30])
    assert curve.survival[0] == pytest.approx(2 / 3)
