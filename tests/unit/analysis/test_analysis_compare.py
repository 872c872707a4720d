"""Comparison of segments against a count unit by unit, and its words."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from brute_force import Oracle, Rules
from fleet_maker import Fleet, random_fleet, shuffled, workspace_of
from scipy import optimize, stats

from claimlens import handover
from claimlens.analysis.compare import COMPARE_COLUMNS
from claimlens.errors import InputError
from claimlens.workspace import Workspace

AS_OF = date(2024, 6, 30)
LAG = "[rates]\nlag_claims = 5\n"

Table = dict[tuple[object, ...], tuple[np.ndarray, np.ndarray]]


def counted(oracle: Oracle, segment: dict[str, object]) -> tuple[Any, Any]:
    """Return failures and units at risk by day of age, unit by unit."""
    failing, at_risk = np.zeros(2000), np.zeros(2000)
    for row in oracle.histories(segment):
        last = row.planned if row.first is None else row.first - 1
        for day in range(last + 1):
            at_risk[day] += row.weight * row.chance(day)
        if row.first is not None and row.chance(row.first) > 0:
            failing[row.first] += row.weight
            at_risk[row.first] += row.weight
    return failing, at_risk


def against_others(
    mine: tuple[Any, Any], others: list[tuple[Any, Any]]
) -> dict[str, float]:
    """Return ratio, limits and p-value, from the definition and all outcomes."""
    failed, at_risk = mine
    rest_failed = sum((one for one, _ in others), np.zeros(2000))
    rest = sum((one for _, one in others), np.zeros(2000))
    days = np.flatnonzero((at_risk > 0) & (rest > 1e-9) & (failed + rest_failed > 0))
    n = np.rint(failed[days] + rest_failed[days]).astype(int)
    odds, x = at_risk[days] / rest[days], round(float(failed[days].sum()))
    total = int(n.sum())
    if total == 0:
        return {}

    def expected(ratio: float) -> float:
        return float((n * ratio * odds / (1 + ratio * odds)).sum())

    def at_most(ratio: float) -> float:
        chance = np.array([1.0])
        for count, one in zip(n, odds, strict=True):
            share = ratio * one / (1 + ratio * one)
            outcome = stats.binom.pmf(np.arange(count + 1), count, share)
            chance = np.convolve(chance, outcome)
        return float(chance[:x].sum() + 0.5 * chance[x])

    def root(level: float) -> float:
        return float(
            np.exp(optimize.brentq(lambda u: at_most(np.exp(u)) - level, -30, 30))
        )

    ratio = np.nan if x == total else 0.0
    if 0 < x < total:
        ratio = float(
            np.exp(optimize.brentq(lambda u: expected(np.exp(u)) - x, -30, 30))
        )
    return {
        "rate_ratio": ratio,
        "lower": root(0.975) if x else 0.0,
        "upper": root(0.025) if x < total else np.nan,
        "p_value": min(1.0, 2 * min(at_most(1.0), 1 - at_most(1.0))),
    }


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> tuple[Fleet, Workspace]:
    """Return a fleet in which everything can go wrong, and its workspace."""
    fleet = random_fleet(7, suppliers=True)
    folder = tmp_path_factory.mktemp("compare")
    return fleet, workspace_of(fleet, folder / "ws", LAG)


@pytest.mark.parametrize(
    ("by", "apart"),
    [
        (("component",), ()),
        (("model",), ()),
        (("component", "region"), ("component",)),
        (("model_year", "component", "model"), ("component",)),
        (("failure_mode", "model"), ("failure_mode",)),
        (("component", "failure_mode"), ("component",)),
        (("component", "supplier"), ("component",)),
    ],
)
def test_ratios_limits_and_p_values_equal_a_count_unit_by_unit(
    by: tuple[str, ...], apart: tuple[str, ...], loaded: tuple[Fleet, Workspace]
) -> None:
    fleet, workspace = loaded
    table = workspace.compare(by=by, as_of=AS_OF)
    oracle = Oracle(fleet, AS_OF, Rules(lag_claims=5))
    assert len(oracle.reported) > 1, "late reports must weigh in this test"
    tables: dict[tuple[object, ...], Table] = defaultdict(dict)
    if "supplier" in by:
        segments: list[dict[str, object]] = [
            {"component": component, "supplier": supplier}
            for component in ("battery pack", "motor")
            for supplier in ("Orla Cells", "Pinewright")
        ]
    else:
        segments = oracle.segments(by)
    for segment in segments:
        name = tuple(segment[key] for key in apart)
        key = tuple(segment[name] for name in by)
        tables[name][key] = counted(oracle, segment)
    compared = 0
    rows = {
        tuple(row[name] if pd.notna(row[name]) else None for name in by): row
        for row in table.to_dict("records")
    }
    for members in tables.values():
        for key, mine in members.items():
            others = [one for other, one in members.items() if other != key]
            right, row = against_others(mine, others), rows[key]
            if not right:
                assert pd.isna(row["p_value"])
                assert row["note"]
                continue
            compared += 1
            for figure, value in right.items():
                assert row[figure] == pytest.approx(
                    value, rel=1e-6, abs=1e-9, nan_ok=True
                ), f"{key} {figure}"
            if row["rate_ratio"] > 0:
                assert row["claims"] >= row["expected"] * row["rate_ratio"] - 1e-6
    assert compared >= 2


def planted(n_units: int = 400) -> Fleet:
    """Return units of four regions; those of the East fail three times as often."""
    rng = np.random.default_rng(20240607)
    fleet = Fleet(units=[], claims=[])
    for number in range(n_units):
        region = ("North", "South", "West", "East")[number % 4]
        started = date(2022, 1, 1 + number % 28)
        fleet.units.append(
            {
                "serial": f"U{number}",
                "model": "Trike",
                "model_year": 2022,
                "build_date": started,
                "ship_date": started,
                "in_service_date": started,
                "region": region,
            }
        )
        if rng.random() < (0.45 if region == "East" else 0.15):
            failed = date(2022, 2 + int(rng.integers(10)), 3)
            claim_no = f"C{number}"
            fleet.claims.append(
                {
                    "claim_no": claim_no,
                    "reported_on": failed,
                    "failed_on": failed,
                    "serial": f"U{number}",
                    "status": "closed",
                    "part_no": f"P-{number % 3}",
                }
            )
            fleet.labels.append(
                {
                    "claim_no": claim_no,
                    "component": "motor",
                    "failure_mode": "worn",
                    "reviewer": "R. Viewer",
                    "reviewed_on": failed,
                }
            )
    return fleet


def test_a_planted_difference_is_found_and_ranked_first(tmp_path: Path) -> None:
    table = workspace_of(planted(), tmp_path / "ws").compare(by="region,component")
    assert list(table.columns) == ["region", "component", *COMPARE_COLUMNS]
    first = table.iloc[0]
    assert first["region"] == "East"
    assert first["lower"] > 1
    assert first["lower"] < 3 < first["upper"]
    assert first["difference"] == "higher"
    assert first["told_apart"] == "first"
    assert (first["rank"], first["rank_lower"], first["rank_upper"]) == (1, 1, 1)
    rest = table.iloc[1:]
    assert (rest["told_apart"] == "yes").all()
    assert table["rank"].tolist() == [1, 2, 3, 4]
    assert (table["shrunk_ratio"].diff().dropna() <= 0).all()
    # of at most ten p-values none is adjusted
    assert (table["adjusted_p"] == table["p_value"]).all()
    assert "fewer than 5 groups" in first["note"]


def test_a_filter_on_what_is_compared_keeps_rows_and_their_figures(
    tmp_path: Path,
) -> None:
    workspace = workspace_of(planted(), tmp_path / "ws")
    whole = workspace.compare(by="region", component="motor")
    east = workspace.compare(by="region", component="motor", region="East")
    pd.testing.assert_frame_equal(
        east, whole[whole["region"] == "East"].reset_index(drop=True)
    )


def test_row_order_of_the_input_changes_no_byte(tmp_path: Path) -> None:
    fleet = random_fleet(12, suppliers=True)
    texts = []
    for name, one in (("a", fleet), ("b", shuffled(fleet, 3))):
        workspace = workspace_of(one, tmp_path / name, LAG)
        frames = [
            workspace.compare(by=by, as_of=AS_OF)
            for by in ("component,model", "supplier", "region")
        ]
        texts.append([handover.to_json(handover.records(frame)) for frame in frames])
    assert texts[0] == texts[1]


def test_suppliers_are_compared_component_by_component(tmp_path: Path) -> None:
    """Whoever makes the part that fails more is not worse for that."""
    fleet = planted()
    for number, unit in enumerate(fleet.units):
        for component, makers in (
            ("motor", ("Orla Cells", "Pinewright")),
            ("display", ("Pinewright", "Hollis")),
        ):
            fleet.fitted_parts.append(
                {
                    "serial": unit["serial"],
                    "component": component,
                    "supplier": makers[(number // 4) % 2],
                    "fitted_on": unit["build_date"],
                }
            )
    # one display of Pinewright's failed
    fleet.labels[0]["component"] = "display"
    table = workspace_of(fleet, tmp_path / "ws").compare(
        by="supplier", as_of=date(2022, 12, 31)
    )
    rows = {row["supplier"]: row for row in table.to_dict("records")}
    makers = rows["Orla Cells"], rows["Pinewright"]
    # Hollis makes displays only, of which hardly any fails
    assert all(one["lower"] < 1 < one["upper"] for one in makers)
    assert makers[0]["units"] == rows["Hollis"]["units"] == 200
    assert makers[1]["units"] == 400
    assert rows["Hollis"]["expected"] < 2
    assert sum(one["claims"] for one in rows.values()) == len(fleet.claims)


def test_suppliers_known_from_claims_only_have_a_row_with_the_reason(
    tmp_path: Path,
) -> None:
    fleet = planted()
    workspace = workspace_of(fleet, tmp_path / "ws", load=False)
    (tmp_path / "ws" / "inbox" / "parts.csv").write_text(
        "part_no,description,component,supplier\n"
        "P-0,motor,motor,Orla Cells\nP-1,motor,motor,Pinewright\n",
        encoding="utf-8",
    )
    workspace.ingest()
    table = workspace.compare(
        by="supplier", component="motor", as_of=date(2022, 12, 31)
    )
    assert set(table["supplier"]) >= {"Orla Cells", "Pinewright"}
    assert table["rate_ratio"].isna().all()
    assert table["claims"].sum() == len(fleet.claims)
    assert table["note"].str.startswith("claims only").all()
    assert table["note"].str.contains("load a list of fitted parts").all()


def test_many_p_values_are_adjusted(tmp_path: Path) -> None:
    table = workspace_of(planted(), tmp_path / "ws").compare(by="build_month,region")
    many = workspace_of(random_fleet(3, n_units=200), tmp_path / "many").compare(
        by="build_month", as_of=AS_OF
    )
    assert len(table) == 4
    p = many["p_value"].dropna()
    assert len(p) > 10
    adjusted = many.loc[p.index, "adjusted_p"]
    np.testing.assert_allclose(adjusted, stats.false_discovery_control(p))
    shown = many.loc[p.index, "difference"].isin(["higher", "lower"])
    assert (shown == (adjusted <= 0.10)).all()


def test_what_stands_alone_says_so(tmp_path: Path) -> None:
    table = workspace_of(planted(), tmp_path / "ws").compare(by="model,component")
    [row] = table.to_dict("records")
    assert pd.isna(row["rate_ratio"])
    assert pd.isna(row["rank"])
    assert "no others to compare it with" in row["note"]


def test_no_json_holds_a_value_that_is_not_a_number(tmp_path: Path) -> None:
    workspace = workspace_of(random_fleet(5, n_units=30), tmp_path / "ws")
    for by in ("component,build_month", "supplier", "failure_mode,region"):
        text = handover.to_json(handover.records(workspace.compare(by=by)))
        assert "NaN" not in text
        assert "Infinity" not in text


def test_without_a_grouping_the_error_names_one(tmp_path: Path) -> None:
    workspace = workspace_of(planted(40), tmp_path / "ws")
    with pytest.raises(InputError, match="nothing to compare") as caught:
        workspace.compare(by="")
    assert "--by supplier" in str(caught.value)
