"""Fitted rates against a general library, dense arithmetic, and known truths."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from intensity_maker import Floats, dense, effect, random_design
from scipy import linalg

from claimlens.stats.intensity import Design, Fit, fit_rates, fitting

SEED = 20240607
WIDE = (np.array([-3.0]), np.array([1e4]))


def pin(monkeypatch: pytest.MonkeyPatch, variance: float) -> None:
    """Hold the variance of every effect."""
    monkeypatch.setattr(fitting, "_SMALLEST", variance)
    monkeypatch.setattr(fitting, "_GREATEST", variance)


def fitted_alone(
    design: Design,
    counts: Floats,
    exposure: Floats,
    *,
    offset: Floats | None = None,
    prior: tuple[Floats, Floats] = WIDE,
) -> Fit:
    """Fit one component."""
    if offset is None:
        offset = np.zeros(counts.size)
    [fit] = fit_rates(
        [design], counts[None, :], exposure[None, :], offset=offset, prior=prior
    )
    return fit


def poisson_glm(x: Floats, counts: Floats, exposure: Floats, offset: Floats) -> Floats:
    """Return expected counts by maximum likelihood."""
    model = sm.GLM(
        counts, x, family=sm.families.Poisson(), offset=np.log(exposure) + offset
    )
    return np.asarray(model.fit(tol=1e-12, maxiter=200).fittedvalues)


def drawn_cells(
    seed: int = SEED, sizes: tuple[int, ...] = (4, 3)
) -> tuple[Design, Floats, Floats, Floats]:
    """Draw design, counts, exposure and offset of 300 cells."""
    rng = np.random.default_rng(seed)
    design = random_design(rng, 300, sizes, n_slopes=2)
    exposure = rng.uniform(20, 200, 300)
    offset = rng.normal(0, 0.2, 300)
    truth = rng.normal(0, 0.4, design.n_coefficients)
    truth[0] = -3.0
    counts = rng.poisson(exposure * np.exp(design.linear(truth) + offset))
    return design, counts.astype(np.float64), exposure, offset


def test_effects_without_variance_leave_the_plain_regression(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pin(monkeypatch, 1e-9)
    design, counts, exposure, offset = drawn_cells()
    prior = (np.array([-3.0, 0.0]), np.array([1e4, 1e4]))
    fit = fitted_alone(design, counts, exposure, offset=offset, prior=prior)
    plain = poisson_glm(design.covariates, counts, exposure, offset)
    np.testing.assert_allclose(fit.expected(exposure, offset), plain, rtol=1e-5)


def test_effects_of_any_size_are_the_regression_on_their_levels(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Levels apart alone: what keeps a walk near 0 would not vanish."""
    pin(monkeypatch, 1e6)
    rng = np.random.default_rng(SEED)
    design, counts, exposure, offset = drawn_cells()
    apart = Design(
        effects=tuple(
            effect(str(i), rng.integers(0, n, 300), n) for i, n in enumerate((4, 3))
        ),
        covariates=design.covariates,
    )
    prior = (np.array([-3.0, 0.0]), np.array([1e4, 1e4]))
    fit = fitted_alone(apart, counts, exposure, offset=offset, prior=prior)
    # the first level of each effect goes without saying
    told = np.delete(dense(apart), [apart.starts[0], apart.starts[1]], axis=1)
    free = poisson_glm(told, counts, exposure, offset)
    np.testing.assert_allclose(fit.expected(exposure, offset), free, rtol=1e-5)
    # totals of the data come back where nothing is drawn in
    np.testing.assert_allclose(
        apart.gathered(fit.expected(exposure, offset)),
        apart.gathered(counts),
        rtol=1e-5,
    )


def test_without_effects_slopes_and_their_errors_are_those_of_the_library() -> None:
    design, counts, exposure, offset = drawn_cells(sizes=())
    prior = (np.array([-3.0, 0.0]), np.array([1e4, 1e4]))
    fit = fitted_alone(design, counts, exposure, offset=offset, prior=prior)
    known = sm.GLM(
        counts,
        design.covariates,
        family=sm.families.Poisson(),
        offset=np.log(exposure) + offset,
    ).fit(tol=1e-12)
    np.testing.assert_allclose(fit.coefficients, known.params, rtol=1e-6)
    np.testing.assert_allclose(fit.covariance, known.cov_params(), rtol=1e-5)


