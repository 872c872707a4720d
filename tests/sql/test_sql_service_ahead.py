"""SQL about units that are still to come into service: given rows, expected rows."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from sql_desk import Desk

UNITS = (
    "serial_key varchar, in_service_date date, claimed_in_service_date date, "
    "left_works_on date, first_failed_on date, model varchar, region varchar, "
    "origin varchar, quantity bigint, first_component varchar"
)
AS_OF = date(2025, 6, 30)
# shares of the lag of everybody by days, each odd enough to need rounding
LAG = {0: 1 / 7, 7: 2 / 7, 14: 1 / 11, 28: 2 / 7, 70: 1 - 5 / 7 - 1 / 11}


@pytest.fixture
def desk() -> Desk:
    desk = Desk()
    desk.given(
        "sales_lags",
        "lag_group integer, lag_days integer, weight double",
        *[(0, days, weight) for days, weight in LAG.items()],
        *[(1, days, 0.5) for days in (10, 50)],
    )
    desk.given(
        "sales_lag_groups",
        "model varchar, region varchar, lag_group integer",
        ("", "South", 1),
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
    return desk


def unit(
    name: str,
    days_ago: int | None,
    *,
    started: date | None = None,
    claimed: date | None = None,
    failed: date | None = None,
    region: str = "North",
) -> tuple[object, ...]:
    left = None if days_ago is None else AS_OF - timedelta(days=days_ago)
    return (name, started, claimed, left, failed, "M", region, "register", 1, None)


def served(
    desk: Desk, *units: tuple[object, ...], share_dated: float
) -> dict[str, list[tuple[int, float, str]]]:
    """Return days from the cut-off, weight and source of each unit's service."""
    desk.given("int_units", UNITS, *units)
    told = {"as_of": AS_OF, "share_dated": share_dated}
    desk.run("intermediate/int_service", told)
    desk.run("intermediate/int_service_ahead", told)
    found: dict[str, list[tuple[int, float, str]]] = {}
    for name, started, weight, source in desk.rows(
        "select serial_key, in_service_date, weight::double, source from int_service "
        "order by all"
    ):
        assert isinstance(started, date)
        days = (started - AS_OF).days
        found.setdefault(str(name), []).append((days, float(str(weight)), str(source)))
    return found


def sold_by(days: int) -> float:
    return sum(weight for lag, weight in LAG.items() if lag <= days)


@pytest.mark.parametrize("share_dated", [0.0, 0.5, 0.999])
def test_a_unit_without_a_date_is_sold_as_often_as_its_date_was_not_written_down(
    desk: Desk, share_dated: float
) -> None:
    """Bayes: unsold, or sold and missed; what is unsold comes over the rest."""
    ages = (0, 6, 7, 13, 20, 28, 69, 70, 400)
    found = served(desk, *[unit(f"u{n}", n) for n in ages], share_dated=share_dated)
    for n in ages:
        sold = sold_by(n)
        missed = sold * (1 - share_dated)
        chance = missed / (missed + 1 - sold) if sold < 1 - 1e-9 else 1.0
        past = [(days, w) for days, w, source in found[f"u{n}"] if source != "to come"]
        ahead = [(days, w) for days, w, source in found[f"u{n}"] if source == "to come"]
        assert sum(w for _, w in past) == pytest.approx(chance, abs=1e-12)
        assert sum(w for _, w in past + ahead) == pytest.approx(1.0, abs=1e-12)
        assert {days for days, _ in past} == {k - n for k in LAG if k <= n}
        assert {days for days, _ in ahead} == {k - n for k in LAG if k > n}
        for days, weight in ahead:
            assert weight == pytest.approx(
                (1 - chance) * LAG[days + n] / (1 - sold), abs=1e-12
            )


