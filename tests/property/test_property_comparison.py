"""Laws of intervals and of the comparison of segments."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from claimlens.stats import intervals
from claimlens.stats.comparison import Comparison, compare_segments, log_rank

LEVELS = st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99, 0.999])
TRIALS = st.integers(1, 10**9)


@st.composite
def fleets(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    """Return failures and exposure of a few segments at a few ages."""
    shape = (draw(st.integers(2, 6)), draw(st.integers(1, 7)))
    failed = draw(arrays(np.int64, shape, elements=st.integers(0, 9)))
    exposed = draw(arrays(np.int64, shape, elements=st.integers(0, 5000)))
    watched = draw(arrays(np.bool_, shape))
    return np.where(watched, failed, 0.0), np.where(watched, exposed, 0.0)


def compared(failed: np.ndarray, exposed: np.ndarray) -> Comparison:
    return compare_segments(failed, exposed, seed=1, draws=50)


@given(TRIALS, st.floats(0, 1), LEVELS)
@settings(deadline=None, derandomize=True)
def test_intervals_hold_the_share_and_stay_in_range(
    trials: int, share: float, level: float
) -> None:
    events = np.floor(share * trials)
    for lower, upper in (
        intervals.wilson(events, trials, level),
        intervals.wilson(events, trials, level, continuity=True),
        intervals.clopper_pearson(events, trials, level),
        intervals.binomial_mid_p(events, trials, level),
    ):
        assert 0 <= lower <= events / trials <= upper <= 1


@given(st.floats(0, 1e6), st.floats(1e-3, 1e6), LEVELS)
@settings(deadline=None, derandomize=True)
def test_limits_of_a_rate_widen_with_the_level_and_scale_with_exposure(
    events: float, exposure: float, level: float
) -> None:
    for limits in (intervals.poisson_exact, intervals.poisson_mid_p):
        lower, upper = limits(events, exposure, level)
        assert 0 <= lower <= events / exposure * (1 + 1e-12)
        assert events / exposure <= upper
        wider = limits(events, exposure, 0.9995)
        assert wider[0] <= lower
        assert upper <= wider[1]
        half = np.array(limits(events, 2 * exposure, level))
        np.testing.assert_allclose(2 * half, [lower, upper], rtol=1e-9, atol=1e-290)


@given(
    st.integers(0, 5000),
    st.integers(0, 5000),
    st.floats(1e-3, 1e3),
    st.floats(1e-3, 1e3),
    LEVELS,
)
@settings(deadline=None, derandomize=True)
def test_a_ratio_of_swapped_groups_is_the_inverse(
    x1: int, x2: int, t1: float, t2: float, level: float
) -> None:
    for mid_p in (False, True):
        lower, upper = intervals.rate_ratio_exact(x1, t1, x2, t2, level, mid_p=mid_p)
        back = intervals.rate_ratio_exact(x2, t2, x1, t1, level, mid_p=mid_p)
        assert 0 <= lower < upper
        if lower > 0:
            np.testing.assert_allclose(back[1], 1 / lower, rtol=1e-9)
        if np.isfinite(upper):
            np.testing.assert_allclose(back[0], 1 / upper, rtol=1e-9)


@given(fleets())
@settings(deadline=None, derandomize=True, max_examples=60)
def test_ratios_lie_within_their_limits_and_are_claims_over_expected(
    fleet: tuple[np.ndarray, np.ndarray],
) -> None:
    found = compared(*fleet)
    known = ~np.isnan(found.ratio)
    assert (found.lower[known] <= found.ratio[known] * (1 + 1e-6)).all()
    assert (found.ratio[known] <= found.upper[known] * (1 + 1e-6)).all()
    assert ((found.p_value[known] >= 0) & (found.p_value[known] <= 1)).all()
    assert np.isfinite(found.shrunk[known]).all()
    assert (found.shrunk_lower[known] < found.shrunk_upper[known]).all()
    finite = known & np.isfinite(found.ratio) & (found.ratio > 0)
    np.testing.assert_allclose(
        found.comparable[finite],
        found.ratio[finite] * found.expected[finite],
        rtol=1e-9,
    )
    inside = (found.lower < 1 - 1e-6) & (found.upper > 1 + 1e-6)
    assert (found.p_value[known & inside] >= 0.05 - 1e-6).all()


@given(fleets())
@settings(deadline=None, derandomize=True, max_examples=40)
def test_order_of_segments_and_of_ages_moves_nothing(
    fleet: tuple[np.ndarray, np.ndarray],
) -> None:
    failed, exposed = fleet
    rng = np.random.default_rng(failed.size)
    rows, ages = rng.permutation(failed.shape[0]), rng.permutation(failed.shape[1])
    one = compared(failed, exposed)
    other = compared(failed[rows][:, ages], exposed[rows][:, ages])
    for name in ("ratio", "lower", "upper", "p_value", "expected", "shrunk"):
        np.testing.assert_allclose(
            getattr(other, name), getattr(one, name)[rows], rtol=1e-7, atol=1e-12
        )


@given(fleets(), st.integers(0, 6))
@settings(deadline=None, derandomize=True, max_examples=40)
def test_an_age_without_a_failure_tells_nothing(
    fleet: tuple[np.ndarray, np.ndarray], place: int
) -> None:
    """And with it: a unit that leaves before the first failure of its fleet."""
    failed, exposed = fleet
    at = min(place, failed.shape[1])
    one = compared(failed, exposed)
    other = compared(
        np.insert(failed, at, 0.0, axis=1), np.insert(exposed, at, 777.0, axis=1)
    )
    for name in ("ratio", "lower", "upper", "p_value", "shrunk", "chi_square"):
        np.testing.assert_array_equal(getattr(other, name), getattr(one, name))


@given(fleets())
@settings(deadline=None, derandomize=True, max_examples=40)
def test_splitting_the_others_leaves_the_ratio_of_a_segment(
    fleet: tuple[np.ndarray, np.ndarray],
) -> None:
    failed, exposed = fleet
    whole = np.stack([failed[0], failed[1:].sum(axis=0)])
    passed = np.stack([exposed[0], exposed[1:].sum(axis=0)])
    one, other = compared(failed, exposed), compared(whole, passed)
    for name in ("ratio", "lower", "upper", "p_value", "expected", "chi_square"):
        np.testing.assert_allclose(
            getattr(other, name)[0], getattr(one, name)[0], rtol=1e-7, atol=1e-12
        )


@given(fleets())
@settings(deadline=None, derandomize=True, max_examples=40)
def test_log_rank_differences_add_up_to_zero_and_two_samples_agree(
    fleet: tuple[np.ndarray, np.ndarray],
) -> None:
    failed, exposed = fleet
    test = log_rank(failed, exposed)
    np.testing.assert_allclose(test.observed.sum(), test.expected.sum())
    np.testing.assert_allclose(test.variance.sum(axis=1), 0.0, atol=1e-9)
    assert test.degrees < failed.shape[0]
    two = log_rank(
        np.stack([failed[0], failed[1:].sum(axis=0)]),
        np.stack([exposed[0], exposed[1:].sum(axis=0)]),
    )
    one = compared(failed, exposed)
    if two.degrees and one.chi_square[0] > 1e-9:
        np.testing.assert_allclose(two.chi_square, one.chi_square[0], rtol=1e-6)
