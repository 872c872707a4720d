"""SQL about the cost of claims and units sold: given rows, expected rows."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from sql_desk import Desk

CLAIMS = (
    "claim_no varchar, serial_key varchar, component varchar, failure_mode varchar, "
    "model varchar, model_year integer, region varchar, generation varchar, "
    "build_month timestamp, dealer varchar, likely_in_service_date date, "
    "reported_on date, decided_on date, closed_on date, open_until date, "
    "cost decimal(20, 4), currency varchar, claim_class varchar, is_covered boolean, "
    "is_wanted boolean"
)
UNITS = (
    "serial_key varchar, model varchar, model_year integer, region varchar, "
    "generation varchar, dealer varchar, left_works_on date, in_service_date date, "
    "claimed_in_service_date date, quantity bigint, is_wanted boolean"
)
CUT = date(2025, 6, 30)
EARLY, LATE = date(2025, 6, 10), date(2025, 7, 20)
NEVER = date(9999, 12, 31)


def claim(
    number: str,
    *,
    decided: date | None = None,
    closed: date | None = None,
    until: date = NEVER,
    cost: str | None = None,
    claim_class: str = "counted",
    reported: date = date(2025, 6, 1),
    component: str = "motor",
) -> tuple[object, ...]:
    return (
        number, "A", component, "worn", "Trike", 2024, "North", None, None, None,
        date(2024, 3, 1), reported, decided, closed, until,
        None if cost is None else Decimal(cost), "EUR", claim_class, True, True,
    )  # fmt: skip


@pytest.fixture
def desk() -> Desk:
    desk = Desk()
    desk.given("wanted", "column_name varchar, value varchar")
    desk.given("int_units", UNITS)
    return desk


def stated(desk: Desk, *claims: tuple[object, ...]) -> dict[str, tuple[object, ...]]:
    """Return state, day of settlement and cost by claim."""
    desk.given("int_claims", CLAIMS, *claims)
    rows = desk.run("marts/cost_claims", {"as_of": CUT})
    return {str(row[0]): (row[12], row[13], row[14]) for row in rows}


def test_a_claim_is_settled_on_the_day_from_which_it_is_not_open(desk: Desk) -> None:
    found = stated(
        desk,
        claim("closed", closed=EARLY, until=EARLY, cost="12.3456"),
        claim("open"),
        claim("closed later", closed=LATE, until=LATE, cost="99.00"),
        claim("approved", decided=EARLY, closed=LATE, until=LATE, cost="50.00"),
    )
    assert found["closed"] == ("settled", EARLY, 123456)
    assert found["open"] == ("open", None, None)
    assert found["closed later"] == ("open", None, None)
    assert found["approved"] == ("approved", LATE, 500000)


def test_a_claim_refused_after_the_cut_off_was_open_at_it(desk: Desk) -> None:
    found = stated(
        desk,
        claim("denied", decided=EARLY, claim_class="denied", cost="0"),
        claim("denied later", decided=LATE, claim_class="denied", cost="0"),
        claim("cancelled later", closed=LATE, claim_class="cancelled"),
        claim("cancelled", claim_class="cancelled", until=date(1, 1, 1)),
    )
    assert {name: row[0] for name, row in found.items()} == {
        "denied": "refused",
        "denied later": "open",
        "cancelled later": "open",
        "cancelled": "refused",
    }
    assert {row[2] for row in found.values()} == {None}


def test_costs_below_and_at_nothing_are_kept(desk: Desk) -> None:
    found = stated(
        desk,
        claim("back", closed=EARLY, until=EARLY, cost="-7.50"),
        claim("free", closed=EARLY, until=EARLY, cost="0"),
        claim("unknown", closed=EARLY, until=EARLY),
    )
    assert [found[name][2] for name in ("back", "free", "unknown")] == [-75000, 0, None]


@pytest.mark.parametrize(
    ("claim_class", "is_inside"),
    [
        ("counted", True),
        ("no fault found", True),
        ("unknown serial", True),
        ("before delivery", True),
        ("outside coverage", False),
        ("goodwill", False),
        ("misuse", False),
        ("transport damage", False),
        ("denied", True),
    ],
)
def test_what_counts_as_under_cover(
    claim_class: str, is_inside: bool, desk: Desk
) -> None:
    desk.given("int_claims", CLAIMS, claim("1", claim_class=claim_class))
    [row] = desk.run("marts/cost_claims", {"as_of": CUT})
    assert row[16] is is_inside


def test_only_what_is_wanted_and_reported_is_listed(desk: Desk) -> None:
    desk.given("wanted", "column_name varchar, value varchar", ("component", "motor"))
    found = stated(
        desk,
        claim("1"),
        claim("2", component="display"),
        claim("3", reported=LATE),
    )
    assert list(found) == ["1"]


def test_units_are_sold_when_they_leave_the_works(desk: Desk) -> None:
    def unit(left: date | None, started: date | None = None, n: int = 1) -> tuple:
        return ("S", "Trike", 2024, "North", None, None, left, started, None, n, True)

    desk.given(
        "int_units",
        UNITS,
        unit(date(2025, 1, 31)),
        unit(date(2025, 2, 1)),
        unit(date(2025, 6, 30), n=40),
        unit(date(2025, 7, 1)),
        unit(None, date(2025, 3, 1)),
        unit(None),
    )
    rows = desk.run("marts/units_sold", {"since": date(2025, 1, 31), "as_of": CUT})
    assert rows == [("Trike", 2024, "North", None, 42)]
