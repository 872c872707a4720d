"""The bootstrap test of the fit, and the band of the probability plot."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import optimize, stats

from claimlens.errors import InputError
from claimlens.stats import weibull
from claimlens.stats.weibull.draws import table_of

DAYS = 730


def _fleet(seed: int, *, limited: bool = False) -> tuple[Any, ...]:
    """Draw daily counts of 2,880 units, and who would be watched on each day."""
    rng = np.random.default_rng([20240607, seed])
    end = rng.integers(30, DAYS + 1, 2880)
    life = 30000.0 * rng.weibull(0.9, 2880)
    if limited:
        life = np.full(2880, np.inf)
        life[:86] = 180.0 * rng.weibull(1.5, 86)
    failed = life <= end
    cell = np.ceil(life[failed]).astype(int) - 1
    ages = np.arange(1.0, DAYS + 1)
    fails = np.bincount(cell, minlength=DAYS).astype(float)
    left = np.bincount(end[~failed] - 1, minlength=DAYS).astype(float)
    return ages, fails, _passed(fails, left), _passed(0, np.bincount(end - 1))


def _passed(fails: Any, left: Any) -> Any:
    """Return the units that passed each cell, from those that failed and left."""
    return np.cumsum((fails + left)[::-1])[::-1] - fails


def test_the_test_is_the_same_for_the_same_seed() -> None:
    ages, fails, exposed, watched = _fleet(1)
    first, second = (
        weibull.fit_test(ages, fails, exposed, watched, lower=ages - 1, seed=7)
        for _ in range(2)
    )
    assert first.p == second.p
    other = weibull.fit_test(ages, fails, exposed, watched, lower=ages - 1, seed=8)
    assert other.statistic == first.statistic


def test_expected_failures_add_up_to_those_observed() -> None:
    """At the maximum of a grouped likelihood they nearly must."""
    ages, fails, exposed, watched = _fleet(2)
    found = weibull.fit_test(ages, fails, exposed, watched, lower=ages - 1, seed=1)
    assert found.observed.sum() == fails.sum()
    assert found.expected.sum() == pytest.approx(fails.sum(), rel=0.02)
    assert found.observed.size == 24
    assert found.edges[[0, -1]].tolist() == [0, DAYS]


def test_the_size_of_the_test_is_kept_on_weibull_lives() -> None:
    p = [
        weibull.fit_test(*_fleet(seed), lower=_fleet(seed)[0] - 1, seed=seed).p
        for seed in range(30)
    ]
    assert np.mean(np.array(p) <= 0.05) <= 0.2
    assert 0.3 < np.mean(p) < 0.7


def test_a_limited_share_of_bad_units_is_mostly_found_out() -> None:
    """86 bad units of 2,880: about 70 failures, then none."""
    found = []
    for seed in range(10):
        ages, fails, exposed, watched = _fleet(seed, limited=True)
        found.append(
            weibull.fit_test(ages, fails, exposed, watched, lower=ages - 1, seed=seed)
        )
    assert sum(one.p <= 0.05 for one in found) >= 7
    worst = min(found, key=lambda one: one.p)
    assert worst.p == pytest.approx(1 / 200)
    assert worst.note.startswith("Weibull does not follow")


def test_few_failures_are_not_tested() -> None:
    found = weibull.fit_test([9, 20], [4, 5], [55, 50], [59, 59], lower=[0, 9], seed=1)
    assert found.note == "9 failures, 10 needed"
    assert np.isnan([found.p, found.statistic]).all()


def test_without_a_fit_there_is_no_test() -> None:
    found = weibull.fit_test([9, 20], [12, 0], [50, 50], [62, 62], lower=[0, 9], seed=1)
    assert found.note == "no fit to test"


def test_weights_and_given_cells_can_be_tested() -> None:
    ages = np.arange(1.0, 13)
    fails, exposed = np.full(12, 2.5), np.linspace(500.25, 40.25, 12)
    found = weibull.fit_test(
        ages,
        fails,
        exposed,
        exposed + 30.0,
        lower=ages - 1,
        seed=1,
        width=None,
        draws=99,
    )
    assert found.observed.tolist() == fails.tolist()
    assert 0 < found.p <= 1
    assert found.draws == 99


def test_merged_days_tell_what_single_days_tell() -> None:
    ages, fails, exposed, watched = _fleet(6)
    days = weibull.fit(ages, fails, None, lower=ages - 1, exposed=exposed)
    table, cells, edges = table_of(
        ages, fails, exposed, watched, lower=ages - 1, width=30.4375
    )
    merged = weibull.fit(
        table.upper, table.failures, None, lower=table.lower, exposed=table.exposed
    )
    assert cells.bounds.size < 250
    assert merged.shape == pytest.approx(days.shape, rel=1e-3)
    assert merged.scale == pytest.approx(days.scale, rel=5e-3)
    assert table.failures.sum() == fails.sum()
    width = table.upper - table.lower
    assert (table.watched * width).sum() == pytest.approx(watched.sum(), rel=1e-12)
    assert np.abs(edges - np.arange(25) * 30.4375).max() <= 0.5


def test_drawn_fleets_keep_to_the_design_also_where_units_enter_late() -> None:
    """The mean of many draws is the fleet's own expectation."""
    rng = np.random.default_rng(20240607)
    entry = rng.integers(0, 12, 3000)
    end = entry + rng.integers(1, 13, 3000)
    day = np.arange(24)
    watched = ((entry[:, None] <= day) & (day < end[:, None])).sum(axis=0)
    # whoever fails is gone from then on
    life = entry + np.floor(rng.exponential(20.0, 3000)).astype(int)
    failed = life < end
    gone = np.where(failed, life, end)
    exposed = ((entry[:, None] <= day) & (day < gone[:, None])).sum(axis=0)
    fails = np.bincount(life[failed], minlength=24)[:24]
    table, _, _ = table_of(
        day + 1.0, fails, exposed, watched, lower=day * 1.0, width=None
    )
    chance = np.full(24, -np.expm1(-1 / 20.0))
    drawn, passed = table.draw(rng, chance, 400)
    np.testing.assert_allclose(
        drawn.mean(axis=0), ((drawn + passed) * chance).mean(axis=0), rtol=0.05, atol=1
    )
    np.testing.assert_allclose(passed.mean(axis=0), exposed, rtol=0.1, atol=12)


