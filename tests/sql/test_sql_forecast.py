"""SQL that a forecast counts units by: given rows, expected rows."""

from __future__ import annotations

from datetime import date

import pytest
from forecast_desk import (
    CLAIM_TOLD,
    CLAIMS,
    KEYS,
    NO_KEY,
    claim,
    forecast_desk,
    picked,
    put_units,
    unit,
    units_counted,
    watched,
)
from sql_desk import Desk


@pytest.fixture
def desk() -> Desk:
    return forecast_desk()


def test_the_span_of_build_dates_is_told_and_is_empty_for_none(desk: Desk) -> None:
    assert desk.run("marts/built_span") == [(None, None)]
    days = [date(2024, 3, 9), date(2023, 5, 2), date(2024, 6, 1)]
    desk.given(
        "int_built",
        "serial_key varchar, built_on date",
        *[(str(n), day) for n, day in enumerate(days)],
    )
    assert desk.run("marts/built_span") == [(date(2023, 5, 2), date(2024, 6, 1))]


@pytest.mark.parametrize(
    ("started", "first", "last", "parts"),
    [
        # from 11 April (20 of 30 days) to 10 May (10 of 31)
        (date(2024, 4, 11), None, date(2024, 5, 10), (20 / 30, 10 / 31)),
        # whole months: both ends count in full
        (date(2024, 4, 1), None, date(2024, 6, 30), (1.0, 1.0)),
        # one month only: days 11 to 20
        (date(2024, 4, 11), None, date(2024, 4, 20), (10 / 30, None)),
        # a single day: in service and retired on it
        (date(2024, 2, 29), None, date(2024, 2, 29), (1 / 29, None)),
        # watched only since failures were recorded
        (date(2023, 1, 5), date(2024, 4, 16), date(2024, 6, 15), (0.5, 0.5)),
    ],
)
def test_the_first_and_the_last_month_count_for_the_part_that_was_covered(
    desk: Desk,
    started: date,
    first: date | None,
    last: date,
    parts: tuple[float, float | None],
) -> None:
    [row] = units_counted(
        desk,
        watched("A", started, last, first=first),
        columns="service_month first_month last_month n_units first_part last_part",
    )
    begun = first or started
    assert row[:3] == tuple(day.replace(day=1) for day in (started, begun, last))
    assert row[3] == 1.0
    assert row[4] == pytest.approx(parts[0])
    if parts[1] is not None:
        assert row[5] == pytest.approx(parts[1])


def test_units_of_the_same_months_are_added_up(desk: Desk) -> None:
    assert units_counted(
        desk,
        watched("A", date(2024, 4, 11), date(2024, 6, 10)),
        watched("B", date(2024, 4, 21), date(2024, 6, 20), weight="0.5"),
        watched("C", date(2024, 4, 1), date(2024, 6, 30), source="to come"),
        watched("D", date(2024, 4, 1), date(2024, 6, 30), cover_class="motor"),
        watched("E", date(2024, 4, 1), date(2024, 6, 30), distance=2),
        watched("F", date(2024, 4, 1), date(2024, 6, 30), weight="0"),
        columns="cover_class distance is_to_come n_units first_part last_part",
    ) == [
        ("", 0, False, 1.5, pytest.approx(25 / 30), pytest.approx(20 / 30)),
        ("", 0, True, 1.0, 1.0, 1.0),
        ("", 2, False, 1.0, 1.0, 1.0),
        ("motor", 0, False, 1.0, 1.0, 1.0),
    ]


def test_what_is_taken_away_stands_apart_from_what_it_is_taken_from(
    desk: Desk,
) -> None:
    """Its part of a month is taken away with it."""
    assert units_counted(
        desk,
        watched("S", date(2024, 4, 16), date(2024, 6, 30), weight="40"),
        watched("P", date(2024, 4, 16), date(2024, 6, 30), weight="-1"),
        columns="is_added n_units first_part last_part",
    ) == [(False, -1.0, -0.5, -1.0), (True, 40.0, 20.0, 40.0)]


def test_sums_of_units_do_not_depend_on_the_order_of_rows(desk: Desk) -> None:
    """To the last bit: the same inputs give the same bytes."""
    columns = "n_units first_part last_part"
    rows = [
        watched(
            str(n),
            date(2024, 4, 1 + n % 30),
            date(2024, 5, 1 + n % 29),
            weight=f"0.{(n * 7919 + 1) % 99991:05d}",
        )
        for n in range(200)
    ]
    once = units_counted(desk, *rows, columns=columns)
    assert len(once) == 1
    for step in (3, 7, 11):
        mixed = [rows[n * step % 200] for n in range(200)]
        assert units_counted(desk, *mixed, columns=columns) == once


