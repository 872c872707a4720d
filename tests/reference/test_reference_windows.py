"""Window scan and change effect against hand-made and published figures.

Sources, row by row in ``windows.toml``: Kulldorff 1997, Dwass 1957, examples of the R
manual. Libraries: scipy (binomial inversion, noncentral hypergeometric limits).
"""

from __future__ import annotations

from itertools import combinations
from math import factorial

import numpy as np
import pytest
from reference_rows import assert_published, assert_row, rows
from scipy import optimize, stats

from claimlens.stats.change_effect import (
    ChangeRatio,
    ChangeRules,
    CountsByAge,
    change_effect,
)
from claimlens.stats.change_power import chance_of_improved, claims_needed
from claimlens.stats.control_ratio import ratio_of_ratios
from claimlens.stats.intervals import poisson_exact
from claimlens.stats.production_counts import ProductionCounts, counts_by_expectation
from claimlens.stats.window_draws import largest_excess, likelihood_ratio, table
from claimlens.stats.windows import ScanRules, scan_windows

ROWS = rows("windows")


def _counts(row: dict) -> ProductionCounts:
    return counts_by_expectation(row["inputs"]["claims"], row["inputs"]["units"])


def _unbroken(counts: ProductionCounts) -> np.ndarray:
    return np.zeros(counts.observed.size, dtype=np.intp)


def test_log_likelihood_ratio_agrees_with_the_one_by_hand() -> None:
    row = ROWS["S01"]
    at = row["inputs"]
    found = likelihood_ratio(
        np.array([at["observed"]]), np.array([at["expected"]]), at["total"]
    )
    assert_row(row, found, [row["expected"]])
    by_hand = 6 * np.log(6 / 2.88) + 2 * np.log(2 / 5.12)
    assert found[0] == pytest.approx(by_hand, abs=1e-12)


@pytest.mark.parametrize(("name", "length"), [("S02", 4), ("S06", 6)])
def test_best_and_second_window_are_those_of_the_enumeration(
    name: str, length: int
) -> None:
    row = ROWS[name]
    counts = _counts(row)
    found = table(counts, _unbroken(counts), max_length=length, max_share=1.0)
    order = np.argsort(found.excess)[::-1]
    best, wanted = order[0], row["expected"]
    assert_row(row, found.excess[order[:2]], [wanted["llr"], wanted["second"]])
    assert found.start[best] + 1 == wanted["best_from"]
    assert found.stop[best] == wanted["best_to"]
    window = scan_windows(counts, seed=1).windows[0]
    assert (window.best_start + 1, window.best_stop) == (
        wanted["best_from"],
        wanted["best_to"],
    )


@pytest.mark.parametrize("name", ["S03", "S04"])
def test_p_value_over_all_allocations_is_the_exact_one(name: str) -> None:
    row = ROWS[name]
    counts = _counts(row)
    share = row["inputs"].get("max_share", 1.0)
    # the whole production is no window
    rules = {"max_length": 4, "max_share": share}
    total, months = 8, 5
    every = []
    for bars in combinations(range(total + months - 1), months - 1):
        ends = np.array([-1, *bars, total + months - 1])
        every.append(np.diff(ends) - 1)
    draws = np.array(every, dtype=float)
    assert draws.shape == (495, months)
    units = np.array(row["inputs"]["units"]) / 500
    chance = [
        factorial(total)
        * np.prod([p**k / factorial(int(k)) for p, k in zip(units, one, strict=True)])
        for one in draws
    ]
    run = _unbroken(counts)
    largest = largest_excess(draws, counts.expected, run, **rules)
    seen = table(counts, run, **rules).excess.max()
    p_value = np.array(chance)[largest >= seen - 1e-12].sum()
    assert_row(row, p_value, row["expected"])


def test_monte_carlo_p_value_is_near_the_exact_one() -> None:
    row = ROWS["S05"]
    size = row["inputs"]["simulations"]
    rules = ScanRules(max_length=4, draws=size, more_draws=size)
    window = scan_windows(_counts(row), seed=20240101, rules=rules).windows[0]
    assert window.draws == size
    assert_row(row, window.p_value, row["expected"])


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_p_value_of_a_planted_window_is_the_least_there_is(seed: int) -> None:
    row = ROWS["S07"]
    size = row["inputs"]["simulations"]
    rules = ScanRules(draws=size, more_draws=size)
    window = scan_windows(_counts(row), seed=seed, rules=rules).windows[0]
    assert_row(row, window.p_value, row["expected"])


def test_exact_interval_of_a_rate_agrees_with_the_manual_of_r() -> None:
    row = ROWS["H01"]
    at = row["inputs"]
    low, high = poisson_exact(at["events"], at["exposure"])
    found = [at["events"] / at["exposure"], low, high]
    assert_row(row, found, row["expected"])
    assert_published(row, found)


