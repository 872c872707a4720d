"""The bootstrap test of the fit, and the band of the probability plot."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from claimlens.errors import InputError
from claimlens.stats import weibull

DAYS = 730


def _fleet(seed: int, *, limited: bool = False) -> tuple[Any, ...]:
    """Draw daily counts of 2,880 units and when each would have left."""
    rng = np.random.default_rng([20240607, seed])
    end = rng.integers(30, DAYS + 1, 2880)
    life = 30000.0 * rng.weibull(0.9, 2880)
    if limited:
        life = np.full(2880, np.inf)
        life[:86] = 180.0 * rng.weibull(1.5, 86)
    failed = life <= end
    cell = np.ceil(life[failed]).astype(int) - 1
    ages = np.arange(1.0, DAYS + 1)
    return (
        ages,
        np.bincount(cell, minlength=DAYS).astype(float),
        np.bincount(end[~failed] - 1, minlength=DAYS).astype(float),
        np.bincount(end - 1, minlength=DAYS).astype(float),
    )


def test_the_test_is_the_same_for_the_same_seed() -> None:
    ages, fails, left, planned = _fleet(1)
    first, second = (
        weibull.fit_test(ages, fails, left, planned, lower=ages - 1, seed=7)
        for _ in range(2)
    )
    assert first.p == second.p
    other = weibull.fit_test(ages, fails, left, planned, lower=ages - 1, seed=8)
    assert other.statistic == first.statistic


def test_expected_failures_add_up_to_those_observed() -> None:
    """At the maximum of a grouped likelihood they nearly must."""
    ages, fails, left, planned = _fleet(2)
    found = weibull.fit_test(ages, fails, left, planned, lower=ages - 1, seed=1)
    assert found.observed.sum() == fails.sum()
    assert found.expected.sum() == pytest.approx(fails.sum(), rel=0.02)
    assert found.observed.size == 24
    assert found.edges[[0, -1]].tolist() == [0, DAYS]


def test_the_size_of_the_test_is_kept_on_weibull_lives() -> None:
    p = [
        weibull.fit_test(*_fleet(seed)[:4], lower=_fleet(seed)[0] - 1, seed=seed).p
        for seed in range(30)
    ]
    assert np.mean(np.array(p) <= 0.05) <= 0.2
    assert 0.3 < np.mean(p) < 0.7


def test_a_limited_share_of_bad_units_is_mostly_found_out() -> None:
    """86 bad units of 2,880: about 70 failures, then none."""
    found = []
    for seed in range(10):
        ages, fails, left, planned = _fleet(seed, limited=True)
        found.append(
            weibull.fit_test(ages, fails, left, planned, lower=ages - 1, seed=seed)
        )
    assert sum(one.p <= 0.05 for one in found) >= 7
    worst = min(found, key=lambda one: one.p)
    assert worst.p == pytest.approx(1 / 200)
    assert worst.note.startswith("Weibull does not follow")


def test_few_failures_are_not_tested() -> None:
    ages, fails, left, planned = (
        np.array(x, dtype=float) for x in ([9, 20], [4, 5], [0, 50], [0, 59])
    )
    found = weibull.fit_test(ages, fails, left, planned, lower=[0, 9], seed=1)
    assert found.note == "9 failures, 10 needed"
    assert np.isnan([found.p, found.statistic]).all()


def test_without_a_fit_there_is_no_test() -> None:
    found = weibull.fit_test([9, 20], [12, 0], [0, 50], [0, 62], lower=[0, 9], seed=1)
    assert found.note == "no fit to test"


def test_weights_and_given_cells_can_be_tested() -> None:
    ages = np.arange(1.0, 13)
    fails, left = np.full(12, 2.5), np.full(12, 40.25)
    planned = np.full(12, 42.75)
    found = weibull.fit_test(
        ages, fails, left, planned, lower=ages - 1, seed=1, width=None, draws=99
    )
    assert found.observed.tolist() == fails.tolist()
    assert 0 < found.p <= 1
    assert found.draws == 99


@pytest.mark.parametrize(
    ("planned", "rule"),
    [([0, 61], "count every unit"), ([62], "must have shape"), ([0, -1], "negative")],
)
def test_a_plan_about_other_units_is_refused(planned: list[int], rule: str) -> None:
    with pytest.raises(InputError, match=rule):
        weibull.fit_test([9, 20], [6, 6], [0, 50], planned, lower=[0, 9], seed=1)


def test_several_segments_and_bad_widths_are_refused() -> None:
    with pytest.raises(InputError, match="one row"):
        weibull.fit_test([9], [[6]], [[1]], [[7]], lower=[0], seed=1)
    with pytest.raises(InputError, match="width"):
        weibull.fit_test(
            [9, 20], [6, 6], [0, 5], [0, 17], lower=[0, 9], seed=1, width=0
        )


def test_the_band_meets_the_limits_of_a_life() -> None:
    """At the lower limit of B10 the upper end of the band is 10 per cent."""
    ages, fails, left, _ = _fleet(4)
    fit = weibull.fit(ages, fails, left, lower=ages - 1)
    low, high = fit.quantile_interval(0.1)
    assert weibull.band(fit, [low])[1][0] == pytest.approx(0.1, rel=1e-6)
    assert weibull.band(fit, [high])[0][0] == pytest.approx(0.1, rel=1e-6)


def test_the_band_holds_the_curve_and_starts_at_zero() -> None:
    ages, fails, left, _ = _fleet(5)
    fit = weibull.fit(ages, fails, left, lower=ages - 1)
    t = np.array([0.0, 30.0, 365.0, 730.0, 1095.0])
    lower, upper = weibull.band(fit, t)
    assert (lower[0], upper[0]) == (0.0, 0.0)
    assert (lower[1:] < fit.cdf(t)[1:]).all()  # type: ignore[index]  # a row
    assert (upper[1:] > fit.cdf(t)[1:]).all()  # type: ignore[index]  # a row
    assert (np.diff(upper) > 0).all()


def test_the_band_of_segments_has_one_row_each() -> None:
    fails = np.array([[3.0, 2, 4], [0, 0, 0]])
    fit = weibull.fit([5, 9, 14], fails, [[0, 0, 90], [0, 0, 90]], lower=[0, 5, 9])
    lower, upper = weibull.band(fit, [0.0, 7.0])
    assert lower.shape == (2, 2)
    assert 0 < lower[0, 1] < upper[0, 1]
    assert np.isnan(upper[1]).all()


def test_the_band_of_a_known_shape_follows_its_scale() -> None:
    fit = weibull.fit([5, 9, 14], [0, 0, 0], [0, 0, 90], shape=1.5)
    lower, upper = weibull.band(fit, [14.0])
    assert lower[0] == 0.0
    # no failure among 90 at age 14: fewer than 1 - 0.05**(1/90) by then
    assert upper[0] == pytest.approx(1 - 0.05 ** (1 / 90), rel=1e-9)


def test_the_band_needs_a_row_of_ages() -> None:
    fit = weibull.fit([5, 9, 14], [1, 1, 1], [0, 0, 90])
    with pytest.raises(InputError, match="one row of ages"):
        weibull.band(fit, 3.0)
