"""The sales lag: what has not ended by the cut-off is not forgotten."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from claimlens.errors import InputError
from claimlens.stats.lag import truncated_lag


def test_the_share_reported_equals_the_published_style_of_triangle() -> None:
    """Cumulative counts 10, 18, 20 / 12, 21 / 8 give shares 33/65, 9/10, 1.

    The reverse-time product limit (Kalbfleisch, Lawless 1989) is the arithmetic of
    the chain ladder; exact fractions by both routes.
    """
    lags = [0, 1, 2, 0, 1, 0]
    horizons = [2, 2, 2, 1, 1, 0]
    counts = [10, 8, 2, 12, 9, 8]
    support, probability = truncated_lag(lags, horizons, counts)
    assert support.tolist() == [0, 1, 2]
    assert_allclose(np.cumsum(probability), [33 / 65, 9 / 10, 1], rtol=1e-12)


def test_without_truncation_it_is_the_plain_share() -> None:
    support, probability = truncated_lag([0, 3, 7], [99, 99, 99], [5, 3, 2])
    assert support.tolist() == [0, 3, 7]
    assert_allclose(probability, [0.5, 0.3, 0.2])


def test_simulated_lags_are_found_where_plain_means_are_short() -> None:
    rng = np.random.default_rng(20240607)
    horizon = rng.integers(0, 700, 40_000)
    lag = rng.gamma(2.0, 40.0, horizon.size).astype(int)
    seen = lag <= horizon
    support, probability = truncated_lag(
        lag[seen], horizon[seen], np.ones(int(seen.sum()))
    )
    assert_allclose((support * probability).sum(), lag.mean(), rtol=0.02)
    assert lag[seen].mean() < 0.95 * lag.mean()


def test_no_rows_give_no_distribution() -> None:
    support, probability = truncated_lag([], [], [])
    assert support.size == probability.size == 0


@pytest.mark.parametrize(
    ("lags", "horizons", "counts"),
    [([5], [3], [1]), ([-1], [3], [1]), ([1], [3], [-1]), ([1, 2], [3], [1])],
)
def test_impossible_rows_are_refused(
    lags: list[int], horizons: list[int], counts: list[int]
) -> None:
    with pytest.raises(InputError):
        truncated_lag(lags, horizons, counts)