def _one_age(
    before: tuple[float, float], after: tuple[float, float], *, exact: bool
) -> ChangeRatio:
    return change_effect(
        CountsByAge(failures=[before[0]], unit_months=[before[1]]),
        CountsByAge(failures=[after[0]], unit_months=[after[1]]),
        rules=ChangeRules(exact=exact, least_units=1),
    ).effect


def test_exact_interval_of_two_rates_agrees_with_the_manual_of_r() -> None:
    row = ROWS["H02"]
    at, wanted = row["inputs"], row["expected"]
    found = _one_age((at["x2"], at["t2"]), (at["x1"], at["t1"]), exact=True)
    assert_row(
        row,
        [found.ratio, found.lower, found.upper],
        [wanted["ratio"], wanted["lower"], wanted["upper"]],
    )
    share = at["t1"] / (at["t1"] + at["t2"])
    p_value = stats.binomtest(at["x1"], at["x1"] + at["x2"], share).pvalue
    assert_published(row, [found.ratio, found.lower, found.upper, p_value])


@pytest.mark.parametrize("exact", [False, True])
def test_limits_at_one_age_are_those_of_inverting_the_binomial(exact: bool) -> None:
    """H-1: 25 pairs each for mid-p and exact limits."""
    rng = np.random.default_rng(20240607)
    weight = 1.0 if exact else 0.5
    for _ in range(25):
        before, after = rng.integers(1, 80), rng.integers(1, 80)
        t1, t2 = rng.uniform(200.0, 4000.0, 2)
        found = _one_age((before, t1), (after, t2), exact=exact)
        n = int(before + after)

        def lower_tail(log: float, n=n, x=after, t1=t1, t2=t2) -> float:
            share = np.exp(log) * t2 / (t1 + np.exp(log) * t2)
            at = stats.binom.pmf(x, n, share)
            return stats.binom.cdf(x, n, share) - (1 - weight) * at - 0.025

        def upper_tail(log: float, n=n, x=after, t1=t1, t2=t2) -> float:
            share = np.exp(log) * t2 / (t1 + np.exp(log) * t2)
            at = stats.binom.pmf(x, n, share)
            return stats.binom.sf(x - 1, n, share) - (1 - weight) * at - 0.025

        centre = np.log(after * t1 / (before * t2))
        high = optimize.brentq(lower_tail, centre, centre + 15, xtol=1e-13)
        low = optimize.brentq(upper_tail, centre - 15, centre, xtol=1e-13)
        np.testing.assert_allclose(
            [found.lower, found.upper], np.exp([low, high]), rtol=1e-9
        )


def test_size_needed_for_a_halving_is_that_of_exact_sums() -> None:
    row = ROWS["H03"]
    for way, exact in (("exact", True), ("mid_p", False)):
        for chance, claims in zip((0.8, 0.9), row["expected"][way], strict=True):
            found = chance_of_improved(claims, exact=exact)
            assert_row(row, found, chance)
            assert abs(claims_needed(chance, exact=exact) - claims) <= 1


@pytest.mark.parametrize(("claims", "part"), [(12, 1.0), (47, 1.0), (30, 2.5)])
@pytest.mark.parametrize("exact", [False, True])
def test_chance_of_an_improvement_is_the_plain_double_sum(
    claims: int, part: float, exact: bool
) -> None:
    before, after = np.arange(160)[:, None], np.arange(300)
    n, share = before + after, part / (1 + part)
    tail = stats.binom.cdf(after, n, share)
    if not exact:
        tail = tail - 0.5 * stats.binom.pmf(after, n, share)
    weight = stats.poisson.pmf(before, claims) * stats.poisson.pmf(
        after, claims * part / 2
    )
    np.testing.assert_allclose(
        chance_of_improved(claims, part, exact=exact),
        weight[tail < 0.025].sum(),
        rtol=1e-9,
    )


def _plain(before: float, after: float) -> ChangeRatio:
    return _one_age((before, 1000.0), (after, 1000.0), exact=False)


def test_ratio_of_ratios_is_the_conditional_odds_ratio_of_the_manual_of_r() -> None:
    row = ROWS["H04"]
    a, b, c, d = row["inputs"]["table"]
    found = ratio_of_ratios(_plain(b, a), _plain(d, c))
    assert_row(row, found.ratio, row["expected"])


def test_exact_limits_of_a_ratio_of_ratios_equal_scipy() -> None:
    rng = np.random.default_rng(20240607)
    for _ in range(12):
        after, before, other_after, other = rng.integers(1, 40, 4)
        theirs = stats.contingency.odds_ratio([[after, before], [other_after, other]])
        limits = theirs.confidence_interval()
        ours = ratio_of_ratios(
            _plain(before, after), _plain(other, other_after), exact=True
        )
        np.testing.assert_allclose(
            [ours.ratio, ours.lower, ours.upper],
            [theirs.statistic, limits.low, limits.high],
            rtol=1e-6,
        )
