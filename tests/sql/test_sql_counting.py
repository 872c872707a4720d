"""Counting SQL: given rows, expected rows."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from sql_desk import Desk

CLAIMS = (
    "serial_key varchar, component varchar, failure_mode varchar, "
    "cover_class varchar, failed_on date, reported_on date, claim_class varchar, "
    "is_wanted boolean"
)
NO_FILTER = "column_name varchar, value varchar"


@pytest.fixture
def desk() -> Desk:
    return Desk()


def counted(serial: str, component: str, day: int) -> tuple[object, ...]:
    failed = date(2025, 1, day)
    reported = failed + timedelta(days=9)
    return (serial, component, "worn", "", failed, reported, "counted", True)


def events(desk: Desk, *, by_component: bool) -> list[tuple[object, ...]]:
    desk.run(
        "intermediate/int_events",
        {
            "by_component": by_component,
            "by_failure_mode": False,
            "same_event_days": 3,
        },
    )
    return desk.rows(
        "select serial_key, component, day(failed_on), event_no from int_events "
        "order by all"
    )


def test_claims_at_most_three_days_after_the_last_are_one_event(desk: Desk) -> None:
    desk.given("wanted", NO_FILTER)
    desk.given(
        "int_claims",
        CLAIMS,
        *(counted("A", "motor", day) for day in (1, 4, 8, 11, 15)),
        counted("B", "motor", 4),
    )
    assert events(desk, by_component=True) == [
        ("A", "motor", 1, 1),
        ("A", "motor", 8, 2),
        ("A", "motor", 15, 3),
        ("B", "motor", 4, 1),
    ]
    started = desk.rows("select failed_on, reported_on from int_events order by all")
    assert all(reported - failed == timedelta(days=9) for failed, reported in started)


def test_a_component_has_its_own_first_failure(desk: Desk) -> None:
    desk.given("wanted", NO_FILTER)
    day = date(2025, 1, 2)
    left_out = ("A", "motor", "worn", "", day, day, "goodwill", True)
    unwanted = ("C", "motor", "worn", "", day, day, "counted", False)
    desk.given(
        "int_claims",
        CLAIMS,
        counted("A", "motor", 20),
        counted("A", "display", 9),
        left_out,
        unwanted,
    )
    assert events(desk, by_component=True) == [
        ("A", "display", 9, 1),
        ("A", "motor", 20, 1),
    ]
    assert events(desk, by_component=False) == [("A", "", 9, 1), ("A", "", 20, 2)]


def test_the_most_exact_term_of_cover_wins_for_each_value(desk: Desk) -> None:
    desk.given(
        "int_units",
        "model varchar, model_year integer, region varchar",
        ("M", 2024, "N"),
        ("M", None, ""),
    )
    desk.given("cover_classes", "cover_class varchar", ("motor",))
    desk.given(
        "cover_periods",
        "from_date date, to_date date",
        (date(1, 1, 1), date(2024, 6, 30)),
        (date(2024, 7, 1), date(9999, 12, 31)),
    )
    desk.given(
        "cover_terms",
        "component varchar, model varchar, model_year integer, region varchar, "
        "months integer, distance_km double, restart varchar, "
        "restart_months integer, exactness integer",
        (None, None, None, None, 24, 9000.0, "part", 6, -1),
        (None, "M", None, None, 30, None, None, None, 4000),
        (None, "M", 2024, None, None, -1.0, None, None, 6001),
        ("motor", None, None, None, 36, None, "repair", None, 8002),
        ("motor", None, None, "N", 48, None, None, None, 9003),
    )
    desk.given(
        "calendar_extensions",
        "component varchar, model varchar, model_year integer, region varchar, "
        "at_least_months integer, more_months integer, from_date date, to_date date",
        (None, None, None, None, 40, None, date(2024, 7, 1), date(9999, 12, 31)),
        ("motor", None, None, "N", None, 2, date(1, 1, 1), date(9999, 12, 31)),
    )
    desk.run("intermediate/int_cover")
    early, late = date(1, 1, 1), date(2024, 7, 1)
    rows = desk.rows(
        "select model_year, cover_class, from_date, months, distance_km, restart, "
        "restart_months from int_cover order by all"
    )
    assert rows == [
        (0, "", early, 30, 9000.0, "part", 6),
        (0, "", late, 40, 9000.0, "part", 6),
        (0, "motor", early, 36, 9000.0, "repair", 36),
        (0, "motor", late, 40, 9000.0, "repair", 40),
        (2024, "", early, 30, None, "part", 6),
        (2024, "", late, 40, None, "part", 6),
        (2024, "motor", early, 50, None, "repair", 50),
        (2024, "motor", late, 50, None, "repair", 50),
    ]


@pytest.mark.parametrize(
    ("started", "retired", "as_of", "days"),
    [
        (date(2024, 1, 31), None, date(2026, 1, 1), 29),  # cover to 29 February
        (date(2024, 1, 31), None, date(2024, 2, 10), 10),  # cut-off
        (date(2024, 1, 31), date(2024, 2, 5), date(2026, 1, 1), 5),  # retirement
        (date(2024, 1, 31), None, date(2024, 1, 31), 0),  # first day
    ],
)
def test_a_unit_is_watched_to_the_first_of_its_ends(
    started: date, retired: date | None, as_of: date, days: int, desk: Desk
) -> None:
    desk.given(
        "int_units",
        "serial_key varchar, model varchar, model_year integer, region varchar, "
        "retired_on date, is_wanted boolean",
        ("A", "M", 2024, "", retired, True),
        ("B", "M", 2024, "", retired, False),
    )
    desk.given(
        "int_service",
        "serial_key varchar, in_service_date date, weight double, source varchar",
        ("A", started, 1.0, "register"),
        ("B", started, 1.0, "register"),
    )
    desk.given(
        "int_cover",
        "model varchar, model_year integer, region varchar, cover_class varchar, "
        "months integer, distance_km double, from_date date, to_date date",
        ("M", 2024, "", "", 1, None, date(1, 1, 1), date(9999, 12, 31)),
        ("M", 2024, "", "motor", 0, None, date(1, 1, 1), date(9999, 12, 31)),
    )
    desk.given(
        "int_prolonged",
        "serial_key varchar, component varchar, more_days integer, ends_on date",
    )
    desk.given(
        "distance_classes", "model varchar, limit_km double, distance_class integer"
    )
    desk.run(
        "intermediate/int_watch",
        {
            "as_of": as_of,
            "count_outside_coverage": False,
            "late_report_days": 60,
            "recorded_from": date(1, 1, 1),
        },
    )
    assert desk.rows("select serial_key, cover_class, planned_days from int_watch") == [
        ("A", "", days)
    ]


SERVICE_COLUMNS = (
    "serial_key varchar, in_service_date date, claimed_in_service_date date, "
    "left_works_on date, first_failed_on date, model varchar, region varchar, "
    "origin varchar, quantity bigint, first_component varchar"
)


def given_lags(desk: Desk) -> None:
    desk.given(
        "sales_lags",
        "lag_group integer, lag_days integer, weight double",
        (0, 10, 0.25),
        (0, 40, 0.75),
        (1, 20, 1.0),
        (2, 30, 1.0),
    )
    desk.given(
        "sales_lag_groups",
        "model varchar, region varchar, lag_group integer",
        ("", "South", 1),
        ("M", "South", 2),
    )
    desk.given(
        "int_stock",
        "serial_key varchar, model varchar, in_service_date date, "
        "weight decimal(24, 15)",
    )
    desk.given(
        "claim_hazards",
        "model varchar, component varchar, from_day integer, to_day integer, "
        "hazard double",
    )


def test_an_undated_unit_stands_for_every_possible_date(desk: Desk) -> None:
    given_lags(desk)
    shipped = date(2025, 1, 1)

    def unit(
        name: str,
        *dates: date | None,
        left: date | None = shipped,
        place: tuple[str, str] = ("M", "North"),
    ) -> tuple[object, ...]:
        in_service, claimed, failed = dates
        return (
            *(name, in_service, claimed, left, failed, *place, "register", 1),
            None,
        )

    desk.given(
        "int_units",
        SERVICE_COLUMNS,
        unit("dated", date(2025, 1, 5), None, None),
        unit("told by a claim", None, date(2025, 1, 6), None),
        unit("old", None, None, None),
        unit("young", None, None, None, left=date(2025, 2, 15)),
        unit("failed early", None, None, date(2025, 1, 20)),
        unit("future", date(2025, 4, 1), None, None),
        unit("no date at all", None, None, None, left=None),
        unit("of its group", None, None, None, place=("M", "South")),
        unit("of its region", None, None, None, place=("N", "South")),
    )
    desk.run(
        "intermediate/int_service", {"as_of": date(2025, 2, 28), "share_dated": 0.0}
    )
    rows = desk.rows(
        "select serial_key, in_service_date, weight::double from int_service "
        "order by all"
    )
    assert rows == [
        ("dated", date(2025, 1, 5), 1.0),
        ("failed early", date(2025, 1, 11), 1.0),
        ("of its group", date(2025, 1, 31), 1.0),
        ("of its region", date(2025, 1, 21), 1.0),
        ("old", date(2025, 1, 11), 0.25),
        ("old", date(2025, 2, 10), 0.75),
        ("told by a claim", date(2025, 1, 6), 1.0),
        ("young", date(2025, 2, 25), 0.25),
    ]


def test_a_claim_without_a_register_takes_the_place_of_a_shipped_unit(
    desk: Desk,
) -> None:
    """It began as the shipped units did, weighed by how often its part fails."""
    given_lags(desk)
    failed = date(2025, 4, 1)
    desk.given(
        "int_units",
        SERVICE_COLUMNS,
        ("S", None, None, date(2025, 1, 1), None, "M", "", "shipped", 60, None),
        ("A", None, date(2025, 2, 1), None, failed, "M", "", "claimed", 1, "motor"),
        ("A/", None, date(2025, 2, 1), None, failed, "M", "", "place", -1, "motor"),
        ("B", None, None, None, failed, "M", "", "claimed", 1, "motor"),
        ("B/", None, None, None, failed, "M", "", "place", -1, "motor"),
        ("C", None, None, None, failed, "M", "", "claimed", 1, "display"),
    )
    desk.given(
        "int_stock",
        "serial_key varchar, model varchar, in_service_date date, "
        "weight decimal(24, 15)",
        ("S", "M", date(2025, 1, 15), 40),  # 76 days before the failure
        ("S", "M", date(2025, 3, 15), 20),  # 17 days before it
        ("S", "M", date(2025, 5, 15), 20),  # after it
    )
    desk.given(
        "claim_hazards",
        "model varchar, component varchar, from_day integer, to_day integer, "
        "hazard double",
        *[("M", name, 0, 29, 1.0) for name in ("", "motor")],
        ("M", "", 60, 89, 0.5),
        ("M", "motor", 60, 89, 1.5),
    )
    desk.run(
        "intermediate/int_service", {"as_of": date(2025, 6, 30), "share_dated": 0.0}
    )
    rows = desk.rows(
        "select serial_key, in_service_date, weight::double, source from int_service "
        "where serial_key <> 'S' order by all"
    )
    assert {row[3] for row in rows} == {"shipments"}
    assert [row[:3] for row in rows] == [
        ("A", date(2025, 2, 1), 1.0),
        ("A/", date(2025, 2, 1), -1.0),
        ("B", date(2025, 1, 15), 0.75),
        ("B", date(2025, 3, 15), 0.25),
        ("B/", date(2025, 1, 15), -0.75),
        ("B/", date(2025, 3, 15), -0.25),
        ("C", date(2025, 1, 15), 0.5),  # as all components together
        ("C", date(2025, 3, 15), 0.5),
    ]


def test_a_month_of_shipments_leaves_in_four_parts(desk: Desk) -> None:
    desk.given(
        "int_units",
        "serial_key varchar, model varchar, quantity bigint, ship_date date, "
        "origin varchar",
        ("S", "M", 80, date(2025, 2, 1), "shipped"),
        ("R", "M", 1, date(2025, 2, 1), "register"),
    )
    desk.given("shipment_lag", "lag_days integer, weight double", (0, 0.25), (28, 0.75))
    desk.run("intermediate/int_stock", {"after": date.min, "as_of": date(2025, 3, 17)})
    rows = desk.rows(
        "select serial_key, sum(weight)::double, min(in_service_date), "
        "max(in_service_date) from int_stock group by serial_key"
    )
    # of the lag of 28 days, the two parts that left after 17 February are unsold
    assert rows == [("S", 20.0 + 30.0, date(2025, 2, 4), date(2025, 3, 11))]


@pytest.mark.parametrize(
    ("part_column", "values"),
    [
        ("supplier", {"A1": "First", "A2": "Second"}),
        ("lot", {"A1": "L1", "A2": "L2"}),
        ("part_no", {"A1": "100", "A2": "200"}),
        ("winding", {"A1": "flat", "A2": "round"}),  # of the fitted part itself
        ("maker's mark", {"A2": "star"}),  # of its part number; A1's first has none
        ("nowhere", {}),
    ],
)
def test_a_unit_carries_the_part_that_was_fitted_first(
    part_column: str, values: dict[str, str], desk: Desk
) -> None:
    desk.given(
        "component_words",
        "text varchar, component varchar",
        ("Motor", "motor"),
        ("motor", "motor"),
    )
    desk.given(
        "parts_known",
        "part_no varchar, extra json",
        ("100", None),
        ("200", '{"maker\'s mark": "star"}'),
    )
    flat, round_ = '{"winding": "flat"}', '{"winding": "round"}'
    desk.given(
        "fitted_parts_known",
        "serial varchar, component varchar, part_no varchar, supplier varchar, "
        "lot varchar, fitted_on date, removed_on date, extra json",
        ("a1", "motor", "200", "Second", "L2", date(2025, 2, 1), None, round_),
        ("A1", "Motor", "100", "First", "L1", date(2025, 1, 1), None, flat),
        ("a2", "motor", "200", "Second", "L2", None, None, round_),
        ("A4", "motor", "100", "Later", "L1", date(2025, 9, 1), None, flat),
        ("A3", "motor", None, None, None, date(2025, 1, 1), None, None),
    )
    desk.run(
        "intermediate/int_carriers",
        {"as_of": date(2025, 6, 30), "part_column": part_column},
    )
    carried = {
        serial: value
        for serial, component, value in desk.rows("select * from int_carriers")
    }
    assert carried == values


def test_costs_keep_their_currency_and_leave_out_refused_claims(desk: Desk) -> None:
    month = datetime(2025, 1, 1)
    desk.given(
        "int_claims",
        "component varchar, reported_on date, currency varchar, cost decimal(18, 4), "
        "claim_class varchar, is_wanted boolean",
        ("motor", date(2025, 1, 3), "EUR", 0.1, "counted", True),
        ("motor", date(2025, 1, 9), "EUR", 0.2, "goodwill", True),
        ("motor", date(2025, 1, 9), "EUR", 5, "denied", True),
        ("motor", date(2025, 1, 9), "EUR", -7, "counted", True),
        ("motor", date(2025, 1, 9), "EUR", None, "counted", True),
        ("motor", date(2025, 1, 9), "CHF", 4, "counted", True),
        ("motor", date(2025, 1, 9), "EUR", 4, "counted", False),
    )
    rows = desk.run("marts/component_costs")
    assert [tuple(row) for row in rows] == [
        ("motor", month, "CHF", 1, 1, 0, 4.0),
        ("motor", month, "EUR", 5, 3, 1, pytest.approx(0.3, abs=1e-15)),
    ]


def test_report_and_failure_months_are_counted_apart(desk: Desk) -> None:
    desk.given(
        "int_claims",
        "reported_on date, failed_on date, claim_class varchar, is_wanted boolean",
        (date(2025, 2, 3), date(2025, 1, 30), "counted", True),
        (date(2025, 2, 4), date(2025, 2, 1), "denied", True),
        (date(2025, 3, 4), date(2025, 3, 1), "counted", False),
    )
    assert desk.run("marts/claims_by_month") == [
        (datetime(2025, 1, 1), 0, 0, 1),
        (datetime(2025, 2, 1), 2, 1, 1),
    ]


def test_lags_of_units_not_yet_sold_cannot_be_seen(desk: Desk) -> None:
    first, sold, failed = date(2025, 1, 1), date(2025, 1, 11), date(2025, 1, 16)
    desk.given(
        "int_units",
        "model varchar, region varchar, left_works_on date, in_service_date date, "
        "claimed_in_service_date date, first_failed_on date, origin varchar",
        ("M", None, first, sold, None, None, "register"),
        ("M", "", first, sold, None, failed, "register"),
        ("M", "South", first, sold, None, None, "register"),
        ("M", "South", first, None, sold, failed, "register"),
        ("M", "", first, date(2025, 3, 1), None, None, "register"),  # not yet
        # before it left the works
        ("M", "", date(2025, 1, 9), date(2025, 1, 5), None, None, "register"),
        ("M", "", None, date(2025, 1, 5), None, None, "register"),
        ("M", "", first, None, sold, failed, "claimed"),
    )
    cut_off = {"as_of": date(2025, 2, 1)}
    rows = desk.run("intermediate/int_sales_lags", {**cut_off, "from_claims": False})
    assert rows == [("M", "", 10, 31, 2), ("M", "South", 10, 31, 1)]
    # a failure at five days of age is seen if the lag left it five days
    rows = desk.run("intermediate/int_sales_lags", {**cut_off, "from_claims": True})
    assert rows == [
        ("M", "", 10, 26, 1),
        ("M", "", 10, 31, 1),
        ("M", "South", 10, 26, 1),
        ("M", "South", 10, 31, 1),
    ]
