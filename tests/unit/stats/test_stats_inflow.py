"""The sales lag: of groups, and as the claims' in-service dates tell it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from claimlens.errors import InputError
from claimlens.stats.inflow import Inflow, fit_lag, gamma_lag, inflow
from claimlens.stats.lag import truncated_lag
from claimlens.stats.sales_lag import in_steps, lag_of_group


@pytest.mark.parametrize(("mean", "shape"), [(10.0, 1.0), (75.0, 1.5), (200.0, 6.0)])
def test_a_gamma_lag_has_the_chances_of_scipy(mean: float, shape: float) -> None:
    chance = gamma_lag(mean, shape)
    law = stats.gamma(shape, scale=mean / shape)
    assert chance.sum() == pytest.approx(1.0, abs=1e-12)
    days = np.arange(chance.size)
    exact = law.cdf(days + 1) - law.cdf(days)
    assert chance == pytest.approx(exact, rel=2e-3)
    assert (days + 0.5) @ chance == pytest.approx(mean, rel=0.02)


def test_no_lag_is_a_lag_of_no_days() -> None:
    assert gamma_lag(0.0).tolist() == [1.0]


@pytest.mark.parametrize(("mean", "shape"), [(-1.0, 1.0), (np.nan, 1.0), (30.0, 0.0)])
def test_an_impossible_lag_is_refused(mean: float, shape: float) -> None:
    with pytest.raises(InputError, match="sales lag"):
        gamma_lag(mean, shape)


def test_units_come_into_service_as_the_lag_delays_them() -> None:
    shipped = np.array([0.0, 10.0, 0.0, 20.0, 0.0, 0.0])
    by_day = inflow(shipped, [0.5, 0.0, 0.5])
    assert by_day == pytest.approx([0.0, 5.0, 0.0, 15.0, 0.0, 10.0], abs=1e-12)


def drawn(
    rng: np.random.Generator, mean: float, shape: float, units: int
) -> list[Inflow]:
    """Three model years, each shipped over a year; failures at every age alike."""
    days = 1_500
    groups = []
    for year in range(3):
        shipped = np.zeros(days)
        shipped[year * 365 : year * 365 + 365] = 1.0 + np.sin(np.arange(365) / 60) / 2
        ship = rng.choice(days, units, p=shipped / shipped.sum())
        start = ship + rng.gamma(shape, mean / shape, units).astype(int)
        age = rng.integers(0, 365, units)
        seen = start + age < days
        groups.append(
            Inflow(shipped=shipped, started=start[seen], latest=days - 1 - age[seen])
        )
    return groups


@pytest.mark.parametrize("mean", [25.0, 75.0, 180.0])
def test_the_lag_is_found_from_claims_alone(mean: float) -> None:
    """Five fleets of a known lag: right in the mean, and within the limits."""
    rng = np.random.default_rng([3, int(mean)])
    fits = [fit_lag(drawn(rng, mean, 1.5, 150)) for _ in range(5)]
    assert np.mean([fit.mean_days for fit in fits]) == pytest.approx(mean, rel=0.1)
    assert sum(fit.lower <= mean <= fit.upper for fit in fits) >= 4


def test_without_a_claim_there_is_no_lag_but_a_reason() -> None:
    none = np.zeros(0, dtype=np.int64)
    fit = fit_lag([Inflow(shipped=np.ones(100), started=none, latest=none)])
    assert np.isnan(fit.mean_days)
    assert fit.n_claims == 0
    assert "no claim" in fit.note


def test_a_few_claims_leave_the_lag_near_the_typical_one() -> None:
    one = Inflow(
        shipped=np.ones(1_000), started=np.array([700]), latest=np.array([900])
    )
    fit = fit_lag([one])
    assert 40 < fit.mean_days < 140
    assert fit.upper / fit.lower > 10
    near = fit_lag([one], typical=(200.0, 0.05))
    assert near.mean_days == pytest.approx(200, rel=0.05)


def test_a_large_group_has_its_own_lag() -> None:
    rng = np.random.default_rng(1)
    lag = rng.integers(0, 40, 5_000)
    horizon = np.full(5_000, 400)
    coarser = np.zeros(200)
    coarser[150] = 1.0
    found = lag_of_group(lag, horizon, np.ones(5_000), coarser=coarser)
    assert found[:40].sum() == pytest.approx(5_000 / 5_050, abs=1e-12)
    assert found[150] == pytest.approx(50 / 5_050, abs=1e-12)


def test_a_young_group_leaves_long_lags_to_the_coarser_one() -> None:
    """Units shipped 30 days ago cannot show a lag of 90 days."""
    coarser = np.zeros(91)
    coarser[[10, 90]] = 0.5
    found = lag_of_group(
        np.full(1_000, 10), np.full(1_000, 30), np.ones(1_000), coarser=coarser
    )
    assert found[10] == pytest.approx(0.5, abs=1e-12)
    assert found[90] == pytest.approx(0.5, abs=1e-12)


def test_lags_that_hardly_any_unit_could_show_are_left_out() -> None:
    """One old unit sold after 300 days must not move the lags of a thousand."""
    lag = np.append(np.full(1_000, 20), 300)
    horizon = np.append(np.full(1_000, 100), 300)
    plain, _ = truncated_lag(lag, horizon, np.ones(1_001))
    assert plain.tolist() == [300]  # what the product limit says
    found = lag_of_group(lag, horizon, np.ones(1_001))
    assert found[20] == pytest.approx(1.0, abs=1e-12)


@given(st.integers(0, 10_000), st.integers(1, 80), st.integers(1, 30))
def test_chances_add_up_whatever_the_group(seed: int, n: int, step: int) -> None:
    rng = np.random.default_rng(seed)
    horizon = rng.integers(0, 300, n)
    lag = np.floor(rng.random(n) * (horizon + 1)).astype(int)
    count = rng.integers(0, 5, n)
    coarser = rng.random(rng.integers(1, 200))
    coarser /= coarser.sum()
    found = lag_of_group(lag, horizon, count, coarser=coarser)
    assert found.min() >= 0
    assert found.sum() == pytest.approx(1.0, abs=1e-9)
    lags, weight = in_steps(found, step)
    assert weight.sum() == pytest.approx(found.sum(), abs=1e-12)
    assert (np.diff(lags) > 0).all()


def test_columns_of_other_lengths_are_refused() -> None:
    with pytest.raises(InputError, match="one length"):
        lag_of_group([1, 2], [3], [1.0, 1.0])