def dense_mode(
    design: Design, data: tuple[Floats, Floats, Floats], variances: Floats
) -> tuple[Floats, Floats]:
    """Return mode and covariance by Newton steps with halving, on the whole matrix.

    With the prior WIDE; written apart from the package but for what holds a walk.
    """
    counts, exposure, offset = data
    x = dense(design)
    blocks = [np.diag(1.0 / WIDE[1] ** 2)]
    for one, variance in zip(design.effects, variances, strict=True):
        k = one.n_levels
        if one.kind == "apart":
            blocks.append(np.eye(k) / variance)
        else:
            steps = np.eye(k)[1:] - np.eye(k)[:-1]
            blocks.append(steps.T @ steps / variance + fitting._ANCHOR * np.eye(k))
    precision = linalg.block_diag(*blocks)
    centre = np.zeros(x.shape[1])
    centre[0] = WIDE[0][0]
    b = centre.copy()

    def loss(at: Floats) -> float:
        eta = x @ at + offset
        away = at - centre
        return float((exposure * np.exp(eta)).sum() - counts @ eta) + 0.5 * float(
            away @ precision @ away
        )

    for _ in range(200):
        mean = exposure * np.exp(x @ b + offset)
        slope = x.T @ (counts - mean) - precision @ (b - centre)
        move = np.linalg.solve(x.T @ (mean[:, None] * x) + precision, slope)
        while loss(b + move) > loss(b) + 1e-12 * abs(loss(b)):
            move *= 0.5
        b = b + move
        if np.abs(move).max() < 1e-12:
            break
    mean = exposure * np.exp(x @ b + offset)
    return b, np.linalg.inv(x.T @ (mean[:, None] * x) + precision)


@pytest.mark.parametrize("seed", range(4))
def test_a_fit_is_the_mode_of_what_it_says(seed: int) -> None:
    """Given the variances that it found, with effects apart and walks."""
    rng = np.random.default_rng([SEED, seed])
    design = random_design(rng, 400, (5, 8, 3, 6))
    exposure = rng.uniform(0, 120, 400) * (rng.random(400) < 0.8)
    truth = rng.normal(0, 0.4, design.n_coefficients)
    truth[0] = -3.0
    counts = rng.poisson(exposure * np.exp(design.linear(truth))).astype(np.float64)
    offset = np.zeros(400)
    fit = fitted_alone(design, counts, exposure)
    mode, covariance = dense_mode(design, (counts, exposure, offset), fit.variances)
    np.testing.assert_allclose(
        fit.expected(np.ones(400), offset),
        np.exp(dense(design) @ mode),
        rtol=2e-3,
    )
    np.testing.assert_allclose(fit.covariance, covariance, rtol=2e-2, atol=2e-3)


def simulated(
    rng: np.random.Generator, variances: tuple[float, float], *, n_levels: int = 20
) -> tuple[Design, Floats, Floats, list[Floats]]:
    """Draw claims of a fleet with two effects of known variances."""
    n = n_levels * n_levels
    first, second = np.divmod(np.arange(n), n_levels)
    levels = [rng.normal(0, np.sqrt(v), n_levels) for v in variances]
    design = Design(
        effects=(effect("a", first, n_levels), effect("b", second, n_levels)),
        covariates=np.ones((n, 1)),
    )
    exposure = rng.uniform(100, 400, n)
    rate = np.exp(-3.0 + levels[0][first] + levels[1][second])
    counts = rng.poisson(exposure * rate).astype(np.float64)
    return design, counts, exposure, levels


def test_known_effects_and_their_variances_are_found_again() -> None:
    """20 levels tell a variance to within about sqrt(2 / 19), a third, each time."""
    rng = np.random.default_rng(SEED)
    truth = (0.30, 0.05)
    found, covered = [], []
    for _ in range(15):
        design, counts, exposure, levels = simulated(rng, truth)
        fit = fitted_alone(design, counts, exposure)
        found.append(fit.variances)
        for i, known in enumerate(levels):
            place = design.place(i)
            got = fit.coefficients[place]
            # the level of an effect as a whole is told only with the others
            away = (got - got.mean()) - (known - known.mean())
            here = np.eye(known.size) - 1.0 / known.size
            error = np.sqrt(np.diag(here @ fit.covariance[place, place] @ here))
            covered.append(np.abs(away) < 1.96 * error)
            assert np.corrcoef(got, known)[0, 1] > 0.8
    np.testing.assert_allclose(np.mean(found, axis=0), truth, rtol=0.25)
    assert 0.91 < np.mean(covered) < 0.98


