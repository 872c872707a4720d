"""Rates and counts against a second opinion that counts unit by unit."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import combinations
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from brute_force import Oracle, Rules, rate_of
from fleet_maker import Fleet, random_fleet, workspace_of

from claimlens.workspace import Workspace

AGES = [1, 3, 6, 12, 18, 24]
FIGURES = (
    "units",
    "units_old_enough",
    "claims",
    "repeats",
    "rate",
    "lower",
    "upper",
    "effective_n",
    "plain_rate",
    "plain_lower",
    "plain_upper",
)
WHOLE = FIGURES[:4]
GROUPS = ("model", "model_year", "component", "region", "generation", "build_month")

LAG = """
[rates]
lag_claims = 5
"""
COVER = """
[rates]
lag_claims = 5
[coverage]
months = 24
[[coverage.terms]]
model = "Scooter"
months = 12
[[coverage.terms]]
component = "battery pack"
months = 36
[[coverage.terms]]
component = "battery pack"
region = "South"
months = 30
[[coverage.terms]]
component = "rear light"
months = 0
"""
COVER_RULES = Rules(
    lag_claims=5,
    terms=[
        {"model": "Scooter", "months": 12},
        {"component": "battery pack", "months": 36},
        {"component": "battery pack", "region": "South", "months": 30},
        {"component": "rear light", "months": 0},
    ],
)


def cell(value: Any) -> object:
    """Return a cell as the oracle writes it."""
    if pd.isna(value):
        return None
    if isinstance(value, pd.Timestamp):
        return value.date()
    return value


def assert_same(
    table: pd.DataFrame, oracle: Oracle, by: tuple[str, ...], *, slack: float = 0.0
) -> int:
    """Compare every row and figure; return the number of rows."""
    segments = oracle.segments(by)
    wanted = {}
    for segment in segments:
        histories = oracle.histories(segment)
        for age in AGES:
            key = (*(segment[name] for name in by), float(age))
            wanted[key] = rate_of(histories, age)
    seen = {}
    for row in table.to_dict("records"):
        key = (*(cell(row[name]) for name in by), float(row["at_months"]))
        assert key not in seen, f"{key} stands twice"
        seen[key] = row
    assert set(seen) == set(wanted)
    for key, figures in wanted.items():
        for name in FIGURES:
            got, right = cell(seen[key][name]), figures[name]
            if name in WHOLE:
                # weights of undated units add up to parts of units; shown whole
                assert abs(got - right) <= slack, f"{key} {name}"
            elif right is None or got is None:
                assert got is None, f"{key} {name}: {got}, not {right}"
                assert right is None, f"{key} {name}: {got}, not {right}"
            else:
                assert got == pytest.approx(right, abs=1e-9), f"{key} {name}"
    return len(wanted)


@pytest.mark.parametrize("seed", range(2))
def test_rates_equal_a_count_unit_by_unit(seed: int, tmp_path: Path) -> None:
    fleet = random_fleet(seed)
    workspace = workspace_of(fleet, tmp_path / "ws", LAG)
    as_of = date(2024, 3 + 2 * seed, 17)
    oracle = Oracle(fleet, as_of, Rules(lag_claims=5))
    assert len(oracle.reported) > 1, "late reports must weigh in this test"
    questions: list[tuple[str, ...]] = [(), *((name,) for name in GROUPS)]
    pairs = list(combinations(GROUPS, 2))
    questions += [pairs[(seed * 4 + k) % len(pairs)] for k in range(4)]
    questions += [("failure_mode",), ("component", "failure_mode", "model")]
    total = 0
    for by in questions:
        table = workspace.rates(by=by, at=AGES, as_of=as_of)
        total += assert_same(table, oracle, by)
    assert total > 200


@pytest.mark.parametrize("seed", [10])
def test_rates_follow_cover_by_model_component_and_region(
    seed: int, tmp_path: Path
) -> None:
    fleet = random_fleet(seed)
    workspace = workspace_of(fleet, tmp_path / "ws", COVER)
    as_of = date(2025, 1, 31)
    oracle = Oracle(fleet, as_of, COVER_RULES)
    for by in (
        (),
        ("component",),
        ("model", "component"),
        ("region", "component"),
        ("model",),
        ("region", "generation"),
    ):
        assert_same(workspace.rates(by=by, at=AGES, as_of=as_of), oracle, by)


@pytest.fixture(scope="module")
def covered(tmp_path_factory: pytest.TempPathFactory) -> tuple[Fleet, Workspace]:
    """Return a fleet with terms of cover, loaded once for all filters."""
    fleet = random_fleet(21)
    folder = tmp_path_factory.mktemp("covered") / "ws"
    return fleet, workspace_of(fleet, folder, COVER)


@pytest.mark.parametrize(
    "filters",
    [
        {"model": ["Trike"]},
        {"region": ["South"], "model_year": ["2023"]},
        {"component": ["battery pack"]},
        {"component": ["motor", "display"]},
        {"component": ["rear light"], "model": ["Scooter"]},
    ],
)
def test_filters_ask_for_some_units_or_some_failures(
    filters: dict[str, list[str]], covered: tuple[Fleet, Workspace]
) -> None:
    fleet, workspace = covered
    as_of = date(2024, 12, 31)
    oracle = Oracle(fleet, as_of, COVER_RULES, filters)
    for by in ((), ("component",), ("model",), ("component", "region")):
        table = workspace.rates(by=by, at=AGES, as_of=as_of, **filters)
        assert_same(table, oracle, by)


def test_the_settings_say_what_counts(tmp_path: Path) -> None:
    settings = """
