"""Log-rank test and ratio of hazards against the textbook and other libraries.

Sources, row by row in ``comparison.toml``: Freireich et al. 1963, as tabulated in
Kleinbaum and Klein; Benjamini and Hochberg 1995. Libraries: lifelines (log-rank),
statsmodels (Cox regression in Breslow's form, whose estimate the conditional ratio is),
scipy (one age).
"""

from __future__ import annotations

import numpy as np
import pytest
from lifelines.statistics import multivariate_logrank_test
from reference_rows import assert_published, assert_row, dataset, rows
from scipy import stats
from statsmodels.duration.hazard_regression import PHReg
from statsmodels.stats.multitest import multipletests

from claimlens.stats.comparison import adjusted_for_many, compare_segments, log_rank
from claimlens.stats.intervals import rate_ratio_exact

ROWS = rows("comparison")


def _counts(
    weeks: np.ndarray, events: np.ndarray, group: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return failures and units that passed each age, by group."""
    ages = np.unique(weeks)
    names = np.unique(group)
    failed = np.array(
        [
            [((weeks == age) & (events == 1) & (group == name)).sum() for age in ages]
            for name in names
        ]
    )
    at_risk = np.array(
        [[((weeks >= age) & (group == name)).sum() for age in ages] for name in names]
    )
    return failed, at_risk - failed


def _remission() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    data = dataset("remission_6mp")
    weeks = np.array([*data["six_mp_weeks"], *data["placebo_weeks"]], dtype=float)
    events = np.array([*data["six_mp_event"], *data["placebo_event"]])
    return weeks, events, np.repeat([0, 1], 21)


def test_log_rank_of_the_remission_data_agrees_with_the_textbook() -> None:
    row = ROWS["B06"]
    test = log_rank(*_counts(*_remission()))
    expected = row["expected"]
    assert_row(row, test.chi_square, expected["chi2"])
    assert_row(row, test.observed, expected["observed"])
    assert_row(row, test.expected, expected["expected"])
    assert_published(row, [test.chi_square, *test.observed, *test.expected])
    assert test.degrees == 1


def test_p_value_of_the_log_rank_test_agrees_with_r() -> None:
    row = ROWS["B07"]
    assert_row(row, log_rank(*_counts(*_remission())).p_value, row["expected"])


def test_chi_square_of_one_segment_against_the_rest_is_the_log_rank_statistic() -> None:
    found = compare_segments(*_counts(*_remission()), seed=1)
    np.testing.assert_allclose(found.chi_square, ROWS["B06"]["expected"]["chi2"])


def test_p_values_of_a_list_are_adjusted_as_benjamini_and_hochberg_do() -> None:
    adjusted = adjusted_for_many(dataset("bh1995")["p_values"])
    assert_row(ROWS["S09"], adjusted, ROWS["S09"]["expected"])
    row = ROWS["S08"]
    rejected = int((adjusted <= row["inputs"]["q"]).sum())
    assert_row(row, rejected, row["expected"])
    assert_published(row, rejected)


# lifelines 0.30.0 calls pandas in a way that pandas 4 will not allow
@pytest.mark.filterwarnings("ignore:Starting with pandas version 4")
@pytest.mark.parametrize("seed", range(6))
def test_log_rank_of_several_segments_equals_lifelines(seed: int) -> None:
    rng = np.random.default_rng([20240607, seed])
    weeks = np.ceil(rng.weibull(1.3, 240) * 20)
    events = (rng.random(240) < 0.6).astype(int)
    group = rng.integers(0, 2 + seed, 240)
    theirs = multivariate_logrank_test(weeks, group, events)
    ours = log_rank(*_counts(weeks, events, group))
    assert ours.degrees == theirs.degrees_of_freedom
    assert ours.chi_square == pytest.approx(theirs.test_statistic, rel=1e-8)
    assert ours.p_value == pytest.approx(theirs.p_value, rel=1e-7)


@pytest.mark.parametrize("seed", range(6))
def test_ratio_is_that_of_cox_regression_in_breslows_form(seed: int) -> None:
    rng = np.random.default_rng([20240607, 7, seed])
    weeks = np.ceil(rng.weibull(1.3, 300) * 20)
    events = (rng.random(300) < 0.4).astype(int)
    group = (rng.random(300) < 0.35).astype(int)
    weeks = np.where(group == 1, np.ceil(weeks / 1.7), weeks)
    theirs = PHReg(weeks, group[:, None], status=events, ties="breslow").fit()
    found = compare_segments(*_counts(weeks, events, group), seed=1)
    assert np.log(found.ratio[1]) == pytest.approx(theirs.params[0], abs=1e-6)
    assert found.ratio[0] * found.ratio[1] == pytest.approx(1, rel=1e-9)
    # with some hundred failures the normal limits are near
    normal = np.exp(theirs.params[0] + np.array([-1.96, 1.96]) * theirs.bse[0])
    assert [found.lower[1], found.upper[1]] == pytest.approx(normal, rel=0.03)


@pytest.mark.parametrize(
    ("x1", "t1", "x2", "t2"),
    [
        (2, 30.0, 60, 2000.0),
        (0, 50.0, 7, 90.0),
        (12, 40.0, 19, 80.0),
        (5, 30.0, 0, 40.0),
    ],
)
def test_limits_at_one_age_are_the_mid_p_limits_of_the_rate_ratio(
    x1: int, t1: float, x2: int, t2: float
) -> None:
    found = compare_segments([[x1], [x2]], [[t1 - x1], [t2 - x2]], seed=1)
    expected = rate_ratio_exact(x1, t1, x2, t2, mid_p=True)
    assert [found.lower[0], found.upper[0]] == pytest.approx(expected, rel=1e-8)
    n, share = x1 + x2, t1 / (t1 + t2)
    below = stats.binom.cdf(x1, n, share) - 0.5 * stats.binom.pmf(x1, n, share)
    assert found.p_value[0] == pytest.approx(
        min(2 * min(below, 1 - below), 1.0), rel=1e-8
    )


def test_p_value_of_rare_failures_lies_near_fishers_mid_p() -> None:
    """Where few of many fail, given margins and given failures are the same."""
    x1, n1, x2, n2 = 9, 20_000, 22, 19_000
    found = compare_segments([[x1], [x2]], [[n1 - x1], [n2 - x2]], seed=1)
    table = stats.hypergeom(n1 + n2, x1 + x2, n1)
    below = table.cdf(x1) - 0.5 * table.pmf(x1)
    assert found.p_value[0] == pytest.approx(2 * min(below, 1 - below), rel=5e-3)
    fisher = stats.fisher_exact([[x1, n1 - x1], [x2, n2 - x2]]).pvalue
    assert found.p_value[0] < fisher


def test_adjusted_p_values_equal_statsmodels_and_scipy() -> None:
    """Benjamini and Hochberg 1995, J. R. Stat. Soc. B 57, 289-300."""
    rng = np.random.default_rng(20240607)
    for size in (1, 11, 200):
        p = rng.random(size) ** 2
        theirs = multipletests(p, method="fdr_bh")[1]
        np.testing.assert_allclose(adjusted_for_many(p), theirs, atol=1e-12)
        np.testing.assert_allclose(
            adjusted_for_many(p), stats.false_discovery_control(p), atol=1e-12
        )
