"""Laws that scores of forecasts and tests of their coverage must keep."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from claimlens.stats.forecast_scores import (
    coverage,
    interval_score,
    mean_absolute_error,
    relative_bias,
)
from claimlens.stats.misses import kupiec_ratio, kupiec_region, misses_p

quick = settings(max_examples=80, deadline=None, derandomize=True)
levels = st.floats(0.05, 0.99)
chances = st.floats(0.005, 0.95)
values = st.integers(-50, 200)


@st.composite
def bands(draw: Any) -> tuple[Any, Any, Any]:
    """Return lower and upper edges and what came."""
    size = draw(st.integers(1, 12))
    rows = np.array(
        draw(st.lists(st.tuples(values, values, values), min_size=size, max_size=size))
    )
    edges = np.sort(rows[:, :2], axis=1)
    return edges[:, 0], edges[:, 1], rows[:, 2]


@quick
@given(bands(), levels, st.floats(0.01, 100), st.integers(-30, 30))
def test_a_score_is_of_the_unit_and_not_of_the_zero(
    given_bands: Any, level: float, unit: float, shift: int
) -> None:
    lower, upper, seen = given_bands
    score = interval_score(lower, upper, seen, level)
    assert (score >= upper - lower).all()
    inside = (seen >= lower) & (seen <= upper)
    assert (score == upper - lower)[inside].all()
    assert (score > upper - lower)[~inside].all()
    moved = interval_score(*(unit * (x + shift) for x in given_bands), level)
    np.testing.assert_allclose(moved, unit * score, rtol=1e-9, atol=1e-9)
    mirrored = interval_score(-upper, -lower, -seen, level)
    np.testing.assert_allclose(mirrored, score, rtol=1e-12)


@quick
@given(bands())
def test_what_is_held_and_missed_adds_up(given_bands: Any) -> None:
    lower, upper, seen = given_bands
    found = coverage(lower, upper, seen, least=-np.inf)
    strictly = float(((seen < lower) | (seen > upper)).sum())
    closed = float(((seen <= lower) | (seen >= upper)).sum())
    assert found.misses == found.below + found.above
    # halfway between a miss for edges and none
    assert found.misses == (strictly + closed) / 2
    np.testing.assert_allclose(found.share, 1 - found.misses / seen.size)
    least = float(lower.min())
    assert coverage(lower, upper, seen, least=least).misses <= found.misses


@quick
@given(bands(), st.integers(1, 20))
def test_a_wider_band_holds_no_less(given_bands: Any, more: int) -> None:
    lower, upper, seen = given_bands
    wider = coverage(lower - more, upper + more, seen, least=-np.inf)
    assert wider.misses <= coverage(lower, upper, seen, least=-np.inf).misses


@quick
@given(st.lists(st.tuples(st.integers(0, 99), st.integers(1, 99)), min_size=1))
def test_the_bias_is_no_larger_than_the_error(pairs: list[tuple[int, int]]) -> None:
    told, seen = np.array(pairs, dtype=float).T
    bias, error = relative_bias(told, seen), mean_absolute_error(told, seen)
    assert abs(bias) * seen.mean() <= error + 1e-9
    assert relative_bias(seen, seen) == 0.0
    assert mean_absolute_error(seen, told) == error


@quick
@given(st.integers(1, 300), chances, st.floats(0.01, 0.3))
def test_the_region_is_where_the_ratio_stays_below_its_bar(
    periods: int, chance: float, significance: float
) -> None:
    counts = np.arange(periods + 1)
    ratio = kupiec_ratio(counts, periods, chance)
    assert (ratio >= 0).all()
    fewest, most = kupiec_region(periods, chance, significance)
    # the ratio falls towards the promise and rises from there: no gap inside
    inside = (counts >= fewest) & (counts <= most)
    if inside.any():
        assert ratio[inside].max() < ratio[~inside].min(initial=np.inf)
    looser = kupiec_region(periods, chance, significance / 2)
    assert not looser[0] > fewest
    assert not looser[1] < most
    # misses and hits change places
    np.testing.assert_allclose(
        kupiec_ratio(periods - counts, periods, 1 - chance), ratio, atol=1e-8
    )


@quick
@given(st.integers(1, 200), chances)
def test_exact_p_values_are_chances(periods: int, chance: float) -> None:
    halves = np.arange(2 * periods + 1) / 2
    two_sided, upper = misses_p(halves, periods, chance)
    assert ((two_sided >= 0) & (two_sided <= 1)).all()
    assert (np.diff(upper) <= 1e-12).all()
    assert two_sided.max() > 1 - 1e-9
    # the most surprising number has its own chance alone, or with its like
    assert two_sided.min() >= min(chance, 1 - chance) ** periods * (1 - 1e-6)
