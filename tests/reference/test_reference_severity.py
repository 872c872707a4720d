"""Mean costs against published limits, a hand example and scipy's resamples.

Sources, row by row in ``severity.toml``: Efron and Tibshirani 1993; Klugman,
Panjer and Willmot 2012.
"""

from __future__ import annotations

import numpy as np
import pytest
from reference_rows import assert_row, rows
from scipy import stats

from claimlens.stats.severity import CREDIBILITY, draw_means, mean_costs

ROWS = rows("severity")


def test_limits_of_nine_values_are_the_published_ones() -> None:
    row = ROWS["V01"]
    values = row["inputs"]["values"]
    found = mean_costs(
        values,
        np.zeros(9),
        [0],
        row["inputs"]["confidence"],
        rng=np.random.default_rng(20240607),
        resamples=99_999,
    )
    limits = [found.lower[0], found.upper[0]]
    assert_row(row, limits, row["expected"])
    assert limits == pytest.approx(row["published"], rel=0.01)


def test_the_credible_means_are_those_worked_by_hand() -> None:
    row = ROWS["V02"]
    costs = row["inputs"]["costs"]
    groups = np.repeat([0, 1], [len(group) for group in costs])
    found = mean_costs(
        np.concatenate(costs), groups, [0, 0], rng=np.random.default_rng(1)
    )
    assert row["inputs"]["k"] == CREDIBILITY
    assert_row(row, found.weight, row["expected"]["weight"])
    assert_row(row, found.wider_mean, [row["expected"]["wider"]] * 2)
    assert_row(row, found.credible_mean, row["expected"]["credible"])


@pytest.mark.parametrize("sigma", [0.5, 1.0, 1.5])
def test_limits_equal_those_from_the_resamples_of_scipy(sigma: float) -> None:
    """scipy knows no bootstrap-t; it draws, and the ratios are formed here."""
    rng = np.random.default_rng(20240607)
    costs = np.exp(sigma * rng.standard_normal(30))
    costs[:3] = 0.0
    mean, error = costs.mean(), stats.sem(costs)

    def ratio(values: np.ndarray, axis: int) -> np.ndarray:
        return (values.mean(axis=axis) - mean) / stats.sem(values, axis=axis)

    drawn = stats.bootstrap(
        (costs,),
        ratio,
        n_resamples=40_000,
        vectorized=True,
        method="percentile",
        rng=np.random.default_rng(2),
    ).bootstrap_distribution
    low, high = np.quantile(drawn, [0.025, 0.975])
    found = mean_costs(costs, np.zeros(30), [0], rng=rng, resamples=40_000 - 1)
    assert found.lower[0] == pytest.approx(mean - high * error, abs=0.02 * error)
    assert found.upper[0] == pytest.approx(mean - low * error, rel=0.03)


def test_drawn_means_are_those_of_a_dirichlet_process_broken_stick_by_stick() -> None:
    """Sethuraman 1994, Statistica Sinica 4, 639-650: sticks of Beta(1, n + 20)."""
    rng = np.random.default_rng(20240607)
    own = np.array([0.0, 5.0, 1.0, 2.0, 40.0, 3.0, 2.0, 1.0, 9.0, 4.0])
    others = np.exp(rng.standard_normal(20_000))
    draws, sticks = 10_000, 250
    broken = rng.beta(1.0, own.size + CREDIBILITY, (draws, sticks))
    left = np.cumprod(1 - broken, axis=1)
    weights = broken * np.column_stack([np.ones(draws), left[:, :-1]])
    is_own = rng.random((draws, sticks)) < own.size / (own.size + CREDIBILITY)
    atoms = np.where(
        is_own, rng.choice(own, (draws, sticks)), rng.choice(others, (draws, sticks))
    )
    theirs = (weights * atoms).sum(axis=1)
    groups = np.repeat([0, 1], [own.size, others.size])
    ours = draw_means(np.append(own, others), groups, [0, 0], rng=rng, draws=draws)[
        :, 0
    ]
    for level in (0.025, 0.1, 0.5, 0.9, 0.975):
        assert np.quantile(ours, level) == pytest.approx(
            np.quantile(theirs, level), rel=0.04
        )
    assert ours.mean() == pytest.approx(theirs.mean(), rel=0.01)
    assert ours.std() == pytest.approx(theirs.std(), rel=0.03)
