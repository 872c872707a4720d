"""Weibull fits against published estimates.

Sources, row by row in ``weibull.toml``: NIST/SEMATECH e-Handbook 8.4.1.3,
Lieblein and Zelen 1956, Abernethy et al. 1983, Meeker and Escobar 1998,
Nelson 1982 and 1985, Freireich et al. 1963; left truncation after Klein and
Moeschberger 2003.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from reference_rows import assert_published, assert_row, dataset, rows
from scipy import optimize, stats

from claimlens.stats import weibull

ROWS = rows("weibull")


def _nist() -> tuple[Any, Any, Any]:
    data = dataset("nist_8413")
    ages = data["failures"] + [row[0] for row in data["censored"]]
    fails = [1] * len(data["failures"]) + [0] * len(data["censored"])
    left = [0] * len(data["failures"]) + [row[1] for row in data["censored"]]
    return ages, fails, left


def _bearings(seventh: float | None = None) -> tuple[Any, Any, Any]:
    lives = list(dataset("lieblein_zelen")["lives"])
    if seventh is not None:
        lives[6] = seventh
    return lives, np.ones(len(lives)), np.zeros(len(lives))


def _fit(name: str) -> weibull.WeibullFit:
    data = {} if name == "nist" else dataset(name) if name != "bearings" else {}
    if name == "nist":
        return weibull.fit(*_nist())
    if name == "bearings":
        return weibull.fit(*_bearings())
    if name == "bearing_cage":
        ages = data["failures"] + data["censored_age"]
        n, c = len(data["failures"]), len(data["censored_age"])
        return weibull.fit(ages, [1] * n + [0] * c, [0] * n + data["censored_count"])
    if name == "heat_exchanger":
        return weibull.fit(
            data["interval_upper"],
            data["failures"],
            data["censored"],
            lower=data["interval_lower"],
        )
    if name == "turbine":
        failed = np.array(data["failed"])
        return weibull.fit(
            data["hours_100"],
            failed,
            np.array(data["inspected"]) - failed,
            lower=np.zeros(failed.size),
        )
    event = np.array(data["event"])
    return weibull.fit(data["exit"], event, 1 - event, entry=data["entry"])


@pytest.mark.parametrize(
    ("name", "fit_key", "limits_key"),
    [
        ("nist", "W01", "W02"),
        ("bearings", "W03", "W04"),
        ("bearing_cage", "W05", "W06"),
        ("heat_exchanger", "W07", "W08"),
        ("turbine", "W09", "W10"),
        ("left_trunc10", "W11", "W12"),
    ],
)
def test_fit_and_its_limits_agree_with_the_reference(
    name: str, fit_key: str, limits_key: str
) -> None:
    fit, row, limits = _fit(name), ROWS[fit_key], ROWS[limits_key]
    expected = row["expected"]
    assert fit.converged
    assert_row(row, fit.shape, expected["shape"])
    assert_row(row, fit.scale, expected["scale"])
    assert_row(row, fit.log_likelihood, expected["log_likelihood"])
    assert_row(row, fit.quantile(0.1), expected["b10"])
    assert_row(limits, fit.shape_interval, limits["expected"]["shape"])
    assert_row(limits, fit.scale_interval, limits["expected"]["scale"])
    assert_row(limits, fit.quantile_interval(0.1), limits["expected"]["b10"])


def test_nist_handbook_digits_are_met() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3."""
    fit = _fit("nist")
    assert_published(ROWS["W01"], [fit.shape, fit.scale, fit.log_likelihood])


@pytest.mark.parametrize(
    ("name", "key"), [("bearings", "W03"), ("bearing_cage", "W05")]
)
def test_published_digits_of_the_bearings_are_met(name: str, key: str) -> None:
    """Lieblein, Zelen 1956; Meeker, Escobar 1998, ch. 8 (digits from memory)."""
    fit = _fit(name)
    # the scale of the bearing cages is printed in whole hours
    scale = round(fit.scale) if fit.scale > 1000 else fit.scale
    assert_published(ROWS[key], [fit.shape, scale])


def test_nist_handbook_mean_and_deviation_follow_from_the_fit() -> None:
    row, fit = ROWS["W13"], _fit("nist")
    life = stats.weibull_min(fit.shape, scale=fit.scale)
    assert_row(row, [life.mean(), life.std()], list(row["expected"].values()))


@pytest.mark.parametrize("key", ["W14", "W15"])
def test_fit_tells_the_printings_of_the_bearing_data_apart(key: str) -> None:
    row = ROWS[key]
    fit = weibull.fit(*_bearings(row["inputs"]["seventh_value"]))
    found = [fit.shape, fit.scale, fit.log_likelihood]
    assert_row(row, found, list(row["expected"].values()))


