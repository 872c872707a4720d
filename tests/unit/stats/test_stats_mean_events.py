"""Mean cumulative function of many segments: against one unit at a time, and laws."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from claimlens.errors import InputError
from claimlens.stats.exposure import Chances
from claimlens.stats.mean_events import SegmentMeans, mean_by_segment
from claimlens.stats.recurrence import mean_cumulative
from claimlens.stats.watches import Occurrences, Watches

PLAIN = Chances(reported=np.ones((1, 1)), covered=np.ones((1, 400)))
LATE = Chances(
    reported=np.array(
        [np.minimum(np.arange(61) / 60, 1.0), np.r_[np.full(20, 0.5), np.ones(41)]]
    ),
    covered=np.array([np.ones(400), np.linspace(1.0, 0.2, 400)]),
)


def ints(*values: int) -> np.ndarray:
    return np.array(values, dtype=np.intp)


def fleet(
    seed: int, *, n_units: int = 40, n_events: int = 60, late_entry: bool = False
) -> tuple[Watches, Occurrences]:
    """Draw one population with events, of which some units have several."""
    rng = np.random.default_rng([20240607, seed])
    entry = rng.choice([0, 0, 30, 90], n_units) if late_entry else np.zeros(n_units)
    entry = entry.astype(np.intp)
    watch = Watches(
        row=np.zeros(n_units, dtype=np.intp),
        entry_day=entry,
        last_day=entry + rng.integers(0, 300, n_units),
        seen_after=rng.integers(0, 50, n_units),
        reporting=rng.integers(0, 2, n_units),
        distance=rng.integers(0, 2, n_units),
        n=np.ones(n_units),
    )
    unit = rng.integers(0, n_units // 3, n_events)
    mine = watch.take(unit)
    span = mine.last_day - mine.entry_day + 1
    return watch, Occurrences(
        segment=np.zeros(n_events, dtype=np.intp),
        unit=unit,
        day=mine.entry_day + rng.integers(0, 10_000, n_events) % span,
        watch=mine,
        amount=rng.uniform(1.0, 9.0, n_events),
    )


def plain(watch: Watches) -> Watches:
    zeros = np.zeros(watch.n.size, dtype=np.intp)
    return replace(watch, reporting=zeros, distance=zeros, seen_after=zeros)


def of_one(
    watch: Watches, seen: Occurrences, chances: Chances, at: list[float], **more: Any
) -> SegmentMeans:
    return mean_by_segment(seen, watch, chances, at, row_of_segment=[0], **more)


def unit_by_unit(
    watch: Watches, seen: Occurrences, chances: Chances, at: float
) -> tuple[float, float]:
    """Return mean and robust variance, summed over units and days as written."""
    n_units, n_days = watch.n.size, chances.covered.shape[1]
    chance = np.zeros((n_units, n_days))
    for i in range(n_units):
        for day in range(watch.entry_day[i], watch.last_day[i] + 1):
            left = watch.last_day[i] + watch.seen_after[i] - day
            within = min(left, chances.reported.shape[1] - 1)
            chance[i, day] = (
                chances.reported[watch.reporting[i], within]
                * chances.covered[watch.distance[i], day]
            )
    own = np.zeros((n_units, n_days))
    for unit, day, amount in zip(seen.unit, seen.day, seen.amount, strict=True):
        own[unit, day] += amount * (chance[unit, day] > 0)
    units = chance.sum(axis=0)
    step = np.divide(own.sum(axis=0), units, out=np.zeros(n_days), where=units > 0)
    inverse = np.divide(1.0, units, out=np.zeros(n_days), where=units > 0)
    upto = np.arange(n_days) + 1 <= at
    terms = ((own - chance * step) * inverse)[:, upto].sum(axis=1)
    return float(step[upto].sum()), float((terms**2).sum())


@pytest.mark.parametrize("late_entry", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_groups_of_units_equal_the_sum_over_units_and_days(
    seed: int, late_entry: bool
) -> None:
    """Lawless and Nadeau 1995 with exposure weighted, one unit after the other."""
    watch, seen = fleet(seed, late_entry=late_entry)
    at = [20.0, 120.0, 200.0]
    found = of_one(watch, seen, LATE, at)
    for k, age in enumerate(at):
        mean, variance = unit_by_unit(watch, seen, LATE, age)
        assert found.mean[0, k] == pytest.approx(mean, rel=1e-12)
        assert found.standard_error[0, k] ** 2 == pytest.approx(variance, rel=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_without_weights_it_is_the_function_of_one_list_of_units(seed: int) -> None:
    watch, seen = fleet(seed, late_entry=seed % 2 == 1)
    at = np.array([30.0, 90.0, 180.0])
    found = of_one(plain(watch), replace(seen, watch=plain(seen.watch)), PLAIN, at)
    curve = mean_cumulative(
        seen.day + 1.0,
        seen.unit,
        watch.last_day + 1.0,
        unit_entries=watch.entry_day,
        weights=seen.amount,
    )
    for mine, theirs in zip(
        (found.mean, found.lower, found.upper), curve.at(at), strict=True
    ):
        np.testing.assert_allclose(mine[0], theirs, rtol=1e-9)


def test_a_failure_day_counts_when_the_age_holds_its_end() -> None:
    watch, seen = fleet(1, n_units=6, n_events=1)
    seen = replace(seen, day=ints(0), amount=np.ones(1))
    found = of_one(
        plain(watch), replace(seen, watch=plain(seen.watch)), PLAIN, [0.9, 1]
    )
    np.testing.assert_allclose(found.mean[0], [0.0, 1 / 6])


def test_segments_share_their_units_and_keep_their_own_events() -> None:
    watch, first = fleet(2)
    _, second = fleet(3)
    second = replace(second, watch=watch.take(second.unit))
    inside = (second.day <= second.watch.last_day) & (
        second.day >= second.watch.entry_day
    )
    second = picked(second, np.flatnonzero(inside))
    both = mean_by_segment(
        joined(replace(first, segment=first.segment + 2), second),
        watch,
        LATE,
        [150.0],
        row_of_segment=[0, 0, 0],
    )
    for row, alone in ((2, first), (0, second)):
        single = of_one(watch, alone, LATE, [150.0])
        assert both.mean[row, 0] == pytest.approx(single.mean[0, 0])
        assert both.standard_error[row, 0] == pytest.approx(single.standard_error[0, 0])
    assert both.mean[1, 0] == 0.0


def picked(seen: Occurrences, rows: np.ndarray) -> Occurrences:
    return Occurrences(
        segment=seen.segment[rows],
        unit=seen.unit[rows],
        day=seen.day[rows],
        watch=seen.watch.take(rows),
        amount=seen.amount[rows],
    )


def joined(one: Occurrences, two: Occurrences) -> Occurrences:
    def both(name: str) -> np.ndarray:
        return np.concatenate([getattr(one, name), getattr(two, name)])

    fields = ("row", "entry_day", "last_day", "seen_after", "reporting", "distance")
    watch = {
        name: np.concatenate([getattr(one.watch, name), getattr(two.watch, name)])
        for name in (*fields, "n")
    }
    return Occurrences(
        segment=both("segment"),
        unit=both("unit"),
        day=both("day"),
        watch=Watches(**watch),
        amount=both("amount"),
    )


def test_without_an_event_the_upper_limit_is_one_sided() -> None:
    """3.00 events, 95 %, over the time watched (Garwood 1936; ln 20)."""
    watch, seen = fleet(4, n_units=5)
    found = of_one(plain(watch), picked(seen, ints()), PLAIN, [30.0])
    watched = np.minimum(watch.last_day + 1, 30).sum()
    assert found.mean[0, 0] == 0.0
    assert found.lower[0, 0] == 0.0
    assert found.upper[0, 0] == pytest.approx(30 * np.log(20) / watched)
    assert np.isnan(found.standard_error[0, 0])


def test_beyond_the_oldest_unit_there_is_no_figure() -> None:
    watch, seen = fleet(5)
    oldest = float(watch.last_day.max() + 1)
    found = of_one(
        plain(watch),
        replace(seen, watch=plain(seen.watch)),
        PLAIN,
        [oldest, oldest + 1],
    )
    assert found.reached.tolist() == [[True, False]]
    assert np.isnan([found.mean[0, 1], found.lower[0, 1], found.upper[0, 1]]).all()


def test_early_life_that_nobody_watched_leaves_no_figure() -> None:
    watch, _ = fleet(5)
    watch = replace(watch, entry_day=watch.entry_day + 9, last_day=watch.last_day + 9)
    found = of_one(plain(watch), Occurrences(**no_event()), PLAIN, [50.0])
    assert found.first.tolist() == [10.0]
    assert not found.reached[0, 0]
    assert np.isnan(found.mean[0, 0])


def no_event() -> dict[str, Any]:
    return {
        "segment": ints(),
        "unit": ints(),
        "day": ints(),
        "watch": plain(fleet(1)[0]).take(ints()),
        "amount": np.zeros(0),
    }


def test_an_event_that_could_not_have_been_seen_is_left_out_with_its_days() -> None:
    blind = Chances(reported=np.array([[0.0] * 30 + [1.0]]), covered=np.ones((1, 400)))
    zeros = np.zeros(4, dtype=np.intp)
    watch = Watches(
        row=zeros,
        entry_day=zeros,
        last_day=zeros + 99,
        seen_after=zeros,
        reporting=zeros,
        distance=zeros,
        n=np.ones(4),
    )
    seen = Occurrences(
        segment=ints(0, 0),
        unit=ints(0, 1),
        day=ints(10, 90),
        watch=watch.take(ints(0, 1)),
        amount=np.ones(2),
    )
    found = of_one(watch, seen, blind, [70.0, 100.0])
    assert found.events.tolist() == [[1.0, 1.0]]
    assert found.mean[0, 0] == pytest.approx(0.25)
    assert not found.reached[0, 1]


def test_units_of_which_all_had_the_same_leave_no_limits() -> None:
    watch, seen = fleet(6, n_units=3)
    watch = plain(watch)
    last = np.full(3, 50, dtype=np.intp)
    watch = replace(watch, last_day=last)
    seen = Occurrences(
        segment=ints(0, 0, 0),
        unit=ints(0, 1, 2),
        day=ints(7, 7, 7),
        watch=watch,
        amount=np.ones(3),
    )
    found = of_one(watch, seen, PLAIN, [20.0])
    assert found.mean[0, 0] == pytest.approx(1.0)
    assert np.isnan([found.lower[0, 0], found.upper[0, 0]]).all()


def test_early_life_taken_away_gives_the_same_mean_and_no_narrower_limits() -> None:
    """Where the stretch before entry is a row of its own, below 0."""
    watch, seen = fleet(7, late_entry=True)
    exact = of_one(watch, seen, LATE, [60.0, 200.0])
    late = np.flatnonzero(watch.entry_day > 0)
    before = watch.entry_day[late] - 1
    split = Watches(
        row=np.concatenate([watch.row, watch.row[late]]),
        entry_day=np.zeros(watch.n.size + late.size, dtype=np.intp),
        last_day=np.concatenate([watch.last_day, before]),
        seen_after=np.concatenate(
            [watch.seen_after, (watch.seen_after + watch.last_day)[late] - before]
        ),
        reporting=np.concatenate([watch.reporting, watch.reporting[late]]),
        distance=np.concatenate([watch.distance, watch.distance[late]]),
        n=np.concatenate([watch.n, -watch.n[late]]),
    )
    found = of_one(split, seen, LATE, [60.0, 200.0])
    np.testing.assert_allclose(found.mean, exact.mean)
    assert (found.standard_error >= exact.standard_error * (1 - 1e-12)).all()


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        (lambda w, s: (w, replace(s, day=s.day + 1_000)), "within the watch"),
        (lambda w, s: (w, replace(s, segment=s.segment + 1)), "between 0 and 0"),
        (lambda w, s: (w, replace(s, amount=s.amount * np.nan)), "finite"),
        (lambda w, s: (w, replace(s, amount=s.amount[1:])), "rows of one length"),
        (lambda w, s: (replace(w, n=w.n * np.inf), s), "finite"),
        (lambda w, s: (replace(w, last_day=w.last_day + 400), s), "less than 400"),
    ],
)
def test_what_cannot_be_is_refused_with_the_rule(change: Any, rule: str) -> None:
    watch, seen = change(*fleet(8))
    with pytest.raises(InputError, match=rule):
        of_one(watch, seen, LATE, [30.0])


@pytest.mark.parametrize("at", [[0.0], [-1.0], [np.nan], [[1.0]]])
def test_ages_that_are_none_are_refused(at: Any) -> None:
    with pytest.raises(InputError):
        of_one(*fleet(9), LATE, at)


def test_a_confidence_out_of_range_is_refused() -> None:
    with pytest.raises(InputError, match="strictly between"):
        of_one(*fleet(9), LATE, [30.0], confidence=95)
