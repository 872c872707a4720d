"""Rates of groups drawn towards each other."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from claimlens.errors import InputError
from claimlens.stats import shrinkage


def _groups(seed: int, size: int, alpha: float) -> tuple[Any, Any, Any]:
    rng = np.random.default_rng([20240607, seed])
    expected = rng.lognormal(np.log(4), 0.8, size)
    truth = rng.gamma(alpha, 1 / alpha, size)
    return rng.poisson(truth * expected).astype(float), expected, truth


def test_shrunken_ratios_are_closer_to_the_truth_than_raw_ones() -> None:
    raw = shrunk = 0.0
    covered = []
    for seed in range(30):
        observed, expected, truth = _groups(seed, 40, 4.0)
        found = shrinkage.shrink(observed, expected, seed=seed, draws=10)
        raw += ((observed / expected - truth) ** 2).mean()
        shrunk += ((found.ratio - truth) ** 2).mean()
        covered.append(((found.lower < truth) & (truth < found.upper)).mean())
    assert shrunk < 0.6 * raw
    assert 0.82 < np.mean(covered) < 0.95


def test_the_spread_is_recovered_from_many_groups() -> None:
    alphas = [
        shrinkage.shrink(*_groups(seed, 200, 4.0)[:2], seed=1, draws=10).alpha
        for seed in range(15)
    ]
    assert 3 <= np.median(alphas) <= 5.5


def test_alpha_has_the_greatest_marginal_likelihood() -> None:
    """The counts are negative binomial; scipy's nbinom is the witness."""
    observed, expected, _ = _groups(1, 60, 2.0)
    alpha = shrinkage.shrink(observed, expected, seed=1).alpha

    def likelihood(a: float) -> float:
        return float(stats.nbinom.logpmf(observed, a, a / (a + expected)).sum())

    assert likelihood(alpha) >= likelihood(alpha * 1.02)
    assert likelihood(alpha) >= likelihood(alpha / 1.02)


def test_equal_groups_are_drawn_all_the_way_to_one() -> None:
    found = shrinkage.shrink([5] * 8, [5] * 8, seed=1)
    assert found.alpha > 100
    np.testing.assert_allclose(found.ratio, 1.0)


def test_few_groups_use_a_set_spread_and_say_so() -> None:
    found = shrinkage.shrink([3, 0, 1], [1, 2, 1], seed=1)
    assert found.alpha == 4.0
    assert "fewer than 5 groups" in found.note
    exact = stats.gamma(7, scale=1 / 5).ppf([0.05, 0.95])
    assert [found.lower[0], found.upper[0]] == pytest.approx(exact, rel=1e-9)


def test_a_group_that_expects_nothing_is_left_out() -> None:
    found = shrinkage.shrink([3, 0, 1], [1, 0, 1], seed=1)
    assert np.isnan(found.ratio[1])
    assert found.rank_upper[1] == 0
    assert set(found.rank_upper[[0, 2]]) <= {1, 2}


def test_a_far_leader_ranks_first_and_equals_share_ranks() -> None:
    found = shrinkage.shrink([400, 10, 10, 10, 10], [10.0] * 5, seed=1)
    assert (found.rank_lower[0], found.rank_upper[0]) == (1, 1)
    assert (found.rank_lower[1:] <= 2).all()
    assert (found.rank_upper[1:] == 5).all()


def test_no_groups_give_no_rows() -> None:
    assert shrinkage.shrink([], [], seed=1).ratio.size == 0


@pytest.mark.parametrize(
    ("call", "rule"),
    [
        (lambda: shrinkage.shrink([1], [0], seed=1), "must expect some"),
        (lambda: shrinkage.shrink([1], [1, 2], seed=1), "rows of one length"),
        (lambda: shrinkage.shrink([-1], [1], seed=1), "observed must not be negative"),
        (lambda: shrinkage.posterior_rate(0, 0, 0, 1), "must be above 0"),
    ],
)
def test_what_cannot_be_is_refused_with_the_rule(call: Any, rule: str) -> None:
    with pytest.raises(InputError, match=rule):
        call()
