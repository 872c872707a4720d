"""Usage rates: closed forms, independent likelihoods, known truth, bad input."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from claimlens.errors import InputError
from claimlens.stats.usage import UsageRates, fit_usage


def drawn(
    seed: int,
    n: int,
    *,
    median: float = 12.0,
    spread: float = 0.6,
    limit: float = np.inf,
) -> tuple[np.ndarray, np.ndarray]:
    """Return distances and ages of units read within a limit."""
    rng = np.random.default_rng([20240607, seed])
    ages = rng.uniform(30, 730, 12 * n)
    rates = median * np.exp(spread * rng.standard_normal(12 * n))
    seen = np.flatnonzero(rates * ages <= limit)[:n]
    return rates[seen] * ages[seen], ages[seen]


def test_without_a_limit_it_is_mean_and_deviation_of_the_logarithms() -> None:
    """Closed form of the normal likelihood (handbook knowledge)."""
    distance, age = drawn(1, 200)
    fit = fit_usage(distance, age)
    logs = np.log(distance / age)
    assert fit.rates is not None
    assert fit.rates.median == pytest.approx(np.exp(logs.mean()), rel=1e-9)
    assert fit.rates.spread == pytest.approx(logs.std(), rel=1e-9)
    assert fit.log_median_error == pytest.approx(logs.std() / 200**0.5, rel=1e-8)
    assert fit.spread_error == pytest.approx(logs.std() / 400**0.5, rel=1e-8)
    assert fit.log_likelihood == pytest.approx(
        stats.norm.logpdf(logs, logs.mean(), logs.std()).sum()
    )


@pytest.mark.parametrize("seed", range(6))
def test_with_a_limit_it_is_the_peak_of_scipys_truncated_normal(seed: int) -> None:
    distance, age = drawn(seed, 150, limit=7_000)
    limits = np.full(age.size, 7_000.0)
    limits[::3] = np.inf  # some covers have none
    fit = fit_usage(distance, age, limits)
    logs, cut = np.log(distance / age), np.log(limits / age)

    def minus_log_likelihood(at: np.ndarray) -> float:
        spread = np.exp(at[1])
        return -stats.truncnorm.logpdf(
            logs, -np.inf, (cut - at[0]) / spread, loc=at[0], scale=spread
        ).sum()

    peak = optimize.minimize(
        minus_log_likelihood,
        [logs.mean(), np.log(logs.std())],
        method="Nelder-Mead",
        options={"xatol": 1e-10, "fatol": 1e-12, "maxiter": 4000},
    )
    assert fit.rates is not None
    assert np.log(fit.rates.median) == pytest.approx(peak.x[0], abs=1e-6)
    assert np.log(fit.rates.spread) == pytest.approx(peak.x[1], abs=1e-6)
    assert fit.log_likelihood == pytest.approx(-peak.fun, rel=1e-10)


def test_standard_errors_are_those_of_the_numerical_curvature() -> None:
    distance, age = drawn(7, 300, limit=6_000)
    limits = np.full(age.size, 6_000.0)
    fit = fit_usage(distance, age, limits)
    logs, cut = np.log(distance / age), np.log(limits / age)
    assert fit.rates is not None
    peak = np.array([np.log(fit.rates.median), fit.rates.spread])

    def log_likelihood(mean: float, spread: float) -> float:
        upper = (cut - mean) / spread
        return float(
            stats.truncnorm.logpdf(logs, -np.inf, upper, loc=mean, scale=spread).sum()
        )

    step, bend = 1e-4, np.zeros((2, 2))
    for i in range(2):
        for j in range(2):
            a, b = np.eye(2)[i] * step, np.eye(2)[j] * step
            bend[i, j] = (
                log_likelihood(*(peak + a + b))
                - log_likelihood(*(peak + a - b))
                - log_likelihood(*(peak - a + b))
                + log_likelihood(*(peak - a - b))
            ) / (4 * step**2)
    errors = np.sqrt(np.diag(np.linalg.inv(-bend)))
    assert fit.log_median_error == pytest.approx(errors[0], rel=1e-3)
    assert fit.spread_error == pytest.approx(errors[1], rel=1e-3)


def test_one_common_cut_matches_the_first_two_moments() -> None:
    """Cohen (1959): the fit of a truncated normal has the sample's two moments."""
    rng = np.random.default_rng(20240607)
    logs = stats.truncnorm.rvs(
        -np.inf, 0.4, loc=2, scale=0.5, size=400, random_state=rng
    )
    age = np.full(400, 100.0)
    limit = 100 * np.exp(2 + 0.4 * 0.5)
    fit = fit_usage(np.exp(logs) * age, age, np.full(400, limit))
    assert fit.rates is not None
    mean, spread = np.log(fit.rates.median), fit.rates.spread
    fitted = stats.truncnorm(
        -np.inf, (np.log(limit / 100) - mean) / spread, loc=mean, scale=spread
    )
    assert fitted.mean() == pytest.approx(logs.mean(), abs=1e-7)
    assert fitted.var() == pytest.approx(logs.var(), abs=1e-7)


