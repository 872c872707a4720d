"""Stated confidence against the share right."""

from __future__ import annotations

import numpy as np
import pytest

from claimlens.errors import InputError
from claimlens.stats.calibration import brier, cross_fitted, refit, reliability


def test_a_confidence_on_an_edge_belongs_to_the_bin_below() -> None:
    found = reliability([0.0, 0.2, 0.4, 0.41], [0, 0, 1, 1], bins=5)
    assert found.low.tolist() == pytest.approx([0.0, 0.2, 0.4])
    assert found.right.n.tolist() == [2, 1, 1]


def test_bins_of_equal_count_never_part_equal_confidences() -> None:
    stated = np.r_[np.full(55, 0.88), np.linspace(0.9, 0.99, 45)]
    found = reliability(stated, np.ones(100), bins=10, equal="count")
    assert found.right.n.sum() == 100
    assert found.right.n[0] == 55
    assert found.high[0] == found.low[0] == 0.88
    assert (found.low[1:] > found.high[:-1]).all()


def test_weights_move_shares_and_means() -> None:
    found = reliability([0.7, 0.9], [True, False], [3.0, 1.0], bins=1)
    assert found.stated[0] == pytest.approx(0.75)
    assert found.right.value[0] == pytest.approx(0.75)
    assert found.expected_error == pytest.approx(0.0)
    assert brier([0.7, 0.9], [True, False], [3.0, 1.0]) == pytest.approx(
        (3 * 0.09 + 0.81) / 4
    )


def test_the_gap_by_chance_is_what_an_honest_confidence_shows() -> None:
    rng = np.random.default_rng(20240607)
    seen, told = [], []
    for _ in range(400):
        stated = rng.uniform(0.5, 0.95, 300)
        found = reliability(stated, rng.random(300) < stated, equal="count")
        seen.append(found.expected_error)
        told.append(found.error_by_chance)
    assert np.mean(told) == pytest.approx(np.mean(seen), rel=0.05)


def test_a_refit_never_falls_and_keeps_the_mean() -> None:
    rng = np.random.default_rng(20240607)
    stated = rng.random(300)
    right = rng.random(300) < stated**3
    weights = rng.choice([1.0, 40.0], 300)
    found = refit(stated, right, weights)
    assert (np.diff(found.refitted) >= 0).all()
    assert np.average(found(stated), weights=weights) == pytest.approx(
        np.average(right, weights=weights)
    )
    assert found(0.0) == found.refitted[0]
    assert found(1.0) == found.refitted[-1]


def test_a_cross_fitted_row_does_not_see_its_own_outcome() -> None:
    rng = np.random.default_rng(20240607)
    stated = rng.random(60)
    right = rng.random(60) < stated
    folds = np.arange(60) % 5
    first = cross_fitted(stated, right, folds=folds)
    turned = right.copy()
    turned[0] = not turned[0]
    second = cross_fitted(stated, turned, folds=folds)
    own = folds == folds[0]
    assert (first[own] == second[own]).all()
    assert (first[~own] != second[~own]).any()


def test_a_refit_mends_what_is_stated_too_high() -> None:
    rng = np.random.default_rng(20240607)
    stated = rng.uniform(0.5, 1.0, 1_000)
    right = rng.random(1_000) < stated - 0.2
    mended = cross_fitted(stated, right, folds=np.arange(1_000) % 5)
    before = reliability(stated, right, equal="count").expected_error
    after = reliability(mended, right, equal="count").expected_error
    assert before > 0.15
    assert after < 0.07  # of which 0.04 are chance


def test_without_rows_there_is_no_error_and_no_refit() -> None:
    nothing = np.array([])
    found = reliability(nothing, nothing)
    assert np.isnan(found.expected_error)
    assert np.isnan(found.maximum_error)
    assert np.isnan(found.error_by_chance)
    assert np.isnan(brier(nothing, nothing))
    with pytest.raises(InputError):
        refit(nothing, nothing)


@pytest.mark.parametrize(
    ("stated", "right", "weights"),
    [
        ([1.2], [1], None),
        ([0.5], [1, 0], None),
        ([0.5], [1], [0.0]),
        ([-0.1], [1], None),
    ],
)
def test_a_confidence_of_no_meaning_is_refused(
    stated: list[float], right: list[int], weights: list[float] | None
) -> None:
    with pytest.raises(InputError):
        reliability(stated, right, weights)


def test_a_single_fold_is_refused() -> None:
    with pytest.raises(InputError):
        cross_fitted([0.5, 0.6], [1, 0], folds=[0, 0])
