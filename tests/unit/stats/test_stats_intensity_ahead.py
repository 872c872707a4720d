"""Expected claims of months to come, how they hang on the rate, and their draws."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from intensity_maker import Floats, random_design

from claimlens.stats.intensity import Fit
from claimlens.stats.intensity.ahead import Outlook, look_ahead
from claimlens.stats.intensity.draws import Shock, drawn_rates, shock_variance

SEED = 20240607
N_CELLS, ROWS, MONTHS = 200, 2, 4


def some_fit(rng: np.random.Generator, *, spread: float = 0.05) -> Fit:
    """Draw a fit with correlated coefficients."""
    design = random_design(rng, N_CELLS, (3, 5), n_slopes=2)
    p = design.n_coefficients
    root = rng.normal(size=(p, p)) / np.sqrt(p)
    covariance = spread * root @ root.T
    return Fit(
        design=design,
        coefficients=rng.normal(0, 0.3, p),
        covariance=covariance,
        variances=np.array([0.1, 0.1]),
        root=np.linalg.cholesky(covariance),
    )


def outlook_of(fit: Fit, rng: np.random.Generator) -> Outlook:
    """Return the outlook of random cells; nothing stands in row 1, month 3."""
    place = rng.integers(0, ROWS * MONTHS - 1, N_CELLS)
    flat = look_ahead(
        fit,
        rng.uniform(1, 9, N_CELLS),
        place,
        n_rows=ROWS * MONTHS,
        offset=rng.normal(0, 0.1, N_CELLS),
    )
    return Outlook(
        mean=flat.mean.reshape(ROWS, MONTHS),
        slope=flat.slope.reshape(ROWS, MONTHS, -1),
    )


def calm(quarters: tuple[int, ...] = (0,) * MONTHS) -> Shock:
    return Shock(np.array(quarters, dtype=np.intp), 0.0, 0.0)


@pytest.mark.parametrize("late", [False, True])
def test_slopes_are_those_of_small_steps(late: bool) -> None:
    """Central differences; also of the claims by month of report."""
    share = np.array(
        [[0.5, 0.3, 0.2], [0.0, 0.5, 0.3], [0.0, 0.0, 0.5], [0.1, 0.0, 0.0]]
    )

    def seen(fit: Fit) -> Outlook:
        found = outlook_of(fit, np.random.default_rng(SEED + 1))
        return found.reported(share) if late else found

    fit = some_fit(np.random.default_rng(SEED))
    found = seen(fit)
    some = found.mean > 0
    assert some.all() == late
    step = 1e-5
    for k in range(fit.coefficients.size):
        up, down = fit.coefficients.copy(), fit.coefficients.copy()
        up[k] += step
        down[k] -= step
        high = seen(replace(fit, coefficients=up)).mean[some]
        low = seen(replace(fit, coefficients=down)).mean[some]
        np.testing.assert_allclose(
            found.slope[some, k], (np.log(high) - np.log(low)) / (2 * step), atol=1e-8
        )
    np.testing.assert_array_equal(found.slope[~some], 0.0)


def test_expected_claims_are_rate_times_exposure_added_up_by_row() -> None:
    rng = np.random.default_rng(SEED)
    fit = some_fit(rng)
    exposure, offset = rng.uniform(0, 5, N_CELLS), rng.normal(0, 0.1, N_CELLS)
    place = rng.integers(0, 7, N_CELLS)
    found = look_ahead(fit, exposure, place, n_rows=8, offset=offset)
    rate = np.exp(fit.design.linear(fit.coefficients) + offset)
    for row in range(8):
        here = place == row
        assert found.mean[0, row] == pytest.approx((exposure * rate)[here].sum())
    assert found.mean[0, 7] == 0


def drawn(
    fit: Fit, outlook: Outlook, shock: Shock, *, n_draws: int = 20_000, seed: int = SEED
) -> Floats:
    random = np.random.default_rng(seed)
    return drawn_rates(fit, outlook, shock, n_draws=n_draws, random=random).astype(
        np.float64
    )


@pytest.mark.parametrize("spread", [0.01, 0.2, 3.0])
def test_draws_have_the_mean_of_the_outlook(spread: float) -> None:
    """Also where the rate is so little known that its spread is cut."""
    rng = np.random.default_rng(SEED)
    fit = some_fit(rng, spread=spread)
    outlook = outlook_of(fit, rng)
    draws = drawn(fit, outlook, Shock(np.arange(MONTHS), 0.02, 0.1))
    error = draws.std(axis=2) / np.sqrt(draws.shape[2])
    np.testing.assert_array_less(
        np.abs(draws.mean(axis=2) - outlook.mean), 5 * error + 1e-9
    )
    np.testing.assert_array_equal(draws[1, 3], 0.0)


def test_logarithms_of_draws_vary_as_the_delta_method_says() -> None:
    """And rows and months together as their slopes do: they share the rate."""
    rng = np.random.default_rng(SEED)
    fit = some_fit(rng, spread=0.03)
    outlook = outlook_of(fit, rng)
    draws = drawn(fit, outlook, calm())
    some = outlook.mean.ravel() > 0
    slopes = outlook.slope.reshape(ROWS * MONTHS, -1)[some]
    expected = slopes @ fit.covariance @ slopes.T
    found = np.cov(np.log(draws.reshape(ROWS * MONTHS, -1)[some]))
    scale = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    np.testing.assert_allclose(found / scale, expected / scale, atol=0.05)


def test_a_rate_that_all_months_share_moves_them_all_alike() -> None:
    rng = np.random.default_rng(SEED)
    fit = some_fit(rng)
    level = 1e-12 * np.eye(fit.coefficients.size)
    level[0, 0] = 0.09
    fit = replace(fit, covariance=level, root=np.linalg.cholesky(level))
    draws = drawn(fit, outlook_of(fit, rng), calm(), n_draws=500)
    one = draws[0, 0] / draws[0, 0].mean()
    assert one.std() == pytest.approx(0.3, rel=0.1)
    np.testing.assert_allclose(draws[1, 2] / draws[1, 2].mean(), one, rtol=1e-4)


def test_the_same_seed_gives_the_same_draws() -> None:
    rng = np.random.default_rng(SEED)
    fit = some_fit(rng)
    outlook = outlook_of(fit, rng)
    shock = Shock(np.arange(MONTHS), 0.02, 0.1)
    first = drawn(fit, outlook, shock, n_draws=50)
    np.testing.assert_array_equal(drawn(fit, outlook, shock, n_draws=50), first)
    assert (drawn(fit, outlook, shock, n_draws=50, seed=1)[0, 0] != first[0, 0]).all()


def test_shocks_have_mean_one_and_the_variances_asked_for() -> None:
    """Months of a quarter drift together; each has a factor of its own besides."""
    quarter = np.array([0, 0, 1, 1, 4])
    drift, month = 0.03, 0.08
    found = Shock(quarter, drift, month).drawn(60_000, np.random.default_rng(SEED))
    assert found.shape == (5, 60_000)
    assert (found > 0).all()
    np.testing.assert_allclose(found.mean(axis=1), 1.0, atol=0.01)
    variance = np.exp(drift * quarter) * (1 + month) - 1
    np.testing.assert_allclose(found.var(axis=1), variance, rtol=0.06)
    shared = np.exp(drift * np.minimum(quarter[:, None], quarter[None, :])) - 1
    off = ~np.eye(5, dtype=bool)
    np.testing.assert_allclose(np.cov(found)[off], shared[off], atol=0.006)


def test_a_calm_shock_is_one() -> None:
    assert (calm().drawn(7, np.random.default_rng(SEED)) == 1.0).all()


def counted(rng: np.random.Generator, mean: Floats, variance: float) -> Floats:
    """Draw counts with variance mean + variance x mean^2."""
    if variance > 0:
        mean = mean * rng.gamma(1 / variance, variance, mean.shape)
    return rng.poisson(mean).astype(np.float64)


@pytest.mark.parametrize("variance", [0.0, 0.05, 0.3])
def test_variance_between_months_is_found_again(variance: float) -> None:
    rng = np.random.default_rng(SEED)
    mean = rng.uniform(20, 80, (12, 24))
    found = shock_variance(counted(rng, mean, variance), mean)
    assert found.shape == (12,)
    if variance == 0:
        assert found.max() < 0.01
    else:
        assert found.mean() == pytest.approx(variance, rel=0.2)


def test_a_component_may_differ_from_the_others_as_far_as_it_shows() -> None:
    rng = np.random.default_rng(SEED)
    mean = np.full((10, 24), 60.0)
    mean[9] = 0.1
    seen = counted(rng, mean, 0.05)
    seen[0] = counted(rng, mean[0], 0.4)
    found = shock_variance(seen, mean)
    assert found[0] > 0.15 > found[1:9].max()
    # one that has hardly a claim is taken to be like the others
    assert found[1:9].min() / 2 < found[9] < found[0]


def test_months_without_expected_claims_tell_nothing() -> None:
    rng = np.random.default_rng(SEED)
    mean = rng.uniform(20, 80, (5, 24))
    seen = counted(rng, mean, 0.1)
    empty = np.zeros((5, 6))
    np.testing.assert_allclose(
        shock_variance(np.hstack([seen, empty]), np.hstack([mean, empty])),
        shock_variance(seen, mean),
        rtol=1e-6,
    )


def test_rows_without_claims_have_no_draws_and_change_no_others() -> None:
    rng = np.random.default_rng(SEED)
    fit = some_fit(rng)
    full = outlook_of(fit, rng)
    full = replace(full, mean=full.mean + 1.0)
    gaps = full.mean.copy()
    gaps[0, 1:] = 0.0
    all_drawn = drawn(fit, full, calm(), n_draws=50)
    some_drawn = drawn(fit, replace(full, mean=gaps), calm(), n_draws=50)
    assert not some_drawn[0, 1:].any()
    np.testing.assert_allclose(some_drawn[0, 0], all_drawn[0, 0], rtol=1e-5)
    np.testing.assert_allclose(some_drawn[1], all_drawn[1], rtol=1e-5)
