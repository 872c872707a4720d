"""Units whose in-service date nobody wrote down, and makers without a register."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "studies"))

from undated_fleets import (
    Truth,
    grown_fleet,
    shipments_of,
    workspace_with,
    year_rate,
)


@pytest.fixture(scope="module")
def truth() -> Truth:
    return grown_fleet(21, 2_500, 1.0)


@pytest.fixture(scope="module")
def whole(truth: Truth, tmp_path_factory: pytest.TempPathFactory) -> pd.Series:
    """The rate that full knowledge gives."""
    claims = truth.claims.drop(columns="in_service_date")
    workspace = workspace_with(
        tmp_path_factory.mktemp("whole") / "ws", claims, units=truth.units
    )
    return year_rate(workspace).iloc[0]


def test_a_register_with_gaps_gives_the_rate_of_the_whole_one(
    truth: Truth, whole: pd.Series, tmp_path: Path
) -> None:
    """30 % of the dates gone at random: within 3 %, and the limits are wider."""
    units = truth.units.copy()
    units.loc[units.index % 10 < 3, "in_service_date"] = pd.NaT
    claims = truth.claims.drop(columns="in_service_date")
    found = year_rate(workspace_with(tmp_path / "ws", claims, units=units)).iloc[0]
    assert found["rate"] == pytest.approx(whole["rate"], rel=0.03)
    assert found["effective_n"] < whole["effective_n"]
    assert "units with an estimated in-service date" in found["note"]


def test_dates_that_only_claims_carry_tell_the_lag_of_the_others(
    truth: Truth, whole: pd.Series, tmp_path: Path
) -> None:
    """Claimed units alone would give a rate of 100 %."""
    units = truth.units.drop(columns="in_service_date")
    found = year_rate(workspace_with(tmp_path / "ws", truth.claims, units=units)).iloc[
        0
    ]
    assert found["rate"] == pytest.approx(whole["rate"], rel=0.05)


def test_dates_written_down_for_claims_show_what_other_lags_would_do(
    truth: Truth, whole: pd.Series, tmp_path: Path
) -> None:
    units = truth.units.copy()
    claimed = units["serial"].isin(truth.claims["serial"])
    units.loc[~claimed & (units.index % 2 == 0), "in_service_date"] = pd.NaT
    claims = truth.claims.drop(columns="in_service_date")
    workspace = workspace_with(tmp_path / "ws", claims, units=units)
    found = year_rate(workspace).iloc[0]
    assert found["rate"] == pytest.approx(whole["rate"], rel=0.03)
    note = found["note"]
    assert "in-service dates are known of 100% of the units with claims" in note
    shares = [
        float(part.rsplit(" ", 1)[-1])
        for part in note.split("%")
        if part.rsplit(" ", 1)[-1].replace(".", "").isdigit()
    ]
    half, more = shares[-2:]
    assert half < 100 * found["rate"] < more
    # asked again, the answer is the same: the stretched lags are gone
    again = year_rate(workspace).iloc[0]
    assert again["rate"] == found["rate"]


def test_shipments_by_month_give_the_rate_of_the_register(tmp_path: Path) -> None:
    """One in seven claims undated, one in eleven without a serial."""
    truth = grown_fleet(21, 6_000, 1.0)
    dateless = truth.claims.drop(columns="in_service_date")
    whole = year_rate(
        workspace_with(tmp_path / "whole", dateless, units=truth.units)
    ).iloc[0]
    claims = truth.claims.copy()
    claims.loc[claims.index % 7 == 0, "in_service_date"] = pd.NaT
    claims.loc[claims.index % 11 == 0, "serial"] = None
    tables = {"shipments": shipments_of(truth.units)}
    found = year_rate(workspace_with(tmp_path / "ws", claims, **tables)).iloc[0]
    assert found["rate"] == pytest.approx(whole["rate"], rel=0.05)
    assert "no register of Box, Long: 6,000 units by month of shipment" in found["note"]
    assert "claims without a serial are each taken for a unit" in found["note"]
    stated = "[shipments]\nsales_lag_months = 2.8\n"
    told = year_rate(
        workspace_with(tmp_path / "told", claims, settings=stated, **tables)
    ).iloc[0]
    assert told["rate"] == pytest.approx(whole["rate"], rel=0.03)
    assert "2.8 months later on average (as the settings say)" in told["note"]


def test_a_register_stands_for_its_models_and_shipments_for_the_others(
    truth: Truth, tmp_path: Path
) -> None:
    box = truth.units["model"] == "Box"
    workspace = workspace_with(
        tmp_path / "ws",
        truth.claims,
        units=truth.units[box],
        shipments=shipments_of(truth.units),
    )
    found = year_rate(workspace, ("model",)).set_index("model")
    alone = workspace_with(
        tmp_path / "alone",
        truth.claims[truth.claims["model"] == "Box"],
        units=truth.units[box],
    )
    right = year_rate(alone, ("model",)).iloc[0]
    assert found.loc["Box", "units"] == right["units"]
    assert found.loc["Box", "claims"] == right["claims"]
    assert found.loc["Long", "claims"] > 0
    assert found.loc["Long", "rate"] > 0
    note = found.loc["Long", "note"]
    assert "shipments of models that have a register are not used" in note
    assert "units of other models that have both dates" in note


def test_a_claim_of_unknown_serial_counts_by_its_model_and_date(
    truth: Truth, whole: pd.Series, tmp_path: Path
) -> None:
    """Its unit is one of those registered: the number of units stays."""
    claims = truth.claims.copy()
    lost = claims.index[claims.index % 4 == 0]
    claims.loc[lost, "serial"] = [f"typo {n}" for n in range(len(lost))]
    units = truth.units
    known = year_rate(workspace_with(tmp_path / "known", claims, units=units)).iloc[0]
    assert known["units"] == whole["units"]
    assert known["claims"] == whole["claims"]
    assert known["rate"] == pytest.approx(whole["rate"], rel=0.01)
    assert f"{len(lost)} claims of unknown serial are counted" in known["note"]
    blind = replace(truth, claims=claims.drop(columns="in_service_date"))
    left_out = year_rate(
        workspace_with(tmp_path / "blind", blind.claims, units=units)
    ).iloc[0]
    assert left_out["claims"] < whole["claims"]
    told = f"{len(lost)} claims of unknown serial are left out: all rates together"
    assert told in left_out["note"]
    # 56 of 200: those left out over those counted, but for two that came too late
    bound = left_out["note"].split("may be up to ")[1].split("% higher")[0]
    counted = len(claims) - len(lost)
    assert float(bound) == pytest.approx(100 * len(lost) / counted, rel=0.03)


def test_without_any_date_no_rate_is_made_up(truth: Truth, tmp_path: Path) -> None:
    units = truth.units.drop(columns="in_service_date")
    claims = truth.claims.drop(columns="in_service_date")
    found = year_rate(workspace_with(tmp_path / "ws", claims, units=units)).iloc[0]
    assert pd.isna(found["rate"])
    assert "nothing tells their sales lag" in found["note"]
