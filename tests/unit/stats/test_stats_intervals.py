"""Edges of the intervals, and what they refuse."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from claimlens.errors import InputError
from claimlens.stats import intervals


def test_wilson_starts_at_zero_when_nothing_failed() -> None:
    lower, upper = intervals.wilson([0, 0], [1, 1_000_000])
    assert lower.tolist() == [0.0, 0.0]
    assert 0 < upper[1] < 1e-5


def test_wilson_ends_at_one_when_everything_failed() -> None:
    _, upper = intervals.wilson([1, 412], [1, 412])
    assert upper.tolist() == [1.0, 1.0]


def test_no_trials_say_nothing() -> None:
    assert intervals.wilson(0, 0) == (0.0, 1.0)
    assert intervals.wilson(0, 0, continuity=True) == (0.0, 1.0)
    assert intervals.clopper_pearson(0, 0) == (0.0, 1.0)
    assert intervals.newcombe_difference(0, 0, 3, 9) == (-1.0, 1.0)


def test_no_exposure_says_nothing() -> None:
    assert intervals.poisson_exact(0, 0) == (0.0, np.inf)
    assert intervals.rate_ratio_exact(0, 0, 4, 10) == (0.0, np.inf)


def test_scalars_give_scalars_and_rows_give_rows() -> None:
    assert np.ndim(intervals.wilson(3, 9)[0]) == 0
    assert intervals.wilson([3, 4], 9)[0].shape == (2,)
    assert intervals.poisson_exact([[1, 2]], 3.0)[1].shape == (1, 2)


def test_counts_need_not_be_whole() -> None:
    lower, upper = intervals.wilson(2.5, 100.7)
    assert lower < 2.5 / 100.7 < upper


def test_rounding_of_an_effective_count_is_forgiven() -> None:
    trials = 17.3
    assert intervals.wilson(np.nextafter(trials, 20), trials)[1] == 1.0


def test_a_tiny_share_of_many_units_keeps_its_digits() -> None:
    """Poisson limits are the limit of rare events (Garwood 1936)."""
    lower, _ = intervals.clopper_pearson(3, 10**9)
    assert lower * 1e9 == pytest.approx(intervals.poisson_exact(3)[0], rel=1e-6)


def test_ratio_of_swapped_groups_is_the_inverse() -> None:
    lower, upper = intervals.rate_ratio_exact(40, 7.0, 3, 11.0)
    back = intervals.rate_ratio_exact(3, 11.0, 40, 7.0)
    assert (1 / back[1], 1 / back[0]) == pytest.approx((lower, upper), rel=1e-12)


def test_mid_p_limits_lie_inside_the_exact_ones() -> None:
    x, n = np.arange(0, 41), 40
    for inner, outer in (
        (intervals.binomial_mid_p(x, n), intervals.clopper_pearson(x, n)),
        (intervals.poisson_mid_p(x), intervals.poisson_exact(x)),
        (
            intervals.rate_ratio_exact(x, 2.0, 7, 3.0, mid_p=True),
            intervals.rate_ratio_exact(x, 2.0, 7, 3.0),
        ),
    ):
        assert (inner[0] >= outer[0]).all()
        assert (inner[1] <= outer[1]).all()
        assert (inner[1] - inner[0] < outer[1] - outer[0]).all()


def test_mid_p_limits_without_and_with_every_event_have_closed_forms() -> None:
    """Half of (1 - p)**n, of exp(-m), of p**n is 0.025."""
    assert intervals.binomial_mid_p(0, 50) == (
        0.0,
        pytest.approx(1 - 0.05 ** (1 / 50), rel=1e-12),
    )
    assert intervals.binomial_mid_p(50, 50) == (
        pytest.approx(0.05 ** (1 / 50), rel=1e-12),
        1.0,
    )
    assert intervals.poisson_mid_p(0) == (0.0, pytest.approx(-np.log(0.05), rel=1e-12))


@pytest.mark.parametrize("confidence", [0.5, 0.8, 0.95, 0.999])
@pytest.mark.parametrize("trials", [1, 3, 1000, 10**6, 10**9])
def test_every_interval_stays_in_its_range_and_holds_its_estimate(
    confidence: float, trials: int
) -> None:
    events = np.array(sorted({0, 1, trials // 3, trials - 1, trials}), dtype=float)
    share = events / trials
    for lower, upper in (
        intervals.wilson(events, trials, confidence),
        intervals.wilson(events, trials, confidence, continuity=True),
        intervals.clopper_pearson(events, trials, confidence),
        intervals.binomial_mid_p(events, trials, confidence),
    ):
        assert (lower >= 0).all()
        assert (upper <= 1).all()
        assert (lower <= share).all()
        assert (share <= upper).all()
        assert lower[events == 0].tolist() == [0.0]
        assert upper[events == trials].tolist() == [1.0]
    for lower, upper in (
        intervals.poisson_exact(events, 2.0, confidence),
        intervals.poisson_mid_p(events, 2.0, confidence),
    ):
        assert (lower <= events / 2).all()
        assert (events / 2 <= upper).all()
        assert np.isfinite(upper).all()
    for mid_p in (False, True):
        lower, upper = intervals.rate_ratio_exact(
            events[:, None], 3.0, events, 2.0, confidence, mid_p=mid_p
        )
        assert (lower >= 0).all()
        assert (lower < upper).all()
        assert np.isfinite(lower).all()
    lower, upper = intervals.newcombe_difference(
        events[:, None], trials, events, trials, confidence
    )
    difference = share[:, None] - share
    assert (lower >= -1).all()
    assert (upper <= 1).all()
    assert (lower <= difference).all()
    assert (difference <= upper).all()


def test_limits_of_a_thousand_in_a_thousand_million_are_poisson_limits() -> None:
    """scipy's inverse beta function misses by a factor of 2 at this very point."""
    for binomial, poisson in (
        (intervals.clopper_pearson, intervals.poisson_exact),
        (intervals.binomial_mid_p, intervals.poisson_mid_p),
    ):
        found = np.array(binomial(1000, 1_000_000_000)) * 1e9
        np.testing.assert_allclose(found, poisson(1000), rtol=3e-6)


