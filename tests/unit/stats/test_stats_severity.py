"""Mean costs: what counts, what is drawn, a small study, and the edges."""

from __future__ import annotations

import importlib
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from claimlens.errors import InputError
from claimlens.stats.severity import draw_means, mean_costs

STUDIES = Path(__file__).parents[2] / "studies"


@pytest.fixture
def studies(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(STUDIES))
    return importlib.import_module("study_severity")


def rng(seed: int = 20240607) -> np.random.Generator:
    return np.random.default_rng(seed)


def test_zeros_and_money_that_came_back_count() -> None:
    costs = [100, 0, -20, 40, 0, 60, 20]
    found = mean_costs(costs, np.zeros(7), [0], rng=rng())
    assert (found.n[0], found.n_zero[0], found.n_negative[0]) == (7, 2, 1)
    assert found.total[0] == 200.0
    assert found.mean[0] == pytest.approx(200 / 7)
    assert found.largest_share[0] == 0.5
    assert found.lower[0] < found.mean[0] < found.upper[0]


def test_groups_without_claims_lean_on_their_pool_alone() -> None:
    found = mean_costs([10, 30, 7], [0, 0, 3], [0, 0, 1, 1, 2], rng=rng())
    assert_array_equal(found.n, [2, 0, 0, 1, 0])
    assert_allclose(found.weight, [2 / 22, 0, 0, 1 / 21, 0])
    assert_array_equal(found.mean, [20, np.nan, np.nan, 7, np.nan])
    assert_array_equal(found.wider_mean, [20, 20, 7, 7, np.nan])
    assert_allclose(found.credible_mean, [20, 20, 7, 7, np.nan], rtol=1e-12)
    assert np.isnan(found.upper).all()
    assert found.note[1] == "0 claims, 5 needed for limits"
    drawn = draw_means([10, 30, 7], [0, 0, 3], [0, 0, 1, 1, 2], rng=rng())
    assert drawn.shape == (4000, 5)
    assert np.isnan(drawn[:, 4]).all()
    assert_allclose(drawn[:, 2:4], 7.0)
    assert ((drawn[:, :2] > 5) & (drawn[:, :2] < 60)).all()


def test_pools_keep_apart_whatever_the_order_of_the_rows() -> None:
    costs, groups, pools = rng().lognormal(3, 1, 60), np.arange(60) % 4, [1, 0, 1, 0]
    found = mean_costs(costs, groups, pools, rng=rng())
    for group in range(4):
        mine = np.isin(groups, [group, (group + 2) % 4])
        assert found.mean[group] == pytest.approx(costs[groups == group].mean())
        assert found.wider_mean[group] == pytest.approx(costs[mine].mean())


def test_no_cost_below_zero_gives_no_limit_below_zero() -> None:
    costs = [0, 0, 0, 1, 30, 2, 3]
    found = mean_costs(costs, np.zeros(7), [0], rng=rng())
    assert found.lower[0] == 0.0
    less = mean_costs(np.array(costs) - 5, np.zeros(7), [0], rng=rng())
    assert less.lower[0] < -5.0
    assert less.upper[0] == pytest.approx(found.upper[0] - 5)


def test_of_39_resamples_the_outermost_are_the_95_per_cent_limits() -> None:
    """The i-th of R is the i / (R + 1) quantile: Davison, Hinkley 1997, 2.2.1."""
    costs = np.array([3.0, 9.0, 1.0, 4.0, 30.0, 7.0, 2.0])
    drawn = costs[(rng().random((39, 7)) * 7).astype(int)]
    ratios = (drawn.mean(axis=1) - costs.mean()) / drawn.std(axis=1, ddof=1)
    found = mean_costs(costs, np.zeros(7), [0], rng=rng(), resamples=39)
    spread = costs.std(ddof=1)
    assert found.upper[0] == pytest.approx(costs.mean() - ratios.min() * spread)
    lower = costs.mean() - ratios.max() * spread
    assert found.lower[0] == pytest.approx(max(lower, 0.0))


