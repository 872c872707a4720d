"""The Weibull fit: edges, shapes, refusals, and its two ways to a limit."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from claimlens.errors import InputError
from claimlens.stats import weibull
from claimlens.stats.weibull import limits as limits_module
from claimlens.stats.weibull.cells import prepare
from claimlens.stats.weibull.likelihood import evaluate
from claimlens.stats.weibull.maximise import maximise


def _fleets(
    seed: int, segments: int, width: int, units: int = 400
) -> tuple[Any, Any, Any, Any]:
    """Draw grouped failures and survivors of fleets of several shapes."""
    rng = np.random.default_rng([20240607, seed])
    fails, left = np.zeros((2, segments, width))
    for segment in range(segments):
        shape, share = rng.uniform(0.5, 2.5), rng.uniform(0.03, 0.3)
        life = rng.weibull(shape, units) * width / (-np.log1p(-share)) ** (1 / shape)
        end = rng.integers(1, width + 1, units)
        failed = life <= end
        cell = np.ceil(life[failed]).astype(int) - 1
        np.add.at(fails[segment], cell, 1)
        np.add.at(left[segment], end[~failed] - 1, 1)
    upper = np.arange(1.0, width + 1)
    return upper, fails, left, upper - 1


def test_each_segment_is_fitted_as_if_alone() -> None:
    ages, fails, left, lower = _fleets(1, 12, 40)
    fails[5] = 0
    together = weibull.fit(ages, fails, left, lower=lower)
    for segment in range(12):
        alone = weibull.fit(ages, fails[segment], left[segment], lower=lower)
        assert alone.note == together.note[segment]
        for name in ("shape", "scale", "log_likelihood"):
            assert getattr(alone, name) == pytest.approx(
                getattr(together, name)[segment], rel=1e-9, nan_ok=True
            )
        for name in ("shape_interval", "scale_interval"):
            ours = [end[segment] for end in getattr(together, name)]
            assert getattr(alone, name) == pytest.approx(ours, rel=1e-7, nan_ok=True)


def test_the_score_vanishes_at_the_estimate() -> None:
    ages, fails, left, lower = _fleets(2, 20, 60)
    for bound in (None, lower):
        cells = prepare(ages, fails, left, lower=bound, entry=None).cells
        best = maximise(cells)
        slope = evaluate(cells, best.k, best.m)
        assert best.converged.all()
        assert np.abs(slope.m).max() < 1e-6
        assert np.abs(slope.k * best.k).max() < 1e-6


@pytest.mark.parametrize("grouped", [True, False])
def test_derivatives_agree_with_differences(grouped: bool) -> None:
    ages, fails, left, lower = _fleets(3, 3, 30)
    entry = np.where(np.arange(30) > 15, 4.0, 0.0)
    cells = prepare(
        ages, fails, left, lower=lower if grouped else None, entry=entry
    ).cells
    k, m, h = np.array([0.7, 1.3, 2.2]), np.array([-2.0, -1.0, -3.0]), 1e-6
    here = evaluate(cells, k, m)
    right, left_ = evaluate(cells, k + h, m), evaluate(cells, k - h, m)
    up, down = evaluate(cells, k, m + h), evaluate(cells, k, m - h)
    np.testing.assert_allclose(here.k, (right.value - left_.value) / (2 * h), rtol=1e-5)
    np.testing.assert_allclose(here.m, (up.value - down.value) / (2 * h), rtol=1e-5)
    np.testing.assert_allclose(here.kk, (right.k - left_.k) / (2 * h), rtol=1e-5)
    np.testing.assert_allclose(here.km, (up.k - down.k) / (2 * h), rtol=1e-5)
    np.testing.assert_allclose(here.mm, (up.m - down.m) / (2 * h), rtol=1e-5)


@pytest.mark.parametrize("kind", ["shape", "life", "hazard"])
@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_the_slow_search_finds_the_same_limits(kind: str, side: float) -> None:
    ages, fails, left, lower = _fleets(4, 8, 25, units=120)
    cells = prepare(ages, fails, left, lower=lower, entry=None).cells
    best = maximise(cells)
    at = np.full(8, {"shape": 0.0, "life": np.log(0.1), "hazard": -0.5}[kind])
    figure = limits_module.Figure(kind, at)  # type: ignore[arg-type]  # parametrised
    fast = limits_module.limits(cells, best, figure, 0.95)[0 if side < 0 else 1]
    goal = best.value - 1.9207294103470618
    slow = limits_module._search(
        cells, figure, (best.k, best.m), goal, np.full(8, side)
    )
    np.testing.assert_allclose(fast, slow, atol=1e-6)


def test_limits_lie_where_the_profile_falls_by_half_the_chi_square() -> None:
    ages, fails, left, lower = _fleets(5, 1, 50)
    fit = weibull.fit(ages, fails[0], left[0], lower=lower)
    for end in fit.shape_interval:
        held = weibull.fit(ages, fails[0], left[0], lower=lower, shape=end)
        assert fit.log_likelihood - held.log_likelihood == pytest.approx(
            1.9207294103470618, abs=1e-6
        )


def test_higher_confidence_widens_every_interval() -> None:
    ages, fails, left, lower = _fleets(6, 6, 40)
    wide = weibull.fit(ages, fails, left, lower=lower, confidence=0.99)
    narrow = weibull.fit(ages, fails, left, lower=lower, confidence=0.8)
    for one, other in (
        (wide.shape_interval, narrow.shape_interval),
        (wide.scale_interval, narrow.scale_interval),
        (wide.quantile_interval(0.1), narrow.quantile_interval(0.1)),
    ):
        assert (one[0] < other[0]).all()
        assert (one[1] > other[1]).all()


def test_results_of_one_segment_are_scalars() -> None:
    fit = weibull.fit([1, 2, 5], [1, 1, 1], [0, 0, 9])
    assert isinstance(fit.shape, float)
    assert isinstance(fit.note, str)
    assert isinstance(fit.converged, bool)
    assert isinstance(fit.quantile(0.1), float)
    assert isinstance(fit.quantile_interval(0.1)[0], float)
    assert np.shape(fit.quantile([0.01, 0.1])) == (2,)
    assert np.shape(fit.quantile_interval([0.01, 0.1])[1]) == (2,)
    assert np.shape(fit.cdf([1.0, 2.0, 3.0])) == (3,)


def test_results_of_segments_have_one_row_each() -> None:
    ages, fails, left, lower = _fleets(7, 3, 20)
    fit = weibull.fit(ages, fails, left, lower=lower)
    assert np.shape(fit.shape) == (3,)
    assert np.shape(fit.note) == (3,)
    assert np.shape(fit.quantile(0.1)) == (3,)
    assert np.shape(fit.quantile([0.01, 0.1])) == (3, 2)
    assert np.shape(fit.quantile_interval(0.1)[0]) == (3,)
    assert np.shape(fit.quantile_interval([0.01, 0.1])[0]) == (3, 2)
    assert np.shape(fit.cdf([1.0, 2.0])) == (3, 2)


def test_quantile_undoes_the_share_failed() -> None:
    fit = weibull.fit([1, 2, 5], [1, 1, 1], [0, 0, 9])
    assert fit.cdf(fit.quantile(0.1)) == pytest.approx(0.1)
    assert fit.cdf(0.0) == 0.0
    assert fit.quantile(-np.expm1(-1)) == pytest.approx(fit.scale)


@pytest.mark.parametrize(
    ("fails", "left", "note"),
    [
        ([0, 0, 0], [3, 3, 3], "no failure"),
        ([0, 0, 0], [0, 0, 0], "no unit"),
        ([0, 1, 0], [3, 3, 3], "1 failure, 2 needed"),
        ([0, 4, 0], [3, 3, 3], "all failures at one age"),
    ],
)
def test_what_cannot_be_estimated_holds_no_number(
    fails: list[int], left: list[int], note: str
) -> None:
    for lower in (None, [0, 1, 2]):
        fit = weibull.fit([1, 2, 3], fails, left, lower=lower)
        assert fit.note == note
        assert not fit.converged
        numbers = [fit.shape, fit.scale, fit.log_likelihood, fit.quantile(0.1)]
        numbers += [*fit.shape_interval, *fit.scale_interval]
        numbers += [*fit.quantile_interval(0.1), fit.cdf(2.0)]
        assert np.isnan(numbers).all()


def test_failures_that_only_stand_at_the_start_run_to_the_edge() -> None:
    """Everything fails in the first cell or never: no shape is best."""
    fit = weibull.fit(
        [1, 2, 500], [40, 0, 0], [0, 0, 4000], lower=[0, 1, 499], confidence=0.95
    )
    assert fit.note == "all failures at one age"
    fit = weibull.fit([1, 1.0001, 500], [400, 1, 0], [0, 0, 4], lower=[0, 1, 499])
    assert not fit.converged
    assert "first ages" in fit.note


def test_failures_at_nearly_one_age_run_to_the_edge() -> None:
    fit = weibull.fit([100, 100.0001], [5, 5], [0, 0])
    assert not fit.converged
    assert "too close" in fit.note


def test_an_open_limit_is_infinite_and_noted() -> None:
    fit = weibull.fit([1, 29, 30], [5, 0, 1], [0, 0, 1000], lower=[0, 28, 29])
    assert fit.scale_interval[1] == np.inf
    assert "no upper limit for the scale" in fit.note


def test_a_failure_on_day_zero_needs_its_cell() -> None:
    with pytest.raises(InputError, match="exact age 0") as caught:
        weibull.fit([0, 5], [1, 1], [0, 3])
    assert "lower" in str(caught.value)
    fit = weibull.fit([1, 6], [1, 1], [0, 3], lower=[0, 5])
    assert fit.converged


def test_units_that_left_at_age_zero_tell_nothing() -> None:
    with_them = weibull.fit([0, 2, 5, 9], [0, 1, 2, 1], [7, 0, 0, 9])
    without = weibull.fit([2, 5, 9], [1, 2, 1], [0, 0, 9])
    assert with_them.shape == pytest.approx(without.shape, rel=1e-12)
    assert with_them.n_censored == 16


def test_failures_of_another_component_leave_the_fit_alone() -> None:
    """Competing faults: each component has its own clock."""
    ages, fails, left, lower = _fleets(8, 2, 40)
    alone = weibull.fit(ages, fails[:1], left[:1], lower=lower)
    both = weibull.fit(ages, fails, left, lower=lower)
    assert both.shape[0] == pytest.approx(alone.shape[0], rel=1e-10)


def test_a_failure_before_entry_into_view_starts_at_entry() -> None:
    """A cell that reaches back before the entry is cut there."""
    cut = weibull.fit(
        [10, 20, 30], [2, 3, 1], [0, 0, 9], lower=[2, 10, 20], entry=[4] * 3
    )
    same = weibull.fit(
        [10, 20, 30], [2, 3, 1], [0, 0, 9], lower=[4, 10, 20], entry=[4] * 3
    )
    assert cut.shape == pytest.approx(same.shape, rel=1e-12)


def test_known_shape_one_is_the_exponential_case() -> None:
    """Failures over exposure, by hand: 5 in 1 + 2 + 3 + 4 + 5 + 10 * 6 = 75."""
    fit = weibull.fit([1, 2, 3, 4, 5, 6], [1] * 5 + [0], [0] * 5 + [10], shape=1.0)
    assert fit.scale == pytest.approx(15.0, rel=1e-12)
    assert fit.shape_interval == (1.0, 1.0)


@pytest.mark.parametrize("r", [0, 1, 5])
def test_known_shape_agrees_with_the_formula(r: int) -> None:
    """Nelson 1985, with scipy's chi-square quantiles."""
    shape, ages = 1.7, np.arange(1.0, 7.0)
    fails, left = np.r_[np.ones(r), np.zeros(6 - r)], np.full(6, 4.0)
    fit = weibull.fit(ages, fails, left, shape=shape)
    total = ((fails + left) * ages**shape).sum()
    low = (2 * total / stats.chi2.ppf(0.975, 2 * r + 2)) ** (1 / shape)
    if r == 0:
        low = (total / -np.log(0.05)) ** (1 / shape)
        assert np.isnan(fit.scale)
        assert fit.scale_interval[1] == np.inf
        assert fit.note == "no failure: one-sided lower limit only"
    else:
        high = (2 * total / stats.chi2.ppf(0.025, 2 * r)) ** (1 / shape)
        assert fit.scale == pytest.approx((total / r) ** (1 / shape), rel=1e-10)
        assert fit.scale_interval[1] == pytest.approx(high, rel=1e-10)
    assert fit.scale_interval[0] == pytest.approx(low, rel=1e-10)


