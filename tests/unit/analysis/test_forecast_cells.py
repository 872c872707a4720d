"""Exposure by cells against a count of every day of every unit."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from fleet_maker import workspace_of
from forecast_maker import (
    AS_OF,
    PLAIN,
    Watched,
    ahead_of,
    days_in,
    places_of,
    small_fleet,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from claimlens.analysis import forecast_cells
from claimlens.analysis.forecast_cells import Cells, Places, age_bands
from claimlens.analysis.forecast_counts import Ahead, count_ahead
from claimlens.analysis.forecast_rates import fit_fleet
from claimlens.analysis.months import month_no
from claimlens.analysis.question import ask

FIRST = date(2020, 1, 1)
MONTHS = range(month_no(FIRST), month_no(FIRST) + 90)
BEFORE = range(month_no(FIRST), month_no(AS_OF))
Key = tuple[int, int, int, int, int, int]


@st.composite
def watched(draw: st.DrawFn) -> Watched:
    """Draw a unit that was watched for a day or for years, perhaps from late on."""
    started = FIRST + timedelta(days=draw(st.integers(0, 900)))
    first = started + timedelta(days=draw(st.sampled_from([0, 0, 0, 17, 400])))
    two = st.integers(0, 1)
    return Watched(
        started=started,
        first=first,
        last=first + timedelta(days=draw(st.integers(0, 800))),
        weight=draw(st.sampled_from([1.0, 1.0, 0.25, 40.0])),
        model=draw(two),
        cohort=draw(two),
        cover=draw(two),
        row=draw(two),
    )


def by_days(units: list[Watched], *, by_row: bool = True) -> dict[Key, float]:
    """Count day by day, each as its part of the month."""
    found: dict[Key, float] = defaultdict(float)
    for unit in units:
        for day in unit.days:
            month = month_no(day)
            age = month - month_no(unit.started)
            band = int(age_bands(np.array([age]))[0])
            row = unit.row if by_row else 0
            key = (month, row, band, unit.model, unit.cohort, unit.cover)
            found[key] += unit.weight / days_in(month)
    return dict(found)


def cells_of(ahead: Ahead, places: Places, months: range, *, by_row: bool) -> Cells:
    """Return the cells of the units of the past."""
    return forecast_cells.exposed_cells(
        ahead.units, places, months, by_row=by_row, distance=ahead.distance
    )


def by_cells(cells: Cells) -> dict[Key, float]:
    """Return the exposure of cells that have some, by the same keys."""
    found: dict[Key, float] = {}
    for cover, exposure in enumerate(cells.exposure):
        for n in np.flatnonzero(exposure):
            places = (cells.month, cells.row, cells.band, cells.model, cells.cohort)
            key = (*(int(one[n]) for one in places), cover)
            assert key not in found
            found[key] = float(exposure[n])
    return found


@settings(deadline=None, max_examples=30)
@given(st.lists(watched(), min_size=1, max_size=6), st.booleans())
def test_exposure_is_that_of_every_day_counted(
    units: list[Watched], by_row: bool
) -> None:
    cells = cells_of(ahead_of(units), places_of(units), MONTHS, by_row=by_row)
    found, expected = by_cells(cells), by_days(units, by_row=by_row)
    assert found.keys() == expected.keys()
    for key, value in expected.items():
        assert found[key] == pytest.approx(value, rel=1e-9)


@settings(deadline=None, max_examples=30)
@given(st.lists(watched(), min_size=1, max_size=6))
def test_cells_add_up_to_the_days_of_all_units(units: list[Watched]) -> None:
    cells = cells_of(ahead_of(units), places_of(units), MONTHS, by_row=False)
    length = np.array([days_in(month) for month in cells.month])
    days = float((cells.exposure * length).sum())
    assert days == pytest.approx(sum(unit.weight * len(unit.days) for unit in units))


@settings(deadline=None, max_examples=30)
@given(st.lists(watched(), min_size=1, max_size=6))
def test_cells_stand_once_each_in_their_order(units: list[Watched]) -> None:
    cells = cells_of(ahead_of(units), places_of(units), MONTHS, by_row=True)
    keys = list(
        zip(cells.month, cells.row, cells.band, cells.model, cells.cohort, strict=True)
    )
    assert keys == sorted(set(keys))
    assert (age_bands(np.rint(cells.age).astype(int)) == cells.band).all()


def test_months_that_hold_nobody_have_no_cells() -> None:
    unit = Watched(started=FIRST, first=FIRST, last=FIRST + timedelta(days=40))
    later = range(MONTHS[-1], MONTHS[-1] + 3)
    cells = cells_of(ahead_of([unit]), places_of([unit]), later, by_row=True)
    assert cells.month.size == 0
    assert cells.exposure.shape == (2, 0)


def test_what_is_taken_away_leaves_what_it_was_taken_from() -> None:
    """A claim's unit takes the place of one that was shipped with the others."""
    day, last = FIRST, FIRST + timedelta(days=100)
    stock = Watched(started=day, first=day, last=last, weight=40.0)
    place = Watched(started=day, first=day, last=last, weight=-1.0)
    units = [stock, place]
    cells = cells_of(ahead_of(units), places_of(units), MONTHS, by_row=False)
    alone = cells_of(ahead_of([stock]), places_of(units), MONTHS, by_row=False)
    np.testing.assert_allclose(cells.exposure, alone.exposure * 39 / 40)
    np.testing.assert_allclose(cells.age, alone.age)