@pytest.mark.parametrize("key", KEYS)
def test_a_key_of_units_is_told_only_if_asked_for(desk: Desk, key: str) -> None:
    row = watched("A", date(2024, 4, 1), date(2024, 6, 30))
    assert units_counted(desk, row, columns=key) == [(None,)]
    put_units(desk, [unit("A", built=date(2024, 2, 20))], [row])
    told = {
        "model_year": 2024, "region": "North", "generation": "g1",
        "build_month": date(2024, 2, 1), "dealer": "D1",
    }  # fmt: skip
    for mart, more in (("forecast_units", {}), ("forecast_claims", CLAIM_TOLD)):
        desk.given("int_claims", CLAIMS, claim("1", "A", date(2024, 5, 1)))
        asked = NO_KEY | {f"by_{key}": True} | more
        assert picked(desk, mart, asked, key) == [(told[key],)]


def test_units_are_new_that_left_the_works_after_a_day(desk: Desk) -> None:
    """Units whose build date is not known are sold when they come into service."""
    started, last = date(2024, 5, 1), date(2026, 4, 30)
    units = [
        unit("before", built=date(2024, 3, 10)),  # leaves the works ten days later
        unit("after", built=date(2024, 3, 22)),
        unit("unknown"),
    ]
    put_units(desk, units, [watched(str(row[0]), started, last) for row in units])
    for day, new in ((date(2024, 3, 20), 2.0), (date(2024, 5, 1), 0.0)):
        rows = picked(
            desk, "forecast_units", NO_KEY | {"sold_after": day}, "is_new n_units"
        )
        assert sum(number for is_new, number in rows if is_new) == new  # type: ignore[misc]
        assert sum(number for _, number in rows) == 3.0  # type: ignore[misc]


def test_units_belong_to_the_cohort_of_their_build_date(desk: Desk) -> None:
    """From the first day of a cohort to the day before the next one."""
    days = {"A": date(2024, 3, 31), "B": date(2024, 4, 1), "C": date(2030, 1, 1)}
    desk.given("int_built", "serial_key varchar, built_on date", *days.items())
    rows = [watched(name, date(2024, 4, 1), date(2024, 6, 30)) for name in "ABCD"]
    # what lies outside, or has no date, goes with the first
    assert units_counted(desk, *rows, columns="cohort n_units") == [(0, 3.0), (1, 1.0)]


def test_a_unit_that_no_register_names_goes_with_those_it_takes_the_place_of(
    desk: Desk,
) -> None:
    """Shipped 30 days before in the mean: for each day on which it may have begun."""
    days = (date(2024, 4, 20), date(2024, 5, 10))
    rows = [
        watched(name, day, date(2024, 9, 30), weight=weight)
        for name, weight in (("C", "0.5"), ("C/place", "-0.5"), ("R", "1"))
        for day in days
    ]
    units = [
        unit("C", origin="claimed"),
        unit("C/place", origin="place"),
        unit("R"),
        unit("S", built=date(2024, 3, 1), origin="shipped"),
    ]
    # what int_built makes of a unit without dates: its first possible day
    guessed = [(name, days[0]) for name in ("C", "C/place", "R")]
    desk.given("int_built", "serial_key varchar, built_on date", *guessed)
    put_units(desk, units, rows)
    found = desk.rows(
        "select serial_key, in_service_date, cohort from int_cohorts order by all"
    )
    assert found == [
        ("C", days[0], 0),
        ("C", days[1], 1),
        ("C/place", days[0], 0),
        ("C/place", days[1], 1),
        ("R", days[0], 1),
        ("R", days[1], 1),
    ]
    desk.given("int_claims", CLAIMS, claim("1", "C", date(2024, 8, 1)))
    told = NO_KEY | CLAIM_TOLD
    assert picked(desk, "forecast_claims", told, "cohort n_claims") == [
        (0, 0.5), (1, 0.5),
    ]  # fmt: skip
    # a model of which nothing was shipped without a register keeps its build dates
    put_units(desk, units[:3], rows)
    assert desk.rows("select distinct cohort from int_cohorts") == [(1,)]
