"""SQL about repairs: given rows, expected rows."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from sql_desk import Desk

CLAIMS = (
    "claim_no varchar, serial_key varchar, component varchar, failure_mode varchar, "
    "cover_class varchar, failed_on date, reported_on date, cost decimal(18, 2), "
    "currency varchar, claim_class varchar, is_wanted boolean"
)
NO_FILTER = "column_name varchar, value varchar"
UNITS = "serial_key varchar, serial varchar, model varchar, model_year integer"


def claim(
    number: str,
    serial: str,
    day: int,
    *,
    component: str = "motor",
    cost: str | None = "10.00",
    currency: str | None = "EUR",
    claim_class: str = "counted",
    month: int = 1,
) -> tuple[object, ...]:
    on = date(2025, month, day)
    amount = None if cost is None else Decimal(cost)
    return (
        number, serial, component, "worn", "", on, on, amount, currency, claim_class,
        True,
    )  # fmt: skip


@pytest.fixture
def desk() -> Desk:
    desk = Desk()
    desk.given("wanted", NO_FILTER)
    return desk


def mark(desk: Desk, *claims: tuple[object, ...], same_event_days: int = 3) -> None:
    desk.given("int_claims", CLAIMS, *claims)
    desk.run(
        "intermediate/int_repeat_claims",
        {"by_failure_mode": False, "same_event_days": same_event_days},
    )
    desk.run("intermediate/int_repeat_events", {})


def repairs(desk: Desk) -> list[tuple[object, ...]]:
    return desk.rows(
        "select serial_key, component, event_no, day(failed_on), gap_days "
        "from int_repeat_events order by repair_no"
    )


def test_an_event_knows_the_days_to_the_next_one_of_its_component(desk: Desk) -> None:
    mark(
        desk,
        claim("1", "A", 1),
        claim("2", "A", 4),
        claim("3", "A", 20),
        claim("4", "A", 9, component="display"),
        claim("5", "B", 6),
    )
    assert repairs(desk) == [
        ("A", "motor", 1, 1, 19),
        ("B", "motor", 1, 6, 0),
        ("A", "display", 1, 9, 0),
        ("A", "motor", 2, 20, 0),
    ]


def test_a_claim_that_the_rates_leave_out_is_no_repair(desk: Desk) -> None:
    mark(desk, claim("1", "A", 1), claim("2", "A", 20, claim_class="goodwill"))
    assert repairs(desk) == [("A", "motor", 1, 1, 0)]


@pytest.mark.parametrize("days", [0, 3, 30])
def test_events_are_those_of_the_rates(desk: Desk, days: int) -> None:
    claims = [claim(str(i), "AB"[i % 2], 1 + i * i % 28) for i in range(12)]
    mark(desk, *claims, same_event_days=days)
    desk.run(
        "intermediate/int_events",
        {"by_component": True, "by_failure_mode": False, "same_event_days": days},
    )
    columns = "serial_key, component, event_no, failed_on"
    assert desk.rows(f"select {columns} from int_repeat_events order by all") == (
        desk.rows(f"select {columns} from int_events order by all")
    )


def test_costs_of_repairs_add_up_to_those_of_the_claims(desk: Desk) -> None:
    mark(
        desk,
        claim("1", "A", 1, cost="10.25"),
        claim("2", "A", 2, cost="5.50"),
        claim("3", "A", 3, cost="7.00", currency="CHF"),
        claim("4", "A", 20, cost=None),
        claim("5", "B", 2, cost="-4.00"),
        claim("6", "B", 3, cost="1.00", month=2),
    )
    found = [
        (number, month.month, currency, without, cost)
        for number, month, currency, without, cost in desk.run("marts/repeat_costs")
    ]
    assert found == [
        (1, 1, "CHF", 0, 7.0),
        (1, 1, "EUR", 0, 15.75),
        (2, 1, "EUR", 0, 0.0),
        (3, 1, "EUR", 1, None),
        (4, 2, "EUR", 0, 1.0),
    ]


def test_units_that_came_back_stand_with_their_claims(desk: Desk) -> None:
    desk.given("int_units", UNITS, ("A", "a", "Trike", 2024), ("B", "b", "Trike", 2024))
    mark(
        desk,
        claim("1", "A", 1),
        claim("2", "A", 2),
        claim("3", "A", 10),
        claim("4", "A", 20),
        claim("5", "B", 2),
        claim("6", "B", 20),
    )
    jan = (date(2025, 1, 1), date(2025, 1, 20))
    assert desk.run("marts/repeat_units", {"least_events": 3}) == [
        ("a", "Trike", 2024, "motor", 3, *jan, 4, 0, 40.0, "EUR")
    ]
