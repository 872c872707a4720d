"""The sales lag: what has not ended by the cut-off is not forgotten."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from claimlens.errors import InputError
from claimlens.stats.lag import lag_table, truncated_lag


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


def _drawn(seed: int, rate: float = 30.0) -> tuple[np.ndarray, np.ndarray]:
    """Draw 24 rows of claims by lag 0 to 12, cut by the horizon of each row."""
    rng = np.random.default_rng([20240607, seed])
    share = np.diff([0.0, 0.35, 0.75, 0.9, 0.95, 0.98, 1.0])
    counts = np.zeros((24, 13))
    counts[:, :6] = rng.multinomial(rng.poisson(rate, 24), share)
    horizons = np.arange(24)[::-1]
    counts[np.arange(13) > horizons[:, None]] = 0.0
    return counts, horizons


def test_monthly_and_daily_estimates_are_one_arithmetic() -> None:
    counts, horizons = _drawn(1)
    rows = [
        (lag, horizon, counts[i, lag])
        for i, horizon in enumerate(horizons)
        for lag in range(min(horizon, 12) + 1)
    ]
    lags, limits, weights = zip(*rows, strict=True)
    support, probability = truncated_lag(lags, np.minimum(limits, 12), weights)
    by_lag = np.zeros(13)
    by_lag[support] = probability
    assert_allclose(lag_table(counts, horizons).share, np.cumsum(by_lag), rtol=1e-12)


def test_share_reported_rises_to_one_and_its_variance_falls_to_none() -> None:
    table = lag_table(*_drawn(2))
    assert (np.diff(table.share) >= 0).all()
    assert table.share[-1] == 1.0
    assert (np.diff(table.log_variance) <= 0).all()
    assert table.log_variance[-1] == 0.0


def test_twice_the_claims_halve_the_variance_and_leave_the_share() -> None:
    counts, horizons = _drawn(3)
    once, twice = lag_table(counts, horizons), lag_table(2 * counts, horizons)
    assert_allclose(twice.share, once.share, rtol=1e-12)
    assert_allclose(twice.log_variance, once.log_variance / 2, rtol=1e-12)


def test_variance_of_the_share_is_that_of_many_draws() -> None:
    """The delta method against the spread of ln G over 3,000 drawn triangles."""
    tables = [lag_table(*_drawn(seed, 60.0)) for seed in range(3000)]
    spread = np.var([np.log(table.share[:5]) for table in tables], axis=0)
    claimed = np.mean([table.log_variance[:5] for table in tables], axis=0)
    assert_allclose(claimed, spread, rtol=0.08)


def test_a_lag_that_no_row_tells_is_taken_as_none_and_said() -> None:
    table = lag_table([[0, 0, 0], [0, 3, 0], [5, 0, 0]], [2, 1, 0])
    assert table.share[1] == 1.0
    assert "lag 2" in table.note
    assert lag_table(*_drawn(4)).note == ""


def test_claims_only_at_the_longest_lag_leave_nothing_known_before_it() -> None:
    table = lag_table([[0, 0, 7]], [2])
    assert table.share.tolist() == [0.0, 0.0, 1.0]
    assert table.log_variance[0] == np.inf


@pytest.mark.parametrize(
    ("counts", "horizons"),
    [
        ([[1, 2]], [0]),
        ([[-1, 2]], [1]),
        ([[1, np.nan]], [1]),
        ([1, 2], [1, 1]),
        ([[1, 2]], [1, 1]),
    ],
)
def test_a_table_that_cannot_be_is_refused(counts: list, horizons: list) -> None:
    with pytest.raises(InputError):
        lag_table(counts, horizons)
