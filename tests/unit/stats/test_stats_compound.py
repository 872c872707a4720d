"""Sums of a number of claims, each with a cost of its own."""

from __future__ import annotations

import numpy as np
import pytest

from claimlens.errors import InputError
from claimlens.stats.compound import compound_sums

SEED = 20240607
SAMPLE = np.array([0.0, 10.0, 20.0, 400.0])


def rng() -> np.random.Generator:
    return np.random.default_rng(SEED)


def test_no_claim_costs_nothing() -> None:
    sums = compound_sums([0, 3, 0], [5.0, 5.0, -5.0], SAMPLE, rng=rng())
    assert sums[0] == sums[2] == 0.0
    assert sums[1] >= 0.0


def test_one_claim_costs_one_of_the_sample() -> None:
    sums = compound_sums(np.ones(200), np.full(200, SAMPLE.mean()), SAMPLE, rng=rng())
    assert set(sums) == set(SAMPLE)


@pytest.mark.parametrize("number", [1, 7, 900, 1_100, 40_000])
def test_sums_have_the_mean_and_variance_of_a_compound_sum(number: int) -> None:
    """Below and above the number from which the sum is drawn as normal."""
    size = 20_000 if number < 100 else 4_000
    mean = 3.0 * SAMPLE.mean()
    sums = compound_sums(np.full(size, number), np.full(size, mean), SAMPLE, rng=rng())
    spread = 3.0 * SAMPLE.std() * np.sqrt(number)
    assert sums.mean() == pytest.approx(number * mean, abs=4 * spread / np.sqrt(size))
    assert sums.std() == pytest.approx(spread, rel=0.06)


def test_a_mean_that_is_not_above_nothing_moves_the_costs() -> None:
    drawn = compound_sums(np.ones(300), np.full(300, -4.0), SAMPLE, rng=rng())
    assert set(np.round(drawn, 9)) == set(SAMPLE - SAMPLE.mean() - 4.0)
    negative = compound_sums([2], [-3.0], [-3.0], rng=rng())
    assert negative[0] == pytest.approx(-6.0)


def test_many_claims_are_drawn_in_blocks_without_a_seam() -> None:
    sums = compound_sums(np.full(12_000, 1_000), np.full(12_000, 2.0), [2.0], rng=rng())
    np.testing.assert_allclose(sums, 2_000.0)


@pytest.mark.parametrize(
    ("counts", "means", "sample"),
    [
        ([1, 2], [1.0], [1.0]),
        ([-1], [1.0], [1.0]),
        ([1], [1.0], []),
        ([[1]], [[1]], [1]),
    ],
)
def test_what_cannot_be_is_refused(counts: list, means: list, sample: list) -> None:
    with pytest.raises(InputError):
        compound_sums(counts, means, sample, rng=rng())
