"""Forecasts of data that lack something: an answer that holds, or a plain refusal."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fleet_maker import Fleet, Row, workspace_of, write_csv
from forecast_maker import AS_OF, PLAIN, small_fleet
from rising_maker import add_claim

from claimlens.analysis.forecast_counts import count_ahead
from claimlens.analysis.question import ask
from claimlens.errors import InputError
from claimlens.workspace import Workspace

LIMITS = ["lower95", "lower80", "upper80", "upper95"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "ws"


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    return workspace_of(small_fleet(), tmp_path_factory.mktemp("whole") / "ws", PLAIN)


@pytest.fixture(scope="module")
def usual(whole: Workspace) -> pd.Series:
    """Return the claims of a year to come of the whole fleet, by component."""
    return by_component(whole)


def by_component(workspace: Workspace, as_of: date = AS_OF) -> pd.Series:
    """Return the claims of a year to come."""
    table = workspace.forecast(by="component", as_of=as_of, total=True)
    assert (table["claims"] >= 0).all()
    assert (np.diff(table[LIMITS].to_numpy(), axis=1) >= 0).all()
    return table.set_index("component")["claims"]


def refused(workspace: Workspace, *said: str, **asked: object) -> None:
    with pytest.raises(InputError) as caught:
        workspace.forecast(**{"as_of": AS_OF} | asked)  # type: ignore[arg-type]
    for words in said:
        assert words in str(caught.value)


def test_claims_without_units_are_refused(folder: Path) -> None:
    made = small_fleet()
    alone = Fleet(units=[], claims=made.claims, labels=made.labels)
    refused(
        workspace_of(alone, folder, PLAIN),
        "No unit in sight has a day in service",
        "load a unit register or shipments by month",
    )


def test_units_without_cover_are_refused_with_the_reason(folder: Path) -> None:
    settings = PLAIN.replace("24", "0")
    refused(workspace_of(small_fleet(), folder, settings), "under cover", "coverage in")


def test_no_claim_under_cover_is_refused(folder: Path, whole: Workspace) -> None:
    made = small_fleet()
    for claim in made.claims:
        claim["status"] = "denied"
    said = ("No claim in sight is under cover", "claimlens.toml")
    refused(workspace_of(made, folder, PLAIN), *said)
    refused(whole, *said, component="frame")


def test_next_to_no_time_under_cover_is_refused(folder: Path) -> None:
    """Fifty units three days old and a claim: that tells no rate a month."""
    started = date(2025, 6, 1)
    units: list[Row] = [
        {
            "serial": f"S{n}",
            "model": "Trike",
            "model_year": 2025,
            "ship_date": started - timedelta(days=12),
            "in_service_date": started,
        }
        for n in range(50)
    ]
    made = Fleet(units=units, claims=[])
    add_claim(made, units[0], "motor", started, started)
    workspace = workspace_of(made, folder, PLAIN)
    refused(workspace, "under cover for 0.0 months", "12 are", as_of="2025-06-03")
    # a month on, one claim in 50 unit-months is about one a month
    later = workspace.forecast(as_of="2025-06-30", months=6)
    assert later["claims"].between(0.3, 2.5).all()


def test_a_fleet_whose_covers_have_all_ended_has_nothing_to_come(
    whole: Workspace,
) -> None:
    table = whole.forecast(as_of="2026-06-30", months=3)
    np.testing.assert_allclose(table["claims"], 0.0, atol=1e-9)
    assert (table["upper95"] < 1).all()
    assert table["note"].str.startswith("0 units under cover, 0 shipped").all()


def test_one_component_alone_is_forecast_much_as_among_the_others(
    whole: Workspace,
    usual: pd.Series,
) -> None:
    assert sorted(usual.index) == ["display", "motor", "rear light"]
    for component in ("motor", "rear light"):
        alone = whole.forecast(as_of=AS_OF, component=component, total=True)
        assert alone["claims"][0] == pytest.approx(usual[component], rel=0.2)


def test_one_model_alone_has_its_part(whole: Workspace) -> None:
    parts = whole.forecast(as_of=AS_OF, by="model", total=True)["claims"]
    alone = whole.forecast(as_of=AS_OF, model="Trike", total=True)["claims"][0]
    assert alone == pytest.approx(parts[1], rel=0.2)


def test_a_component_with_a_cover_of_its_own_is_counted_under_it(
    folder: Path, whole: Workspace
) -> None:
    """Units are counted once, under the longest cover in use; claims by their own."""
    own = '[[coverage.terms]]\ncomponent = "motor"\nmonths = {}\n'
    longer = workspace_of(small_fleet(), folder / "36", PLAIN + own.format(36))
    shorter = workspace_of(small_fleet(), folder / "6", PLAIN + own.format(6))
    tables = [
        each.forecast(by="component", as_of=AS_OF, total=True)
        for each in (whole, longer, shorter)
    ]
    plain, more, less = (table.set_index("component")["claims"] for table in tables)
    assert more["motor"] > 1.2 * plain["motor"] > 3 * less["motor"]
    for component in ("display", "rear light"):
        assert more[component] == pytest.approx(plain[component], rel=0.05)
    told = [units_told(table) for table in tables]
    in_service = sum(
        unit["in_service_date"] <= AS_OF  # type: ignore[operator]
        for unit in small_fleet().units
    )
    assert told[2] == told[0] < told[1] <= in_service
    display = longer.forecast(as_of=AS_OF, component="display", months=1)
    assert units_told(display) == told[0]


def units_told(table: pd.DataFrame) -> int:
    """Return how many units a forecast says are under cover."""
    return int(table["note"][0].split(" units under cover")[0].replace(",", ""))


def test_a_limit_by_distance_takes_away_what_lies_beyond_it(folder: Path) -> None:
    """2,000 km at 2,000 a year in the middle: half a year's units are through it."""
    made = small_fleet()
    limited = PLAIN + ("distance = {}\nusage = [{{ per_year = 2000, spread = 0.5 }}]\n")
    far = workspace_of(made, folder / "far", limited.format(2_000_000))
    near = workspace_of(made, folder / "near", limited.format(2_000))
    free, within = (
        each.forecast(as_of=AS_OF, total=True)["claims"][0] for each in (far, near)
    )
    # the claims are the same, so fewer units have a higher rate: less is lost
    assert 0.6 * free < within < 0.97 * free