[coverage]
months = 18
late_report_days = 10
[counting]
no_fault_found = true
goodwill = true
outside_coverage = true
same_event_days = 0
predelivery_tolerance_days = 4
"""
    rules = Rules(
        months=18,
        late_report_days=10,
        same_event_days=0,
        tolerance_days=4,
        counted_too=("no fault found", "goodwill", "outside coverage"),
    )
    fleet = random_fleet(33)
    workspace = workspace_of(fleet, tmp_path / "ws", settings)
    as_of = date(2025, 2, 28)
    oracle = Oracle(fleet, as_of, rules)
    for by in ((), ("component",), ("model", "component")):
        assert_same(workspace.rates(by=by, at=AGES, as_of=as_of), oracle, by)


def test_undated_units_stand_for_every_possible_date(tmp_path: Path) -> None:
    """Two sales lags, 10 and 40 days, told by dated units of which all are sold."""
    fleet = random_fleet(5, n_units=160)
    for number, unit in enumerate(fleet.units):
        lag = 10 if number % 4 == 0 else 40
        unit["in_service_date"] = unit["ship_date"] + timedelta(days=lag)
        if number % 3 == 0:
            unit["in_service_date"] = None
    as_of = date(2025, 3, 31)
    dated = [u for u in fleet.units if u["in_service_date"] is not None]

    def share(among: list[dict[str, object]], base: float | None = None) -> float:
        short = sum((u["in_service_date"] - u["ship_date"]).days == 10 for u in among)
        if base is None:
            return short / len(among)
        return (short + 50 * base) / (len(among) + 50)

    def lags_of(unit: dict[str, object]) -> dict[int, float]:
        regional = [u for u in dated if u["region"] == unit["region"]]
        own = [u for u in regional if u["model"] == unit["model"]]
        short = share(own, share(regional, share(dated)))
        return {10: short, 40: 1 - short}

    workspace = workspace_of(fleet, tmp_path / "ws", LAG)
    lags = {10: share(dated), 40: 1 - share(dated)}
    oracle = Oracle(fleet, as_of, Rules(lag_claims=5), lags=lags, lags_of=lags_of)
    for by in ((), ("component",), ("model", "region")):
        table = workspace.rates(by=by, at=AGES, as_of=as_of)
        # one half for showing a sum of parts as a whole number
        assert_same(table, oracle, by, slack=0.5 + 1e-9)
    note = workspace.rates(by=(), at=12, as_of=as_of)["note"].item()
    assert "54 units with an estimated in-service date" in note


@pytest.mark.parametrize("filters", [{}, {"supplier": ["Orla Cells"]}])
def test_suppliers_answer_for_the_parts_they_have_out(
    filters: dict[str, list[str]], tmp_path: Path
) -> None:
    fleet = random_fleet(6, suppliers=True)
    workspace = workspace_of(fleet, tmp_path / "ws", COVER)
    as_of = date(2025, 3, 31)
    oracle = Oracle(fleet, as_of, COVER_RULES)
    for by in (("supplier",), ("supplier", "component"), ("model", "supplier")):
        table = workspace.rates(by=by, at=AGES, as_of=as_of, **filters)
        known = table[table["units"] > 0]
        assert set(known["supplier"]) == set(
            filters.get("supplier", ["Orla Cells", "Pinewright"])
        )
        for row in known.to_dict("records"):
            segment = {name: row[name] for name in by}
            right = oracle.rate(segment, row["at_months"])
            for name in FIGURES:
                if right[name] is None:
                    assert cell(row[name]) is None
                else:
                    assert row[name] == pytest.approx(right[name], abs=1e-9)


def test_a_supplier_filter_needs_no_supplier_group(tmp_path: Path) -> None:
    fleet = random_fleet(6, suppliers=True)
    workspace = workspace_of(fleet, tmp_path / "ws")
    as_of = date(2025, 3, 31)
    wanted = {"supplier": ["Orla Cells"]}
    one = workspace.rates(by="component", at=AGES, as_of=as_of, **wanted)
    two = workspace.rates(
        by=("component", "supplier"), at=AGES, as_of=as_of, **wanted
    ).drop(columns="supplier")
    pd.testing.assert_frame_equal(one, two)