def test_where_hardly_a_claim_costs_anything_there_are_no_limits() -> None:
    found = mean_costs([0] * 9 + [50], np.zeros(10), [0], rng=rng())
    assert found.mean[0] == 5.0
    assert np.isnan(found.lower[0])
    assert np.isnan(found.upper[0])
    assert "different cost" in found.note[0]


@pytest.mark.parametrize("cost", [0.0, 40.0, 0.1, 1e9 / 3])
def test_claims_of_one_price_leave_nothing_open(cost: float) -> None:
    found = mean_costs(np.full(12, cost), np.zeros(12), [0], rng=rng())
    assert found.lower[0] == pytest.approx(cost, rel=1e-12)
    assert found.upper[0] == pytest.approx(cost, rel=1e-12)
    assert found.note == ("",)


def test_without_claims_nothing_is_told() -> None:
    none: list[float] = []
    found = mean_costs(none, none, [0, 0], rng=rng())
    assert_array_equal(found.n, [0, 0])
    assert np.isnan(found.credible_mean).all()
    assert np.isnan(found.largest_share).all()
    assert np.isnan(draw_means(none, none, [0, 0], rng=rng(), draws=3)).all()
    assert mean_costs(none, none, none, rng=rng()).note == ()
    assert draw_means(none, none, none, rng=rng(), draws=3).shape == (3, 0)


def test_a_total_that_came_back_has_no_largest_share() -> None:
    found = mean_costs([10, -30], [0, 0], [0], rng=rng())
    assert np.isnan(found.largest_share[0])


def test_drawn_means_have_the_mean_and_spread_that_follow_by_hand() -> None:
    """A group of 10 beside a pool of 4,000; the variance term by term."""
    source = rng()
    own, others = source.lognormal(1.0, 0.8, 10), source.lognormal(0.0, 1.0, 4000)
    groups = np.repeat([0, 1], [10, 4000])
    costs = np.append(own, others)
    drawn = draw_means(costs, groups, [0, 0], rng=source, draws=40_000)
    found = mean_costs(costs, groups, [0, 0], rng=source)
    n, k = 10, 20
    # B ~ Beta(n, k); weights of the group's claims, and 21 claims of the pool
    of_b = n * k / ((n + k) ** 2 * (n + k + 1))
    share = n / (n + k)
    of_own = own.var() / (n + 1)
    of_other = costs.var() * (1 / 21 + 1 / costs.size)
    variance = (
        (share**2 + of_b) * of_own
        + ((1 - share) ** 2 + of_b) * of_other
        + of_b * (own.mean() - costs.mean()) ** 2
    )
    sd = np.sqrt(variance)
    assert abs(drawn[:, 0].mean() - found.credible_mean[0]) < 4 * sd / np.sqrt(40_000)
    assert drawn[:, 0].std() == pytest.approx(sd, rel=0.03)
    # of very many claims only their own mean's error is left
    assert drawn[:, 1].std() == pytest.approx(others.std() / np.sqrt(4000), rel=0.05)


def test_groups_share_what_is_not_known_of_their_pool() -> None:
    """Two groups without claims beside one of ten: 1/11 of 1/11 + 1/21 is shared."""
    costs = rng().lognormal(0.0, 0.3, 10)
    drawn = draw_means(costs, np.zeros(10), [0, 0, 0], rng=rng(), draws=20_000)
    alike = np.corrcoef(drawn[:, 1], drawn[:, 2])[0, 1]
    assert alike == pytest.approx((1 / 11) / (1 / 11 + 1 / 21), abs=0.04)


def test_a_pool_that_brought_money_back_is_drawn_about_its_mean() -> None:
    costs = np.append(np.full(10, -50.0), np.arange(10))
    drawn = draw_means(costs, np.zeros(20), [0, 0], rng=rng())
    assert_allclose(drawn.mean(axis=0), costs.mean(), rtol=0.03)
    # the pool's own error and the departure of a group without claims
    sd = costs.std() * np.sqrt(1 / 21 + 1 / 21)
    assert drawn[:, 1].std() == pytest.approx(sd, rel=0.04)


