"""Completed counts: what is still to come, and how sure that is."""

from __future__ import annotations

import importlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import stats

from claimlens.errors import InputError
from claimlens.stats import completion
from claimlens.stats.completion import complete_counts


def test_a_whole_count_is_complete() -> None:
    found = complete_counts([7, 0], [1.0, 1.0], [0.0, 0.0])
    assert found.count.tolist() == found.lower.tolist() == found.upper.tolist()
    assert found.count.tolist() == [7.0, 0.0]


def test_a_third_seen_means_three_times_as_many_expected() -> None:
    found = complete_counts([35], [0.35], [0.0])
    assert_allclose(found.count, 100.0)
    assert 70 < found.lower[0] < 90
    assert 115 < found.upper[0] < 140


def test_limits_are_those_of_the_negative_binomial_where_the_share_is_known() -> None:
    """Size 12.5 and probability 0.4, from scipy's own distribution."""
    found = complete_counts([12], [0.4], [0.0], 0.9)
    more = np.arange(200)
    own = stats.nbinom.pmf(more, 12.5, 0.4)
    middle = np.cumsum(own) - own / 2
    inside = more[(middle >= 0.05) & (middle <= 0.95)]
    assert found.lower[0] == 12 + inside.min()
    assert found.upper[0] == 12 + inside.max()


def test_where_none_may_be_to_come_the_whole_chance_lies_above() -> None:
    """Share 0.9 of 10 seen: none to come has the chance 0.9 ** 10.5, about a third."""
    found = complete_counts([10], [0.9], [0.0], 0.95)
    more = np.arange(60)
    own = stats.nbinom.pmf(more, 10.5, 0.9)
    middle = np.cumsum(own) - own / 2
    assert found.lower[0] == 10
    assert found.upper[0] == 10 + more[middle <= 0.95].max()


def test_an_uncertain_share_agrees_with_random_draws() -> None:
    """200,000 draws of the same model: gamma mean, Poisson rest, normal ln G."""
    rng = np.random.default_rng(20240607)
    share = np.minimum(0.35 * np.exp(0.12 * rng.standard_normal(200_000)), 1.0)
    mean = rng.gamma(40.5, 1.0, share.size) / share
    rest = rng.poisson(mean * (1 - share))
    found = complete_counts([40], [0.35], [0.12**2])
    assert abs(found.lower[0] - 40 - np.quantile(rest, 0.025)) <= 1
    assert abs(found.upper[0] - 40 - np.quantile(rest, 0.975)) <= 1


def test_more_points_move_no_limit(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    case = ([2, 30, 400], [0.35, 0.35, 0.35], [0.03, 0.01, 0.005])
    first = complete_counts(*case)
    monkeypatch.setattr(completion, "_NODES", 150)
    finer = complete_counts(*case)
    assert_allclose(first.lower, finer.lower, atol=1)
    assert_allclose(first.upper, finer.upper, atol=1)


def test_where_nothing_is_known_nothing_is_claimed() -> None:
    found = complete_counts([3, 5], [0.0, 0.5], [np.inf, 0.01])
    assert np.isnan([found.count[0], found.lower[0], found.upper[0]]).all()
    assert found.count[1] == 10.0


def test_no_claim_seen_still_has_an_upper_limit() -> None:
    found = complete_counts([0], [0.35], [0.0])
    assert found.count[0] == found.lower[0] == 0.0
    assert found.upper[0] >= 3


@settings(max_examples=60, deadline=None)
@given(
    st.integers(0, 3000),
    st.floats(0.05, 1.0),
    st.floats(0.0, 0.2),
    # doubt is skewed: a middle half of what may come can end lower with it
    st.floats(0.8, 0.98),
)
def test_limits_hold_the_observed_count_and_widen_with_doubt(
    seen: int, share: float, variance: float, level: float
) -> None:
    found = complete_counts([seen], [share], [variance], level)
    wider = complete_counts([seen], [share], [variance], (1 + level) / 2)
    assert seen <= found.lower[0] <= found.upper[0]
    assert wider.lower[0] <= found.lower[0]
    assert wider.upper[0] >= found.upper[0]
    known = complete_counts([seen], [share], [0.0], level)
    assert known.upper[0] <= found.upper[0] + 1


@pytest.mark.parametrize(
    "case",
    [
        ([-1], [0.5], [0.0]),
        ([1], [1.5], [0.0]),
        ([1], [0.5], [-0.1]),
        ([1], [0.5], [np.nan]),
        ([1, 2], [0.5], [0.0]),
        ([np.nan], [0.5], [0.0]),
    ],
)
def test_what_cannot_be_is_refused(case: tuple) -> None:
    with pytest.raises(InputError):
        complete_counts(*case)


def test_limits_hold_their_level_in_a_small_study(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The study itself, with 4,000 runs a row, stands in ``tests/studies``."""
    monkeypatch.syspath_prepend(str(Path(__file__).parents[2] / "studies"))
    rows = importlib.import_module("study_reporting_lag").study(repeats=300)
    assert [row["claims a month"] for row in rows] == [5, 20, 100]
    for row in rows:
        assert abs(row["G(0)"] - 0.35) < 0.01
        assert abs(row["G(1)"] - 0.75) < 0.01
        assert 0.92 < row["95% limits of G"] < 0.98
        assert 0.92 < row["95% limits of counts"] < 0.975
        assert 0.87 < row["90% limits of counts"] < 0.94
