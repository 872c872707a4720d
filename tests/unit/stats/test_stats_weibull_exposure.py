"""The Weibull fit of failures and of the units that passed each age."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import optimize

from claimlens.errors import InputError
from claimlens.stats import weibull


def fleet(seed: int, width: int = 24, units: int = 900) -> tuple[Any, ...]:
    """Draw entries, ends and cells of failure of single units; 0 is alive."""
    rng = np.random.default_rng([20240607, seed])
    shape = rng.uniform(0.6, 2.2)
    life = 3.0 * width * rng.weibull(shape, units)
    end = rng.integers(2, width + 1, units)
    entry = np.where(rng.uniform(size=units) < 0.3, rng.integers(0, end - 1), 0)
    seen = life > entry
    life, end, entry = life[seen], end[seen], entry[seen]
    cell = np.where(life <= end, np.ceil(life), 0).astype(int)
    return entry, end, cell


def tables(entry: Any, end: Any, cell: Any, width: int = 24) -> tuple[Any, Any]:
    """Count failures and the units that passed each cell, one unit at a time."""
    failures, exposed = np.zeros((2, width))
    for start, last, failed in zip(entry, end, cell, strict=True):
        if failed:
            failures[failed - 1] += 1
        passed = (failed - 1) if failed else last
        exposed[start:passed] += 1
    return failures, exposed


@pytest.mark.parametrize("seed", range(6))
def test_exposure_tells_what_leavers_and_entries_tell(seed: int) -> None:
    entry, end, cell = fleet(seed)
    failures, exposed = tables(entry, end, cell)
    ages = np.arange(1.0, 25)
    one = weibull.fit(ages, failures, None, lower=ages - 1, exposed=exposed)
    age = np.where(cell > 0, cell, end)
    other = weibull.fit(
        age,
        (cell > 0).astype(float),
        (cell == 0).astype(float),
        lower=age - 1,
        entry=entry,
    )
    assert one.log_likelihood == pytest.approx(other.log_likelihood, rel=1e-12)
    assert one.shape == pytest.approx(other.shape, rel=1e-9)
    assert one.scale == pytest.approx(other.scale, rel=1e-9)
    assert one.shape_interval == pytest.approx(other.shape_interval, rel=1e-8)
    assert one.quantile_interval(0.1) == pytest.approx(
        other.quantile_interval(0.1), rel=1e-8
    )


def test_weighted_exposure_has_the_likelihood_that_is_written() -> None:
    """Against a direct maximum of sum d ln(1 - exp(-L)) - n L."""
    rng = np.random.default_rng(20240607)
    ages = np.arange(1.0, 19)
    failures = rng.poisson(2.0, ages.size).astype(float)
    exposed = 400.5 * np.linspace(1.0, 0.2, ages.size) * rng.uniform(0.9, 1, ages.size)

    def loss(at: Any) -> float:
        shape, scale = np.exp(at)
        hazard = (ages / scale) ** shape - ((ages - 1) / scale) ** shape
        return float(-(failures * np.log(-np.expm1(-hazard)) - exposed * hazard).sum())

    best = optimize.minimize(
        loss, [0.0, 5.0], method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-11}
    )
    fit = weibull.fit(ages, failures, None, lower=ages - 1, exposed=exposed)
    assert fit.log_likelihood == pytest.approx(-best.fun, rel=1e-10)
    assert [fit.shape, fit.scale] == pytest.approx(np.exp(best.x).tolist(), rel=1e-5)


def test_common_shape_takes_exposure_too() -> None:
    ages = np.arange(1.0, 25)
    drawn = [fleet(seed) for seed in (3, 4, 5)]
    pairs = [tables(*one) for one in drawn]
    failures, exposed = (np.stack([pair[i] for pair in pairs]) for i in (0, 1))
    one = weibull.common_shape(ages, failures, None, lower=ages - 1, exposed=exposed)
    age = np.concatenate([np.where(cell > 0, cell, end) for _, end, cell in drawn])
    entry = np.concatenate([start for start, _, _ in drawn])
    cell = np.concatenate([found for _, _, found in drawn])
    stratum = np.repeat(np.arange(3), [one[0].size for one in drawn])
    mine = stratum == np.arange(3)[:, None]
    other = weibull.common_shape(
        age, (cell > 0) * mine, (cell == 0) * mine, lower=age - 1, entry=entry
    )
    assert one.shape == pytest.approx(other.shape, rel=1e-9)
    assert one.shape_interval == pytest.approx(other.shape_interval, rel=1e-8)
    assert one.log_likelihood == pytest.approx(other.log_likelihood, rel=1e-11)


def test_without_failures_exposure_bounds_the_scale() -> None:
    """For shape 1 the total is the time under observation."""
    ages = np.arange(1.0, 11)
    fit = weibull.fit(
        ages, np.zeros(10), None, lower=ages - 1, exposed=np.full(10, 30.0), shape=1.0
    )
    assert fit.scale_interval[0] == pytest.approx(300 / -np.log(0.05), rel=1e-12)
    assert fit.note == "no failure: one-sided lower limit only"
    plain = weibull.fit(
        ages, np.zeros(10), None, lower=ages - 1, exposed=np.full(10, 30.0)
    )
    assert plain.note == "no failure"
    nobody = weibull.fit(ages, np.zeros(10), None, lower=ages - 1, exposed=np.zeros(10))
    assert nobody.note == "no unit"


@pytest.mark.parametrize(
    ("changed", "rule"),
    [
        ({"censored": [0, 0]}, "censored must be None"),
        ({"entry": [0, 0]}, "entry must be None"),
        ({"lower": None}, "lower must be given"),
        ({"exposed": [1, 2, 3]}, "failures and exposed must have the same shape"),
        ({"exposed": [1, -2]}, "exposed must not be negative"),
        ({"exposed": [1, np.nan]}, "exposed must be finite"),
        ({"lower": [1, 1]}, "lower must be below"),
        ({"exposed": None}, "censored must be given"),
    ],
)
def test_exposure_that_cannot_be_is_refused(changed: dict[str, Any], rule: str) -> None:
    given = {"censored": None, "lower": [0, 1], "exposed": [5, 4], **changed}
    with pytest.raises(InputError, match=rule):
        weibull.fit([1, 2], [1, 1], **given)