@pytest.mark.parametrize("key", ["W17", "W18"])
def test_known_shape_gives_the_chi_square_limits(key: str) -> None:
    """Nelson 1985; the lower limit is that of data censored by time."""
    row = ROWS[key]
    expected, shape = row["expected"], row["inputs"]["shape"]
    fit = weibull.fit(*_nist(), shape=shape)
    assert_row(row, fit.scale, expected["scale"])
    assert_row(
        row,
        fit.scale_interval,
        [expected["lower_time_censored"], expected["chi2_2r"][1]],
    )
    assert_row(row, 10 * fit.scale**shape, expected["total"])
    # a test stopped at its last failure has 2 r degrees of freedom at both ends
    stopped = fit.scale * (20 / stats.chi2.ppf([0.975, 0.025], 20)) ** (1 / shape)
    assert_row(row, stopped, expected["chi2_2r"])


@pytest.mark.parametrize("key", ["W17", "W18"])
def test_known_shape_has_the_likelihood_ratio_limits_of_r(key: str) -> None:
    """At both of them the likelihood lies half a chi-square quantile lower."""
    row = ROWS[key]
    shape = row["inputs"]["shape"]
    fit = weibull.fit(*_nist(), shape=shape)
    ages, fails, left = (np.asarray(part, dtype=float) for part in _nist())

    def gap(log_scale: float) -> float:
        life = stats.weibull_min(shape, scale=np.exp(log_scale))
        at = (fails * life.logpdf(ages) + left * life.logsf(ages)).sum()
        return float(2 * (fit.log_likelihood - at) - stats.chi2.ppf(0.95, 1))

    best = np.log(fit.scale)
    ends = [
        np.exp(optimize.brentq(gap, *sorted((best, best + side)), xtol=1e-13))
        for side in (-1.0, 1.0)
    ]
    assert_row(row, ends, row["expected"]["lr_interval"])


@pytest.mark.parametrize("failures", [0, 1, 2, 5, 40])
@pytest.mark.parametrize("shape", [0.7, 1.0, 1.5, 3.0])
def test_known_shape_is_exact_for_any_number_of_failures(
    failures: int, shape: float
) -> None:
    """Nelson 1985; for shape 1 the exponential case. Common practice for time ends.

    W is the sum of age**shape over all units, failed or not.
    """
    ages = np.arange(1.0, failures + 2) * 3.0
    fails = np.r_[np.ones(failures), 0.0]
    left = np.r_[np.zeros(failures), 25.0]
    fit = weibull.fit(ages, fails, left, shape=shape)
    total = ((fails + left) * ages**shape).sum()
    low, high = fit.scale_interval
    if failures == 0:
        assert low == pytest.approx((total / 2.995732274) ** (1 / shape), rel=1e-9)
        assert (high, np.isnan(fit.scale)) == (np.inf, True)
        return
    assert fit.scale == pytest.approx((total / failures) ** (1 / shape), rel=1e-10)
    for found, tail, freedom in (
        (low, 0.975, 2 * failures + 2),
        (high, 0.025, 2 * failures),
    ):
        exact = (2 * total / stats.chi2.ppf(tail, freedom)) ** (1 / shape)
        assert found == pytest.approx(exact, rel=1e-10)


def test_known_shape_without_failures_has_a_one_sided_limit() -> None:
    row = ROWS["W19"]
    inputs = row["inputs"]
    fit = weibull.fit([inputs["age"]], [0], [inputs["units"]], shape=inputs["shape"])
    assert_row(row, fit.scale_interval[0], row["expected"])
    assert fit.scale_interval[1] == np.inf
    assert np.isnan(fit.scale)


def test_common_shape_agrees_with_the_accelerated_life_fit() -> None:
    """Freireich et al. 1963; R survreg."""
    row, data = ROWS["W20"], dataset("remission_6mp")
    ages = np.array(data["six_mp_weeks"] + data["placebo_weeks"])
    event = np.array(data["six_mp_event"] + [1] * len(data["placebo_weeks"]))
    arm = np.arange(ages.size) >= len(data["six_mp_weeks"])
    fails = np.array([event * ~arm, event * arm])
    left = np.array([(1 - event) * ~arm, (1 - event) * arm])
    both = weibull.common_shape(ages, fails, left)
    pooled = weibull.fit(ages, fails.sum(axis=0), left.sum(axis=0))
    found = {
        "inverse_shape": 1 / both.shape,
        "log_scale_ratio": np.log(both.scale[1] / both.scale[0]),
        "log_likelihood": both.log_likelihood,
        "lr_chi2": 2 * (both.log_likelihood - pooled.log_likelihood),
    }
    for name, value in row["expected"].items():
        assert_row(row, found[name], value)
