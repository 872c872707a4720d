"""Parts that claims took: given rows, expected rows."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from sql_desk import Desk

RULES = {
    "after": date(2024, 6, 30),
    "open_after": date(2026, 5, 1),
    "returned_to_stock": False,
}


@pytest.fixture
def desk() -> Desk:
    made = Desk()
    made.given(
        "int_units",
        "serial_key varchar, model varchar, model_year integer, generation varchar",
        ("S1", "Orlan", 2024, "G2"),
    )
    made.given("parts_sent", "part_key varchar, sent_key varchar")
    made.given("claims_known", "claim_no varchar, part_no varchar, quantity double")
    made.given(
        "claim_parts_known", "claim_no varchar, part_no varchar, quantity double"
    )
    return made


def claims(desk: Desk, *rows: tuple[str, str, str | None, date]) -> None:
    """Make claims: number, class, status, day of report."""
    desk.given(
        "int_claims",
        "claim_no varchar, serial_key varchar, component varchar, model varchar, "
        "model_year integer, claim_class varchar, status varchar, reported_on date, "
        "is_wanted boolean",
        *(
            (number, "S1", "motor", None, None, kind, status, day, True)
            for number, kind, status, day in rows
        ),
    )


def taken(desk: Desk, **more: object) -> list[tuple[object, ...]]:
    desk.run("intermediate/int_parts_taken", RULES | more)
    return desk.rows(
        "select claim_no, part_key, quantity from int_parts_taken order by all"
    )


def told(desk: Desk) -> list[str]:
    rows = desk.rows("select claim_no from int_claims_told order by all")
    return [str(row[0]) for row in rows]


DAY = date(2026, 1, 15)


def test_old_numbers_add_to_the_part_that_is_sent_today(desk: Desk) -> None:
    claims(desk, ("C1", "counted", "closed", DAY))
    desk.given(
        "parts_sent",
        "part_key varchar, sent_key varchar",
        ("M-1", "M-3"), ("M-2", "M-3"), ("M-3", "M-3"),
    )  # fmt: skip
    desk.given(
        "claim_parts_known",
        "claim_no varchar, part_no varchar, quantity double",
        ("C1", "m-1", 1.0), ("C1", "M-3", 2.0), ("C1", "Z-9", None),
    )  # fmt: skip
    assert taken(desk) == [("C1", "M-3", 3.0), ("C1", "Z-9", 1.0)]


def test_the_main_part_is_not_added_to_the_lines_that_hold_it(desk: Desk) -> None:
    """The claim's own row says M-1 was replaced, its lines that M-3 was sent."""
    claims(desk, ("C1", "counted", "closed", DAY), ("C2", "counted", "closed", DAY))
    desk.given(
        "parts_sent", "part_key varchar, sent_key varchar", ("M-1", "M-3"), ("K", "K")
    )
    desk.given(
        "claims_known",
        "claim_no varchar, part_no varchar, quantity double",
        ("C1", "M-1", 1.0), ("C2", "K", None),
    )  # fmt: skip
    desk.given(
        "claim_parts_known",
        "claim_no varchar, part_no varchar, quantity double",
        ("C1", "M-3", 1.0),
    )
    assert taken(desk) == [("C1", "M-3", 1.0), ("C2", "K", 1.0)]


def test_parts_given_back_take_nothing(desk: Desk) -> None:
    claims(desk, ("C1", "counted", "closed", DAY))
    desk.given(
        "claim_parts_known",
        "claim_no varchar, part_no varchar, quantity double",
        ("C1", "A", -1.0), ("C1", "B", 0.0), ("C1", "C", 0.5),
    )  # fmt: skip
    assert taken(desk) == [("C1", "C", 0.5)]


