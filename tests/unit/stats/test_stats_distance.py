"""Lives against distance: known truth, a direct likelihood, reasons, bad input."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize
from scipy.stats import norm

from claimlens.errors import InputError
from claimlens.stats.distance import (
    GROUPS,
    DistanceLife,
    Failed,
    Kind,
    fit_by_distance,
)
from claimlens.stats.usage import UsageRates

EDGES = np.arange(0.0, 10_001.0, 100.0)
TRUE_RATES = UsageRates(median=12.0, spread=0.6)


def fleet(
    seed: int, shape: float, *, units: int = 6000, limit: float = 10_000.0
) -> tuple[Failed, Kind]:
    """Draw failures by distance, a tenth by 10,000 km, and who was watched."""
    rng = np.random.default_rng([20240607, seed])
    scale = 10_000 * (-np.log(0.9)) ** (-1 / shape)
    planned = rng.uniform(30, 730, units)
    rate = 12 * np.exp(0.6 * rng.standard_normal(units))
    gone = scale * rng.weibull(shape, units)
    age = gone / rate
    seen = (age <= planned) & (gone <= limit)
    group = rng.integers(0, GROUPS, int(seen.sum()))
    told = age[seen] >= 30
    weeks = np.arange(0.0, 730.0, 7.0)
    kind = Kind(
        watched=np.clip((planned[:, None] - weeks) / 7.0, 0.0, 1.0).sum(axis=0),
        step=7.0,
        limit=limit,
        rates=None,
        distances=gone[seen][told],
        ages=age[seen][told],
        limits=np.full(int(told.sum()), limit),
        groups=group[told],
    )
    failed = Failed(
        distances=gone[seen],
        last=np.minimum(rate * planned, limit)[seen],
        weights=np.ones(int(seen.sum())),
        groups=group,
    )
    return failed, kind


@pytest.mark.parametrize("shape", [0.7, 1.0, 2.0])
def test_the_truth_is_found_from_readings_at_failures_alone(shape: float) -> None:
    b10 = 10_000.0
    lives = [fit_by_distance(EDGES, *one(fleet(seed, shape))) for seed in range(12)]
    assert np.mean([life.shape for life in lives]) == pytest.approx(shape, rel=0.04)
    assert np.mean([life.lives[1] for life in lives]) == pytest.approx(b10, rel=0.06)
    held = [life.shape_interval[0] <= shape <= life.shape_interval[1] for life in lives]
    assert sum(held) >= 9


def one(drawn: tuple[Failed, Kind]) -> tuple[Failed, list[Kind]]:
    failed, kind = drawn
    return failed, [kind]


def test_claimants_taken_for_all_would_mislead() -> None:
    """Without tilting back, far riders make the fleet look as if it went far."""
    failed, kind = fleet(3, 1.0)
    at_failures = kind.rates_without(-1, 30)
    assert at_failures is not None
    assert at_failures.median == pytest.approx(12 * np.exp(0.36), rel=0.1)
    as_claimed = fit_by_distance(EDGES, failed, [replace(kind, rates=at_failures)])
    right = fit_by_distance(EDGES, failed, [kind])
    assert right.lives[1] == pytest.approx(10_000, rel=0.15)
    assert as_claimed.lives[1] > 1.2 * right.lives[1]


def test_with_known_rates_it_is_the_peak_of_the_likelihood_written_out() -> None:
    """Every unit by itself: its failure, or the distance it may have gone."""
    rng = np.random.default_rng(20240607)
    shape, scale, units = 1.4, 20_000.0, 1500
    planned = np.ceil(rng.uniform(30, 730, units))
    rate = 12 * np.exp(0.6 * rng.standard_normal(units))
    gone = scale * rng.weibull(shape, units)
    top = 15_000.0
    seen = (gone / rate <= planned) & (gone <= top)
    days = np.arange(0.0, 730.0)
    kind = Kind(
        watched=(planned[:, None] > days).sum(axis=0).astype(float),
        step=1.0,
        limit=top,
        rates=TRUE_RATES,
        distances=np.zeros(0),
        ages=np.zeros(0),
        limits=np.zeros(0),
        groups=np.zeros(0, dtype=np.intp),
    )
    failed = Failed(
        distances=gone[seen],
        last=np.minimum(rate * planned, top)[seen],
        weights=np.ones(int(seen.sum())),
        groups=rng.integers(0, GROUPS, int(seen.sum())),
    )
    edges = np.arange(0.0, top + 1, 100.0)
    life = fit_by_distance(edges, failed, [kind])
    # failed units had passed as far as they went; others as their rates make likely
    middles = (edges[1:] + edges[:-1]) / 2
    reach = np.zeros(middles.size)
    for end in planned:
        reach += norm.sf(np.log(middles / (12 * end)) / 0.6)
    for x, last in zip(gone[seen], failed.last, strict=True):
        reach[(middles > x) & (middles < last)] -= 1

    def minus_log_likelihood(at: np.ndarray) -> float:
        k, eta = np.exp(at)
        steps = np.diff((edges / eta) ** k)
        log_density = np.log(k / eta) + (k - 1) * np.log(gone[seen] / eta)
        return float(np.sum(np.maximum(reach, 0) * steps) - np.sum(log_density))

    peak = optimize.minimize(
        minus_log_likelihood, np.log([1.0, 15_000.0]), method="Nelder-Mead"
    )
    assert np.log(life.shape) == pytest.approx(peak.x[0], abs=0.02)
    assert np.log(life.scale) == pytest.approx(peak.x[1], abs=0.03)


def test_readings_missing_at_random_leave_the_life_as_it_is() -> None:
    failed, kind = fleet(5, 1.0, units=20_000)
    whole = fit_by_distance(EDGES, failed, [kind])
    rng = np.random.default_rng(1)
    kept = rng.random(failed.distances.size) < 0.6
    part = Failed(
        distances=failed.distances[kept],
        last=failed.last[kept],
        weights=failed.weights[kept],
        groups=failed.groups[kept],
    )
    half = fit_by_distance(EDGES, part, [kind], share_read=float(kept.mean()))
    assert half.shape == pytest.approx(whole.shape, rel=0.08)
    assert half.lives[1] == pytest.approx(whole.lives[1], rel=0.1)


def test_miles_in_place_of_kilometres_change_the_distances_alone() -> None:
    failed, kind = fleet(6, 1.5)
    mile = 1.609344
    km = fit_by_distance(EDGES, failed, [kind])
    miles = fit_by_distance(
        EDGES / mile,
        replace(failed, distances=failed.distances / mile, last=failed.last / mile),
        [
            replace(
                kind,
                limit=kind.limit / mile,
                distances=kind.distances / mile,
                limits=kind.limits / mile,
            )
        ],
    )
    assert miles.shape == pytest.approx(km.shape, rel=1e-4)
    assert miles.scale * mile == pytest.approx(km.scale, rel=1e-3)
    assert miles.lives_lower[1] * mile == pytest.approx(km.lives_lower[1], rel=1e-3)


def test_units_split_in_two_kinds_alike_give_the_same_life() -> None:
    failed, kind = fleet(7, 1.0)
    both = [replace(kind, watched=kind.watched * share) for share in (0.3, 0.7)]
    apart = fit_by_distance(EDGES, failed, both)
    together = fit_by_distance(EDGES, failed, [kind])
    assert apart.shape == pytest.approx(together.shape, rel=1e-6)
    assert apart.scale_interval == pytest.approx(together.scale_interval, rel=1e-6)


def test_rates_that_cannot_be_told_are_a_reason_and_no_number() -> None:
    failed, kind = fleet(8, 1.0)
    few = replace(
        kind,
        distances=kind.distances[:20],
        ages=kind.ages[:20],
        limits=kind.limits[:20],
        groups=kind.groups[:20],
    )
    life = fit_by_distance(EDGES, failed, [few])
    assert isinstance(life, DistanceLife)
    assert np.isnan(life.shape)
    assert np.isnan(life.lives).all()
    assert "cannot be told" in life.note


def test_bad_input_is_refused() -> None:
    failed, kind = fleet(9, 1.0, units=500)
    with pytest.raises(InputError, match="rise from 0"):
        fit_by_distance([0.0, 5.0, 5.0], failed, [kind])
    with pytest.raises(InputError, match="rise from 0"):
        fit_by_distance([1.0, 5.0], failed, [kind])
    with pytest.raises(InputError, match="at most 100"):
        fit_by_distance([0.0, 100.0], failed, [kind])
    with pytest.raises(InputError, match="share_read"):
        fit_by_distance(EDGES, failed, [kind], share_read=0.0)
    with pytest.raises(InputError, match="strictly between"):
        fit_by_distance(EDGES, failed, [kind], confidence=1.0)
    bad = replace(failed, distances=-failed.distances)
    with pytest.raises(InputError, match="negative"):
        fit_by_distance(EDGES, bad, [kind])
