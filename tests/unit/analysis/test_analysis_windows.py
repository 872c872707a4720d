"""Build windows through files: planted ones, grains, models, and the list of units."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest
from fleet_maker import Fleet, random_fleet, shuffled, workspace_of
from rising_maker import Planted, add_claim, rising_fleet

from claimlens import handover
from claimlens.analysis.windows import WINDOW_COLUMNS
from claimlens.errors import InputError
from claimlens.workspace import Workspace

AS_OF = date(2025, 3, 31)
PLAIN = '[classify]\nlanguages = ["en"]\n[rates]\nlag_claims = 1000000\n'
BAD = (
    Planted(component="motor", first=date(2022, 5, 1), last=date(2022, 8, 1), times=7),
    Planted(
        component="display",
        first=date(2023, 3, 1),
        last=date(2023, 5, 1),
        times=14,
        model="Trike",
    ),
)


@pytest.fixture(scope="module")
def fleet() -> Fleet:
    return rising_fleet(11, *BAD)


@pytest.fixture(scope="module")
def workspace(fleet: Fleet, tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    return workspace_of(fleet, tmp_path_factory.mktemp("windows") / "ws", PLAIN)


@pytest.fixture(scope="module")
def table(workspace: Workspace) -> pd.DataFrame:
    return workspace.windows(as_of=AS_OF)


def shared(row: pd.Series, planted: Planted) -> float:
    """Return days in common over days in either."""
    first, last = row["from_date"].date(), row["to_date"].date()
    common = (min(last, planted.last) - max(first, planted.first)).days
    either = (max(last, planted.last) - min(first, planted.first)).days
    return max(common, 0) / either


def test_planted_windows_are_named_and_nothing_else_is_likely(
    table: pd.DataFrame,
) -> None:
    likely = table[table["adjusted_p"] <= 0.01].set_index("component")
    assert set(likely.index) == {"motor", "display"}
    for planted in BAD:
        row = likely.loc[planted.component]
        assert shared(row, planted) >= 0.7
        assert row["plausible_from"] <= pd.Timestamp(planted.first)
        assert row["plausible_to"] >= pd.Timestamp(planted.last)
        assert row["lower"] < row["rate_ratio"] < row["upper"]
        assert row["claims"] / row["expected"] == pytest.approx(
            row["rate_ratio"], rel=0.03
        )
    assert (table["adjusted_p"] >= table["p_value"] - 1e-12).all()


def test_by_model_the_model_of_a_fault_is_told(workspace: Workspace) -> None:
    found = workspace.windows(by="component,model", as_of=AS_OF)
    own = found[(found["component"] == "display") & (found["adjusted_p"] <= 0.01)]
    assert own["model"].tolist() == ["Trike"]
    assert shared(own.iloc[0], BAD[1]) >= 0.7
    both = found[(found["component"] == "motor") & (found["p_value"] <= 0.05)]
    assert set(both["model"]) == {"Trike", "Scooter"}


@pytest.mark.parametrize(("grain", "least"), [("week", 0.7), ("lot", 0.3)])
def test_weeks_and_lots(grain: str, least: float, workspace: Workspace) -> None:
    """Lots are looked at one by one; each of these is a month's production."""
    found = workspace.windows(grain=grain, as_of=AS_OF, component="motor")  # type: ignore[arg-type]
    assert shared(found.iloc[0], BAD[0]) >= least
    assert (found["from_date"] < found["to_date"]).all()
    if grain == "lot":
        assert ((found["to_date"] - found["from_date"]).dt.days <= 31).all()


def test_one_component_gets_an_answer_whatever_the_chance(
    workspace: Workspace, tmp_path: Path
) -> None:
    one = workspace.windows(as_of=AS_OF, component="rear light")
    assert len(one) >= 1
    if one.iloc[0]["p_value"] > 0.05:
        assert "no more than chance can give" in one.iloc[0]["note"]
    made = rising_fleet(1, months=3, a_month=10, rates=())
    for unit in made.units[3:6]:
        day = unit["in_service_date"] + timedelta(days=40)  # type: ignore[operator]
        add_claim(made, unit, "motor", day, day)
    few = workspace_of(made, tmp_path / "ws", PLAIN)
    told = few.windows(as_of=AS_OF, component="motor")
    assert list(told.columns) == list(WINDOW_COLUMNS)
    assert len(told) == 1
    assert pd.isna(told["p_value"].item())
    assert "5" in told["note"].item()
    with pytest.raises(InputError, match="looked for by component"):
        workspace.windows(by="region", as_of=AS_OF)


