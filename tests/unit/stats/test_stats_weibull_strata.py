"""One shape for strata with their own scale."""

from __future__ import annotations

import numpy as np
import pytest

from claimlens.stats import weibull

AGES = np.arange(1.0, 25.0)


def _stratum(rng: np.random.Generator, shape: float, scale: float, units: int):  # type: ignore[no-untyped-def]  # two arrays
    life = scale * rng.weibull(shape, units)
    end = rng.integers(1, 25, units)
    failed = life <= end
    fails = np.bincount(np.ceil(life[failed]).astype(int) - 1, minlength=24)
    return fails.astype(float), np.bincount(end[~failed] - 1, minlength=24).astype(
        float
    )


def _strata(seed: int, shape: float, scales: list[float]):  # type: ignore[no-untyped-def]  # two tables
    rng = np.random.default_rng([20240607, seed])
    drawn = [_stratum(rng, shape, scale, 1500) for scale in scales]
    return np.array([d[0] for d in drawn]), np.array([d[1] for d in drawn])


def test_a_single_stratum_has_the_shape_of_the_plain_fit() -> None:
    fails, left = _strata(1, 1.4, [200.0])
    common = weibull.common_shape(AGES, fails, left, lower=AGES - 1)
    plain = weibull.fit(AGES, fails[0], left[0], lower=AGES - 1)
    assert common.shape == pytest.approx(plain.shape, rel=1e-8)
    assert common.shape_interval == pytest.approx(plain.shape_interval, rel=1e-7)
    assert common.scale[0] == pytest.approx(plain.scale, rel=1e-7)
    assert common.log_likelihood == pytest.approx(plain.log_likelihood, rel=1e-10)


def test_bad_batches_do_not_pass_for_early_life() -> None:
    """Constant hazard; young batches five times as bad (a small study)."""
    pooled_low = common_low = 0
    for seed in range(40):
        rng = np.random.default_rng([20240607, seed])
        fails, left = np.zeros((8, 24)), np.zeros((8, 24))
        for quarter in range(8):
            age = 24 - 3 * quarter
            life = rng.exponential(400.0 / (5 if quarter >= 6 else 1), 700)
            failed = life <= age
            cell = np.ceil(life[failed]).astype(int) - 1
            fails[quarter] = np.bincount(cell, minlength=24)
            left[quarter, age - 1] = (~failed).sum()
        common = weibull.common_shape(AGES, fails, left, lower=AGES - 1)
        pooled = weibull.fit(AGES, fails.sum(0), left.sum(0), lower=AGES - 1)
        pooled_low += pooled.shape_interval[1] < 1
        common_low += common.shape_interval[1] < 1
    assert pooled_low > 20
    assert common_low <= 4


def test_a_stratum_without_failures_is_counted_and_says_nothing() -> None:
    fails, left = _strata(2, 0.8, [300.0, 150.0])
    more = (
        np.vstack([fails, np.zeros((1, 24))]),
        np.vstack([left, np.full((1, 24), 9.0)]),
    )
    with_it = weibull.common_shape(AGES, *more, lower=AGES - 1)
    without = weibull.common_shape(AGES, fails, left, lower=AGES - 1)
    assert with_it.n_empty == 1
    assert np.isnan(with_it.scale[2])
    assert with_it.shape == pytest.approx(without.shape, rel=1e-10)


def test_a_stratum_of_nothing_but_failures_says_nothing() -> None:
    """Nobody passed any cell: every hazard is too low, whatever its shape."""
    fails, left = _strata(2, 0.8, [300.0, 150.0])
    passed = (fails + left)[:, ::-1].cumsum(axis=1)[:, ::-1] - fails
    alone = np.zeros((1, 24))
    alone[0, [3, 17]] = 2
    with_it = weibull.common_shape(
        AGES,
        np.vstack([fails, alone]),
        None,
        lower=AGES - 1,
        exposed=np.vstack([passed, np.zeros((1, 24))]),
    )
    without = weibull.common_shape(AGES, fails, None, lower=AGES - 1, exposed=passed)
    assert with_it.n_empty == 0
    assert np.isnan(with_it.scale[2])
    assert with_it.shape_interval == pytest.approx(without.shape_interval, rel=1e-10)
    assert with_it.log_likelihood == pytest.approx(without.log_likelihood, rel=1e-12)
    only = weibull.common_shape(
        AGES, alone, None, lower=AGES - 1, exposed=np.zeros((1, 24))
    )
    assert only.note == "no shape fits these strata best"


def test_too_few_failures_give_a_reason_instead_of_a_shape() -> None:
    zeros = np.zeros((2, 24))
    none = weibull.common_shape(AGES, zeros, zeros + 5, lower=AGES - 1)
    assert (none.note, none.converged) == ("no failure", False)
    one = zeros.copy()
    one[0, 3] = 1
    single = weibull.common_shape(AGES, one, zeros + 5, lower=AGES - 1)
    assert single.note == "1 failure, 2 needed"
    assert np.isnan(single.shape_interval).all()


def test_failures_that_end_each_stratum_give_no_shape() -> None:
    fails, left = np.zeros((2, 24)), np.zeros((2, 24))
    fails[0, 11], left[0, 11], fails[1, 19], left[1, 19] = 3, 90, 2, 80
    found = weibull.common_shape(AGES, fails, left, lower=AGES - 1)
    assert not found.converged
    assert found.note == "no shape fits these strata best"


def test_an_open_limit_is_noted() -> None:
    """A third of a unit outside the first cell does not bound the shape."""
    fails, left = np.zeros((1, 24)), np.zeros((1, 24))
    fails[0, 0], fails[0, 1], left[0, 23] = 3, 0.3, 4000
    found = weibull.common_shape(AGES, fails, left, lower=AGES - 1)
    assert found.converged
    assert found.shape_interval[0] == 0.0
    assert found.note == "no lower limit for the shape"


def test_a_level_likelihood_gives_no_shape() -> None:
    """Two neighbouring cells that take every unit: ever steeper fits as well."""
    fails, left = np.zeros((1, 24)), np.zeros((1, 24))
    fails[0, 10], fails[0, 11] = 20, 2
    found = weibull.common_shape(AGES, fails, left, lower=AGES - 1)
    assert np.isnan(found.shape)
    assert found.note == "no shape fits these strata best"
    single = weibull.fit(AGES, fails[0], left[0], lower=AGES - 1)
    assert np.isnan(single.shape)
    assert "too close" in str(single.note)
