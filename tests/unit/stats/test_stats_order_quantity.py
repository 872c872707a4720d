"""What to hold and to order: the smallest that suffices, by draws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from claimlens.errors import InputError
from claimlens.stats.order_quantity import (
    chance_above,
    demand_drawn,
    order_size,
    shares_drawn,
    to_hold,
)

SEED = 20240607


@pytest.mark.parametrize(
    ("drawn", "level", "expected"),
    [
        ([0, 0, 0, 0, 0, 0, 0, 0, 0, 5], 0.9, 0),
        ([0, 0, 0, 0, 0, 0, 0, 0, 0, 5], 0.95, 5),
        (list(range(1, 101)), 0.95, 95),
        (list(range(1, 21)), 0.95, 19),
        ([0.5, 1.5, 2.0], 0.6, 2),
        ([3], 0.5, 3),
    ],
)
def test_the_quantity_of_a_few_draws_is_that_by_hand(
    drawn: list[float], level: float, expected: int
) -> None:
    assert to_hold(drawn, level) == expected


@given(
    drawn=st.lists(st.integers(0, 60), min_size=1, max_size=300),
    level=st.sampled_from([0.5, 0.8, 0.95, 0.99, 0.999]),
    part=st.sampled_from([1.0, 0.5, 0.25]),
)
def test_it_suffices_and_one_piece_fewer_does_not(
    drawn: list[int], level: float, part: float
) -> None:
    demand = np.array(drawn) * part
    quantity = int(to_hold(demand, level))
    assert np.mean(demand <= quantity) >= level - 1e-12
    assert quantity == 0 or np.mean(demand <= quantity - 1) < level
    assert chance_above(demand, quantity) == pytest.approx(
        1 - np.mean(demand <= quantity)
    )


def test_many_rows_are_answered_at_once() -> None:
    drawn = np.random.default_rng(SEED).poisson([[2.0], [9.0], [0.01]], (3, 999))
    together = to_hold(drawn, 0.95)
    assert together.tolist() == [int(to_hold(row, 0.95)) for row in drawn]
    assert chance_above(drawn, together).shape == (3,)


@pytest.mark.parametrize("mean", [0.02, 0.7, 4.0, 35.0])
@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
def test_plain_events_give_the_quantile_of_poisson(mean: float, level: float) -> None:
    random = np.random.default_rng(SEED)
    drawn = demand_drawn([1.0], np.full((1, 200_000), mean), random)
    quantity = int(to_hold(drawn, level))
    law = stats.poisson(mean)
    near = 4 * np.sqrt(level * (1 - level) / 200_000)
    assert law.cdf(quantity) >= level - near
    assert law.cdf(quantity - 1) < level + near


def test_an_unknown_rate_spreads_the_demand_as_the_negative_binomial() -> None:
    random = np.random.default_rng(SEED)
    shape, mean = 2.5, 8.0
    rate = random.gamma(shape, mean / shape, 400_000)
    drawn = demand_drawn([1.0], rate[None, :], random)
    law = stats.nbinom(shape, shape / (shape + mean))
    for level in (0.8, 0.95, 0.99):
        quantity = int(to_hold(drawn, level))
        assert law.cdf(quantity) >= level - 0.003
        assert law.cdf(quantity - 1) < level + 0.003


def test_kits_and_pairs_add_their_pieces() -> None:
    """Mean and variance of a compound Poisson demand: sums of n λ and n² λ."""
    random = np.random.default_rng(SEED)
    rates = np.repeat([[3.0], [0.5]], 300_000, axis=1)
    drawn = demand_drawn([1.0, 4.0], rates, random)
    assert drawn.mean() == pytest.approx(3.0 + 4 * 0.5, rel=0.01)
    assert drawn.var() == pytest.approx(3.0 + 16 * 0.5, rel=0.02)


def test_shares_have_the_mean_and_spread_of_dirichlet() -> None:
    drawn = shares_drawn([6.0, 3.0, 1.0], 200_000, np.random.default_rng(SEED))
    assert drawn.sum(axis=0) == pytest.approx(np.ones(200_000))
    law = stats.dirichlet([6.0, 3.0, 1.0])
    assert drawn.mean(axis=1) == pytest.approx(law.mean(), abs=0.002)
    assert drawn.var(axis=1) == pytest.approx(law.var(), rel=0.03)


def test_shares_of_very_little_are_shares_all_the_same() -> None:
    drawn = shares_drawn([0.0, 1e-6, 1e-9], 500, np.random.default_rng(SEED))
    assert np.isfinite(drawn).all()
    assert drawn.sum(axis=0) == pytest.approx(np.ones(500))


@given(
    needed=st.integers(-20, 400),
    minimum=st.integers(1, 60),
    pack=st.integers(1, 25),
)
def test_an_order_is_the_smallest_that_is_sold(
    needed: int, minimum: int, pack: int
) -> None:
    found = order_size(needed, minimum=minimum, pack=pack)
    sold = [0, *(n for n in range(0, 600, pack) if n >= minimum)]
    assert found == min(n for n in sold if n >= needed)


@pytest.mark.parametrize("level", [0.0, 1.0, 95])
def test_a_level_that_is_no_chance_is_refused(level: float) -> None:
    with pytest.raises(InputError, match="strictly between 0 and 1"):
        to_hold([1, 2], level)


def test_what_cannot_be_a_demand_is_refused() -> None:
    with pytest.raises(InputError, match="at least one draw"):
        to_hold([], 0.95)
    with pytest.raises(InputError, match="negative"):
        to_hold([1, -1], 0.95)
    with pytest.raises(InputError, match="No event"):
        shares_drawn([0.0, 0.0], 5, np.random.default_rng(SEED))
    with pytest.raises(InputError, match="at least 1"):
        order_size(5, pack=0)