def test_the_truth_is_found_behind_a_limit_and_the_intervals_hold() -> None:
    """Half of the oldest units are hidden; left as they are, rates come out low."""
    found, plain, held = [], [], []
    for seed in range(120):
        distance, age = drawn(seed, 120, limit=6_000)
        fit = fit_usage(distance, age, np.full(age.size, 6_000.0))
        assert fit.rates is not None
        found.append((np.log(fit.rates.median), fit.rates.spread))
        plain.append(np.log(distance / age).mean())
        low, high = fit.median_interval
        held.append(
            (low <= 12 <= high, fit.spread_interval[0] <= 0.6 <= fit.spread_interval[1])
        )
    median, spread = np.mean(found, axis=0)
    assert median == pytest.approx(np.log(12), abs=0.02)
    assert spread == pytest.approx(0.6, abs=0.015)
    assert np.mean(plain) < np.log(12) - 0.1
    assert (np.mean(held, axis=0) > 0.9).all()


def test_changing_the_units_of_distance_changes_the_median_alone() -> None:
    distance, age = drawn(3, 80, limit=5_000)
    limits = np.full(age.size, 5_000.0)
    km = fit_usage(distance, age, limits)
    miles = fit_usage(distance / 1.609344, age, limits / 1.609344)
    assert km.rates is not None
    assert miles.rates is not None
    assert miles.rates.median * 1.609344 == pytest.approx(km.rates.median, rel=1e-8)
    assert miles.rates.spread == pytest.approx(km.rates.spread, rel=1e-8)
    order = np.random.default_rng(1).permutation(age.size)
    mixed = fit_usage(distance[order], age[order], limits[order])
    assert mixed.rates is not None
    assert mixed.rates.median == pytest.approx(km.rates.median, rel=1e-10)


def test_the_share_within_falls_from_one_and_is_half_at_the_median() -> None:
    rates = UsageRates(median=10.0, spread=0.5)
    share = rates.share_within([0.0, 100.0, 1000.0, 1e9], 10_000)
    assert share.tolist() == pytest.approx(
        [1.0, stats.norm.cdf(np.log(10) / 0.5), 0.5, 0.0]
    )


def test_the_days_on_which_a_distance_is_passed_add_up() -> None:
    rates = UsageRates(median=10.0, spread=0.5)
    passing = rates.share_passing([100.0, 3000.0], 400)
    assert passing.shape == (2, 400)
    assert (passing >= 0).all()
    reached = 1 - rates.share_within([400.0], 3000.0)
    assert passing[1].sum() == pytest.approx(reached[0], rel=1e-12)
    rng = np.random.default_rng(20240607)
    rate = 10 * np.exp(0.5 * rng.standard_normal(400_000))
    in_third_month = np.mean((3000 / rate >= 60) & (3000 / rate < 90))
    assert passing[1, 60:90].sum() == pytest.approx(in_third_month, rel=0.1)


def test_rates_of_units_that_fail_by_distance_are_tilted() -> None:
    """Each unit weighted by its rate to the power of the shape: known truth."""
    rates = UsageRates(median=10.0, spread=0.5)
    rng = np.random.default_rng(20240607)
    rate = 10 * np.exp(0.5 * rng.standard_normal(400_000))
    weight = rate**2.0
    mean = np.average(np.log(rate), weights=weight)
    assert np.log(rates.tilted(2.0).median) == pytest.approx(mean, abs=0.02)
    assert rates.tilted(2.0).tilted(-2.0).median == pytest.approx(10.0)


def test_too_little_to_go_by_is_a_reason_and_no_number() -> None:
    distance, age = drawn(1, 29)
    few = fit_usage(distance, age)
    assert few.rates is None
    assert few.note == "29 readings, 30 needed"
    alike = fit_usage(np.full(40, 100.0), np.full(40, 10.0))
    assert alike.rates is None
    assert alike.note == "all usage rates are alike"
    # rates that pile up under the limit: the rest could be anything
    rng = np.random.default_rng(3)
    piled = 1000.0 * np.exp(-rng.gamma(0.5, 1.0, 60))
    hidden = fit_usage(piled, np.full(60, 100.0), np.full(60, 1000.0))
    assert hidden.rates is None
    assert "cannot be told" in hidden.note
    assert np.isnan(hidden.median_interval[0])


@pytest.mark.parametrize(
    ("distances", "ages", "limits", "words"),
    [
        ([1.0, -2.0], [1.0, 1.0], None, "distances must be above 0"),
        ([1.0, 2.0], [1.0, 0.0], None, "ages must be above 0"),
        ([1.0, np.nan], [1.0, 1.0], None, "finite"),
        ([1.0, 2.0], [1.0], None, "one length"),
        ([1.0, 2.0], [1.0, 1.0], [5.0, 1.0], "must not exceed"),
        ([1.0, 2.0], [1.0, 1.0], [5.0, np.nan], "one number a reading"),
        ([1.0, 2.0], [1.0, 1.0], [5.0], "one number a reading"),
    ],
)
def test_bad_readings_are_refused(
    distances: list[float], ages: list[float], limits: list[float] | None, words: str
) -> None:
    with pytest.raises(InputError, match=words):
        fit_usage(distances, ages, limits)


def test_bad_questions_are_refused() -> None:
    with pytest.raises(InputError, match="strictly between"):
        fit_usage([1.0], [1.0], confidence=95)
    with pytest.raises(InputError, match="above 0"):
        UsageRates(median=1.0, spread=1.0).share_passing([0.0], 10)
