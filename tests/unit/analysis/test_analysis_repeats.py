"""Repeats against a recount unit by unit, their edges, and the list of units."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from brute_force import Oracle, Rules
from fleet_maker import Fleet, Row, random_fleet, shuffled, workspace_of
from repeat_recount import Recount

from claimlens import handover
from claimlens.analysis.repeat_units import UNIT_COLUMNS
from claimlens.analysis.repeats import REPEAT_COLUMNS
from claimlens.errors import InputError
from claimlens.workspace import Workspace

AS_OF = date(2024, 12, 31)
LAG = """
[rates]
lag_claims = 5
"""
COVER = f"""{LAG}
[coverage]
months = 24
[[coverage.terms]]
component = "battery pack"
months = 36
[[coverage.terms]]
component = "motor"
months = 12
"""
COVER_RULES = Rules(
    lag_claims=5,
    terms=[
        {"component": "battery pack", "months": 36},
        {"component": "motor", "months": 12},
    ],
)
WHOLE = ("units", "events", "repairs_followed", "repeated_30", "repeated_90")


def repeating_fleet(seed: int, **more: Any) -> Fleet:
    """Draw a fleet in which repairs often do not hold."""
    rng = np.random.default_rng([20240607, seed])
    fleet = random_fleet(seed, **more)
    labels = {label["claim_no"]: label for label in fleet.labels}
    for claim in list(fleet.claims):
        day = claim["failed_on"]
        while day is not None and rng.random() < 0.4:
            day = day + timedelta(days=int(rng.integers(1, 130)))  # type: ignore[operator]
            number = f"D{len(fleet.claims):04d}"
            again = {
                **claim,
                "claim_no": number,
                "failed_on": day,
                "reported_on": day + timedelta(days=int(rng.integers(0, 60))),
                "cost_total": f"{rng.integers(5, 400)}.25",
            }
            fleet.claims.append(again)
            label = labels.get(claim["claim_no"])
            if label is not None:
                fleet.labels.append({**label, "claim_no": number})
    return fleet


def cell(value: Any) -> Any:
    return None if pd.isna(value) else value


def assert_same(
    table: pd.DataFrame,
    oracle: Oracle,
    by: tuple[str, ...],
    *,
    slack: float = 0.0,
) -> int:
    """Compare every figure of every row; return the number of rows."""
    recount = Recount(oracle)
    for row in table.to_dict("records"):
        segment = {name: cell(row[name]) for name in by}
        for name, right in recount.row(segment, row["at_months"]).items():
            got, where = cell(row[name]), f"{segment} {row['at_months']} {name}"
            if name in WHOLE or name == "after_repair":
                assert abs(got - right) <= slack, f"{where}: {got}, not {right}"  # type: ignore[operator]
            elif right is None or got is None:
                assert got is None, f"{where}: {got}, not {right}"
                assert right is None, f"{where}: {got}, not {right}"
            else:
                assert got == pytest.approx(right, rel=1e-8, abs=1e-11), where
    return len(table)


@pytest.mark.parametrize("seed", [0, 1])
def test_every_figure_equals_a_recount_unit_by_unit(seed: int, tmp_path: Path) -> None:
    fleet = repeating_fleet(seed, n_units=70)
    workspace = workspace_of(fleet, tmp_path / "ws", LAG)
    oracle = Oracle(fleet, AS_OF, Rules(lag_claims=5))
    assert len(oracle.reported) > 1, "late reports must weigh in this test"
    total, n_shares = 0, 0
    for by in (("component",), (), ("model", "component"), ("failure_mode",)):
        table = workspace.repeats(by=by, at=[6, 24], as_of=AS_OF)
        n_shares += int(table["repeat_90"].notna().sum())
        assert set(oracle_keys(oracle, by)) == set(keys_of(table, by))
        total += assert_same(table, oracle, by)
    assert total > 25
    assert n_shares >= 2


def oracle_keys(oracle: Oracle, by: tuple[str, ...]) -> list[tuple[object, ...]]:
    return [tuple(one[name] for name in by) for one in oracle.segments(by)]


def keys_of(table: pd.DataFrame, by: tuple[str, ...]) -> list[tuple[object, ...]]:
    return [tuple(cell(row[name]) for name in by) for row in table.to_dict("records")]


def test_each_component_is_followed_on_its_own_cover(tmp_path: Path) -> None:
    fleet = repeating_fleet(2, n_units=60)
    workspace = workspace_of(fleet, tmp_path / "ws", COVER)
    oracle = Oracle(fleet, AS_OF, COVER_RULES)
    for by in (("component",), ("model",), ("component", "region")):
        assert_same(workspace.repeats(by=by, at=[12], as_of=AS_OF), oracle, by)


@pytest.mark.parametrize(
    "filters",
    [
        {"component": ["battery pack"]},
        {"component": ["motor", "display"], "model": ["Trike"]},
    ],
)
def test_filters_ask_for_some_units_or_some_repairs(
    filters: dict[str, list[str]], tmp_path: Path
) -> None:
    fleet = repeating_fleet(3, n_units=60)
    workspace = workspace_of(fleet, tmp_path / "ws", COVER)
    oracle = Oracle(fleet, AS_OF, COVER_RULES, filters)
    for by in ((), ("component",)):
        table = workspace.repeats(by=by, at=[12], as_of=AS_OF, **filters)
        assert_same(table, oracle, by)


def test_undated_units_stand_for_every_possible_date(tmp_path: Path) -> None:
    """Two sales lags, 10 and 40 days, told by dated units of which all are sold."""
    fleet = repeating_fleet(5, n_units=90)
    for number, unit in enumerate(fleet.units):
        lag = 10 if number % 4 == 0 else 40
        unit["in_service_date"] = unit["ship_date"] + timedelta(days=lag)  # type: ignore[operator]
        unit |= {"model": "Trike", "region": "North"}  # one group, one sales lag
        if number % 3 == 0:
            unit["in_service_date"] = None
    dated = [u for u in fleet.units if u["in_service_date"] is not None]
    short = sum((u["in_service_date"] - u["ship_date"]).days == 10 for u in dated)  # type: ignore[operator]
    lags = {10: short / len(dated), 40: 1 - short / len(dated)}
    workspace = workspace_of(fleet, tmp_path / "ws", LAG)
    as_of = date(2025, 3, 31)
    oracle = Oracle(fleet, as_of, Rules(lag_claims=5), lags=lags)
    table = workspace.repeats(by=("component",), at=[12], as_of=as_of)
    # one half for showing a sum of parts as a whole number
    assert_same(table, oracle, ("component",), slack=0.5 + 1e-9)
    assert "units with an estimated in-service date" in table["note"].iloc[0]


@pytest.mark.parametrize("by", [("supplier",), ("supplier", "component")])
def test_suppliers_answer_for_the_parts_they_have_out(
    by: tuple[str, ...], tmp_path: Path
) -> None:
    fleet = repeating_fleet(6, n_units=70, suppliers=True)
    workspace = workspace_of(fleet, tmp_path / "ws", COVER)
    oracle = Oracle(fleet, AS_OF, COVER_RULES)
    table = workspace.repeats(by=by, at=[12], as_of=AS_OF)
    known = table[table["units"] > 0]
    assert set(known["supplier"]) == {"Orla Cells", "Pinewright"}
    assert_same(known, oracle, by)
    of_one = workspace.repeats(by=by, at=[12], as_of=AS_OF, supplier="Pinewright")
    theirs = table[table["supplier"] == "Pinewright"].reset_index(drop=True)
    # notes on the fleet as a whole depend on the filter
    pd.testing.assert_frame_equal(
        of_one.drop(columns="note"), theirs.drop(columns="note")
    )


def test_a_supplier_filter_needs_no_supplier_group(tmp_path: Path) -> None:
    fleet = repeating_fleet(6, n_units=70, suppliers=True)
    workspace = workspace_of(fleet, tmp_path / "ws", LAG)
    wanted = {"supplier": "Orla Cells"}
    one = workspace.repeats(by="component", at=12, as_of=AS_OF, **wanted)
    two = workspace.repeats(by="component,supplier", at=12, as_of=AS_OF, **wanted)
    pd.testing.assert_frame_equal(one, two.drop(columns="supplier"))


def test_the_order_of_rows_changes_no_byte(tmp_path: Path) -> None:
    fleet = repeating_fleet(8, n_units=60, undated=0.3)
    one = workspace_of(fleet, tmp_path / "a", LAG)
    two = workspace_of(shuffled(fleet, 1), tmp_path / "b", LAG)
    for by in ("component", "model"):
        mine, theirs = (
            handover.to_csv(ws.repeats(by=by, at=[6, 12], as_of=AS_OF))
            for ws in (one, two)
        )
        assert mine == theirs


def test_what_came_after_the_cut_off_changes_no_byte(tmp_path: Path) -> None:
    fleet = repeating_fleet(9, n_units=60)
    before = workspace_of(fleet, tmp_path / "a", LAG)
    later = AS_OF + timedelta(days=1)
    serials = [row["serial"] for row in fleet.units]
    for number, serial in enumerate(serials):
        fleet.claims.append(claim(number, 0, 0) | {"serial": serial, **_on(later)})
        fleet.units.append(unit(number, in_service_date=later))
    after = workspace_of(fleet, tmp_path / "b", LAG)
    for call in (
        lambda ws: ws.repeats(at=[6, 12], as_of=AS_OF),
        lambda ws: ws.repeat_units(least=2, as_of=AS_OF),
    ):
        assert handover.to_csv(call(before)) == handover.to_csv(call(after))


def _on(day: date) -> Row:
    return {"failed_on": day, "reported_on": day}


def unit(number: int, **more: object) -> Row:
    return {
        "serial": f"U{number:03d}",
        "model": "Trike",
        "model_year": 2022,
        "build_date": date(2022, 1, 1),
        "ship_date": date(2022, 1, 10),
        "in_service_date": date(2022, 2, 1),
        **more,
    }


def claim(number: int, serial: int, day: int, **more: object) -> Row:
    failed = date(2022, 2, 1) + timedelta(days=day)
    return {
        "claim_no": f"C{number:03d}",
        "serial": f"U{serial:03d}",
        "failed_on": failed,
        "reported_on": failed,
        "status": "closed",
        "cost_total": "100.00",
        "currency": "EUR",
        **more,
    }


def small(
    tmp_path: Path, claims: list[Row], n_units: int = 40, settings: str = ""
) -> Workspace:
    """Return units of one day and their claims, all for the motor."""
    labels = [
        {
            "claim_no": row["claim_no"],
            "component": "motor",
            "failure_mode": "worn",
            "reviewer": "R. Viewer",
            "reviewed_on": row["reported_on"],
        }
        for row in claims
    ]
    fleet = Fleet([unit(i) for i in range(n_units)], claims, labels=labels)
    return workspace_of(fleet, tmp_path / "ws", settings)


def only(table: pd.DataFrame) -> dict[str, Any]:
    assert len(table) == 1
    return table.to_dict("records")[0]


def test_columns_are_those_documented(tmp_path: Path) -> None:
    workspace = small(tmp_path, [claim(1, 1, 30)])
    table = workspace.repeats(as_of="2023-06-30")
    assert list(table.columns) == ["component", *REPEAT_COLUMNS]
    assert table["at_months"].tolist() == [12.0, 24.0]
    assert list(workspace.repeat_units().columns) == list(UNIT_COLUMNS)


def test_few_repairs_give_counts_and_the_reason(tmp_path: Path) -> None:
    claims = [claim(1, 1, 30), claim(2, 1, 50), claim(3, 2, 90)]
    row = only(small(tmp_path, claims).repeats(at=12, as_of="2023-12-31"))
    assert (row["repairs_followed"], row["repeated_30"]) == (3, 1)
    assert np.isnan([row["repeat_30"], row["repeat_90"], row["first_time_fix"]]).all()
    assert "3 repairs followed, 20 needed" in row["note"]
    assert row["mean_events"] == pytest.approx(3 / 40)
    assert row["mean_cost"] == pytest.approx(300 / 40)


def test_no_event_gives_an_upper_limit_and_says_so(tmp_path: Path) -> None:
    claims = [claim(1, 1, 300)]
    row = only(small(tmp_path, claims).repeats(at=6, as_of="2023-12-31"))
    assert (row["mean_events"], row["mean_events_lower"]) == (0.0, 0.0)
    assert row["mean_events_upper"] == pytest.approx(np.log(20) / 40)
    assert np.isnan(row["mean_cost_upper"])
    assert "one-sided upper limit" in row["note"]


def test_an_age_that_nobody_reached_has_no_figure(tmp_path: Path) -> None:
    row = only(small(tmp_path, [claim(1, 1, 30)]).repeats(at=12, as_of="2022-06-30"))
    assert np.isnan(row["mean_events"])
    assert "no unit was watched for longer than 4.9 months" in row["note"]
    assert not row["mature"]


def test_early_life_that_was_not_recorded_has_no_figure(tmp_path: Path) -> None:
    settings = "[counting]\nrecorded_from = 2022-06-01\n"
    workspace = small(tmp_path, [claim(1, 1, 200)], settings=settings)
    row = only(workspace.repeats(at=12, as_of="2023-12-31"))
    assert row["events"] == 1
    assert np.isnan(row["mean_events"])
    assert "the first 4.0 months of life of these units were not rec" in row["note"]


def test_a_kept_column_groups_under_a_name_apart(tmp_path: Path) -> None:
    units = [unit(i, ratio=("low", "high")[i % 2], paint="red") for i in range(40)]
    fleet = Fleet(units, [claim(1, 1, 30), claim(2, 1, 90)])
    workspace = workspace_of(fleet, tmp_path / "ws")
    table = workspace.repeats(by="ratio,paint", at=12, as_of="2023-12-31")
    assert table["extra_ratio"].tolist() == ["high", "low"]
    assert table["paint"].tolist() == ["red", "red"]
    assert table["events"].tolist() == [2, 0]
    assert table["mean_events"].tolist() == [2 / 20, 0.0]


def test_one_large_repair_is_named(tmp_path: Path) -> None:
    claims = [claim(i, i, 30 + i) for i in range(1, 8)]
    claims.append(claim(9, 9, 200, cost_total="900.00"))
    table = small(tmp_path, claims).repeats(at=[6, 12], as_of="2023-12-31")
    notes = table["note"].tolist()
    assert "of the cost" not in notes[0]
    assert "one repair is 56% of the cost by this age" in notes[1]


def test_amounts_in_two_currencies_need_a_report_currency(tmp_path: Path) -> None:
    claims = [claim(1, 1, 30), claim(2, 2, 40, currency="CHF")]
    row = only(small(tmp_path / "a", claims).repeats(at=12, as_of="2023-12-31"))
    assert np.isnan(row["mean_cost"])
    assert "several currencies" in row["note"]
    rates = '[currency]\nreport = "EUR"\n[currency.rates."2022-03"]\nCHF = 1.10\n'
    workspace = small(tmp_path / "b", claims, settings=rates)
    row = only(workspace.repeats(at=12, as_of="2023-12-31"))
    assert row["mean_cost"] == pytest.approx(210 / 40)
    assert row["currency"] == "EUR"


def test_claims_without_an_amount_make_the_cost_a_lower_bound(tmp_path: Path) -> None:
    claims = [claim(1, 1, 30), claim(2, 2, 40, cost_total=None)]
    row = only(small(tmp_path, claims).repeats(at=12, as_of="2023-12-31"))
    assert row["mean_cost"] == pytest.approx(100 / 40)
    assert "1 claims without an amount: the cost is a lower bound" in row["note"]


def test_claims_of_the_same_days_are_one_repair(tmp_path: Path) -> None:
    claims = [claim(1, 1, 30), claim(2, 1, 33), claim(3, 1, 36), claim(4, 1, 40)]
    row = only(small(tmp_path, claims).repeats(at=12, as_of="2023-12-31"))
    assert (row["events"], row["repeats"]) == (2, 1)
    assert row["mean_cost"] == pytest.approx(400 / 40)


def test_units_that_came_back_are_listed_with_their_cost(tmp_path: Path) -> None:
    claims = [claim(i, 1, 30 * i) for i in range(1, 5)] + [claim(8, 2, 10)]
    claims += [claim(10 + i, 3, 20 * i, currency="CHF") for i in range(1, 4)]
    workspace = small(tmp_path, claims)
    table = workspace.repeat_units(as_of="2023-12-31")
    assert table["serial"].tolist() == ["U001", "U003"]
    assert table["events"].tolist() == [4, 3]
    assert table["cost"].tolist() == [400.0, 300.0]
    assert table["currency"].tolist() == ["EUR", "CHF"]
    assert table["first_failed_on"].iloc[0] == pd.Timestamp("2022-03-03")
    assert len(workspace.repeat_units(least=4, as_of="2023-12-31")) == 1


@pytest.mark.parametrize(
    ("call", "rule"),
    [
        (lambda ws: ws.repeats(at=0), "above 0"),
        (lambda ws: ws.repeats(at=[]), "above 0"),
        (lambda ws: ws.repeats(by="colour"), "Cannot group by 'colour'"),
        (lambda ws: ws.repeat_units(least=1), "2 events at least"),
        (lambda ws: ws.repeat_units(supplier="Orla Cells"), "not listed by supplier"),
    ],
)
def test_what_cannot_be_answered_says_why(call: Any, rule: str, tmp_path: Path) -> None:
    workspace = small(tmp_path, [claim(1, 1, 30)])
    with pytest.raises(InputError, match=rule):
        call(workspace)


def test_claims_without_a_register_cannot_be_divided(tmp_path: Path) -> None:
    workspace = workspace_of(Fleet([], [claim(1, 1, 30)]), tmp_path / "ws")
    with pytest.raises(InputError, match="no unit register"):
        workspace.repeats()
