"""First failures and unit-months by production, against a recount unit by unit."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from brute_force import MONTH, Oracle, Rules
from fleet_maker import Fleet, Row, random_fleet, workspace_of
from numpy.typing import NDArray
from test_analysis_brute_force import COVER, COVER_RULES, LAG

from claimlens.analysis.production import Grain, Production, count_production
from claimlens.analysis.question import ask
from claimlens.errors import InputError
from claimlens.workspace import Workspace

AS_OF = date(2024, 12, 31)
EARLIER = date(2023, 10, 17)


@contextmanager
def counted(
    workspace: Workspace, grain: Grain = "month", **asked: Any
) -> Iterator[Production]:
    with workspace._reading(ask(**asked)) as (session, scope):
        yield count_production(session, workspace.settings, scope, grain=grain)


def recount(
    oracle: Oracle, production: Production, day: date, start_of: Any
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Count failures and unit-months of each unit, day by day of its service."""
    size = (
        len(production.components),
        len(production.models),
        len(production.built),
        production.n_months,
    )
    failures, months = np.zeros(size), np.zeros(size)
    for unit in oracle.units:
        for started, weight in oracle.starts(unit):
            m = production.models.index(str(unit["model"]))
            b = production.built.get_loc(pd.Timestamp(start_of(unit)))
            for c, component in enumerate(production.components):
                planned = oracle.planned_days(unit, component, started)
                if planned is None:
                    continue
                until = (oracle.reported_to(unit, component, started) - started).days
                last = (day - started).days
                for age, share in watched(oracle, min(planned, last), min(until, last)):
                    months[c, m, b, age] += share * weight
                failed = first_failure(oracle, unit, component, day)
                if failed is None or (failed - started).days > planned:
                    continue
                left = min(until, last) - (failed - started).days
                if oracle.reported[min(left, len(oracle.reported) - 1)] > 0:
                    failures[c, m, b, int((failed - started).days // MONTH)] += weight
    return failures, months


def watched(oracle: Oracle, last: int, until: int) -> Iterator[tuple[int, float]]:
    """Yield month in service and share of a month of each day, as far as reported."""
    for day in range(last + 1):
        chance = oracle.reported[min(until - day, len(oracle.reported) - 1)]
        age = int(day // MONTH)
        # a day may lie in two months
        inside = min(day + 1.0, (age + 1) * MONTH) - day
        yield age, chance * inside / MONTH
        if inside < 1.0:
            yield age + 1, chance * (1.0 - inside) / MONTH


def first_failure(oracle: Oracle, unit: Row, component: str, day: date) -> date | None:
    """Return the day of the first failure, where it was known on a day."""
    claims = [
        (seen.failed, seen.row["reported_on"])
        for seen in oracle.claims_of[str(unit["serial"])]
        if seen.klass == "counted" and seen.component == component
    ]
    if not claims:
        return None
    failed, reported = min(claims)  # type: ignore[type-var]
    return failed if failed <= day and reported <= day else None  # type: ignore[operator]


@pytest.mark.parametrize(
    ("seed", "settings", "rules"),
    [(2, LAG, Rules(lag_claims=5)), (3, COVER, COVER_RULES)],
)
def test_counts_by_build_day_equal_a_recount_unit_by_unit(
    seed: int, settings: str, rules: Rules, tmp_path: Path
) -> None:
    fleet = random_fleet(seed, n_units=70)
    workspace = workspace_of(fleet, tmp_path / "ws", settings)
    oracle = Oracle(fleet, AS_OF, rules)
    assert len(oracle.reported) > 1, "late reports must weigh in this test"
    with counted(workspace, "day", as_of=AS_OF) as production:
        for day in (AS_OF, EARLIER):
            standing = production.at(day)
            failures, months = recount(
                oracle, production, day, lambda unit: unit["build_date"]
            )
            np.testing.assert_allclose(standing.failures, failures, atol=1e-12)
            np.testing.assert_allclose(standing.unit_months, months, atol=1e-9)
        assert failures.sum() > 3
        assert months.sum() > 100


def test_counts_by_build_month_are_close_to_a_recount(tmp_path: Path) -> None:
    """Units that went into service in one month share their mean days."""
    fleet = random_fleet(4, n_units=250)
    workspace = workspace_of(fleet, tmp_path / "ws", LAG)
    oracle = Oracle(fleet, AS_OF, Rules(lag_claims=5))
    with counted(workspace, as_of=AS_OF) as production:
        standing = production.at(AS_OF)
        failures, months = recount(
            oracle, production, AS_OF, lambda unit: unit["build_date"].replace(day=1)
        )
        np.testing.assert_allclose(standing.failures, failures, atol=1e-12)
        assert standing.unit_months.sum() == pytest.approx(months.sum(), rel=1e-3)
        by_build = standing.unit_months.sum(axis=(1, 3)), months.sum(axis=(1, 3))
        np.testing.assert_allclose(*by_build, rtol=0.02, atol=0.05)
        built = production.n_units.sum(axis=0)
        first = production.built[0].date().replace(day=1)
        in_service = [u for u in oracle.units if u["in_service_date"] <= AS_OF]
        own = [u for u in in_service if u["build_date"].replace(day=1) == first]
        # a unit whose retirement lies before its first day is never watched
        assert abs(built[0] - len(own)) <= 1


def test_weeks_and_lots_hold_the_same_units_as_months(tmp_path: Path) -> None:
    fleet = random_fleet(6, n_units=120)
    for number, unit in enumerate(fleet.units):
        unit["build_lot"] = f"L{number % 9}"
    workspace = workspace_of(fleet, tmp_path / "ws", LAG)
    totals = []
    grains: tuple[Grain, ...] = ("month", "week", "lot", "day")
    for grain in grains:
        with counted(workspace, grain, as_of=AS_OF) as production:
            standing = production.at(AS_OF)
            totals.append(
                (
                    production.n_units.sum(),
                    standing.failures.sum(),
                    standing.unit_months.sum(),
                )
            )
            if grain == "week":
                assert (production.built.day_of_week == 0).all()
            if grain == "lot":
                firsts = {
                    min(u["build_date"] for u in fleet.units[k::9]) for k in range(9)
                }
                assert set(production.built.date) == firsts
    for other in totals[1:]:
        assert other == pytest.approx(totals[0], rel=1e-3)


def test_undated_units_count_by_their_chance_of_being_in_service(
    tmp_path: Path,
) -> None:
    workspace = workspace_of(
        random_fleet(7, n_units=150, undated=0.3), tmp_path / "ws", LAG
    )
    [units] = workspace.rates(by=(), at=1, as_of=AS_OF)["units"]
    with counted(workspace, as_of=AS_OF) as production:
        assert production.n_units.sum() == pytest.approx(units, abs=0.5 + 1e-9)
        assert production.n_guessed == 0


def test_units_without_a_build_date_stand_where_they_left_the_works(
    tmp_path: Path,
) -> None:
    fleet = random_fleet(8, n_units=60)
    lags = sorted((u["in_service_date"] - u["build_date"]).days for u in fleet.units)
    no_build, no_date = fleet.units[0], fleet.units[1]
    dated = [u for u in fleet.units if u not in (no_build, no_date)]
    lags = [(u["in_service_date"] - u["build_date"]).days for u in dated]
    no_build["build_date"] = None
    no_date["build_date"] = no_date["ship_date"] = None
    workspace = workspace_of(fleet, tmp_path / "ws", LAG)
    with counted(workspace, "day", as_of=date(2026, 1, 1)) as production:
        assert production.n_guessed == 2
        guessed = production.units[production.units["n_guessed"] > 0]
        median = int(np.round(np.median(lags)))
        assert set(guessed["built_on"].dt.date) == {
            no_build["ship_date"],
            no_date["in_service_date"] - timedelta(days=median),
        }


def test_filters_ask_for_some_units_or_components(tmp_path: Path) -> None:
    fleet = random_fleet(9, n_units=120)
    workspace = workspace_of(fleet, tmp_path / "ws", LAG)
    with counted(workspace, as_of=AS_OF) as production:
        whole = production.at(AS_OF)
        models, components = production.models, production.components
    with counted(workspace, as_of=AS_OF, model="Trike") as production:
        assert production.models == ("Trike",)
        own = production.at(AS_OF).failures.sum()
        assert own == whole.failures[:, models.index("Trike")].sum()
    with counted(workspace, as_of=AS_OF, component="display") as production:
        assert production.components == ("display",)
        own = production.at(AS_OF).failures.sum()
        assert own == whole.failures[components.index("display")].sum()


def test_what_production_cannot_tell_is_refused(tmp_path: Path) -> None:
    fleet = random_fleet(6, n_units=20, suppliers=True)
    workspace = workspace_of(fleet, tmp_path / "ws")
    with (
        pytest.raises(InputError, match="not told apart by supplier"),
        counted(workspace, as_of=AS_OF, supplier="Pinewright"),
    ):
        pass
    bare = workspace_of(Fleet(units=[], claims=fleet.claims), tmp_path / "bare")
    with (
        pytest.raises(InputError, match="no unit register"),
        counted(bare, as_of=AS_OF),
    ):
        pass