def test_claims_that_tell_nothing_yet_or_do_not_count_are_left_out(desk: Desk) -> None:
    claims(
        desk,
        ("closed", "counted", "closed", DAY),
        ("no status", "counted", None, date(2026, 6, 1)),
        ("young", "counted", "open", date(2026, 5, 2)),
        ("open long", "counted", "open", date(2026, 5, 1)),
        ("too old", "counted", "closed", date(2024, 6, 30)),
        ("denied", "denied", "denied", DAY),
        ("goodwill", "goodwill", "closed", DAY),
        ("sound", "no fault found", "closed", DAY),
    )
    taken(desk)
    assert told(desk) == ["closed", "no status", "open long", "sound"]


def test_parts_of_sound_claims_count_unless_they_go_back_to_stock(desk: Desk) -> None:
    claims(desk, ("C1", "no fault found", "closed", DAY))
    desk.given(
        "claim_parts_known",
        "claim_no varchar, part_no varchar, quantity double",
        ("C1", "A", 1.0),
    )
    assert taken(desk) == [("C1", "A", 1.0)]
    assert taken(desk, returned_to_stock=True) == []
    assert told(desk) == ["C1"]


def test_the_marts_count_claims_and_pieces_of_the_unit(desk: Desk) -> None:
    claims(
        desk,
        ("C1", "counted", "closed", DAY),
        ("C2", "counted", "closed", DAY),
        ("C3", "counted", "closed", DAY),
    )
    desk.given(
        "claim_parts_known",
        "claim_no varchar, part_no varchar, quantity double",
        ("C1", "A", 2.0), ("C1", "B", 1.0), ("C2", "A", 2.0),
    )  # fmt: skip
    taken(desk)
    kind = ("motor", "Orlan", 2024, "G2")
    assert desk.run("marts/claims_told") == [(*kind, 3, 2)]
    assert desk.run("marts/parts_taken") == [(*kind, "A", 2.0, 2), (*kind, "B", 1.0, 1)]


def test_covers_end_without_the_units_that_were_retired(desk: Desk) -> None:
    desk.given(
        "int_units",
        "serial_key varchar, model varchar, model_year integer, generation varchar, "
        "retired_on date",
        ("S1", "Orlan", 2024, "G2", None),
        ("S2", "Orlan", 2024, "G2", None),
        ("S3", "Orlan", 2024, "G2", date(2025, 1, 1)),
    )
    day = date(2024, 3, 5)
    desk.given(
        "int_watch",
        "serial_key varchar, cover_class varchar, cover_end date, in_service_date "
        "date, weight decimal(24, 15)",
        ("S1", "", date(2026, 3, 4), day, 1),
        ("S2", "", date(2026, 3, 20), day, 0.25),
        ("S2", "", date(2026, 3, 20), day, 0),
        ("S3", "", date(2027, 3, 20), day, 1),
    )
    assert [row[4:] for row in desk.run("marts/cover_ends")] == [
        (datetime(2026, 3, 1), date(2026, 3, 20), day, 1.25)
    ]


def test_the_parts_list_has_the_component_of_the_successor(desk: Desk) -> None:
    desk.given(
        "parts_known",
        "part_no varchar, description varchar, component varchar, supplier varchar, "
        "generation varchar, superseded_by varchar, fits_model varchar, "
        "fits_from_year integer, fits_to_year integer, unit_cost decimal(18, 4), "
        "currency varchar, lead_time_days integer",
        ("M-1", None, None, None, None, "M-2", None, None, None, None, None, None),
        (
            "m-2",
            None,
            "Motoren",
            None,
            None,
            None,
            None,
            None,
            None,
            "12.3400",
            "EUR",
            9,
        ),
    )
    desk.given(
        "int_part_kinds", "part_key varchar, component varchar", ("M-1", "Motoren")
    )
    desk.given(
        "component_words", "text varchar, component varchar", ("Motoren", "motor")
    )
    rows = desk.run("marts/parts_listed")
    assert [(row[0], row[3], row[10]) for row in rows] == [
        ("M-1", "motor", None),
        ("M-2", "motor", "12.3400"),
    ]
