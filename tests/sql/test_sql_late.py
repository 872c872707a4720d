"""Counting late reports: given rows, expected rows."""

from __future__ import annotations

from datetime import date

import pytest
from sql_desk import Desk

CLAIMS = (
    "claim_class varchar, is_wanted boolean, is_failure_date_assumed boolean, "
    "failed_on date, reported_on date, model varchar, model_year integer, "
    "component varchar, failure_mode varchar, region varchar, generation varchar, "
    "build_month date"
)
GROUPS = (
    "model",
    "model_year",
    "component",
    "failure_mode",
    "region",
    "generation",
    "build_month",
)


def claim(
    failed: date,
    reported: date,
    *,
    kind: str = "counted",
    wanted: bool = True,
    assumed: bool = False,
    component: str = "motor",
) -> tuple[object, ...]:
    unit = ("M", 2024, component, "worn", "North", "g1", date(2024, 1, 1))
    return (kind, wanted, assumed, failed, reported, *unit)


@pytest.fixture
def desk() -> Desk:
    made = Desk()
    made.given("wanted", "column_name varchar, value varchar")
    made.given(
        "lag_months",
        "month_no integer, from_date date, to_date date",
        (0, date(2025, 3, 1), date(2025, 3, 31)),
        (1, date(2025, 2, 1), date(2025, 2, 28)),
        (2, date(2025, 1, 1), date(2025, 1, 31)),
    )
    return made


def counts(desk: Desk, *by: str) -> list[tuple[object, ...]]:
    rows = desk.run("marts/lag_counts", {f"by_{name}": name in by for name in GROUPS})
    return [row[7:] for row in rows] if not by else rows


def test_claims_stand_at_their_months_of_failure_and_lag(desk: Desk) -> None:
    desk.given(
        "int_claims",
        CLAIMS,
        claim(date(2025, 1, 31), date(2025, 2, 1)),
        claim(date(2025, 1, 1), date(2025, 2, 28)),
        claim(date(2025, 1, 5), date(2025, 3, 31)),
        claim(date(2025, 3, 31), date(2025, 3, 31)),
        claim(date(2025, 3, 2), date(2025, 3, 2), assumed=True),
        claim(date(2025, 3, 2), date(2025, 3, 9), wanted=False),
        claim(date(2025, 3, 2), date(2025, 3, 9), kind="goodwill"),
        claim(date(2025, 2, 2), date(2025, 2, 9), kind="no fault found"),
        claim(date(2025, 2, 2), date(2025, 2, 9), kind="misuse"),
        claim(date(2025, 2, 2), date(2025, 2, 9), kind="denied"),
        claim(date(2024, 12, 31), date(2025, 1, 2)),  # before the months looked at
    )
    assert counts(desk) == [
        (0, 0, False, False, 1),
        (0, 0, False, True, 1),
        (0, 0, True, True, 1),
        (1, 0, False, True, 2),
        (2, 1, False, True, 2),
        (2, 2, False, True, 1),
    ]


def test_a_wanted_component_leaves_the_others_for_the_lag_only(desk: Desk) -> None:
    desk.given("wanted", "column_name varchar, value varchar", ("component", "motor"))
    day = date(2025, 3, 2)
    desk.given(
        "int_claims", CLAIMS, claim(day, day), claim(day, day, component="display")
    )
    assert counts(desk) == [(0, 0, False, False, 1), (0, 0, False, True, 1)]


def test_groups_split_the_counts_and_add_up_to_them(desk: Desk) -> None:
    day = date(2025, 3, 2)
    desk.given(
        "int_claims",
        CLAIMS,
        claim(day, day),
        claim(day, day),
        claim(day, day, component="display"),
    )
    by_component = counts(desk, "component")
    assert [(row[2], row[-1]) for row in by_component] == [("display", 1), ("motor", 2)]
    assert sum(row[-1] for row in by_component) == counts(desk)[0][-1]  # type: ignore[misc]  # counts


def test_days_with_many_reports_stand_beside_their_month(desk: Desk) -> None:
    day, other = date(2025, 2, 3), date(2025, 2, 20)
    desk.given(
        "int_claims",
        CLAIMS,
        *(claim(day, day) for _ in range(3)),
        claim(day, other),
        claim(day, other, wanted=False),
        claim(day, other, kind="denied"),
    )
    rows = desk.run("marts/lag_report_dates", {"fewest": 2})
    assert rows == [(day, 1, 3, 4)]


def test_known_on_dates_of_claims_only_and_each_once(desk: Desk) -> None:
    first, second = date(2025, 2, 3), date(2025, 3, 3)
    desk.given(
        "batches",
        "kind varchar, known_on date",
        ("claims", second),
        ("claims", first),
        ("claims", first),
        ("units", date(2025, 2, 9)),
    )
    assert desk.run("marts/lag_batches", {"as_known": second}) == [(first,), (second,)]
    assert desk.run("marts/lag_batches", {"as_known": first}) == [(first,)]
