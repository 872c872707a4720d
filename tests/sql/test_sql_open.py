"""What claims wait for at the cut-off, what was decided, and when a claim is done."""

from __future__ import annotations

from datetime import date

import pytest
from sql_desk import Desk

CUT_OFF = date(2026, 4, 30)
NEVER = date(9999, 12, 31)
ASKED = {
    "as_of": CUT_OFF,
    "returned_since": date(2026, 1, 30),
    "off_road_column": None,
}
KNOWN = (
    "claim_no varchar, amount_requested decimal(18, 4), amount_approved "
    "decimal(18, 4), currency varchar, part_no varchar, extra json"
)
CLAIMS = (
    "claim_no varchar, reported_on date, decided_on date, closed_on date, "
    "done_on date, status varchar, safety varchar, failure_mode varchar, "
    "is_wanted boolean"
)


@pytest.fixture
def desk() -> Desk:
    desk = Desk()
    desk.given("claim_parts_known", "claim_no varchar")
    desk.given("findings_known", "claim_no varchar, inspected_on date")
    return desk


def claim(
    number: str,
    *,
    decided: date | None = None,
    closed: date | None = None,
    done: date = NEVER,
    status: str = "open",
    safety: str = "no",
    mode: str = "worn",
) -> tuple[object, ...]:
    reported = date(2026, 4, 10)
    return (number, reported, decided, closed, done, status, safety, mode, True)


def known(
    number: str,
    requested: float | None = None,
    *,
    part: str | None = None,
    currency: str | None = "EUR",
    extra: str | None = None,
    approved: float | None = None,
) -> tuple[object, ...]:
    return (number, requested, approved, currency, part, extra)


def waits(desk: Desk, **changes: object) -> dict[str, tuple[object, ...]]:
    rows = desk.run("marts/open_claims", ASKED | changes)
    return {str(row[0]): tuple(row[1:]) for row in rows}


def test_each_claim_waits_for_one_thing(desk: Desk) -> None:
    day = date(2026, 4, 20)
    desk.given(
        "int_claims",
        CLAIMS,
        claim("A"),
        claim("B", decided=day, status="approved"),
        claim("C", decided=day, status="approved"),
        claim("D", decided=day, closed=day, done=day, status="closed"),
        claim("E", decided=day, done=day, status="denied"),
        claim("F", decided=day, closed=day, done=day, status="closed"),
        claim("G", decided=day, closed=day, done=day, status="closed"),
    )
    desk.given(
        "claims_known",
        KNOWN,
        known("A", 100),
        known("B"),
        known("C", part="P-1"),
        known("D", part="P-1"),
        known("E", part="P-1"),
        known("F"),
        known("G", part="P-1"),
    )
    desk.given("findings_known", "claim_no varchar, inspected_on date", ("G", day))
    assert waits(desk) == {
        "decision": (20, "EUR", 1, 0, 1, 100.0),
        "part": (20, "EUR", 1, 0, 0, None),
        "repair": (20, "EUR", 1, 0, 0, None),
        "part back": (10, "EUR", 1, 0, 0, None),
    }


def test_what_came_after_the_cut_off_had_not_happened(desk: Desk) -> None:
    later = date(2026, 5, 3)
    desk.given(
        "int_claims",
        CLAIMS,
        claim("A", decided=later, closed=later, done=later, status="closed"),
    )
    desk.given("claims_known", KNOWN, known("A", part="P-1"))
    assert list(waits(desk)) == ["decision"]


def test_a_part_closed_long_ago_is_waited_for_no_more(desk: Desk) -> None:
    old = date(2026, 1, 29)
    desk.given(
        "int_claims",
        CLAIMS,
        claim("A", decided=old, closed=old, done=old, status="closed"),
    )
    desk.given("claims_known", KNOWN, known("A", part="P-1"))
    assert waits(desk) == {}
    assert list(waits(desk, returned_since=old)) == ["part back"]


def test_a_vehicle_is_off_the_road_by_danger_or_no_power_or_by_its_column(
    desk: Desk,
) -> None:
    desk.given(
        "int_claims",
        CLAIMS,
        claim("A", safety="yes"),
        claim("B", mode="no power"),
        claim("C"),
        claim("D"),
    )
    desk.given(
        "claims_known",
        KNOWN,
        known("A", extra='{"steht": "nein"}'),
        known("B"),
        known("C", extra='{"steht": "Ja"}'),
        known("D", extra='{"steht": " "}'),
    )
    assert waits(desk)["decision"][3] == 2
    assert waits(desk, off_road_column="steht")["decision"][3] == 1


def test_requested_is_set_against_approved_where_both_are_told(desk: Desk) -> None:
    day = date(2026, 4, 20)
    desk.given(
        "int_claims",
        CLAIMS,
        claim("A", decided=day, status="closed"),
        claim("B", decided=day, status="approved"),
        claim("C", decided=day, status="denied"),
        claim("D", decided=day, status="approved"),
        claim("E", decided=date(2026, 3, 31), status="approved"),
        claim("F", decided=day, status="cancelled"),
    )
    desk.given(
        "claims_known",
        KNOWN,
        known("A", 100, approved=100),
        known("B", 200, approved=150),
        known("C", 50),
        known("D", None, approved=30),
        known("E", 1_000, approved=1_000),
        known("F", 1_000, approved=1_000),
    )
    span = {"from_day": date(2026, 4, 1), "to_day": CUT_OFF}
    # currency, decided, told, denied, cut, requested, approved
    assert desk.run("marts/amounts_decided", span) == [
        ("EUR", 4, 3, 1, 1, 350.0, 250.0)
    ]


def test_parts_inspected_are_told_of_those_closed(desk: Desk) -> None:
    day = date(2025, 12, 1)
    desk.given(
        "int_claims",
        CLAIMS,
        *(
            claim(number, decided=day, closed=day, done=day, status="closed")
            for number in "ABC"
        ),
    )
    desk.given(
        "claims_known", KNOWN, known("A", part="P"), known("B", part="P"), known("C")
    )
    desk.given("findings_known", "claim_no varchar, inspected_on date", ("A", day))
    asked = {"from_day": day, "to_day": day, "as_of": CUT_OFF}
    assert desk.run("marts/parts_inspected", asked) == [(2, 1)]
