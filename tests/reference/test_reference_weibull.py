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
from scipy import stats

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
