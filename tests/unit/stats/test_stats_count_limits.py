"""Limits of counts against the exact distribution, and scored as they are to be."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from claimlens.stats.count_limits import count_limits

CHANCES = (0.025, 0.1, 0.5, 0.9, 0.975)
MEANS = (0.3, 0.8, 2.0, 5.5, 13.0, 40.0)


def spread_quantile(mean: float, chance: float) -> float:
    """Return the quantile of a Poisson count spread evenly over the unit around it."""
    k = int(stats.poisson.ppf(chance, mean))
    within = (chance - stats.poisson.cdf(k - 1, mean)) / stats.poisson.pmf(k, mean)
    return max(k - 0.5 + within, 0.0)


def evenly_drawn(mean: float, n: int) -> np.ndarray:
    """Return Poisson counts in exactly the shares of the distribution."""
    return stats.poisson.ppf((np.arange(n) + 0.5) / n, mean).astype(np.int64)


@pytest.mark.parametrize("mean", MEANS)
def test_limits_are_the_quantiles_of_the_spread_count(mean: float) -> None:
    found = count_limits(evenly_drawn(mean, 40_000), CHANCES)
    expected = [spread_quantile(mean, chance) for chance in CHANCES]
    np.testing.assert_allclose(found, expected, atol=0.01)


def test_limits_of_a_hand_example() -> None:
    """Ten draws: 0 0 0 0 | 1 1 1 1 | 3 | 3; 60% lies halfway through the ones."""
    drawn = np.array([3, 1, 0, 1, 0, 0, 1, 1, 0, 3])
    found = count_limits(drawn, [0.2, 0.4, 0.6, 0.8, 0.9])
    np.testing.assert_allclose(found, [0.0, 0.5, 1.0, 1.5, 3.0])


@pytest.mark.parametrize("mean", MEANS)
def test_a_band_holds_its_level_when_a_whole_edge_counts_half(mean: float) -> None:
    """As a forecast is scored: below a limit, and half of what lies on it.

    A limit that is no whole number is put on the one it rounds to: a count spread
    over its unit lies below it by the part of the unit that does.
    """
    counts = np.arange(200)
    chance = stats.poisson.pmf(counts, mean)
    for asked in CHANCES:
        [limit] = count_limits(evenly_drawn(mean, 40_000), [asked])
        below = chance @ np.clip(limit - (counts - 0.5), 0.0, 1.0)
        # a limit below 0 is told as 0, which half of the zeros lie below
        assert below == pytest.approx(max(asked, 0.5 * chance[0]), abs=0.005)


@pytest.mark.parametrize("mean", MEANS)
def test_counts_on_a_whole_limit_count_half(mean: float) -> None:
    """Where the limit is a whole number, the rule of halves is exact."""
    for k in range(1, 6):
        asked = stats.poisson.cdf(k - 1, mean) + 0.5 * stats.poisson.pmf(k, mean)
        if 0.01 < asked < 0.99:
            [limit] = count_limits(evenly_drawn(mean, 40_000), [asked])
            assert limit == pytest.approx(k, abs=0.01)


@pytest.mark.parametrize(("fewest", "most"), [(0.3, 2.0), (2.0, 40.0)])
@pytest.mark.parametrize(("low", "high"), [(0.1, 0.9), (0.025, 0.975)])
def test_bands_hold_their_level_over_many_means(
    low: float, high: float, fewest: float, most: float
) -> None:
    """Inside or out, edges half; no count can lie below a lower limit of 0."""
    counts = np.arange(200)
    held = []
    for mean in np.geomspace(fewest, most, 60):
        lower, upper = count_limits(evenly_drawn(mean, 4_000), [low, high])
        inside = ((counts > lower) | (lower == 0)) & (counts < upper)
        edge = ((counts == lower) & (lower > 0)) | (counts == upper)
        held.append(stats.poisson.pmf(counts, mean) @ (inside + 0.5 * edge))
    level = high - low
    if fewest >= 2:
        assert np.mean(held) == pytest.approx(level, abs=0.015)
    else:  # zeros cannot be left out in part, so bands of few claims hold more
        assert level < np.mean(held) < 0.99


@settings(deadline=None, max_examples=50)
@given(
    st.lists(st.integers(0, 30), min_size=1, max_size=60),
    st.lists(st.floats(0.001, 0.999), min_size=2, max_size=6),
)
def test_limits_rise_with_the_chance_and_stay_about_the_draws(
    drawn: list[int], chances: list[float]
) -> None:
    found = count_limits(np.array(drawn), sorted(chances))
    assert (np.diff(found) >= -1e-9).all()
    assert (found >= 0).all()
    assert (found >= min(drawn) - 0.5).all()
    assert (found <= max(drawn) + 0.5 + 1e-9).all()


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 2**32 - 1), st.integers(1, 9))
def test_rows_of_draws_are_told_one_by_one(seed: int, by: int) -> None:
    drawn = np.random.default_rng(seed).poisson(by, (3, 2, 50))
    found = count_limits(drawn, CHANCES)
    assert found.shape == (len(CHANCES), 3, 2)
    for place in np.ndindex(3, 2):
        alone = count_limits(drawn[place], CHANCES)
        np.testing.assert_array_equal(found[:, *place], alone)
        np.testing.assert_array_equal(alone, count_limits(drawn[place][::-1], CHANCES))