def test_a_variance_allows_for_what_few_claims_leave_unknown() -> None:
    """With two or three claims a level: restricted maximum likelihood, by hand.

    There v = b'b / (k - tr(C) / v): levels drawn in lie closer than they are. The fixed
    point is that of Schall (1991), Biometrika 78, 719-727.
    """
    rng = np.random.default_rng(SEED)
    for _ in range(4):
        design, counts, exposure, _ = simulated(rng, (0.4, 0.2))
        # thinned, of the same rates
        few = rng.binomial(counts.astype(int), 0.01).astype(np.float64)
        data = (few, exposure * 0.01, np.zeros(few.size))
        fit = fitted_alone(design, few, exposure * 0.01)
        mode, covariance = dense_mode(design, data, fit.variances)
        for i, variance in enumerate(fit.variances):
            place = design.place(i)
            unknown = np.trace(covariance[place, place]) / variance
            assert unknown > 5  # of 20 levels: what is at stake here
            again = mode[place] @ mode[place] / (20 - unknown)
            assert variance == pytest.approx(again, rel=0.1)


def test_an_effect_that_is_not_there_vanishes() -> None:
    rng = np.random.default_rng(SEED)
    design, counts, exposure, _ = simulated(rng, (0.3, 0.0))
    fit = fitted_alone(design, counts, exposure)
    assert fit.variances[1] < 0.01
    assert fit.variances[0] > 0.1
    assert np.abs(fit.coefficients[design.place(1)]).max() < 0.1


def fleet_of(counts: Floats, exposure: Floats) -> list[Fit]:
    """Fit components over the same 60 cells of 6 levels."""
    level = np.arange(60) % 6
    design = Design(
        effects=(effect("a", level, 6), effect("b", level, 6, kind="walk")),
        covariates=np.ones((60, 1)),
    )
    return fit_rates(
        [design] * len(counts),
        counts,
        exposure,
        offset=np.zeros(60),
        prior=(np.array([-4.0]), np.array([1.5])),
    )


@pytest.mark.parametrize("n_claims", [0, 1])
def test_a_component_of_hardly_a_claim_leans_on_what_was_known_before(
    n_claims: int,
) -> None:
    """Few claims: less than before, but not nothing; and nobody else is disturbed."""
    rng = np.random.default_rng(SEED)
    exposure = np.full((4, 60), 50.0)
    counts = rng.poisson(50 * np.exp(-3.0), (4, 60)).astype(np.float64)
    counts[3] = 0.0
    counts[3, 7] = n_claims
    fits = fleet_of(counts, exposure)
    total = fits[3].expected(exposure[3], np.zeros(60)).sum()
    assert np.isfinite(fits[3].coefficients).all()
    assert np.isfinite(fits[3].covariance).all()
    assert n_claims * 0.7 < total < n_claims + 1.0
    assert np.sqrt(fits[3].covariance[0, 0]) > 0.5
    for c in range(3):
        known = counts[c].sum()
        assert fits[c].expected(exposure[c], np.zeros(60)).sum() == pytest.approx(
            known, rel=0.03
        )


def test_a_component_without_exposure_keeps_what_was_known_before() -> None:
    rng = np.random.default_rng(SEED)
    exposure = np.full((3, 60), 50.0)
    exposure[2] = 0.0
    counts = rng.poisson(exposure * np.exp(-3.0)).astype(np.float64)
    fit = fleet_of(counts, exposure)[2]
    assert fit.coefficients[0] == pytest.approx(-4.0, abs=1e-6)
    assert np.sqrt(fit.covariance[0, 0]) == pytest.approx(1.5, rel=1e-6)
    np.testing.assert_allclose(fit.coefficients[1:], 0.0, atol=1e-6)


def test_designs_with_more_covariates_take_more_of_the_prior() -> None:
    rng = np.random.default_rng(SEED)
    plain = random_design(rng, 80, (3,))
    more = Design(
        effects=plain.effects,
        covariates=np.column_stack([np.ones(80), np.arange(80) < 40]),
    )
    exposure = np.full((2, 80), 100.0)
    counts = rng.poisson(exposure * np.where(np.arange(80) < 40, 0.2, 0.1))
    fits = fit_rates(
        [plain, more],
        counts.astype(np.float64),
        exposure,
        offset=np.zeros(80),
        prior=(np.array([-2.0, 0.0]), np.array([3.0, 1.0])),
    )
    assert [fit.coefficients.size for fit in fits] == [4, 5]
    assert fits[1].coefficients[1] == pytest.approx(np.log(2), abs=0.2)
