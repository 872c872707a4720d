"""A desk for the SQL of forecasts: units and claims as it reads them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal

from sql_desk import Desk

Row = tuple[object, ...]

UNITS = (
    "serial_key varchar, model varchar, model_year integer, generation varchar, "
    "region varchar, dealer varchar, build_date date, left_works_on date, "
    "origin varchar"
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
NO_KEY: dict[str, object] = {f"by_{key}": False for key in KEYS} | {
    "sold_after": date.max
}
COUNTED = (
    "counted", "no fault found", "unknown serial", "no serial",
    "no in-service date", "before delivery", "reported before failed",
    "date not yet known",
)  # fmt: skip


def unit(name: str, *, built: date | None = None, origin: str = "register") -> Row:
    left = None if built is None else built + timedelta(days=10)
    return (name, "M", 2024, "g1", "North", "D1", built, left, origin)


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


def forecast_desk() -> Desk:
    """Return a desk with the tables that a forecast reads, most of them empty."""
    desk = Desk()
    desk.given("wanted", "column_name varchar, value varchar")
    desk.given("int_built", "serial_key varchar, built_on date")
    first, second = date(2024, 1, 1), date(2024, 4, 1)
    desk.given(
        "cohort_days",
        "built_on date, cohort integer",
        *((first + timedelta(days=n), 0) for n in range((second - first).days)),
        *((second + timedelta(days=n), 1) for n in range(91)),
    )
    desk.given("shipment_lag", "lag_days integer, weight double", (0, 0.5), (60, 0.5))
    desk.given("int_carriers", PART)
    desk.given("int_part_suppliers", PART)
    return desk


def units_counted(desk: Desk, *rows: Row, columns: str, by: str = "") -> list[Row]:
    """Return columns of ``forecast_units`` of some rows of watched units."""
    names = dict.fromkeys(str(row[0]) for row in rows)
    put_units(desk, [unit(name) for name in names], rows)
    return picked(
        desk, "forecast_units", NO_KEY | ({f"by_{by}": True} if by else {}), columns
    )


def put_units(desk: Desk, units: Sequence[Row], rows: Sequence[Row]) -> None:
    """Make units and their days under watch."""
    desk.given("int_units", UNITS, *units)
    desk.given("int_watch", WATCH, *rows)
    desk.connection.execute(
        "create or replace temp table int_service as "
        "select serial_key, in_service_date from int_watch"
    )
    desk.run("intermediate/int_cohorts")


def picked(desk: Desk, mart: str, told: dict[str, object], columns: str) -> list[Row]:
    """Return columns of a mart, in its order."""
    rows = desk.run(f"marts/{mart}", told)
    names = [column[0] for column in desk.connection.description or ()]
    places = [names.index(name) for name in columns.split()]
    return [tuple(_day(row[place]) for place in places) for row in rows]


def _day(value: object) -> object:
    """Return a month as its first day; it comes as a point in time."""
    return value.date() if isinstance(value, datetime) else value


CLAIM_TOLD: dict[str, object] = {
    "by_failure_mode": False,
    "by_supplier": False,
    "tolerance_days": 14,
    "shipped_by": date.max,
}


def claims_counted(desk: Desk, *rows: Row, columns: str, **told: object) -> list[Row]:
    """Return columns of ``forecast_claims``; units A and B are in service in April."""
    put_units(
        desk,
        [unit("A", built=date(2024, 3, 1)), unit("B", built=date(2024, 5, 1))],
        [
            watched("A", date(2024, 4, 11), date(2024, 9, 30)),
            watched("B", date(2024, 5, 10), date(2024, 9, 30), weight="0.25"),
            watched("B", date(2024, 6, 10), date(2024, 9, 30), weight="0.75"),
        ],
    )
    desk.given("int_claims", CLAIMS, *rows)
    return picked(desk, "forecast_claims", NO_KEY | CLAIM_TOLD | told, columns)
