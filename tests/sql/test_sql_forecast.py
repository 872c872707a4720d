"""SQL that a forecast counts by: given rows, expected rows."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from sql_desk import Desk

Row = tuple[object, ...]

UNITS = (
    "serial_key varchar, model varchar, model_year integer, generation varchar, "
    "region varchar, dealer varchar, build_date date, left_works_on date"
)
WATCH = (
    "serial_key varchar, in_service_date date, weight decimal(24, 15), "
    "source varchar, cover_class varchar, planned_days integer, entry_days integer, "
    "distance_class integer"
)
CLAIMS = (
    "claim_no varchar, serial_key varchar, component varchar, failure_mode varchar, "
    "cover_class varchar, failed_on date, reported_on date, claim_class varchar, "
    "is_wanted boolean, model varchar, model_year integer, region varchar, "
    "dealer varchar"
)
PART = "serial_key varchar, component varchar, supplier varchar"
KEYS = ("model_year", "region", "generation", "build_month", "dealer")
NO_KEY = {f"by_{key}": False for key in KEYS}
COUNTED = (
    "counted", "no fault found", "unknown serial", "no serial",
    "no in-service date", "before delivery", "reported before failed",
    "date not yet known",
)  # fmt: skip


def unit(name: str, model: str = "M", *, built: date | None = None) -> Row:
    left = None if built is None else built + timedelta(days=10)
    return (name, model, 2024, "g1", "North", "D1", built, left)


def watched(
    name: str,
    started: date,
    last: date,
    *,
    first: date | None = None,
    weight: str = "1",
    source: str = "register",
    cover_class: str = "",
    distance: int = 0,
) -> Row:
    entry = 0 if first is None else (first - started).days
    planned = (last - started).days
    return (
        name, started, Decimal(weight), source, cover_class, planned, entry, distance,
    )  # fmt: skip


def claim(
    number: str,
    serial: str | None,
    failed: date,
    *,
    component: str = "motor",
    claim_class: str = "counted",
    wanted: bool = True,
    late: int = 5,
) -> Row:
    return (
        number, serial, component, "worn", "", failed, failed + timedelta(days=late),
        claim_class, wanted, "M", 2024, "North", "D1",
    )  # fmt: skip


@pytest.fixture
def desk() -> Desk:
    desk = Desk()
    desk.given("wanted", "column_name varchar, value varchar")
    desk.given("int_built", "serial_key varchar, built_on date")
    desk.given(
        "cohorts",
        "cohort integer, from_date date, to_date date",
        (0, date(2024, 1, 1), date(2024, 4, 1)),
        (1, date(2024, 4, 1), date(2024, 7, 1)),
    )
    desk.given("int_carriers", PART)
    desk.given("int_part_suppliers", PART)
    return desk


def units_counted(desk: Desk, *rows: Row, columns: str, by: str = "") -> list[Row]:
    """Return columns of ``forecast_units`` of some rows of watched units."""
    names = dict.fromkeys(str(row[0]) for row in rows)
    desk.given("int_units", UNITS, *[unit(name) for name in names])
    desk.given("int_watch", WATCH, *rows)
    return picked(
        desk, "forecast_units", NO_KEY | ({f"by_{by}": True} if by else {}), columns
    )


def picked(desk: Desk, mart: str, told: dict[str, object], columns: str) -> list[Row]:
    """Return columns of a mart, in its order."""
    rows = desk.run(f"marts/{mart}", told)
    names = [column[0] for column in desk.connection.description or ()]
    places = [names.index(name) for name in columns.split()]
    return [tuple(_day(row[place]) for place in places) for row in rows]


def _day(value: object) -> object:
    """Return a month as its first day; it comes as a point in time."""
    return value.date() if isinstance(value, datetime) else value


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
    desk.given("int_units", UNITS, unit("A", built=date(2024, 2, 20)))
    told = {
        "model_year": 2024, "region": "North", "generation": "g1",
        "build_month": date(2024, 2, 1), "dealer": "D1",
    }  # fmt: skip
    for mart, more in (("forecast_units", {}), ("forecast_claims", CLAIM_TOLD)):
        desk.given("int_claims", CLAIMS, claim("1", "A", date(2024, 5, 1)))
        asked = NO_KEY | {f"by_{key}": True} | more
        assert picked(desk, mart, asked, key) == [(told[key],)]


def test_units_belong_to_the_cohort_of_their_build_date(desk: Desk) -> None:
    """From the first day of a cohort to the day before the next one."""
    days = {"A": date(2024, 3, 31), "B": date(2024, 4, 1), "C": date(2030, 1, 1)}
    desk.given("int_built", "serial_key varchar, built_on date", *days.items())
    rows = [watched(name, date(2024, 4, 1), date(2024, 6, 30)) for name in "ABCD"]
    # what lies outside, or has no date, goes with the first
    assert units_counted(desk, *rows, columns="cohort n_units") == [(0, 3.0), (1, 1.0)]


CLAIM_TOLD: dict[str, object] = {
    "by_failure_mode": False,
    "by_supplier": False,
    "tolerance_days": 14,
    "shipped_by": date.max,
}


def claims_counted(desk: Desk, *rows: Row, columns: str, **told: object) -> list[Row]:
    """Return columns of ``forecast_claims``; units A and B are in service in April."""
    desk.given(
        "int_units",
        UNITS,
        unit("A", built=date(2024, 3, 1)),
        unit("B", built=date(2024, 5, 1)),
    )
    desk.given(
        "int_watch",
        WATCH,
        watched("A", date(2024, 4, 11), date(2024, 9, 30)),
        watched("B", date(2024, 5, 10), date(2024, 9, 30), weight="0.25"),
        watched("B", date(2024, 6, 10), date(2024, 9, 30), weight="0.75"),
    )
    desk.given("int_claims", CLAIMS, *rows)
    return picked(desk, "forecast_claims", NO_KEY | CLAIM_TOLD | told, columns)


MONTHS = "service_month failed_month reported_month n_claims"


def test_a_claim_stands_in_the_months_of_service_failure_and_report(
    desk: Desk,
) -> None:
    assert claims_counted(
        desk,
        claim("1", "A", date(2024, 6, 29)),
        claim("2", "A", date(2024, 6, 2), late=28),
        columns=MONTHS,
    ) == [
        (date(2024, 4, 1), date(2024, 6, 1), date(2024, 6, 1), 1.0),
        (date(2024, 4, 1), date(2024, 6, 1), date(2024, 7, 1), 1.0),
    ]


def test_a_claim_of_a_unit_without_a_date_is_spread_over_its_dates(desk: Desk) -> None:
    rows = claims_counted(desk, claim("1", "B", date(2024, 8, 1)), columns=MONTHS)
    assert [(row[0], row[3]) for row in rows] == [
        (date(2024, 5, 1), 0.25),
        (date(2024, 6, 1), 0.75),
    ]


def test_claims_under_cover_count_and_only_they(desk: Desk) -> None:
    classes = (
        *COUNTED, "goodwill", "misuse", "transport damage", "outside coverage",
        "denied", "cancelled",
    )  # fmt: skip
    rows = [
        claim(str(n), "A", date(2024, 6, 1), claim_class=name)
        for n, name in enumerate(classes)
    ]
    found = claims_counted(
        desk, *rows, claim("u", "A", date(2024, 6, 1), wanted=False), columns=MONTHS
    )
    # only those whose unit is surely in service have a service month
    assert found == [
        (date(2024, 4, 1), date(2024, 6, 1), date(2024, 6, 1), 2.0),
        (None, date(2024, 6, 1), date(2024, 6, 1), 6.0),
    ]


def test_claims_that_no_day_in_service_is_told_for_are_listed_without_one(
    desk: Desk,
) -> None:
    """No serial, a serial of nobody, long before delivery, after the last day."""
    found = claims_counted(
        desk,
        claim("1", None, date(2024, 6, 1), claim_class="no serial"),
        claim("2", "Z", date(2024, 6, 1)),
        claim("3", "A", date(2024, 3, 27)),
        claim("4", "A", date(2024, 3, 28)),
        claim("5", "A", date(2024, 10, 1)),
        claim("6", "A", date(2024, 9, 30), late=0),
        columns="service_month failed_month n_claims",
    )
    april = date(2024, 4, 1)
    assert found == [
        (april, date(2024, 3, 1), 1.0),  # within the tolerance of 14 days
        (april, date(2024, 9, 1), 1.0),
        (None, date(2024, 3, 1), 1.0),
        (None, date(2024, 6, 1), 2.0),
        (None, date(2024, 10, 1), 1.0),
    ]


def test_a_filter_by_component_keeps_its_claims_alone(desk: Desk) -> None:
    rows = [
        claim(str(n), "A", date(2024, 6, 1), component=name)
        for n, name in enumerate(("motor", "display", "motor", "frame"))
    ]
    columns = "component n_claims"
    assert claims_counted(desk, *rows, columns=columns) == [
        ("display", 1.0), ("frame", 1.0), ("motor", 2.0),
    ]  # fmt: skip
    desk.given(
        "wanted",
        "column_name varchar, value varchar",
        ("component", "motor"),
        ("component", "frame"),
        ("model", "M"),
    )
    assert claims_counted(desk, *rows, columns=columns) == [
        ("frame", 1.0), ("motor", 2.0),
    ]  # fmt: skip


def test_claims_of_units_shipped_later_can_be_left_out(desk: Desk) -> None:
    """A unit leaves on the day it was shipped; one that nobody knows stays."""
    rows = [
        claim("1", "A", date(2024, 6, 1)),
        claim("2", "B", date(2024, 8, 1)),
        claim("3", "Z", date(2024, 6, 1), claim_class="unknown serial"),
    ]
    kept = {
        day: sum(
            float(str(row[0]))
            for row in claims_counted(desk, *rows, columns="n_claims", shipped_by=day)
        )
        for day in (date(2024, 3, 10), date(2024, 3, 11), date(2024, 5, 11))
    }
    assert kept == {
        date(2024, 3, 10): 1.0, date(2024, 3, 11): 2.0, date(2024, 5, 11): 3.0,
    }  # fmt: skip


def test_suppliers_are_told_by_what_was_fitted_then_by_what_was_replaced(
    desk: Desk,
) -> None:
    desk.given("int_carriers", PART, ("A", "motor", "Orla"))
    desk.given(
        "int_part_suppliers", PART, ("A", "motor", "Pine"), ("B", "motor", "Pine")
    )
    rows = [
        claim("1", "A", date(2024, 6, 1)),
        claim("2", "B", date(2024, 8, 1)),
        claim("3", "A", date(2024, 6, 1), component="display"),
    ]
    assert claims_counted(
        desk, *rows, columns="component supplier n_claims", by_supplier=True
    ) == [
        ("display", "unknown", 1.0),
        ("motor", "Orla", 1.0),
        ("motor", "Pine", 0.25),
        ("motor", "Pine", 0.75),
    ]