def test_units_beyond_their_distance_count_for_the_share_within() -> None:
    """Class 1 ends within a year; class 0 has no limit."""
    last = FIRST + timedelta(days=700)
    units = [
        Watched(started=FIRST, first=FIRST, last=last, distance=0, cover=0),
        Watched(started=FIRST, first=FIRST, last=last, distance=1, cover=1),
    ]
    share = np.stack([np.ones(800), np.clip(1 - np.arange(800) / 365, 0, 1)])
    found = ahead_of(units, distance=share)
    cells = cells_of(found, places_of(units), MONTHS, by_row=False)
    free, limited = cells.exposure
    within = limited / np.where(free > 0, free, 1)
    age = cells.month - MONTHS[0]
    # somewhere within the month of age the share is exactly so
    assert (within <= np.clip(1 - (age - 1) * 30.4375 / 365, 0, 1)).all()
    assert (within >= np.clip(1 - (age + 1) * 31 / 365, 0, 1)).all()


def cover_end(started: date, months: int) -> date:
    """Return the same day of a later month, or its last one."""
    month = month_no(started) + months
    return date(month // 12, month % 12 + 1, min(started.day, days_in(month)))


@pytest.mark.parametrize("as_of", [AS_OF, date(2023, 6, 12)])
def test_the_exposure_of_a_fleet_is_that_of_its_register(
    as_of: date, tmp_path: Path
) -> None:
    """Through the product: covers of 24 months, retirements, units yet to come.

    Of the months before the cut-off; what comes into service later is an estimate.
    """
    fleet = small_fleet()
    claimed = {claim["serial"] for claim in fleet.claims}
    expected = np.zeros(len(BEFORE))
    for number, unit in enumerate(fleet.units):
        started = unit["in_service_date"]
        assert isinstance(started, date)
        last = cover_end(started, 24)
        if number % 7 == 0 and unit["serial"] not in claimed:
            unit["retired_on"] = started + timedelta(days=20 * (number % 31))
            last = min(last, unit["retired_on"])
        if started <= as_of:
            for day in Watched(started=started, first=started, last=last).days:
                if month_no(day) in BEFORE:
                    expected[month_no(day) - BEFORE[0]] += 1 / days_in(month_no(day))
    workspace = workspace_of(fleet, tmp_path / "ws", PLAIN)
    with workspace._reading(ask(as_of=as_of)) as (session, scope):
        found = count_ahead(session, workspace.settings, scope, by=(), months=6)
    places = fit_fleet(found, workspace.settings).places
    cells = cells_of(found, places, BEFORE, by_row=False)
    counted = np.bincount(
        cells.month - BEFORE[0], cells.exposure[0], minlength=len(BEFORE)
    )
    np.testing.assert_allclose(counted, expected, rtol=1e-9, atol=1e-9)
