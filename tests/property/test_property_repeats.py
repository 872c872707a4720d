"""Laws that figures about repairs must keep for any history."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from claimlens.stats.exposure import Chances
from claimlens.stats.follow_up import Repairs, follow, ratio_to_expected
from claimlens.stats.mean_events import SegmentMeans, mean_by_segment
from claimlens.stats.recurrence import MeanCumulative, mean_cumulative
from claimlens.stats.watches import Occurrences, Watches

quick = settings(max_examples=50, deadline=None, derandomize=True)
N_DAYS = 120


@st.composite
def histories(draw: Any) -> tuple[Any, Any, Any, Any]:
    """Return event ages, their units, entries and ends of the units; whole numbers."""
    size = draw(st.integers(2, 12))
    entries = np.array(draw(st.lists(st.integers(0, 20), min_size=size, max_size=size)))
    spans = np.array(draw(st.lists(st.integers(1, 60), min_size=size, max_size=size)))
    ends = entries + spans
    picks = draw(
        st.lists(
            st.tuples(st.integers(0, size - 1), st.integers(0, 59)),
            min_size=1,
            max_size=15,
        )
    )
    unit = np.array([one for one, _ in picks])
    age = np.array([entries[one] + 1 + step % spans[one] for one, step in picks])
    return age.astype(float), unit, entries.astype(float), ends.astype(float)


def curve_of(history: tuple[Any, Any, Any, Any], **more: Any) -> MeanCumulative:
    age, unit, entries, ends = history
    return mean_cumulative(age, unit, ends, unit_entries=entries, **more)


def assert_same(one: MeanCumulative, two: MeanCumulative, *, times: float = 1) -> None:
    np.testing.assert_allclose(two.ages, one.ages * times)
    for name in ("mean", "standard_error", "lower", "upper"):
        np.testing.assert_allclose(
            getattr(two, name), getattr(one, name), rtol=1e-9, atol=1e-12
        )


@quick
@given(histories(), st.floats(0.01, 1000))
def test_another_unit_of_time_moves_ages_only(
    history: tuple[Any, Any, Any, Any], times: float
) -> None:
    age, unit, entries, ends = history
    scaled = (age * times, unit, entries * times, ends * times)
    # one rounding for ages and ends alike
    assert_same(curve_of(history), curve_of(scaled), times=times)


@quick
@given(histories(), st.randoms(use_true_random=False))
def test_the_order_of_units_and_events_does_not_matter(
    history: tuple[Any, Any, Any, Any], random: Any
) -> None:
    age, unit, entries, ends = history
    places = list(range(len(ends)))
    random.shuffle(places)
    order = list(range(len(age)))
    random.shuffle(order)
    where = np.argsort(places)
    mixed = (age[order], where[unit[order]], entries[places], ends[places])
    assert_same(curve_of(history), curve_of(mixed))


@quick
@given(histories())
def test_a_unit_that_leaves_at_once_changes_nothing(
    history: tuple[Any, Any, Any, Any],
) -> None:
    age, unit, entries, ends = history
    more = (age, unit, np.append(entries, 0.0), np.append(ends, 0.5))
    assert_same(curve_of(history), curve_of(more))


@quick
@given(histories())
def test_two_events_of_one_age_are_one_of_twice_the_weight(
    history: tuple[Any, Any, Any, Any],
) -> None:
    age, unit, entries, ends = history
    twice = (np.tile(age, 2), np.tile(unit, 2), entries, ends)
    one = curve_of(history, weights=np.full(age.size, 2.0))
    assert_same(one, curve_of(twice))


@quick
@given(histories())
def test_the_same_fleet_twice_has_the_same_mean_and_root_two_less_error(
    history: tuple[Any, Any, Any, Any],
) -> None:
    age, unit, entries, ends = history
    double = (
        np.tile(age, 2),
        np.concatenate([unit, unit + len(ends)]),
        np.tile(entries, 2),
        np.tile(ends, 2),
    )
    one, two = curve_of(history), curve_of(double)
    np.testing.assert_allclose(two.mean, one.mean)
    np.testing.assert_allclose(
        two.standard_error * np.sqrt(2), one.standard_error, rtol=1e-9, atol=1e-12
    )


@quick
@given(histories())
def test_the_mean_never_falls_and_lies_within_its_limits(
    history: tuple[Any, Any, Any, Any],
) -> None:
    curve = curve_of(history)
    assert (np.diff(curve.mean) >= 0).all()
    known = np.isfinite(curve.lower)
    assert (curve.lower[known] <= curve.mean[known]).all()
    assert (curve.mean[known] <= curve.upper[known]).all()
    assert (curve.lower[known] >= 0).all()


def days_of(history: tuple[Any, Any, Any, Any]) -> tuple[Watches, Occurrences]:
    """Return a history of whole numbers as groups of one unit each."""
    age, unit, entries, ends = history
    zeros = np.zeros(len(ends), dtype=np.intp)
    watch = Watches(
        row=zeros,
        entry_day=entries.astype(np.intp),
        last_day=ends.astype(np.intp) - 1,
        seen_after=zeros + np.arange(len(ends)) % 7,
        reporting=zeros,
        distance=zeros,
        n=np.ones(len(ends)),
    )
    return watch, Occurrences(
        segment=np.zeros(age.size, dtype=np.intp),
        unit=unit,
        day=age.astype(np.intp) - 1,
        watch=watch.take(unit),
        amount=np.ones(age.size),
    )


CHANCES = Chances(
    reported=np.linspace(0.4, 1.0, 30)[None], covered=np.ones((1, N_DAYS))
)


def means_of(watch: Watches, seen: Occurrences) -> SegmentMeans:
    return mean_by_segment(seen, watch, CHANCES, [15, 40, 80], row_of_segment=[0])


@quick
@given(histories(), st.randoms(use_true_random=False))
def test_units_watched_alike_may_stand_in_one_group_or_in_many(
    history: tuple[Any, Any, Any, Any], random: Any
) -> None:
    watch, seen = days_of(history)
    order = list(range(2 * watch.n.size))
    random.shuffle(order)
    many = watch.take(np.tile(np.arange(watch.n.size), 2)[order])
    one, two = means_of(replace(watch, n=watch.n * 2), seen), means_of(many, seen)
    for name in ("mean", "lower", "upper", "at_risk"):
        np.testing.assert_allclose(
            getattr(one, name), getattr(two, name), rtol=1e-9, atol=1e-12
        )


@st.composite
def repairs(draw: Any) -> Repairs:
    """Return repairs of three segments."""
    size = draw(st.integers(1, 30))

    def column(low: int, high: int) -> np.ndarray:
        values = st.lists(st.integers(low, high), min_size=size, max_size=size)
        return np.array(draw(values), dtype=np.intp)

    day, left, gap = column(0, 50), column(0, 60), column(0, 80)
    zeros = np.zeros(size, dtype=np.intp)
    return Repairs(
        segment=column(0, 2),
        day=day,
        last_day=day + left,
        seen_after=column(0, 30),
        reporting=zeros,
        distance=zeros,
        gap=np.where(gap <= left, gap, 0),
        n=np.ones(size),
    )


@quick
@given(repairs())
def test_segments_add_up_to_the_whole(some: Repairs) -> None:
    at_once = replace(CHANCES, reported=np.ones((1, 1)))
    parts = follow(some, at_once, within=60, n_segments=3)
    whole = follow(
        replace(some, segment=some.segment * 0), at_once, within=60, n_segments=1
    )
    for name in ("repeats", "exposed", "repairs"):
        np.testing.assert_allclose(
            getattr(parts, name).sum(axis=0), getattr(whole, name)[0]
        )


@quick
@given(repairs())
def test_no_more_repairs_pass_a_day_than_were_followed(some: Repairs) -> None:
    found = follow(some, CHANCES, within=60, n_segments=3)
    assert (found.exposed + found.repeats <= found.repairs[:, None] + 1e-9).all()
    assert (found.repeats.sum(axis=1) <= found.repairs).all()


@quick
@given(
    st.lists(
        st.tuples(st.integers(0, 500), st.floats(0.001, 500), st.floats(1e-6, 500)),
        min_size=1,
        max_size=20,
    ),
    st.sampled_from([0.5, 0.8, 0.95, 0.99]),
)
def test_a_ratio_lies_within_its_limits(
    rows: list[tuple[int, float, float]], level: float
) -> None:
    o, e, v = np.array(rows, dtype=float).T
    ratio, lower, upper = ratio_to_expected(o, e, v, level)
    assert (lower <= ratio * (1 + 1e-9)).all()
    assert (ratio <= upper * (1 + 1e-9)).all()
    assert (lower >= 0).all()
    assert not np.isnan(upper).any()