def test_filters_json_and_the_order_of_rows(
    workspace: Workspace, table: pd.DataFrame, fleet: Fleet, tmp_path: Path
) -> None:
    scooters = workspace.windows(as_of=AS_OF, model="Scooter")
    assert "display" not in set(scooters[scooters["adjusted_p"] <= 0.05]["component"])
    text = handover.to_json(handover.records(table))
    assert "NaN" not in text
    assert "NaT" not in text
    assert len(json.loads(text)) == len(table)
    other = workspace_of(shuffled(fleet, 5), tmp_path / "ws", PLAIN)
    pd.testing.assert_frame_equal(other.windows(as_of=AS_OF), table)


def test_no_register_and_no_claims(tmp_path: Path) -> None:
    bare = workspace_of(Fleet(units=[], claims=rising_fleet(1).claims), tmp_path / "a")
    with pytest.raises(InputError, match="no unit register"):
        bare.windows(as_of=AS_OF)
    silent = rising_fleet(1, months=3, a_month=5, rates=())
    add_claim(silent, silent.units[0], "motor", date(2021, 5, 1), date(2021, 5, 9))
    silent.claims[0]["status"] = "cancelled"
    assert workspace_of(silent, tmp_path / "b").windows(as_of=AS_OF).empty


@pytest.mark.parametrize("seed", [1, 2])
def test_the_list_of_units_adds_up(seed: int, tmp_path: Path) -> None:
    """Failed, not yet failed, out of service and not in service yet are all units."""
    fleet = random_fleet(seed, n_units=200, undated=0.2)
    workspace = workspace_of(fleet, tmp_path / "ws", PLAIN)
    as_of, first, last = date(2023, 12, 31), date(2022, 6, 1), date(2024, 2, 1)
    listed = workspace.window_units("battery pack", first, last, as_of=as_of)
    inside = {
        str(u["serial"]): u for u in fleet.units if first <= u["build_date"] < last
    }
    assert set(listed["serial"]) == set(inside)
    assert len(listed) == len(inside)
    assert set(listed["state"]) == {
        "failed",
        "not yet failed",
        "out of service",
        "not in service yet",
    }
    for row in listed.to_dict("records"):
        unit = inside[row["serial"]]
        started = unit["in_service_date"]
        if pd.isna(row["failed_on"]):
            assert row["state"] != "failed"
            assert pd.isna(row["claim_no"])
        else:
            assert row["state"] == "failed"
            assert row["failed_on"].date() <= as_of
        if row["state"] == "out of service":
            assert unit["retired_on"] <= as_of
        if started is None:
            assert pd.isna(row["in_service_date"])
        elif row["state"] == "not in service yet":
            assert started > as_of
        elif pd.notna(row["cover_days_left"]):
            end = (pd.Timestamp(started) + pd.DateOffset(months=24)).date()
            assert row["cover_days_left"] == max((end - as_of).days, 0)
    one = workspace.window_units(
        "battery pack", first, last, as_of=as_of, model="Trike"
    )
    assert len(one) == sum(u["model"] == "Trike" for u in inside.values())


def test_the_list_agrees_with_the_window(
    workspace: Workspace, table: pd.DataFrame
) -> None:
    row = table[table["component"] == "motor"].iloc[0]
    listed = workspace.window_units(
        "motor", row["from_date"].date(), row["to_date"].date(), as_of=AS_OF
    )
    in_service = listed[listed["state"] != "not in service yet"]
    assert row["units"] == len(in_service)
    assert row["claims"] == (listed["state"] == "failed").sum()
    assert row["not_yet_failed"] == row["units"] - row["claims"]


def test_a_window_without_days_or_units_is_refused(workspace: Workspace) -> None:
    day = date(2022, 5, 1)
    with pytest.raises(InputError, match="holds no day"):
        workspace.window_units("motor", day, day, as_of=AS_OF)
    with pytest.raises(InputError, match="No unit was built from 2030-01-01"):
        workspace.window_units(
            "motor", date(2030, 1, 1), date(2030, 1, 1) + timedelta(days=9), as_of=AS_OF
        )
    with pytest.raises(InputError):
        workspace.window_units("no such part", day, date(2022, 6, 1), as_of=AS_OF)
