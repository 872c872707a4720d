"""Do the figures about repairs hold what they say?

Mean events per unit, the same where reports come late, the share of repairs that
did not hold, and repeats against expectation; each with a known truth.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
from fleets import Floats, percent, report
from numpy.typing import NDArray

from claimlens.stats.exposure import Chances
from claimlens.stats.follow_up import (
    Repairs,
    expected_after,
    follow,
    ratio_to_expected,
)
from claimlens.stats.intervals import poisson_exact
from claimlens.stats.mean_events import mean_by_segment
from claimlens.stats.recurrence import mean_cumulative
from claimlens.stats.survival import share_failed
from claimlens.stats.watches import Occurrences, Watches

SEED = 20240607
UNITS = 300
Z = 1.959963984540054  # 97.5 % point of the normal distribution (scipy norm.ppf)
Indices = NDArray[np.intp]


def _prone(rng: np.random.Generator, frailty: float) -> Floats:
    """Draw how prone each unit is: gamma with mean 1 and the variance given."""
    if not frailty:
        return np.ones(UNITS)
    return rng.gamma(1 / frailty, frailty, UNITS)


def study(repeats: int = 4000, seed: int = SEED) -> list[dict[str, Any]]:
    """Return coverage at 12 months, given at least three events by then."""
    rows = []
    for expected in (5, 30, 300):
        for frailty in (0.0, 1.0, 2.0):
            rng = np.random.default_rng([seed, expected, int(frailty)])
            truth = expected / UNITS
            robust, plain, ratio = [], [], []
            while len(robust) < repeats:
                ends = rng.uniform(6, 24, UNITS)
                number = rng.poisson(_prone(rng, frailty) * truth / 12 * ends)
                unit = np.repeat(np.arange(UNITS), number)
                age = rng.uniform(size=unit.size) * ends[unit]
                if (age <= 12.0).sum() < 3:
                    continue
                found = mean_cumulative(age, unit, ends)
                mean, lower, upper = (float(one[0]) for one in found.at([12.0]))
                robust.append(lower <= truth <= upper)
                ratio.append(mean / truth)
                early = found.ages <= 12.0
                error = np.sqrt((1 / found.at_risk[early] ** 2).sum())
                factor = np.exp(Z * error / mean)
                plain.append(mean / factor <= truth <= mean * factor)
            rows.append(
                {
                    "events expected": expected,
                    "frailty variance": frailty,
                    "repeats": repeats,
                    "robust": float(np.mean(robust)),
                    "Poisson": float(np.mean(plain)),
                    "mean / truth": float(np.mean(ratio)),
                }
            )
    return rows


LAG_MEAN = 40.0
LAG_DAYS = 366


def _late_fleet(
    rng: np.random.Generator, frailty: float, rate: float
) -> tuple[Watches, Occurrences]:
    """Draw units sold over two years, of whose events some are not reported yet."""
    zeros = np.zeros(UNITS, dtype=np.intp)
    watch = Watches(
        row=zeros,
        entry_day=zeros,
        last_day=rng.integers(30, 730, UNITS),
        seen_after=zeros,
        reporting=zeros,
        distance=zeros,
        n=np.ones(UNITS),
    )
    number = rng.poisson(_prone(rng, frailty) * rate * (watch.last_day + 1))
    unit = np.repeat(np.arange(UNITS), number)
    day = np.floor(rng.uniform(size=unit.size) * (watch.last_day[unit] + 1))
    lag = np.floor(rng.exponential(LAG_MEAN, unit.size))
    known = day + np.minimum(lag, LAG_DAYS) <= watch.last_day[unit]
    unit = unit[known]
    return watch, Occurrences(
        segment=np.zeros(unit.size, dtype=np.intp),
        unit=unit,
        day=day[known].astype(np.intp),
        watch=watch.take(unit),
        amount=np.ones(unit.size),
    )


def late_study(repeats: int = 2000, seed: int = SEED) -> list[dict[str, Any]]:
    """Return coverage and bias where reports come late, weighted and not.

    The share reported by days is the true one, with the product's own rule: days of
    which less than 20 % is known are left out.
    """
    known = -np.expm1(-(np.arange(LAG_DAYS + 1) + 1) / LAG_MEAN)
    known[-1] = 1.0
    covered = np.ones((1, 731))
    weighted = Chances(
        reported=np.where(known < 0.2, 0.0, known)[None], covered=covered
    )
    plain = Chances(reported=np.ones((1, 1)), covered=covered)
    rows = []
    for frailty in (0.0, 2.0):
        rng = np.random.default_rng([seed, int(frailty), 2])
        truth, at = 0.2, 365.0
        held: dict[str, list[bool]] = {"weighted": [], "plain": []}
        means: dict[str, list[float]] = {"weighted": [], "plain": []}
        for _ in range(repeats):
            watch, seen = _late_fleet(rng, frailty, truth / at)
            for name, chances in (("weighted", weighted), ("plain", plain)):
                found = mean_by_segment(seen, watch, chances, [at], row_of_segment=[0])
                held[name].append(bool(found.lower[0, 0] <= truth <= found.upper[0, 0]))
                means[name].append(float(found.mean[0, 0]) / truth)
        rows.append(
            {
                "frailty variance": frailty,
                "repeats": repeats,
                "weighted": float(np.mean(held["weighted"])),
                "mean / truth": float(np.mean(means["weighted"])),
                "all taken as reported": float(np.mean(held["plain"])),
                "its mean / truth": float(np.mean(means["plain"])),
            }
        )
    return rows


def _repairs(day: Indices, last_day: Indices, gap: Indices) -> Repairs:
    zeros = np.zeros(day.size, dtype=np.intp)
    return Repairs(
        segment=zeros,
        day=day,
        last_day=last_day,
        seen_after=zeros,
        reporting=zeros,
        distance=zeros,
        gap=np.where(day + gap <= last_day, gap, 0),
        n=np.ones(day.size),
    )


def follow_study(repeats: int = 4000, seed: int = SEED) -> list[dict[str, Any]]:
    """Return the share with a repeat within 90 days: 200 repairs, 30 % young.

    The truth is 10 %; reports come at once, or with a mean lag of 40 days.
    """
    known = -np.expm1(-(np.arange(LAG_DAYS + 1) + 1) / LAG_MEAN)
    known[-1] = 1.0
    rows = []
    for lagged in (False, True):
        rng = np.random.default_rng([seed, int(lagged), 3])
        reported = np.where(known < 0.2, 0.0, known) if lagged else np.ones(1)
        chances = Chances(reported=reported[None], covered=np.ones((1, 800)))
        shares, held, naive = [], [], []
        for _ in range(repeats):
            young = rng.uniform(size=200) < 0.3
            left = np.where(young, rng.integers(0, 90, 200), rng.integers(90, 700, 200))
            gap = np.ceil(rng.exponential(90 / -np.log(0.9), 200)).astype(np.intp)
            if lagged:
                late = gap + np.floor(rng.exponential(LAG_MEAN, 200)) > left
                gap = np.where(late, 10_000, gap)
            repairs = _repairs(np.zeros(200, dtype=np.intp), left, gap)
            seen = follow(repairs, chances, within=90, n_segments=1)
            found = share_failed(
                seen.days,
                seen.repeats,
                None,
                [90],
                exposed=seen.exposed,
                units=seen.repairs,
            )
            shares.append(float(found.share[0, 0]))
            held.append(bool(found.lower[0, 0] <= 0.1 <= found.upper[0, 0]))
            naive.append(float(((repairs.gap > 0) & (repairs.gap <= 90)).mean()))
        rows.append(
            {
                "reports": "mean lag 40 days" if lagged else "at once",
                "repeats": repeats,
                "mean share": percent(shares),
                "covers": float(np.mean(held)),
                "claims with a repeat / claims": percent(naive),
            }
        )
    return rows


def _against_hazard(
    rng: np.random.Generator, units: int, rate: float, times: float
) -> tuple[float, float, float]:
    """Draw a fleet whose parts fail ``times`` as often for 90 days after repair."""
    n_days = 731
    first = np.floor(rng.exponential(1 / rate, units)).astype(np.intp)
    end = rng.integers(100, n_days - 1, units)
    failed = first <= end
    day, last = first[failed], end[failed]
    soon = rng.exponential(1 / (times * rate), day.size)
    later = 90 + rng.exponential(1 / rate, day.size)
    gap = np.ceil(np.where(soon < 90, soon, later)).astype(np.intp)
    ran = np.bincount(np.minimum(first, end), minlength=n_days)
    found = expected_after(
        _repairs(day, last, gap),
        Chances(reported=np.ones((1, 1)), covered=np.ones((1, n_days))),
        np.bincount(day, minlength=n_days)[None].astype(float),
        np.cumsum(ran[::-1])[::-1][None].astype(float),
        within=90,
        segment_of_row=[0],
        n_segments=1,
    )
    return found.observed[0], found.expected[0], found.variance[0]


def ratio_study(repeats: int = 4000, seed: int = SEED) -> list[dict[str, Any]]:
    """Return coverage of repeats against expectation by number of first failures."""
    rows = []
    for failures, units, times in (
        (10, 100, 1.0),
        (10, 100, 20.0),
        (30, 60, 3.0),
        (30, 300, 20.0),
        (300, 600, 3.0),
        (300, 3000, 20.0),
    ):
        rng = np.random.default_rng([seed, failures, units, int(times)])
        drawn = np.array(
            [
                _against_hazard(rng, units, failures / units / 400, times)
                for _ in range(repeats)
            ]
        )
        o, e, v = drawn[drawn[:, 1] > 0].T
        _, lower, upper = ratio_to_expected(o, e, v)
        low, high = poisson_exact(o)
        rows.append(
            {
                "first failures": failures,
                "units": units,
                "true ratio": times,
                "observed, mean": float(o.mean()),
                "sums' ratio / truth": float(o.sum() / e.sum() / times),
                "covers": float(np.mean((lower <= times) & (times <= upper))),
                "Garwood / expected": float(
                    np.mean((low / e <= times) & (times <= high / e))
                ),
            }
        )
    return rows


STUDIES: dict[str, Callable[..., list[dict[str, Any]]]] = {
    "Coverage of the 95 % interval of mean events at 12 months, given 3 events": study,
    "The same where reports come late (mean lag 40 days)": late_study,
    "Share of repairs with a repeat within 90 days, truth 10 %": follow_study,
    "Repeats against expectation, 95 % interval": ratio_study,
}

if __name__ == "__main__":
    for title, one in STUDIES.items():
        report(title, partial(one))
        print()
