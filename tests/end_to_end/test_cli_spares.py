"""Spare parts, asked on the command line."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from conftest import run
from typer.testing import CliRunner

from claimlens.cli import app

CUT = "2025-04-30"
COLUMNS = [
    "part_no", "description", "supplier", "component", "other_parts", "replaces",
    "lead_time_days", "lead_time_source", "demand_mean", "quantity_to_hold",
    "runs_out", "runs_out_at_half", "on_hand", "on_order", "order", "last_buy",
    "last_buy_until", "unit_cost", "currency", "order_cost", "note", "as_of",
]  # fmt: skip

Rows = dict[str, dict[str, object]]


def asked(folder: Path, *more: str | Path) -> Rows:
    """Return the records by part number."""
    arguments = ["spares", "--workspace", folder, "--as-of", CUT, "--format", "json"]
    rows = json.loads(run(*arguments, *more))
    return {str(row["part_no"]): row for row in rows}


def number(row: dict[str, object], name: str) -> float:
    return float(str(row[name]))


@pytest.fixture(scope="module")
def parts(filled: Path) -> Rows:
    return asked(filled)


def test_every_part_sent_today_has_one_row_with_the_columns_of_the_contract(
    filled: Path, parts: Rows
) -> None:
    text = (filled / "inbox" / "parts.csv").read_text(encoding="utf-8")
    listed = list(csv.DictReader(text.splitlines()))
    sent = {row["part_no"] for row in listed if not row["superseded_by"]}
    assert set(parts) == sent
    for row in parts.values():
        assert list(row) == COLUMNS
        assert row["order"] is None
        if row["demand_mean"] is None:
            assert "demand not known" in str(row["note"])
        else:
            assert number(row, "runs_out") <= 0.05 + 1e-12
            assert number(row, "runs_out") <= number(row, "runs_out_at_half")
    replaced = {name for row in parts.values() for name in _listed(row["replaces"])}
    assert replaced == {row["part_no"] for row in listed} - sent


def _listed(cell: object) -> list[str]:
    return str(cell).split(", ") if cell else []


def test_parts_that_only_one_component_takes_add_up_to_its_claims(
    filled: Path, parts: Rows
) -> None:
    """Each claim of the demo takes its main part once, or twice, or none at all."""
    claims = json.loads(
        run(
            "forecast", "--workspace", filled, "--as-of", CUT, "--by", "component",
            "--months", "3", "--format", "json",
        )
    )  # fmt: skip
    for component in ("battery pack", "motor"):
        own = [row for row in parts.values() if row["component"] == component]
        expected = sum(
            number(row, "claims") for row in claims if row["component"] == component
        )
        needed = sum(number(row, "demand_mean") for row in own)
        days = {number(row, "lead_time_days") for row in own}
        assert len(days) == 1
        # as many days as its lead time and a month, of three months
        share = (days.pop() + 31) / 92
        assert 0.5 * expected * share < needed < 1.1 * expected * share


def test_a_higher_service_level_holds_more(filled: Path, parts: Rows) -> None:
    more = asked(filled, "--service-level", "0.99")
    held = [
        (number(more[key], "quantity_to_hold"), number(row, "quantity_to_hold"))
        for key, row in parts.items()
        if row["quantity_to_hold"] is not None
    ]
    assert all(high >= low for high, low in held)
    assert sum(high for high, _ in held) > sum(low for _, low in held)


def test_a_stock_file_gives_orders_and_a_last_buy(
    filled: Path, parts: Rows, tmp_path: Path
) -> None:
    key = max(parts, key=lambda part: float(str(parts[part]["demand_mean"] or 0)))
    hold = int(number(parts[key], "quantity_to_hold"))
    stock = tmp_path / "stock.csv"
    stock.write_text(f"part_no,on_hand,pack_size,ends\n{key},1,5,2025-12-31\n")
    row = asked(filled, "--stock", stock)[key]
    assert row["order"] == -(-(hold - 1) // 5) * 5
    assert number(row, "order_cost") == pytest.approx(
        number(row, "order") * number(row, "unit_cost")
    )
    assert number(row, "last_buy") > number(row, "order")
    assert str(row["last_buy_until"]) > CUT


def test_a_bad_stock_file_is_told_and_nothing_is_printed(
    filled: Path, tmp_path: Path
) -> None:
    stock = tmp_path / "stock.csv"
    stock.write_text("part_no,on_hand\nA-1,-2\nB-1,many\n")
    result = CliRunner().invoke(
        app, ["spares", "--workspace", str(filled), "--stock", str(stock)]
    )
    assert result.exit_code == 1
    assert result.stdout == ""
    assert "line 2, column on_hand: '-2' is below 0" in result.stderr
    assert "line 3, column on_hand: 'many' is no number" in result.stderr
    assert "to do:" in result.stderr


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--service-level", "95"], "write 95 per cent as --service-level 0.95"),
        (["--component", "colour"], "No part is of the component colour"),
        (["--stock", "nowhere.csv"], "nowhere.csv"),
    ],
)
def test_a_question_that_has_no_answer_is_refused(
    more: list[str], said: str, filled: Path
) -> None:
    result = CliRunner().invoke(app, ["spares", "--workspace", str(filled), *more])
    assert result.exit_code in (1, 2)
    assert said in " ".join(result.output.split())


def test_the_demo_tells_its_parts_as_it_came_from_many_files(demo: Path) -> None:
    rows = json.loads(run("spares", "--workspace", demo, "--format", "json"))
    told = {row["component"]: row for row in rows}
    assert number(told["brake pad/rotor"], "demand_mean") > 10
    # two suppliers of one throttle, approved for the same units
    throttles = [row for row in rows if row["component"] == "throttle"]
    assert [row["other_parts"] for row in throttles] == [
        row["part_no"] for row in reversed(throttles)
    ]
    old = [row for row in rows if "Zellip S1" in str(row["description"])]
    assert old
    assert all(
        "the chance that any is needed" in row["note"]
        for row in old
        if row["quantity_to_hold"] == 0
    )