def test_known_shape_of_daily_cells_is_close_to_that_of_exact_ages() -> None:
    ages, fails, left, lower = _fleets(9, 1, 700)
    grouped = weibull.fit(ages, fails[0], left[0], lower=lower, shape=1.3)
    exact = weibull.fit(ages - 0.5, fails[0], left[0], shape=1.3)
    assert grouped.scale == pytest.approx(exact.scale, rel=2e-3)


def test_known_shapes_may_differ_by_segment() -> None:
    ages, fails, left, lower = _fleets(10, 2, 30)
    fit = weibull.fit(ages, fails, left, lower=lower, shape=[0.8, 1.6])
    assert fit.shape.tolist() == [0.8, 1.6]
    low, high = fit.quantile_interval([0.1, 0.5])
    assert low.shape == (2, 2)
    assert (low < fit.quantile([0.1, 0.5])).all()
    assert (high > fit.quantile([0.1, 0.5])).all()


@pytest.mark.parametrize(
    ("call", "rule"),
    [
        (lambda: weibull.fit([1, 2], [1, -1], [0, 0]), "failures must not be negative"),
        (lambda: weibull.fit([1, np.inf], [1, 1], [0, 0]), "ages must be finite"),
        (lambda: weibull.fit([1, 2], [1, 1, 1], [0, 0, 0]), "must have shape"),
        (
            lambda: weibull.fit([1, 2], [1, 1], [0, 0], lower=[0, 2]),
            "lower must be below the age of its row; got lower 2 at age 2",
        ),
        (
            lambda: weibull.fit([1, 2], [1, 1], [0, 0], lower=[0]),
            "lower must have shape",
        ),
        (
            lambda: weibull.fit([1, 2], [1, 1], [0, 0], lower=[-1, 1]),
            "lower must not be",
        ),
        (
            lambda: weibull.fit([1, 2], [1, 1], [0, 0], entry=[0, 3]),
            "entry must be below the age of its row; got entry 3 at age 2",
        ),
        (
            lambda: weibull.fit([1, 2], [1, 1], [0, 0], shape=0),
            "shape must be one value",
        ),
        (lambda: weibull.fit([1, 2], [1, 1], [0, 0], shape=[1, 2]), "shape must be"),
        (
            lambda: weibull.fit([1, 2], [1, 1], [0, 0], confidence=1.0),
            "strictly between",
        ),
        (lambda: weibull.fit([1, 2], [1, 1], [0, 9]).quantile(1.0), "p must lie"),
        (lambda: weibull.fit([1, 2], [1, 1], [0, 9]).quantile([[0.1]]), "p must be"),
        (
            lambda: weibull.fit([1, 2], [1, 1], [0, 9]).cdf(-1.0),
            "t must not be negative",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_the_rule(call: Any, rule: str) -> None:
    with pytest.raises(InputError, match=rule):
        call()
