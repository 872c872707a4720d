"""Identities of the counts: each holds on sound rows, and names what breaks it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from sql_desk import Desk

CLAIMS = (
    "claim_no varchar, component varchar, claim_class varchar, reported_on date, "
    "cost double, currency varchar, is_wanted boolean"
)
DAY = date(2026, 1, 31)


def judged(
    desk: Desk, name: str, parameters: Mapping[str, object] | None = None
) -> tuple[float, float, int, list[str]]:
    row = desk.run(f"checks/{name}", parameters)[0]
    found, expected, n_broken, keys = row[2:]
    assert isinstance(found, float)
    assert isinstance(expected, float)
    assert isinstance(n_broken, int)
    return found, expected, n_broken, list(keys or [])  # type: ignore[call-overload]


def claims_desk() -> Desk:
    desk = Desk()
    desk.given(
        "int_claims",
        CLAIMS,
        ("C1", "brake", "counted", DAY, 10.0, "EUR", True),
        ("C2", "brake", "denied", DAY, 20.0, "EUR", True),
        ("C3", "motor", "counted", DAY, 30.0, "CHF", True),
    )
    return desk


def test_a_claim_that_no_count_sees_is_named() -> None:
    desk = claims_desk()
    known = [("C1", DAY), ("C2", DAY), ("C3", DAY), ("C9", date(2026, 2, 1))]
    desk.given("claims_known", "claim_no varchar, reported_on date", *known)
    assert judged(desk, "claims_in_sight", {"as_of": DAY}) == (3, 3, 0, [])
    desk.rows("insert into claims_known values ('C4', date '2026-01-02')")
    assert judged(desk, "claims_in_sight", {"as_of": DAY}) == (3, 4, 1, ["C4"])


def test_a_claim_judged_twice_is_named() -> None:
    desk = claims_desk()
    known = [("C1", DAY), ("C2", DAY), ("C3", DAY)]
    desk.given("claims_known", "claim_no varchar, reported_on date", *known)
    desk.rows("insert into int_claims select * from int_claims where claim_no = 'C2'")
    assert judged(desk, "claims_in_sight", {"as_of": DAY}) == (4, 3, 1, ["C2"])


def test_a_claim_without_an_answer_is_named() -> None:
    desk = Desk()
    desk.given("claims_known", "claim_no varchar", ("C1",), ("C2",))
    answers = "claim_no varchar, component varchar, failure_mode varchar"
    desk.given("classified_known", answers, ("C1", "a", "b"), ("C2", "a", "b"))
    assert judged(desk, "claims_read_once") == (2, 2, 0, [])
    desk.rows("update classified_known set component = '' where claim_no = 'C2'")
    assert judged(desk, "claims_read_once")[2:] == (1, ["C2"])
    desk.rows("delete from classified_known where claim_no = 'C2'")
    assert judged(desk, "claims_read_once") == (1, 2, 1, ["C2"])


def test_a_table_that_loses_a_claim_is_named() -> None:
    desk = claims_desk()
    columns = "told_by varchar, n_claims bigint, n_counted bigint"
    desk.given("told_claims", columns, ("component", 3, 2), ("month", 3, 2))
    assert judged(desk, "claims_add_up") == (6, 6, 0, [])
    desk.rows("update told_claims set n_counted = 1 where told_by = 'month'")
    assert judged(desk, "claims_add_up")[2:] == (
        1,
        ["by month 3 v. 3 counted 1 v. 2"],
    )


def test_a_cost_that_goes_missing_is_named_by_its_currency() -> None:
    desk = claims_desk()
    told = [("CHF", 30.0), ("EUR", 10.0)]
    desk.given("told_costs", "currency varchar, cost double", *told)
    assert judged(desk, "costs_add_up") == (40, 40, 0, [])
    desk.rows("update told_costs set cost = 9.5 where currency = 'EUR'")
    assert judged(desk, "costs_add_up") == (39.5, 40, 1, ["EUR 9.5 v. 10.0"])


WATCH = (
    "serial_key varchar, in_service_date date, weight double, cover_class varchar, "
    "planned_days bigint, entry_days bigint"
)


def watch_desk() -> Desk:
    desk = Desk()
    first = date(2025, 1, 1)
    desk.given(
        "int_watch",
        WATCH,
        ("U1", first, 1.0, "", 100, 0),
        ("U2", first, 0.5, "", 100, 10),
        ("U1", first, 1.0, "battery", 50, 0),
    )
    return desk


def test_units_that_a_grouping_loses_are_named() -> None:
    desk = watch_desk()
    columns = "told_by varchar, cover_class varchar, n_units double"
    rows = [("by region", "", 1.5), ("by region", "battery", 1.0)]
    desk.given("told_units", columns, *rows)
    assert judged(desk, "units_add_up") == (2.5, 2.5, 0, [])
    desk.rows("update told_units set n_units = 1 where cover_class = ''")
    assert judged(desk, "units_add_up")[2:] == (1, ["by region  1.0 v. 1.5"])
    desk.rows("delete from told_units where cover_class = 'battery'")
    assert judged(desk, "units_add_up")[2] == 2


def test_failures_that_a_grouping_loses_are_named() -> None:
    desk = watch_desk()
    desk.given(
        "int_events",
        "serial_key varchar, cover_class varchar, failed_on date, event_no bigint",
        ("U1", "", date(2025, 2, 1), 1),
        ("U1", "", date(2025, 3, 1), 2),
        # before it was watched, after it, and before delivery beyond the tolerance
        ("U2", "", date(2025, 1, 5), 1),
        ("U1", "battery", date(2025, 3, 1), 1),
        ("U1", "battery", date(2024, 12, 1), 1),
        ("U1", "battery", date(2024, 12, 31), 1),
    )
    columns = "told_by varchar, is_first boolean, n_events double"
    rows = [("by region", True, 2.0), ("by region", False, 1.0)]
    desk.given("told_failures", columns, *rows)
    tolerance = {"tolerance_days": 3}
    assert judged(desk, "failures_add_up", tolerance) == (3, 3, 0, [])
    desk.rows("update told_failures set n_events = 3 where is_first")
    assert judged(desk, "failures_add_up", tolerance)[2:] == (
        1,
        ["by region first failures 3.0 v. 2.0"],
    )