def test_a_retirement_counts_from_the_day_on_which_it_was_known(
    folder: Path, usual: pd.Series
) -> None:
    made = small_fleet()
    for unit in made.units:
        unit["retired_on"] = AS_OF + timedelta(days=1)
    retired = workspace_of(made, folder, PLAIN)
    pd.testing.assert_series_equal(by_component(retired), usual)
    after = AS_OF + timedelta(days=31)
    assert by_component(retired, after).sum() < 0.2 * usual.sum()


def test_claims_of_a_component_that_never_name_a_unit_are_forecast_too(
    folder: Path, usual: pd.Series
) -> None:
    """Its claims carry the number of the part, say; units failed all the same."""
    made = small_fleet()
    component = {label["claim_no"]: label["component"] for label in made.labels}
    for claim in made.claims:
        if component[claim["claim_no"]] == "display":
            claim["serial"] = None
    found, expected = by_component(workspace_of(made, folder, PLAIN)), usual
    assert (found / expected).between(0.8, 1.25).all()


def test_claims_that_never_name_a_unit_are_forecast_from_the_units_there_are(
    folder: Path, usual: pd.Series
) -> None:
    made = small_fleet()
    for claim in made.claims:
        claim["serial"] = None
    found = by_component(workspace_of(made, folder, PLAIN))
    assert found.sum() == pytest.approx(usual.sum(), rel=0.2)


def test_a_register_that_misses_most_dates_forecasts_as_one_that_has_them(
    folder: Path, usual: pd.Series
) -> None:
    made = small_fleet()
    for number, unit in enumerate(made.units):
        if number % 10 < 7:
            unit["in_service_date"] = None
    workspace = workspace_of(made, folder, PLAIN)
    assert by_component(workspace).sum() == pytest.approx(usual.sum(), rel=0.07)
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        found = count_ahead(session, workspace.settings, scope, by=(), months=3)
    assert found.claims["n_claims"].sum() == pytest.approx(len(made.claims))
    assert found.units["n_units"].sum() == pytest.approx(
        sum(unit["ship_date"] <= AS_OF for unit in made.units)  # type: ignore[operator]
    )


def test_the_order_of_the_rows_changes_no_number(
    folder: Path, whole: Workspace
) -> None:
    made = small_fleet()
    for rows in (made.units, made.claims, made.labels):
        rows.reverse()
    mixed = workspace_of(made, folder, PLAIN)
    asked = {"by": "model,component", "as_of": AS_OF, "months": 3}
    pd.testing.assert_frame_equal(
        mixed.forecast(**asked),  # type: ignore[arg-type]
        whole.forecast(**asked),  # type: ignore[arg-type]
        check_exact=True,
    )


@pytest.mark.parametrize("dated", [True, False])
def test_shipments_by_month_forecast_as_the_register_does(
    dated: bool, folder: Path, usual: pd.Series
) -> None:
    """With in-service dates in the claims, and with none at all."""
    made = small_fleet()
    units = {unit["serial"]: unit for unit in made.units}
    for claim in made.claims:
        unit = units[claim["serial"]]
        claim["model"], claim["model_year"] = unit["model"], unit["model_year"]
        claim["in_service_date"] = unit["in_service_date"] if dated else None
    shipped = pd.DataFrame(made.units)
    months = pd.to_datetime(shipped["ship_date"]).dt.to_period("M")
    sums = shipped.assign(month=months.dt.start_time.dt.date).groupby(
        ["model", "model_year", "month"]
    )
    claims = Fleet(units=[], claims=made.claims, labels=made.labels)
    settings = PLAIN + "[shipments]\nsales_lag_months = 0.66\n"
    workspace = workspace_of(claims, folder, settings, load=False)
    write_csv(
        workspace.inbox / "shipments.csv",
        sums.size().rename("quantity").reset_index().to_dict("records"),
    )
    workspace.ingest()
    found, expected = by_component(workspace), usual
    assert found.sum() == pytest.approx(expected.sum(), rel=0.15)
    assert (found / expected).between(0.7, 1.3).all()
