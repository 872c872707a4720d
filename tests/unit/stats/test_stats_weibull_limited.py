"""Lives of which only a share of the units is prone."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import optimize, stats

from claimlens.errors import InputError
from claimlens.stats import weibull
from claimlens.stats.weibull.cells import prepare
from claimlens.stats.weibull.mixture import Z_MAX, _slopes, _value

MONTHS = np.arange(1.0, 25)
PLANNED = np.full(24, 120.0)


def _passed(fails: Any, left: Any) -> Any:
    return np.cumsum((fails + left)[::-1])[::-1] - fails


def _fleet(seed: int, *, prone: float, shape: float, scale: float) -> tuple[Any, ...]:
    """Draw 2,880 units in monthly cells, 120 of each age."""
    rng = np.random.default_rng([20240607, seed])
    end = np.repeat(np.arange(1, 25), 120)
    life = scale * rng.weibull(shape, end.size)
    life = np.where(rng.uniform(size=end.size) < prone, life, np.inf)
    failed = life <= end
    fails = np.bincount(np.ceil(life[failed]).astype(int), minlength=25)[1:]
    left = np.bincount(end[~failed], minlength=25)[1:]
    return fails, _passed(fails, left), _passed(0, PLANNED)


def _ask(seed: int, draws: int = 59, **truth: Any) -> weibull.LimitedShare:
    fails, exposed, watched = _fleet(seed, **truth)
    return weibull.limited_share(
        MONTHS,
        fails,
        None,
        lower=MONTHS - 1,
        exposed=exposed,
        watched=watched,
        seed=seed,
        draws=draws,
        width=None,
    )


def _direct(fails: Any, exposed: Any) -> Any:
    """Return the likelihood of (ln shape, ln scale, logit share), written apart."""

    def loss(at: Any) -> float:
        shape, scale, share = np.exp(at[0]), np.exp(at[1]), 1 / (1 + np.exp(-at[2]))
        log_alive = np.log(
            1 - share * stats.weibull_min(shape, scale=scale).cdf(np.arange(25.0))
        )
        width = np.maximum(-np.diff(log_alive), 1e-300)
        return float(-(fails * np.log(-np.expm1(-width)) - exposed * width).sum())

    return loss


@pytest.mark.parametrize("seed", range(5))
def test_the_estimate_is_the_best_of_many_plain_searches(seed: int) -> None:
    fails, exposed, _ = _fleet(seed, prone=0.03, shape=1.5, scale=7.0)
    found = _ask(seed, prone=0.03, shape=1.5, scale=7.0)
    loss = _direct(fails, exposed)
    best = min(
        (
            optimize.minimize(
                loss,
                [0.3, np.log(scale), share],
                method="Nelder-Mead",
                options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 4000},
            )
            for scale in (5.0, 20.0)
            for share in (-3.5, -1.0)
        ),
        key=lambda one: float(one.fun),
    )
    assert found.log_likelihood == pytest.approx(-best.fun, rel=1e-9)
    assert found.shape == pytest.approx(np.exp(best.x[0]), rel=1e-4)
    assert found.share == pytest.approx(1 / (1 + np.exp(-best.x[2])), rel=1e-4)
    # at both limits the profile lies 1.92 below its best
    drop = stats.chi2.ppf(0.95, 1) / 2
    for limit in found.share_interval:
        logit = np.log(limit / (1 - limit))
        held = optimize.minimize(
            lambda x, z=logit: loss([x[0], x[1], z]),
            best.x[:2],
            method="Nelder-Mead",
            options={"xatol": 1e-9, "fatol": 1e-11},
        )
        assert held.fun - best.fun == pytest.approx(drop, abs=1e-4)


def test_a_limited_share_is_found() -> None:
    found = [_ask(seed, prone=0.03, shape=1.5, scale=6.0) for seed in range(8)]
    assert sum(one.p <= 0.05 for one in found) == 8
    assert sum(one.shown for one in found) == 8
    held = [one.share_interval[0] <= 0.03 <= one.share_interval[1] for one in found]
    assert sum(held) >= 7
    assert all(one.note == "" for one in found)


def test_all_units_prone_is_mostly_left_alone() -> None:
    found = [_ask(seed, prone=1.0, shape=1.2, scale=260.0) for seed in range(30)]
    assert sum(one.p <= 0.05 for one in found) <= 4
    quiet = [one for one in found if one.draws == 0]
    assert len(quiet) >= 20
    assert all(one.share_interval[1] == 1.0 for one in quiet)
    assert all("no sign" in one.note for one in quiet)


def test_the_likelihood_never_lies_below_the_plain_one() -> None:
    for seed in range(8):
        fails, exposed, _ = _fleet(seed, prone=1.0, shape=2.0, scale=90.0)
        plain = weibull.fit(MONTHS, fails, None, lower=MONTHS - 1, exposed=exposed)
        found = _ask(seed, prone=1.0, shape=2.0, scale=90.0)
        assert found.log_likelihood >= plain.log_likelihood - 1e-9
        assert found.ratio == pytest.approx(
            2 * (found.log_likelihood - plain.log_likelihood), abs=1e-9
        )


def test_an_early_share_cannot_be_told_from_a_falling_hazard_yet() -> None:
    """A share may be proved below 1 and still be open above a half."""
    found = [_ask(seed, prone=0.4, shape=0.9, scale=20.0) for seed in range(6)]
    for one in found:
        if one.p <= 0.05 and one.share_interval[1] >= 0.5:
            assert not one.shown
            assert "cannot be told apart" in one.note
    assert any(one.share_interval[1] >= 0.5 for one in found)


def test_leavers_and_exposure_tell_the_same() -> None:
    fails, exposed, _ = _fleet(3, prone=0.03, shape=1.5, scale=6.0)
    left = -np.diff(exposed + fails, append=0.0) - fails
    one = weibull.limited_share(MONTHS, fails, left, lower=MONTHS - 1)
    other = _ask(3, prone=0.03, shape=1.5, scale=6.0)
    assert one.log_likelihood == pytest.approx(other.log_likelihood, rel=1e-10)
    assert one.share_interval == pytest.approx(other.share_interval, rel=1e-6)
    assert one.draws == 0 < other.draws
    assert one.p == pytest.approx(stats.chi2.sf(one.ratio, 1) / 2, rel=1e-9)


def test_the_same_seed_gives_the_same_p() -> None:
    one, other = (_ask(2, prone=0.05, shape=1.2, scale=12.0) for _ in range(2))
    assert (one.p, one.draws) == (other.p, other.draws)


def test_slopes_agree_with_differences() -> None:
    fails, exposed, _ = _fleet(1, prone=0.05, shape=1.2, scale=9.0)
    cells = prepare(
        MONTHS, fails, None, lower=MONTHS - 1, entry=None, exposed=exposed
    ).cells
    at, h = np.array([[0.3, 0.8, -2.0]]), 1e-5
    gradient, curvature = _slopes(cells, at)
    for i in range(3):
        step = np.zeros((1, 3))
        step[0, i] = h
        up, down = _value(cells, at + step), _value(cells, at - step)
        assert gradient[0, i] == pytest.approx((up - down)[0] / (2 * h), rel=1e-6)
        above, below = _slopes(cells, at + step)[0], _slopes(cells, at - step)[0]
        np.testing.assert_allclose(
            curvature[0, i], (above - below)[0] / (2 * h), rtol=1e-5
        )


def test_the_whole_fleet_is_the_plain_life() -> None:
    fails, exposed, _ = _fleet(1, prone=1.0, shape=1.2, scale=200.0)
    fit = weibull.fit(MONTHS, fails, None, lower=MONTHS - 1, exposed=exposed)
    cells = prepare(
        MONTHS, fails, None, lower=MONTHS - 1, entry=None, exposed=exposed
    ).cells
    shape, scale = float(fit.shape), float(fit.scale)
    at = np.array([[np.log(shape), -shape * np.log(scale / 24.0), 2 * Z_MAX]])
    assert _value(cells, at)[0] == pytest.approx(fit.log_likelihood, rel=1e-9)


@pytest.mark.parametrize(
    ("fails", "exposed", "why"),
    [
        ([10, 9], [300, 250], "19 failures, 20 needed"),
        ([30, 0], [300, 250], "no plain fit to compare with"),
    ],
)
def test_too_little_is_no_estimate(fails: Any, exposed: Any, why: str) -> None:
    found = weibull.limited_share(
        [1, 2], fails, None, lower=[0, 1], exposed=exposed, watched=[400, 400]
    )
    assert found.note == why
    assert not found.shown
    assert np.isnan([found.share, found.p, *found.share_interval]).all()


def test_several_segments_and_watched_without_exposure_are_refused() -> None:
    with pytest.raises(InputError, match="one row"):
        weibull.limited_share([1], [[30]], [[9]], lower=[0])
    with pytest.raises(InputError, match="exposed must be given"):
        weibull.limited_share([1], [30], [9], lower=[0], watched=[39])
