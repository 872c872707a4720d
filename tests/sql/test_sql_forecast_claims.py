"""SQL that a forecast counts claims by: given rows, expected rows."""

from __future__ import annotations

from datetime import date

import pytest
from forecast_desk import COUNTED, PART, claim, claims_counted, forecast_desk
from sql_desk import Desk


@pytest.fixture
def desk() -> Desk:
    return forecast_desk()


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


def test_a_claim_is_one_claim_though_only_some_of_the_dates_fit(desk: Desk) -> None:
    """Failed before the later of the days on which its unit may have begun."""
    early = claim("1", "B", date(2024, 5, 20))
    assert claims_counted(desk, early, columns="service_month n_claims") == [
        (date(2024, 5, 1), 1.0)
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