def test_confidence_in_per_cent_is_refused_with_the_value() -> None:
    with pytest.raises(InputError, match="between 0 and 1; got 95") as caught:
        intervals.wilson(1, 2, 95)
    assert "0.95" in str(caught.value)


@pytest.mark.parametrize(
    ("call", "rule"),
    [
        (
            lambda: intervals.wilson(3, 2),
            "successes must not exceed trials; got 3 of 2",
        ),
        (lambda: intervals.wilson(-1, 2), "successes must not be negative"),
        (lambda: intervals.wilson(np.nan, 2), "successes must be finite"),
        (lambda: intervals.wilson("three", 4), "successes must be numbers"),
        (lambda: intervals.wilson([1, 2], [3, 4, 5]), "shapes that match"),
        (lambda: intervals.wilson(1, 2, "much"), "confidence must be one number"),
        (lambda: intervals.clopper_pearson(1, 2, 0.0), "between 0 and 1"),
        (lambda: intervals.newcombe_difference(1, 2, 4, 3), "x2 must not exceed n2"),
        (lambda: intervals.poisson_exact(1, 0), "exposure must be above 0"),
        (lambda: intervals.poisson_exact(1, np.inf), "exposure must be finite"),
        (lambda: intervals.rate_ratio_exact(1, 0, 1, 1), "t1 must be above 0"),
        (lambda: intervals.binomial_mid_p(3, 2), "successes must not exceed trials"),
        (lambda: intervals.binomial_mid_p(1, np.nan), "trials must be finite"),
        (lambda: intervals.poisson_mid_p(1, 0), "exposure must be above 0"),
        (lambda: intervals.poisson_mid_p(-1), "events must not be negative"),
        (
            lambda: intervals.rate_ratio_exact([1, 2], 1, [1, 2, 3], 1),
            "two groups must have shapes that match",
        ),
        (
            lambda: intervals.newcombe_difference([1, 2], 3, [1, 2, 3], 3),
            "two groups must have shapes that match",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_the_rule(call: Any, rule: str) -> None:
    with pytest.raises(InputError, match=rule):
        call()