def test_a_group_without_claims_departs_as_the_mean_of_21_claims_does() -> None:
    costs = rng().uniform(50, 150, 5000)
    drawn = draw_means(costs, np.zeros(5000), [0, 0], rng=rng())
    sd = costs.std() * np.sqrt(1 / 21 + 1 / 5001)
    assert drawn[:, 1].std() == pytest.approx(sd, rel=0.015)


def test_the_same_seed_gives_the_same_bytes_and_another_another() -> None:
    costs, groups = rng().lognormal(3, 1, 50), np.arange(50) % 3
    one, same, other = (
        draw_means(costs, groups, [0, 0, 0], rng=rng(seed), draws=200)
        for seed in (1, 1, 2)
    )
    assert one.tobytes() == same.tobytes()
    assert one.tobytes() != other.tobytes()
    first, again = (
        mean_costs(costs, groups, [0, 0, 0], rng=rng(1)).upper for _ in range(2)
    )
    assert first.tobytes() == again.tobytes()


def test_blocks_of_draws_are_one_draw(monkeypatch: pytest.MonkeyPatch) -> None:
    """Limits do not depend on how many resamples are held at a time."""
    costs, groups = rng().lognormal(3, 1, 40), np.arange(40) % 2
    whole = mean_costs(costs, groups, [0, 0], rng=rng())
    monkeypatch.setattr("claimlens.stats.severity._BLOCK", 300)
    parts = mean_costs(costs, groups, [0, 0], rng=rng())
    assert whole.upper.tobytes() == parts.upper.tobytes()
    drawn = draw_means(costs, groups, [0, 0], rng=rng(), draws=3000)
    assert_allclose(drawn.mean(axis=0), whole.credible_mean, rtol=0.03)


def test_limits_of_mean_costs_hold_about_their_level(studies: ModuleType) -> None:
    """The study small: what was chosen holds, what was not fails somewhere."""
    rows = {
        (row["costs"], row["claims"]): row
        for row in studies.study(150, sizes=(5, 20, 200))
    }
    for sigma, least in ((0.5, 0.89), (1.0, 0.84), (1.5, 0.76)):
        for n in (5, 20, 200):
            row = rows[f"log-normal {sigma}", n]
            assert least < row["bootstrap-t"] < 0.99
            assert row["bootstrap-t"] >= row["percentiles"] - 0.025
            assert row["no limits"] < 0.05
    assert rows["gamma", 200]["bootstrap-t"] > 0.9
    assert rows["gamma", 200]["logarithms"] < 0.6
    assert rows["cheap or dear", 200]["logarithms"] < 0.7


def test_drawn_means_hold_the_true_ones_of_groups(studies: ModuleType) -> None:
    rows = studies.draws_study(repeats=40)
    as_weighed = rows[3]
    assert as_weighed["spread of groups"] == 0.3
    for n in (0, 2, 5, 20, 100, 500):
        assert as_weighed[f"{n} claims"] > 0.8
    for row in rows:
        assert row["500 claims"] > 0.82
        assert 0.95 < row["sum / truth"] < 1.05


@pytest.mark.parametrize(
    ("costs", "groups", "pools"),
    [
        ([1, 2], [0], [0]),
        ([[1, 2]], [[0, 0]], [0]),
        ([1, np.nan], [0, 0], [0]),
        ([1, 2], [0, 1], [0]),
        ([1, 2], [0, -1], [0]),
        ([1, 2], [0, 0.5], [0]),
        ([1, 2], [0, 0], [-1]),
        ([1, 2], [0, 0], [[0]]),
        (["a"], [0], [0]),
    ],
)
def test_what_cannot_be_is_refused(costs: Any, groups: Any, pools: Any) -> None:
    with pytest.raises(InputError):
        mean_costs(costs, groups, pools, rng=rng())
    with pytest.raises(InputError):
        draw_means(costs, groups, pools, rng=rng())


def test_too_few_draws_are_refused() -> None:
    with pytest.raises(InputError):
        draw_means([1], [0], [0], rng=rng(), draws=0)
    with pytest.raises(InputError):
        mean_costs([1], [0], [0], 0.999, rng=rng(), resamples=999)
    with pytest.raises(InputError):
        mean_costs([1], [0], [0], 95, rng=rng())
