"""Follow-up of repairs: against a walk through every repair and day, and its edges."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from claimlens.errors import InputError
from claimlens.stats.exposure import Chances
from claimlens.stats.follow_up import (
    Repairs,
    expected_after,
    follow,
    ratio_to_expected,
)
from claimlens.stats.intervals import poisson_exact, rate_ratio_exact
from claimlens.stats.survival import kaplan_meier, share_failed

PLAIN = Chances(reported=np.ones((1, 1)), covered=np.ones((1, 700)))
LATE = Chances(
    reported=np.array([np.minimum(np.arange(61) / 60, 1.0), np.ones(61)]),
    covered=np.array([np.ones(700), np.linspace(1.0, 0.1, 700)]),
)


def drawn(seed: int, n: int = 80, *, n_segments: int = 3) -> Repairs:
    rng = np.random.default_rng([20240607, seed])
    day, left = rng.integers(0, 400, n), rng.integers(0, 250, n)
    gap = rng.integers(1, 200, n)
    return Repairs(
        segment=rng.integers(0, n_segments, n),
        day=day,
        last_day=day + left,
        seen_after=rng.integers(0, 40, n),
        reporting=rng.integers(0, 2, n),
        distance=rng.integers(0, 2, n),
        gap=np.where(gap <= left, gap, 0),
        n=np.ones(n),
    )


def plain(repairs: Repairs) -> Repairs:
    zeros = np.zeros(repairs.n.size, dtype=np.intp)
    return replace(repairs, reporting=zeros, distance=zeros, seen_after=zeros)


def walked(repairs: Repairs, i: int, days: int) -> list[float]:
    """Return the chance of each day after repair i, one day after the other."""
    out = []
    for x in range(1, days + 1):
        day = repairs.day[i] + x
        if day > repairs.last_day[i]:
            out.append(0.0)
            continue
        left = min(repairs.last_day[i] + repairs.seen_after[i] - day, 60)
        covered = LATE.covered[repairs.distance[i]]
        out.append(
            LATE.reported[repairs.reporting[i], left]
            * covered[day]
            / covered[repairs.day[i]]
        )
    return out


@pytest.mark.parametrize("seed", range(5))
def test_counts_equal_a_walk_through_every_repair_and_day(seed: int) -> None:
    repairs = drawn(seed)
    found = follow(repairs, LATE, within=90, n_segments=3)
    repeats, exposed, followed = np.zeros((3, 90)), np.zeros((3, 90)), np.zeros(3)
    for i, segment in enumerate(repairs.segment):
        chance = walked(repairs, i, 90)
        followed[segment] += chance[0] > 0
        for x, weight in enumerate(chance, start=1):
            if repairs.gap[i] == x and weight > 0:
                repeats[segment, x - 1] += 1
            if repairs.gap[i] == 0 or x < repairs.gap[i]:
                exposed[segment, x - 1] += weight
            elif x > repairs.gap[i] and chance[repairs.gap[i] - 1] > 0:
                exposed[segment, x - 1] += weight - weight / chance[repairs.gap[i] - 1]
    np.testing.assert_allclose(found.repeats, repeats)
    np.testing.assert_allclose(found.exposed, np.maximum(exposed, 0.0), atol=1e-12)
    np.testing.assert_allclose(found.repairs, followed)


@pytest.mark.parametrize("seed", range(5))
def test_reports_all_in_leave_the_kaplan_meier_of_times_to_the_next_event(
    seed: int,
) -> None:
    repairs = plain(drawn(seed, n_segments=1))
    found = follow(repairs, PLAIN, within=90, n_segments=1)
    share = share_failed(
        found.days, found.repeats, None, [30, 90], exposed=found.exposed
    )
    left = repairs.last_day - repairs.day
    time = np.where(repairs.gap > 0, repairs.gap, left)
    # a repair on the last day was not followed at all
    seen = time > 0
    curve = kaplan_meier(
        time[seen],
        (repairs.gap > 0)[seen].astype(float),
        (repairs.gap == 0)[seen].astype(float),
    )
    for k, day in enumerate((30, 90)):
        place = np.searchsorted(curve.ages, day, side="right") - 1
        assert share.share[0, k] == pytest.approx(1 - curve.survival[place])


@pytest.mark.parametrize("seed", range(3))
def test_expected_events_equal_a_walk_through_every_repair_and_day(seed: int) -> None:
    repairs = drawn(seed)
    rng = np.random.default_rng(seed)
    at_risk = rng.integers(50, 90, (3, 700)).astype(float)
    failures = rng.integers(0, 2, (3, 700)).astype(float)
    target = [1, 0, 1]
    found = expected_after(
        repairs,
        LATE,
        failures,
        at_risk,
        within=90,
        segment_of_row=target,
        n_segments=2,
    )
    observed, expected = np.zeros(2), np.zeros(2)
    for i, row in enumerate(repairs.segment):
        for x, weight in enumerate(walked(repairs, i, 90), start=1):
            if repairs.gap[i] and x > repairs.gap[i]:
                break
            day = min(repairs.day[i] + x, 699)
            expected[target[row]] += weight * failures[row, day] / at_risk[row, day]
            observed[target[row]] += repairs.gap[i] == x and weight > 0
    np.testing.assert_allclose(found.observed, observed)
    np.testing.assert_allclose(found.expected, expected)


def test_one_constant_hazard_rests_on_all_its_failures() -> None:
    """Every day alike: the expectation is as sure as the count of failures."""
    repairs = replace(
        plain(drawn(1, n=700, n_segments=1)),
        day=np.arange(700) % 600,
        last_day=np.arange(700) % 600 + 90,
        gap=np.zeros(700, dtype=np.intp),
    )
    failures, at_risk = np.full((1, 700), 2.0), np.full((1, 700), 1e4)
    found = expected_after(
        repairs,
        PLAIN,
        failures,
        at_risk,
        within=90,
        segment_of_row=[0],
        n_segments=1,
    )
    assert found.expected[0] == pytest.approx(700 * 90 * 2e-4)
    behind = found.expected[0] ** 2 / found.variance[0]
    assert 900 < behind <= 1400


def test_nothing_expected_is_said_as_such() -> None:
    repairs, none = drawn(2), np.zeros((3, 700))
    found = expected_after(
        repairs,
        LATE,
        none,
        none,
        within=90,
        segment_of_row=[0, 0, 0],
        n_segments=1,
    )
    assert found.expected.tolist() == [0.0]
    assert found.observed[0] > 0
    assert np.isnan(ratio_to_expected(found.observed, [0.0], [0.0])).all()


def test_an_expectation_from_many_failures_leaves_the_limits_of_the_observed() -> None:
    """Garwood 1936: with the expectation as good as known, nothing else is left."""
    observed = np.array([0.0, 3.0, 40.0])
    ratio, lower, upper = ratio_to_expected(observed, [2.0] * 3, [1e-9] * 3)
    low, high = poisson_exact(observed)
    np.testing.assert_allclose(ratio, observed / 2)
    np.testing.assert_allclose(lower, low / 2, rtol=1e-5)
    np.testing.assert_allclose(upper, high / 2, rtol=1e-5)


def test_an_expectation_from_few_failures_widens_the_limits() -> None:
    """Eight failures behind an expectation of 2: the ratio of 6 in 1 to 8 in 4."""
    _, lower, upper = ratio_to_expected([6.0], [2.0], [0.5])
    assert (lower[0], upper[0]) == pytest.approx(rate_ratio_exact(6, 1.0, 8, 4.0))


@pytest.mark.parametrize(
    "values",
    [([-1.0], [1.0], [1.0]), ([1.0], [1.0, 1.0], [1.0]), ([1.0], [1.0], ["x"])],
)
def test_ratios_of_what_cannot_be_are_refused(values: Any) -> None:
    with pytest.raises(InputError):
        ratio_to_expected(*values)


def test_a_repair_on_the_cut_off_is_not_followed() -> None:
    repairs = plain(drawn(3, n=1, n_segments=1))
    repairs = replace(repairs, last_day=repairs.day, gap=np.zeros(1, dtype=np.intp))
    found = follow(repairs, PLAIN, within=30, n_segments=1)
    assert found.repairs.tolist() == [0.0]
    assert found.exposed.sum() == 0.0


def test_blocks_of_repairs_add_up(monkeypatch: pytest.MonkeyPatch) -> None:
    repairs = drawn(4)
    whole = follow(repairs, LATE, within=90, n_segments=3)
    monkeypatch.setattr("claimlens.stats.follow_up._BLOCK_CELLS", 200)
    parts = follow(repairs, LATE, within=90, n_segments=3)
    np.testing.assert_allclose(parts.exposed, whole.exposed)
    np.testing.assert_allclose(parts.repeats, whole.repeats)


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"gap": np.array([400])}, "within the watch"),
        ({"gap": np.array([-1])}, "within the watch"),
        ({"last_day": np.array([9])}, "within the watch"),
        ({"last_day": np.array([900])}, "less than 700"),
        ({"segment": np.array([4])}, "between 0 and 0"),
        ({"n": np.array([-1.0])}, "not be negative"),
        ({"n": np.array([1.0, 1.0])}, "rows of one length"),
    ],
)
def test_what_cannot_be_is_refused_with_the_rule(
    change: dict[str, Any], rule: str
) -> None:
    zero = np.zeros(1, dtype=np.intp)
    good = Repairs(
        segment=zero,
        day=zero + 10,
        last_day=zero + 100,
        seen_after=zero,
        reporting=zero,
        distance=zero,
        gap=zero,
        n=np.ones(1),
    )
    with pytest.raises(InputError, match=rule):
        follow(replace(good, **change), PLAIN, within=90, n_segments=1)


def test_a_follow_up_of_no_day_is_refused() -> None:
    with pytest.raises(InputError, match="a day at least"):
        follow(drawn(5), LATE, within=0, n_segments=3)


@pytest.mark.parametrize(
    ("failures", "at_risk", "rule"),
    [
        (np.ones((3, 700)), np.ones((3, 699)), "one shape"),
        (np.ones((3, 700)), np.zeros((3, 700)), "some are at risk"),
        (-np.ones((3, 700)), np.ones((3, 700)), "not be negative"),
    ],
)
def test_hazards_that_cannot_be_are_refused(
    failures: Any, at_risk: Any, rule: str
) -> None:
    with pytest.raises(InputError, match=rule):
        expected_after(
            drawn(6),
            LATE,
            failures,
            at_risk,
            within=90,
            segment_of_row=[0, 0, 0],
            n_segments=1,
        )