@pytest.mark.parametrize(
    ("changed", "rule"),
    [
        ({"watched": [61, 40]}, "not be above watched"),
        ({"watched": [62]}, "must have shape"),
        ({"watched": [62, -1]}, "negative"),
        ({"lower": [0, 5]}, "not overlap"),
        ({"width": 0}, "width"),
        ({"failures": [[6, 6]]}, "one row"),
        ({"exposed": [np.nan, 4]}, "finite"),
    ],
)
def test_a_design_that_cannot_be_is_refused(changed: dict[str, Any], rule: str) -> None:
    given = {
        "ages": [9, 20],
        "failures": [6, 6],
        "exposed": [56, 50],
        "watched": [62, 62],
        "lower": [0, 9],
        "seed": 1,
        **changed,
    }
    with pytest.raises(InputError, match=rule):
        weibull.fit_test(**given)


def test_the_band_meets_the_limits_of_a_life() -> None:
    """At the lower limit of B10 the upper end of the band is 10 per cent."""
    ages, fails, exposed, _ = _fleet(4)
    fit = weibull.fit(ages, fails, None, lower=ages - 1, exposed=exposed)
    low, high = fit.quantile_interval(0.1)
    assert fit.cdf_interval(low)[1] == pytest.approx(0.1, rel=1e-6)
    assert fit.cdf_interval(high)[0] == pytest.approx(0.1, rel=1e-6)


def test_the_band_holds_the_curve_and_starts_at_zero() -> None:
    ages, fails, exposed, _ = _fleet(5)
    fit = weibull.fit(ages, fails, None, lower=ages - 1, exposed=exposed)
    t = np.array([0.0, 30.0, 365.0, 730.0, 1095.0])
    lower, upper = (np.asarray(end) for end in fit.cdf_interval(t))
    assert (lower[0], upper[0]) == (0.0, 0.0)
    assert (lower[1:] < fit.cdf(t)[1:]).all()  # type: ignore[index]  # a row
    assert (upper[1:] > fit.cdf(t)[1:]).all()  # type: ignore[index]  # a row
    assert (np.diff(upper) > 0).all()


def test_the_band_of_segments_has_one_row_each() -> None:
    fails = np.array([[3.0, 2, 4], [0, 0, 0]])
    fit = weibull.fit([5, 9, 14], fails, [[0, 0, 90], [0, 0, 90]], lower=[0, 5, 9])
    lower, upper = (np.asarray(end) for end in fit.cdf_interval([0.0, 7.0]))
    assert lower.shape == (2, 2)
    assert 0 < lower[0, 1] < upper[0, 1]
    assert np.isnan(upper[1]).all()


def test_the_band_of_a_known_shape_follows_its_scale() -> None:
    fit = weibull.fit([5, 9, 14], [0, 0, 0], [0, 0, 90], shape=1.5)
    lower, upper = fit.cdf_interval(14.0)
    assert lower == 0.0
    # no failure among 90 at age 14: fewer than 1 - 0.05**(1/90) by then
    assert upper == pytest.approx(1 - 0.05 ** (1 / 90), rel=1e-9)


def test_the_band_takes_one_age_or_a_row() -> None:
    fit = weibull.fit([5, 9, 14], [1, 1, 1], [0, 0, 90])
    one, row = fit.cdf_interval(7.0), fit.cdf_interval([7.0])
    assert [float(end) for end in one] == [np.asarray(end)[0] for end in row]
    for bad, rule in (([[7.0]], "one value or a row"), (-1.0, "negative")):
        with pytest.raises(InputError, match=rule):
            fit.cdf_interval(bad)


@pytest.mark.parametrize("seed", range(4))
def test_the_band_equals_a_profile_over_share_and_shape(seed: int) -> None:
    """Meeker, Escobar 1998, ch. 8: the share at an age takes the scale's place."""
    ages, fails, exposed, _ = _fleet(seed)
    fit = weibull.fit(ages, fails, None, lower=ages - 1, exposed=exposed)
    t = 550.0
    edges = np.r_[0.0, ages]

    def profile(share: float) -> float:
        def loss(log_shape: float) -> float:
            width = np.diff((edges / t) ** np.exp(log_shape)) * -np.log1p(-share)
            seen = fails > 0
            told = fails[seen] * np.log(-np.expm1(-width[seen]))
            return float((exposed * width).sum() - told.sum())

        found = optimize.minimize_scalar(loss, bounds=(-2, 2), method="bounded")
        return float(-found.fun)

    drop = stats.chi2.ppf(0.95, 1) / 2
    for end in fit.cdf_interval(t):
        assert fit.log_likelihood - profile(float(end)) == pytest.approx(drop, abs=1e-4)
