"""Which dangerous claims a month's page lists, and which alarms are new."""

from __future__ import annotations

from datetime import date

import pytest
from sql_desk import Desk

MARCH = {"month_start": date(2026, 3, 1), "month_end": date(2026, 3, 31)}
NEVER = date(9999, 12, 31)


@pytest.fixture
def desk() -> Desk:
    return Desk()


def given(desk: Desk, *claims: tuple[str, date, date, str, str]) -> None:
    """Make claims: number, reported on, open until, safety, danger."""
    desk.given(
        "int_claims",
        "claim_no varchar, serial varchar, component varchar, failure_mode varchar, "
        "reported_on date, done_on date, safety varchar, is_wanted boolean",
        *(
            (number, f"S-{number}", "frame", "worn", reported, until, safety, True)
            for number, reported, until, safety, _ in claims
        ),
    )
    desk.given(
        "classified_known",
        "claim_no varchar, evidence varchar",
        *(
            (number, f"part: a frame (replaced){danger}")
            for number, _, _, _, danger in claims
        ),
    )


def listed(desk: Desk) -> list[tuple[object, ...]]:
    rows = desk.run("marts/safety_claims", MARCH)
    return [(row[0], row[5], row[6], row[7]) for row in rows]


def findings(desk: Desk, *rows: tuple[str, date | None]) -> None:
    desk.given("findings_known", "claim_no varchar, inspected_on date", *rows)


def test_the_month_and_what_is_still_open_are_listed_newest_first(desk: Desk) -> None:
    findings(desk)
    smoke = "; danger: narrative: smoke"
    given(
        desk,
        ("A", date(2026, 3, 2), date(2026, 3, 5), "yes", smoke),
        ("B", date(2026, 3, 30), NEVER, "yes", smoke),
        ("C", date(2026, 1, 15), NEVER, "yes", smoke),
        ("D", date(2026, 1, 15), date(2026, 3, 31), "yes", smoke),
        ("E", date(2026, 3, 9), NEVER, "no", ""),
        ("F", date(2026, 4, 1), NEVER, "yes", smoke),
    )
    assert listed(desk) == [
        ("B", "narrative: smoke", "reported", date(2026, 3, 30)),
        ("A", "narrative: smoke", "reported", date(2026, 3, 2)),
        ("C", "narrative: smoke", "open", date(2026, 1, 15)),
    ]


def test_a_danger_that_an_inspection_finds_months_later_is_listed(desk: Desk) -> None:
    """The page of the month of its report could not know of it."""
    found, smoke = "; danger: finding: frame, broken", "; danger: narrative: smoke"
    closed = date(2026, 1, 20)
    given(
        desk,
        ("A", date(2026, 1, 2), closed, "yes", found),
        ("B", date(2026, 1, 3), closed, "yes", smoke),
        ("C", date(2026, 1, 4), closed, "yes", found),
    )
    findings(
        desk,
        ("A", date(2026, 3, 8)),
        ("A", date(2026, 3, 18)),
        ("B", date(2026, 3, 8)),
        ("C", date(2026, 2, 8)),
        ("C", None),
    )
    assert listed(desk) == [
        ("A", "finding: frame, broken", "inspected", date(2026, 3, 18))
    ]


def alarms(
    desk: Desk,
    *claims: str,
    rising: tuple[str, ...] = (),
    arrived: tuple[str, ...] = (),
) -> None:
    desk.given(
        "rising_alarms",
        "subject varchar, raised_on date, component varchar, words_read varchar",
        *((name, date(2026, 1, 31), "frame", "twice as many") for name in rising),
    )
    desk.given("arrival_alarms", "subject varchar", *((name,) for name in arrived))
    desk.given(
        "classifications",
        "claim_no varchar, component varchar, safety varchar, evidence varchar",
        *((claim, "frame", "yes", "x; danger: narrative: smoke") for claim in claims),
        ("CALM", "frame", "no", "x"),
    )
    desk.given(
        "claims_current",
        "claim_no varchar, reported_on date, serial varchar",
        *((claim, date(2026, 1, 1), None) for claim in (*claims, "CALM")),
    )
    desk.run("intermediate/int_alarms")


def tell(desk: Desk, *claims: str) -> None:
    desk.given(
        "told_now",
        "kind varchar, subject varchar",
        *(("dangerous claim", claim) for claim in claims),
    )
    desk.run("staging/keep_alarms")


def new(desk: Desk) -> list[object]:
    return [row[1] for row in desk.run("marts/new_alarms")]


def test_an_alarm_is_new_until_it_was_told_and_again_when_it_comes_back(
    desk: Desk,
) -> None:
    desk.given("alarms_told", "kind varchar, subject varchar")
    alarms(desk, "A", "B")
    assert new(desk) == ["A", "B"]
    tell(desk, "A")
    assert new(desk) == ["B"]
    tell(desk, "A", "B")
    assert new(desk) == []
    assert desk.rows("select count(*) from alarms_told") == [(2,)]
    alarms(desk, "B")
    tell(desk)
    alarms(desk, "A", "B")
    assert new(desk) == ["A"]


def test_a_rising_fault_is_an_alarm_beside_the_dangerous_claims(desk: Desk) -> None:
    desk.given("alarms_told", "kind varchar, subject varchar")
    alarms(desk, "A", rising=("frame, since 2026-01-31",))
    assert desk.run("marts/new_alarms")[0][:3] == (
        "rising fault",
        "frame, since 2026-01-31",
        date(2026, 1, 31),
    )
    tell(desk, "A")
    assert new(desk) == ["frame, since 2026-01-31"]


def test_a_file_that_is_missing_is_an_alarm_until_it_comes(desk: Desk) -> None:
    desk.given("alarms_told", "kind varchar, subject varchar")
    alarms(desk, "A", arrived=("desk: nothing has come",))
    # what arrived carries no day and stands behind what does
    assert new(desk) == ["A", "desk: nothing has come"]
    desk.given("told_now", "kind varchar, subject varchar", ("arrival", new(desk)[1]))
    desk.run("staging/keep_alarms")
    assert new(desk) == ["A"]
    alarms(desk, "A")
    desk.given("told_now", "kind varchar, subject varchar")
    desk.run("staging/keep_alarms")
    alarms(desk, "A", arrived=("desk: nothing has come",))
    assert new(desk) == ["A", "desk: nothing has come"]
