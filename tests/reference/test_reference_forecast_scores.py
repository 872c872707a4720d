"""Scores of forecasts and tests of their coverage against written values.

Sources, row by row in ``forecast_scores.toml``: Gneiting and Raftery 2007,
Kupiec 1995. Each has a witness beside it that shares no code with ours.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from reference_rows import assert_published, assert_row, rows
from scipy import stats

from claimlens.stats.forecast_scores import interval_score, mean_interval_score
from claimlens.stats.misses import kupiec_ratio, kupiec_region, misses_p

ROWS = rows("forecast_scores")


def pinball(quantile: float, level: float, seen: float) -> float:
    """Return the loss of one quantile."""
    return (
        level * (seen - quantile)
        if seen >= quantile
        else (1 - level) * (quantile - seen)
    )


def likelihood_ratio(misses: int, periods: int, chance: float) -> float:
    """Return twice the difference of two binomial log-likelihoods, by scipy."""
    best = stats.binom.logpmf(misses, periods, misses / periods)
    return float(2 * (best - stats.binom.logpmf(misses, periods, chance)))


def test_the_interval_score_is_that_worked_by_hand() -> None:
    row = ROWS["F01"]
    for case, expected in zip(row["inputs"]["cases"], row["expected"], strict=True):
        lower, upper, seen, alpha = case
        found = interval_score(lower, upper, seen, 1 - alpha)
        assert_row(row, found, expected)
        both = pinball(lower, alpha / 2, seen) + pinball(upper, 1 - alpha / 2, seen)
        assert_row(row, 2 / alpha * both, expected)


def test_the_mean_interval_score_is_that_worked_by_hand() -> None:
    row = ROWS["F02"]
    lower, upper = np.array(row["inputs"]["bands"]).T
    seen, alpha = row["inputs"]["observed"], row["inputs"]["alpha"]
    assert_row(row, mean_interval_score(lower, upper, seen, 1 - alpha), row["expected"])


def test_the_misses_that_are_not_rejected_are_the_published_ones() -> None:
    row = ROWS["F03"]
    periods, chance = np.array(row["inputs"]["cases"]).T
    found = np.stack(kupiec_region(periods, chance), axis=-1)
    assert_row(row, found, row["expected"])
    assert_published(row, found)
    for n, p, (fewest, most) in zip(periods, chance, row["expected"], strict=True):
        kept = [
            x
            for x in range(1, int(n))
            if likelihood_ratio(x, int(n), p) < stats.chi2.ppf(0.95, 1)
        ]
        assert (kept[0], kept[-1]) == (fewest, most)


def test_the_likelihood_ratio_of_misses_is_the_written_one() -> None:
    row = ROWS["F04"]
    found = kupiec_ratio(*np.array(row["inputs"]["cases"]).T)
    assert_row(row, found, row["expected"])
    for case, expected in zip(
        row["inputs"]["cases"][:2], row["expected"], strict=False
    ):
        assert_row(row, likelihood_ratio(*case), expected)
    assert_row(row, -2 * 255 * math.log(0.99), row["expected"][2])


def test_the_exact_p_of_misses_is_the_written_one() -> None:
    row = ROWS["F05"]
    x, n, p = (row["inputs"][name] for name in ("misses", "periods", "chance"))
    assert_row(row, misses_p(x, n, p), row["expected"])
    # the same in exact fractions
    chance = Fraction(1, 20)
    mass = [math.comb(n, k) * chance**k * (1 - chance) ** (n - k) for k in range(n + 1)]
    assert_row(row, float(sum(m for m in mass if m <= mass[x])), row["expected"][0])
    assert_row(row, float(sum(mass[x:])), row["expected"][1])


@pytest.mark.parametrize("periods", [1, 2, 7, 12, 60])
def test_exact_p_values_equal_those_of_scipy(periods: int) -> None:
    """scipy.stats.binomtest takes one pair at a time; ours takes them all."""
    misses = np.arange(periods + 1)
    for chance in (0.01, 0.05, 0.2, 0.5):
        two_sided, upper = misses_p(misses, periods, chance)
        for x in misses:
            theirs = stats.binomtest(int(x), periods, chance)
            assert two_sided[x] == pytest.approx(theirs.pvalue, abs=1e-12)
            greater = stats.binomtest(int(x), periods, chance, alternative="greater")
            assert upper[x] == pytest.approx(greater.pvalue, abs=1e-12)
