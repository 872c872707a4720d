"""Scores of forecasts: hand examples, chance known in full, and the edges."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from claimlens.errors import InputError
from claimlens.stats.forecast_scores import (
    coverage,
    interval_score,
    mean_absolute_error,
    mean_interval_score,
    relative_bias,
)
from claimlens.stats.misses import kupiec_ratio, kupiec_region, misses_p


def poisson_band(mean: float, confidence: float) -> tuple[float, float]:
    tail = (1 - confidence) / 2
    return stats.poisson.ppf(tail, mean), stats.poisson.ppf(1 - tail, mean)


def test_a_count_on_an_edge_counts_half() -> None:
    """Inside, on the lower edge, on the upper, below, above."""
    found = coverage([3] * 5, [8] * 5, [5, 3, 8, 2, 9])
    assert (float(found.below), float(found.above)) == (1.5, 1.5)
    assert float(found.misses) == 3.0
    assert float(found.share) == pytest.approx(0.4)


def test_nothing_lies_below_the_least_possible_count() -> None:
    assert coverage([0], [4], [0]).share == 1.0
    assert coverage([0], [4], [4]).share == 0.5
    assert coverage([0], [0], [0]).share == 1.0
    assert coverage([0], [4], [0], least=-np.inf).share == 0.5
    # a band of one value above it, and that came: half of it is missed above
    point = coverage([3], [3], [3])
    assert (point.below, point.above, point.share) == (0.0, 0.5, 0.5)


@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_with_half_for_the_edges_true_bands_hold_their_level(confidence: float) -> None:
    """All chances added up: bands of Poisson counts of 5 to 60, means known."""
    half, whole = [], []
    for mean in np.linspace(5, 60, 200):
        lower, upper = poisson_band(mean, confidence)
        counts = np.arange(200)
        chance = stats.poisson.pmf(counts, mean)
        held = [float(coverage([lower], [upper], [count]).share) for count in counts]
        half.append(chance @ held)
        whole.append(
            stats.poisson.cdf(upper, mean) - stats.poisson.cdf(lower - 1, mean)
        )
    assert np.mean(half) == pytest.approx(confidence, abs=0.006)
    # the share with both edges, in all bands, is more than promised
    assert np.mean(whole) > confidence + 0.01


def test_no_band_scores_better_in_expectation_than_the_true_quantiles() -> None:
    """Normal values; expectation by a fine grid of quantiles."""
    seen = stats.norm.ppf((np.arange(20_000) + 0.5) / 20_000)
    edge = stats.norm.ppf(0.9)
    best = mean_interval_score(
        np.full(seen.shape, -edge), np.full(seen.shape, edge), seen, 0.8
    )
    # width and tails by hand: 2 z + 2/alpha * 2 * (phi(z) - z * 0.1)
    by_hand = 2 * edge + 20 * (stats.norm.pdf(edge) - edge * 0.1)
    assert best == pytest.approx(by_hand, rel=1e-3)
    for low, high in ((-1.0, 1.0), (-1.6, 1.6), (-1.2, 1.5), (-1.4, 1.0)):
        other = mean_interval_score(
            np.full(seen.shape, low), np.full(seen.shape, high), seen, 0.8
        )
        assert other > best


def test_a_forecast_a_fifth_too_high_has_that_bias() -> None:
    seen = [[10, 20, 30], [5, 0, 5]]
    assert_allclose(relative_bias(1.2 * np.array(seen), seen), [0.2, 0.2])
    assert_allclose(mean_absolute_error([[11, 18, 30], [5, 1, 5]], seen), [1, 1 / 3])


def test_over_and_under_cancel_in_the_bias_and_not_in_the_error() -> None:
    assert relative_bias([12, 8], [10, 10]) == 0.0
    assert mean_absolute_error([12, 8], [10, 10]) == 2.0


def test_where_nothing_came_or_no_period_is_over_nothing_is_told() -> None:
    assert np.isnan(relative_bias([3.0], [0.0]))
    none: list[float] = []
    assert np.isnan(coverage(none, none, none).share)
    assert np.isnan(mean_interval_score(none, none, none))
    assert np.isnan(mean_absolute_error(none, none))
    assert np.isnan(relative_bias(none, none))


def test_half_a_miss_has_the_mean_p_of_none_and_one() -> None:
    whole, upper = misses_p([2, 3], 24, 0.05)
    assert_allclose(misses_p(2.5, 24, 0.05), (whole.mean(), upper.mean()))
    assert_allclose(misses_p([0, 24], 24, 0.05)[1][0], 1.0)


def test_no_period_rejects_no_promise() -> None:
    assert kupiec_ratio(0, 0, 0.05) == 0.0
    assert misses_p(0, 0, 0.05) == (1.0, 1.0)
    assert kupiec_region(0, 0.05) == (0.0, 0.0)


def test_the_region_of_few_bands_beside_many_ends_with_them() -> None:
    fewest, most = kupiec_region([2, 100], 0.5)
    assert (fewest[0], most[0]) == (0.0, 2.0)
    assert (fewest[1], most[1]) == kupiec_region(100, 0.5)


def test_a_test_that_rejects_every_number_has_no_region() -> None:
    assert np.isnan(kupiec_region(1, 0.5, 0.9)).all()


def test_kupiec_rejects_about_as_often_as_it_says() -> None:
    """All chances added up, 250 to 1000 bands of 95 %."""
    for periods in (250, 500, 1000):
        fewest, most = kupiec_region(periods, 0.05)
        kept = stats.binom.cdf(most, periods, 0.05) - stats.binom.cdf(
            fewest - 1, periods, 0.05
        )
        assert 0.93 < kept < 0.965


def test_series_are_judged_side_by_side() -> None:
    rng = np.random.default_rng(20240607)
    seen = rng.poisson(20, (7, 12))
    lower, upper = np.full((7, 12), 13.0), np.full((7, 12), 28.0)
    together = coverage(lower, upper, seen)
    p = misses_p(together.misses, 12, 0.05)[0]
    for i in range(7):
        alone = coverage(lower[i], upper[i], seen[i])
        assert alone.misses == together.misses[i]
        assert misses_p(alone.misses, 12, 0.05)[0] == p[i]
    assert_array_equal(together.share, 1 - together.misses / 12)


@pytest.mark.parametrize(
    ("of", "arguments"),
    [
        (interval_score, ([2], [1], [1])),
        (interval_score, ([1], [2], [np.nan])),
        (interval_score, ([1, 2], [2, 3], [1, 2, 3])),
        (interval_score, ([1], [2], [1], 95)),
        (coverage, ([2], [1], [1])),
        (relative_bias, ([1, 2], [1])),
        (relative_bias, (1, 1)),
        (mean_absolute_error, ([np.inf], [1])),
        (kupiec_ratio, (3, 2, 0.05)),
        (kupiec_ratio, (1, 2, 0.0)),
        (kupiec_ratio, (1, 2, 5)),
        (kupiec_ratio, (-1, 2, 0.5)),
        (kupiec_ratio, ([1, 2], [2, 3, 4], 0.5)),
        (kupiec_region, (2.5, 0.05)),
        (misses_p, (1, 1.5, 0.05)),
    ],
)
def test_what_cannot_be_is_refused(of: Any, arguments: tuple[Any, ...]) -> None:
    with pytest.raises(InputError):
        of(*arguments)