def test_a_unit_dated_after_the_cut_off_is_unsold_at_it(desk: Desk) -> None:
    """Nobody knew its date then: it comes over the rest of its lag, for certain."""
    found = served(
        desk,
        unit("later", 10, started=AS_OF + timedelta(days=200)),
        unit("next day", 10, started=AS_OF + timedelta(days=1)),
        unit("on the day", 10, started=AS_OF),
        share_dated=0.9,
    )
    left = {days: weight for days, weight in LAG.items() if days > 10}
    expected = [
        (days - 10, pytest.approx(weight / sum(left.values()), abs=1e-12), "to come")
        for days, weight in left.items()
    ]
    assert found["later"] == expected
    assert found["next day"] == expected
    assert found["on the day"] == [(0, 1.0, "register")]


def test_a_unit_with_a_claim_is_sold(desk: Desk) -> None:
    """Before the first failure if no date says when; the rest of its lag is void."""
    found = served(
        desk,
        unit("failed", 20, failed=AS_OF - timedelta(days=10)),
        unit("says when", 20, claimed=AS_OF - timedelta(days=15)),
        share_dated=0.5,
    )
    short = LAG[0] + LAG[7]
    assert found["failed"] == [
        (-20, pytest.approx(LAG[0] / short, abs=1e-12), "estimated"),
        (-13, pytest.approx(LAG[7] / short, abs=1e-12), "estimated"),
    ]
    assert found["says when"] == [(-15, 1.0, "claim")]


def test_units_lag_as_their_kind_and_those_not_shipped_yet_stay_out(
    desk: Desk,
) -> None:
    found = served(
        desk,
        unit("south", 20, region="South"),
        unit("not shipped", -3),
        unit("no date at all", None),
        share_dated=0.0,
    )
    assert found == {"south": [(-10, 0.5, "estimated"), (30, 0.5, "to come")]}


def test_shipped_units_of_the_days_to_come_are_added(desk: Desk) -> None:
    desk.given("int_units", UNITS)
    desk.given(
        "int_service",
        "serial_key varchar, in_service_date date, weight decimal(24, 15), "
        "source varchar",
    )
    day = AS_OF + timedelta(days=5)
    desk.connection.execute("insert into int_stock values ('S', 'M', ?, 12.5)", [day])
    desk.run("intermediate/int_service_ahead", {"as_of": AS_OF, "share_dated": 0.5})
    assert desk.rows("select * from int_service") == [
        ("S", day, Decimal("12.5"), "to come")
    ]


def stock(desk: Desk, after: date, as_of: date) -> dict[date, Decimal]:
    desk.run("intermediate/int_stock", {"after": after, "as_of": as_of})
    rows = desk.rows(
        "select in_service_date, sum(weight) from int_stock group by all order by all"
    )
    return {day: Decimal(str(weight)) for day, weight in rows}  # type: ignore[misc]


@pytest.mark.parametrize(
    "cut", [date(2025, 3, 1) + timedelta(days=n) for n in range(8)]
)
def test_stock_before_and_after_a_cut_off_adds_up_to_all(desk: Desk, cut: date) -> None:
    """On whatever day of the week the cut-off falls, to the last digit."""
    desk.given(
        "int_units",
        "serial_key varchar, model varchar, quantity bigint, ship_date date, "
        "origin varchar",
        ("S1", "M", 80, date(2025, 1, 1), "shipped"),
        ("S2", "M", 7, date(2025, 2, 1), "shipped"),
        ("S3", "N", 31, date(2025, 2, 1), "shipped"),
    )
    desk.given(
        "shipment_lag",
        "lag_days integer, weight double",
        *LAG.items(),
    )
    end = date(2026, 1, 1)
    whole = stock(desk, date.min, end)
    past, ahead = stock(desk, date.min, cut), stock(desk, cut, end)
    assert max(past) <= cut < min(ahead)
    assert sum(past.values()) + sum(ahead.values()) == sum(whole.values())
    assert float(sum(whole.values())) == pytest.approx(118)
    # weeks that the cut-off does not touch are the same
    for day, weight in whole.items():
        if abs((day - cut).days) > 7:
            assert (past | ahead)[day] == weight
