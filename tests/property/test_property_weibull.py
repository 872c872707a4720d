"""Laws of the Weibull fit that hold for any counts."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from claimlens.errors import InputError
from claimlens.stats import weibull

QUICK = settings(max_examples=60, deadline=None)


@st.composite
def fleets(draw: Any, segments: int = 1) -> tuple[Any, Any, Any]:
    """Draw ages in cells, failures and units that passed each cell, (S, A)."""
    size = draw(st.integers(4, 12))
    steps = draw(st.lists(st.integers(1, 9), min_size=size, max_size=size))
    ages = np.cumsum(steps).astype(float)
    count = st.integers(0, 5)
    fails, left = (
        np.array(
            draw(
                st.lists(
                    st.lists(kind, min_size=size, max_size=size),
                    min_size=segments,
                    max_size=segments,
                )
            ),
            dtype=float,
        )
        for kind in (count, st.integers(0, 40))
    )
    left[:, -1] += 5
    reached = np.cumsum((fails + left)[:, ::-1], axis=1)[:, ::-1]
    assume(((fails > 0).sum(axis=1) >= 3).all())
    return ages, fails, reached - fails


def _below(ages: Any) -> Any:
    return np.r_[0.0, ages[:-1]]


def _fit(ages: Any, fails: Any, exposed: Any, **more: Any) -> weibull.WeibullFit:
    lower = more.pop("lower", _below(ages))
    return weibull.fit(ages, fails, None, lower=lower, exposed=exposed, **more)


def _same(one: Any, other: Any, rel: float = 1e-6) -> None:
    """Assert that two fits of one segment agree, limits included."""
    assert one.converged == other.converged
    for name in ("shape", "scale", "shape_interval", "scale_interval"):
        assert getattr(one, name) == pytest.approx(
            getattr(other, name), rel=rel, nan_ok=True
        )


@QUICK
@given(fleets(), st.floats(0.01, 400))
def test_rescaled_time_rescales_lives_and_leaves_shares(fleet: Any, by: float) -> None:
    ages, fails, exposed = fleet
    one = _fit(ages, fails[0], exposed[0])
    other = _fit(ages * by, fails[0], exposed[0], lower=_below(ages) * by)
    assert other.shape == pytest.approx(one.shape, rel=1e-6, nan_ok=True)
    assert other.scale == pytest.approx(one.scale * by, rel=1e-6, nan_ok=True)
    assert other.log_likelihood == pytest.approx(
        one.log_likelihood, rel=1e-8, nan_ok=True
    )
    at = ages[1:4]
    for mine, theirs in zip(
        one.cdf_interval(at), other.cdf_interval(at * by), strict=True
    ):
        assert theirs == pytest.approx(mine, rel=1e-5, abs=1e-12, nan_ok=True)


@QUICK
@given(fleets(), st.permutations(range(12)))
def test_the_order_of_rows_does_not_matter(fleet: Any, order: list[int]) -> None:
    ages, fails, exposed = fleet
    order = [k for k in order if k < ages.size]
    one = _fit(ages, fails[0], exposed[0])
    other = _fit(
        ages[order], fails[0][order], exposed[0][order], lower=_below(ages)[order]
    )
    _same(one, other)


@QUICK
@given(fleets())
def test_rows_of_equal_ages_can_be_merged_or_split(fleet: Any) -> None:
    ages, fails, exposed = fleet
    twice, low = np.r_[ages, ages], _below(ages)
    parts = [np.r_[0.25 * t, 0.75 * t] for t in (fails[0], exposed[0])]
    other = _fit(twice, *parts, lower=np.r_[low, low])
    _same(_fit(ages, fails[0], exposed[0]), other)


@QUICK
@given(fleets())
def test_a_cell_without_failures_can_be_cut_in_two(fleet: Any) -> None:
    """Only the time under observation counts there, not how it is divided."""
    ages, fails, exposed = fleet
    empty = np.flatnonzero(fails[0] == 0)
    assume(empty.size)
    low = _below(ages)
    k = int(empty[0])
    middle = (low[k] + ages[k]) / 2
    other = _fit(
        np.insert(ages, k, middle),
        np.insert(fails[0], k, 0.0),
        np.insert(exposed[0], k, exposed[0][k]),
        lower=np.insert(low, k + 1, middle),
    )
    _same(_fit(ages, fails[0], exposed[0]), other)


@QUICK
@given(fleets(), st.integers(1, 10_000))
def test_units_that_leave_at_once_tell_nothing(fleet: Any, units: int) -> None:
    ages, fails, exposed = fleet
    left = -np.diff(exposed[0] + fails[0], append=0.0) - fails[0]
    assume((left >= 0).all())
    one = weibull.fit(ages, fails[0], left, lower=_below(ages))
    other = weibull.fit(
        np.r_[0.0, ages],
        np.r_[0.0, fails[0]],
        np.r_[float(units), left],
        lower=np.r_[0.0, _below(ages)],
    )
    _same(one, other)
    _same(one, _fit(ages, fails[0], exposed[0]))


@QUICK
@given(fleets(segments=3))
def test_a_segment_added_changes_no_other(fleet: Any) -> None:
    ages, fails, exposed = fleet
    alone = _fit(ages, fails[:2], exposed[:2])
    among = _fit(ages, fails, exposed)
    for name in ("shape", "scale", "log_likelihood"):
        mine, theirs = getattr(alone, name), getattr(among, name)[:2]
        np.testing.assert_allclose(mine, theirs, rtol=1e-9)


@QUICK
@given(fleets(segments=2))
def test_segments_that_are_put_together_are_their_sum(fleet: Any) -> None:
    ages, fails, exposed = fleet
    whole = _fit(ages, fails.sum(axis=0), exposed.sum(axis=0))
    rows = [np.concatenate(list(part)) for part in (fails, exposed)]
    parts = _fit(np.tile(ages, 2), *rows, lower=np.tile(_below(ages), 2))
    _same(whole, parts)


@QUICK
@given(fleets(segments=2))
def test_strata_alike_have_the_shape_of_their_sum(fleet: Any) -> None:
    """Two strata with the same counts have one scale, too."""
    ages, fails, exposed = fleet
    twice = [np.stack([part[0], part[0]]) for part in (fails, exposed)]
    common = weibull.common_shape(
        ages, twice[0], None, lower=_below(ages), exposed=twice[1]
    )
    pooled = _fit(ages, 2 * fails[0], 2 * exposed[0])
    if pooled.converged and common.converged:
        assert common.shape == pytest.approx(pooled.shape, rel=1e-6)
        assert common.shape_interval == pytest.approx(pooled.shape_interval, rel=1e-5)


@QUICK
@given(fleets())
def test_limits_hold_the_estimate_and_shares_and_lives_agree(fleet: Any) -> None:
    ages, fails, exposed = fleet
    fit = _fit(ages, fails[0], exposed[0])
    assume(fit.converged)
    low, high = fit.quantile_interval(0.1)
    assert low <= fit.quantile(0.1) <= high
    at = ages[[1, -1]]
    lower, upper = fit.cdf_interval(at)
    share = np.asarray(fit.cdf(at))
    assert (lower <= share + 1e-12).all()
    assert (share <= upper + 1e-12).all()
    # at the lower limit of a life the upper limit of the share is that share
    if 0 < low < high < np.inf:
        assert fit.cdf_interval(low)[1] == pytest.approx(0.1, rel=1e-4)
        assert fit.cdf_interval(high)[0] == pytest.approx(0.1, rel=1e-4)


@QUICK
@given(fleets(), st.floats(0.3, 4.0))
def test_the_free_shape_is_never_less_likely_than_a_held_one(
    fleet: Any, shape: float
) -> None:
    ages, fails, exposed = fleet
    free = _fit(ages, fails[0], exposed[0])
    held = _fit(ages, fails[0], exposed[0], shape=shape)
    assume(free.converged)
    assert held.log_likelihood <= free.log_likelihood + 1e-7
    inside = free.shape_interval[0] < shape < free.shape_interval[1]
    assert inside == (2 * (free.log_likelihood - held.log_likelihood) < 3.841459) or (
        abs(2 * (free.log_likelihood - held.log_likelihood) - 3.841459) < 1e-4
    )


BAD = {
    "a negative count": ("failures", [[-1, 2, 1]]),
    "exposure below 0": ("exposed", [[5, -4, 3]]),
    "a value that is missing": ("exposed", [[5, np.nan, 3]]),
    "failures without end": ("failures", [[1, np.inf, 1]]),
    "another number of ages": ("exposed", [[5, 4]]),
    "a lower end at its age": ("lower", [0, 2, 2]),
    "no ages": ("ages", []),
    "ages in a table": ("ages", [[1, 2, 3]]),
    "words": ("ages", ["a", "b", "c"]),
    "a shape below 0": ("shape", -1.0),
    "too many shapes": ("shape", [1.0, 2.0]),
    "a level of 95": ("confidence", 95),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_at_the_door(case: str) -> None:
    name, value = BAD[case]
    given_ = {
        "ages": [1, 2, 3],
        "failures": [[1, 2, 1]],
        "censored": None,
        "lower": [0, 1, 2],
        "exposed": [[50, 40, 30]],
        name: value,
    }
    with pytest.raises(InputError):
        weibull.fit(**given_)


THIN = {
    "no failure": ([0, 0, 0], [9, 9, 9], "no failure"),
    "one failure": ([0, 1, 0], [9, 9, 9], "1 failure, 2 needed"),
    "one age": ([0, 7, 0], [9, 9, 9], "all failures at one age"),
    "nobody": ([0, 0, 0], [0, 0, 0], "no unit"),
    "first age only, all gone": ([4, 0, 0], [0, 0, 0], "all failures at one age"),
}


@pytest.mark.parametrize("case", THIN)
def test_too_little_is_a_result_with_a_reason(case: str) -> None:
    fails, exposed, why = THIN[case]
    fit = weibull.fit([1, 2, 3], fails, None, lower=[0, 1, 2], exposed=exposed)
    assert not fit.converged
    assert fit.note == why
    shown = [fit.shape, fit.scale, *fit.shape_interval, *fit.scale_interval]
    shown += [fit.quantile(0.1), *fit.quantile_interval(0.1)]
    shown += [fit.cdf(2.0), *fit.cdf_interval(2.0)]
    assert np.isnan(shown).all()
    # with a known shape there is still an upper limit of the share failed
    held = weibull.fit(
        [1, 2, 3], fails, None, lower=[0, 1, 2], exposed=exposed, shape=1.0
    )
    if sum(exposed):
        assert 0 < held.cdf_interval(2.0)[1] < 1


def test_bad_segments_among_thousands_stop_nobody() -> None:
    rng = np.random.default_rng(20240607)
    ages = np.arange(1.0, 25)
    fails = rng.poisson(0.6, (2000, 24)).astype(float)
    exposed = np.repeat(np.linspace(400.0, 20.0, 24)[None, :], 2000, axis=0)
    alone = _fit(ages, fails, exposed)
    fails[7], fails[8], fails[9] = 0.0, 0.0, 0.0
    fails[8, 3], fails[9, 0] = 12.0, 3.0
    exposed[10] = 0.0
    among = _fit(ages, fails, exposed)
    assert [str(note) for note in np.asarray(among.note)[7:10]] == [
        "no failure",
        "all failures at one age",
        "all failures at one age",
    ]
    rest = np.r_[0:7, 11:2000]
    np.testing.assert_allclose(
        np.asarray(among.shape)[rest], np.asarray(alone.shape)[rest], rtol=1e-12
    )


@pytest.mark.parametrize("seed", range(20))
def test_odd_counts_never_raise_and_limits_hold_every_estimate(seed: int) -> None:
    """Ages over ten decades, weights, holes in the watch, nearly all units failed."""
    rng = np.random.default_rng([20240607, seed])
    size = int(rng.integers(2, 30))
    steps = rng.choice([1e-6, 1e-3, 0.5, 1.0, 30.0, 1e4], size)
    ages = np.cumsum(steps if seed % 3 == 0 else rng.uniform(0.1, 3.0, size))
    chance = rng.choice([0.0, 0.1, 1.0, 20.0], (4, 1))
    fails = rng.poisson(chance * rng.random((4, size))) * rng.choice([1.0, 0.37])
    exposed = rng.random((4, size)) * 10.0 ** rng.choice([-3, 0, 1, 3, 9], (4, 1))
    exposed *= rng.random((4, size)) < rng.choice([0.5, 1.0])
    fit = _fit(ages, fails, exposed)
    fit.quantile_interval([0.01, 0.1])
    low, high = (np.asarray(end) for end in fit.cdf_interval(ages[:2]))
    share = np.asarray(fit.cdf(ages[:2]))
    for i in np.flatnonzero(np.asarray(fit.converged)):
        for name in ("shape", "scale"):
            ends = [np.asarray(end)[i] for end in getattr(fit, f"{name}_interval")]
            value = np.asarray(getattr(fit, name))[i]
            assert ends[0] <= value * (1 + 1e-9)
            assert value <= ends[1] * (1 + 1e-9)
        assert (low[i] <= share[i] + 1e-9).all()
        assert (share[i] <= high[i] + 1e-9).all()
    weibull.common_shape(ages, fails, None, lower=_below(ages), exposed=exposed)
    watched = exposed[0] + fails[0].sum()
    asked = {"lower": _below(ages), "seed": 1, "draws": 19, "width": ages[-1] / 5}
    weibull.fit_test(ages, fails[0], exposed[0], watched, **asked)
    found = weibull.limited_share(
        ages, fails[0], None, exposed=exposed[0], watched=watched, **asked
    )
    if not np.isnan(found.share):
        assert found.share_interval[0] <= found.share + 1e-6
        assert found.share <= found.share_interval[1] + 1e-6
