"""Every row of a file ends in one place, counted here without any database."""

from __future__ import annotations

import csv
import random
from collections import defaultdict
from datetime import date, timedelta
from pathlib import Path

import pytest
from load_desk import Desk, outcome

STATUSES = ("open", "approved", "closed", "denied", "cancelled")


def messy_claims(seed: int) -> str:
    """Return a comma export with every kind of fault, titles, blanks and totals."""
    rng = random.Random(seed)
    lines = [
        "Claims of the season",
        "",
        "claim_no,reported_on,status,cost_total,currency",
    ]
    for _ in range(300):
        number = f"C{rng.randrange(200):03d}"
        day = date(2025, 1, 1) + timedelta(days=rng.randrange(300))
        cells = [number, day.isoformat(), rng.choice(STATUSES), "12.50", "EUR"]
        chance = rng.random()
        if chance < 0.03:
            cells[0] = ""
        elif chance < 0.06:
            cells[1] = rng.choice(["", "2025-13-40", "soon"])
        elif chance < 0.09:
            cells = cells[:3]
        elif chance < 0.11:
            cells += ["", "more"]
        elif chance < 0.13:
            cells[4] = "doubloons"
        elif chance < 0.15:
            lines.append("")
        elif chance < 0.17:
            lines.append("claim_no,reported_on,status,cost_total,currency")
        lines.append(",".join(cells))
    lines.append("Total,,,3750.00,")
    return "\n".join(lines) + "\n"


def count_by_hand(text: str) -> dict[str, int]:
    """Count a messy export with the csv module alone."""
    counts: dict[str, int] = defaultdict(int)
    good: dict[str, int] = defaultdict(int)
    for number, cells in enumerate(csv.reader(text.splitlines()), start=1):
        is_title = number == 1
        if not any(cells) or is_title or cells[0] in ("claim_no", "Total"):
            # the header that names the columns is no skipped line
            counts["skipped_lines"] += not (cells[:1] == ["claim_no"] and number == 3)
            continue
        counts["rows_read"] += 1
        try:
            date.fromisoformat(cells[1])
            is_dated = True
        except ValueError:
            is_dated = False
        if len(cells) != 5 or not cells[0] or not is_dated:
            counts["rejected"] += 1
        else:
            good[cells[0]] += 1
    counts["inserted"] = len(good)
    counts["superseded"] = sum(good.values()) - len(good)
    return dict(counts)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_account_equals_a_count_by_hand(seed: int, tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    text = messy_claims(seed)
    path = tmp_path / "claims.csv"
    path.write_text(text, encoding="utf-8")
    account = desk.account(path)
    right = count_by_hand(text)
    assert {name: account[name] for name in right} == right
    outcome(account)
    rejects = desk.workspace.rejects()
    assert len(rejects) == right["rejected"] > 10
    assert len(desk.claims("status")) == right["inserted"]
    lines = text.splitlines()
    for row in rejects.to_dict("records"):
        assert row["file"] == "claims.csv"
        assert row["reason"]
        # the row can be found again, and holds the value at fault
        if isinstance(row["value"], str):
            assert row["value"].split(",")[0] in lines[row["row"] - 1]


def claim(number: int, **other: object) -> dict[str, object]:
    return {"claim_no": f"C{number}", "reported_on": "2025-03-01", **other}


def test_loading_a_file_twice_changes_no_byte(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    path = desk.write("claims.csv", [claim(n, status="open") for n in range(5)])
    first = desk.account(path)
    assert outcome(first) == {"inserted": 5}
    before = desk.bytes()
    again = desk.account(path)
    assert outcome(again) == {"unchanged": 5}
    assert again["batch"] == first["batch"]
    assert desk.bytes() == before


def test_the_same_rows_in_another_file_are_unchanged(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    desk.load("a.csv", [claim(n, status="open") for n in range(5)])
    account = desk.load("b.csv", [claim(n, status="open") for n in range(4, -1, -1)])
    assert outcome(account) == {"unchanged": 5}
    assert desk.query("select count(*) from claims_now") == [(5,)]


def test_a_newer_export_updates_and_an_older_one_does_not(tmp_path: Path) -> None:
    january = [claim(n, status="open") for n in range(6)]
    february = [
        claim(0, status="closed"),
        claim(1, status="open"),
        claim(7, status="open"),
    ]
    forth, back = Desk(tmp_path / "forth"), Desk(tmp_path / "back")
    dates = (date(2025, 1, 31), date(2025, 2, 28))
    forth.load("january.csv", january, dates[0])
    account = forth.load("february.csv", february, dates[1])
    assert outcome(account) == {"inserted": 1, "updated": 1, "unchanged": 1}
    back.load("february.csv", february, dates[1])
    account = back.load("january.csv", january, dates[0])
    assert outcome(account) == {"inserted": 4, "unchanged": 2}
    assert forth.claims("status") == back.claims("status")
    assert forth.claims("status")["C0"] == ("closed",)


@pytest.mark.parametrize("seed", [1, 2])
def test_the_order_of_loading_does_not_matter(seed: int, tmp_path: Path) -> None:
    """Three exports of different columns; each column shows its newest value."""
    rng = random.Random(seed)
    fields = ("status", "dealer", "resolution")
    exports = []
    for number in range(3):
        columns = rng.sample(fields, rng.choice([1, 2, 3]))
        rows = []
        for n in rng.sample(range(12), 8):
            row = claim(n)
            for name in columns:
                words = STATUSES if name == "status" else ("x", "y", "z")
                row[name] = rng.choice(words)
            rows.append(row)
        exports.append((f"e{number}.csv", rows, date(2025, 4 + number, 1)))
    right: dict[str, dict[str, object]] = {}
    for _, rows, _ in exports:
        for row in rows:
            right.setdefault(str(row["claim_no"]), {}).update(row)
    wanted = {
        number: tuple(row.get(name) for name in fields) for number, row in right.items()
    }
    for order in ([0, 1, 2], [2, 1, 0]):
        desk = Desk(tmp_path / "".join(map(str, order)))
        for k in order:
            outcome(desk.load(*exports[k]))
        assert desk.claims(*fields) == wanted


def test_the_change_stamp_of_a_row_beats_the_age_of_its_file(tmp_path: Path) -> None:
    new = [claim(1, status="closed", updated_at="2025-05-02 10:00:00")]
    old = [claim(1, status="open", updated_at="2025-05-01 10:00:00")]
    for order in ((new, old), (old, new)):
        desk = Desk(tmp_path / str(order[0] is new))
        for number, rows in enumerate(order):
            desk.load(f"e{number}.csv", rows)
        assert desk.claims("status") == {"C1": ("closed",)}


def test_a_claim_twice_in_one_file_stands_by_its_latest_change(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    rows = [
        claim(1, status="closed", updated_at="2025-05-03 10:00:00"),
        claim(1, status="approved", updated_at="2025-05-02 10:00:00"),
        claim(2, status="open", updated_at="2025-05-02 10:00:00"),
        claim(1, status="open", updated_at="2025-05-01 10:00:00"),
    ]
    account = desk.load("claims.csv", rows)
    assert outcome(account) == {"inserted": 2, "superseded": 2}
    assert desk.claims("status") == {"C1": ("closed",), "C2": ("open",)}
    before = desk.bytes()
    again = desk.account(tmp_path / "claims.csv")
    assert outcome(again) == {"unchanged": 2, "superseded": 2}
    assert desk.bytes() == before


def test_a_newer_export_with_fewer_columns_keeps_the_others(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    desk.load(
        "full.csv",
        [claim(1, status="open", dealer="D9", cost_total="10.00", currency="EUR")],
        date(2025, 3, 31),
    )
    desk.load("short.csv", [claim(1, status="closed")], date(2025, 4, 30))
    ((status, dealer, cost, currency),) = desk.claims(
        "status", "dealer", "cost_total", "currency"
    ).values()
    assert (status, dealer, currency) == ("closed", "D9", "EUR")
    assert str(cost) == "10.0000"


def test_a_fault_stands_until_a_newer_file_has_the_column(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    months = (date(2025, 3, 31), date(2025, 4, 30), date(2025, 5, 31))

    def faults() -> set[str]:
        flags = desk.workspace.flags()
        return set(flags["column_name"]) - {"serial", "failed_on"}

    rows = [claim(1, status="gone", closed_on="one day")]
    desk.load("a.csv", rows, months[0])
    assert faults() == {"status", "closed_on"}
    desk.load("b.csv", [claim(1, status="closed")], months[1])
    assert faults() == {"closed_on"}
    desk.load("c.csv", [claim(1, closed_on="2025-05-01")], months[2])
    assert faults() == set()


def test_a_cell_emptied_by_a_newer_export_is_empty(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    desk.load("a.csv", [claim(1, dealer="D9")], date(2025, 3, 31))
    desk.load("b.csv", [claim(1, dealer=None)], date(2025, 4, 30))
    assert desk.claims("dealer") == {"C1": (None,)}


def test_a_list_without_dates_can_take_a_change_back(tmp_path: Path) -> None:
    desk = Desk(tmp_path)

    def part(cost: str, lead: str) -> list[dict[str, object]]:
        return [
            {"part_no": "P1", "unit_cost": cost, "currency": "EUR"}
            | {"lead_time_days": lead}
        ]

    def held() -> list[tuple[object, ...]]:
        return desk.query("select unit_cost::integer, lead_time_days from parts_now")

    desk.load("a.csv", part("10", "5"))
    assert outcome(desk.load("b.csv", part("12", "5"))) == {"updated": 1}
    # the same list again is the older one, and changes nothing
    assert outcome(desk.account(tmp_path / "a.csv")) == {"unchanged": 1}
    assert held() == [(12, 5)]
    # another list that says what the first one said is a newer one
    (tmp_path / "c.csv").write_text(
        (tmp_path / "a.csv").read_text(encoding="utf-8") + "\n", encoding="utf-8"
    )
    assert outcome(desk.account(tmp_path / "c.csv")) == {"updated": 1}
    assert held() == [(10, 5)]
    before = desk.bytes()
    for name in ("a.csv", "b.csv", "c.csv"):
        assert outcome(desk.account(tmp_path / name)) == {"unchanged": 1}
    assert desk.bytes() == before


def test_a_mended_source_reads_the_same_file_anew(tmp_path: Path) -> None:
    block = """
[[source]]
name = "app"
files = "app*.csv"
kind = "claims"
[source.columns]
No = "claim_no"
Day = "reported_on"
State = "status"
"""
    desk = Desk(tmp_path, block)
    path = tmp_path / "app.csv"
    path.write_text("No,Day,State\nC1,2025-03-01,done\n", encoding="utf-8")
    account = desk.account(path)
    assert account["flagged"] == 1
    mended = Desk(tmp_path, block + '[source.values.status]\ndone = "closed"\n')
    assert outcome(mended.account(path)) == {"updated": 1}
    assert mended.claims("status") == {"C1": ("closed",)}
    assert "status" not in set(mended.workspace.flags()["column_name"])


def test_rejected_rows_of_a_file_loaded_again_stand_once(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    rows = [claim(1), {"claim_no": "", "reported_on": "2025-03-01"}]
    path = desk.write("claims.csv", rows)
    assert outcome(desk.account(path)) == {"inserted": 1, "rejected": 1}
    assert outcome(desk.account(path)) == {"unchanged": 1, "rejected": 1}
    (reject,) = desk.workspace.rejects().to_dict("records")
    assert (reject["file"], reject["row"]) == ("claims.csv", 3)
    assert reject["reason"] == "claim_no is missing"


def test_a_row_without_currency_is_kept(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    rows = [
        claim(1, cost_total="5.00", currency="EUR"),
        claim(2, cost_total=None, currency=None),
        claim(3, cost_total="7.00", currency=None),
    ]
    assert outcome(desk.load("claims.csv", rows)) == {"inserted": 3}
    flags = desk.workspace.flags()
    flags = flags[flags["column_name"] == "currency"]
    assert flags["claim_no"].tolist() == ["C3"]
    assert flags["reason"].tolist() == ["amount without currency"]


def test_flags_are_judged_on_the_whole_warehouse(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    rows = [
        claim(1, serial="S1", failed_on="2025-02-01"),
        claim(2, serial="S2", failed_on="2025-02-01"),
    ]
    assert desk.load("claims.csv", rows)["flagged"] == 0
    unit = {"model": "Trike", "model_year": 2025}
    desk.load("units.csv", [{"serial": "S2", **unit, "in_service_date": "2025-02-09"}])
    flags = desk.workspace.flags().to_dict("records")
    assert [(f["claim_no"], f["reason"]) for f in flags] == [
        ("C1", "serial is not in the unit register"),
        ("C2", "failed before in service"),
    ]
    # a better register clears both
    desk.load(
        "units2.csv",
        [
            {"serial": "S1", **unit, "in_service_date": "2025-01-01"},
            {"serial": "s2", **unit, "in_service_date": "2025-01-01"},
        ],
        date(2025, 6, 1),
    )
    assert desk.workspace.flags().empty
    assert desk.query("select count(*) from units_now") == [(2,)]


FLAWS = {
    "serial is missing": {"serial": None},
    "reported before failed": {"failed_on": "2025-03-02"},
    "failed before in service": {"failed_on": "2024-12-31"},
    "failure date missing, report date used": {"failed_on": None},
    "decided before reported": {"decided_on": "2025-02-28"},
    "closed before reported": {"closed_on": "2025-02-27"},
    "negative amount": {"cost_total": "-1.00", "currency": "EUR"},
    "status is not one of: open, approved, denied, cancelled, closed": {
        "status": "waiting for godwits"
    },
    "later than the known-on date of its file": {"closed_on": "2025-06-02"},
    "failed after retirement": {"serial": "S2"},
    "failed_on is not a date": {"failed_on": "soon"},
}


def test_each_flaw_is_flagged_once_with_its_value(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    unit = {"model": "Trike", "model_year": 2025, "in_service_date": "2025-01-01"}
    desk.load(
        "units.csv",
        [
            {"serial": "S1", **unit},
            {"serial": "S2", **unit, "retired_on": "2025-02-01"},
        ],
    )
    sound = {"serial": "S1", "failed_on": "2025-02-10", "status": "open"}
    rows = [claim(0, **sound)]
    rows += [claim(n, **{**sound, **f}) for n, f in enumerate(FLAWS.values(), 1)]
    account = desk.load("claims.csv", rows, date(2025, 6, 1))
    flags = desk.workspace.flags().to_dict("records")
    by_claim = defaultdict(set)
    for flag in flags:
        by_claim[flag["claim_no"]].add(flag["reason"])
    for number, (reason, flaw) in enumerate(FLAWS.items(), start=1):
        assert reason in by_claim[f"C{number}"], reason
        (found,) = [
            f for f in flags if f["claim_no"] == f"C{number}" and f["reason"] == reason
        ]
        value = next(iter(flaw.values()))
        if reason in ("closed before reported", "negative amount"):
            assert str(found["value"]).startswith(str(value))
    assert "C0" not in by_claim
    assert account["flagged"] == len(FLAWS)


def test_what_no_table_could_read_is_flagged(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    unit = {"model": "Trike", "model_year": 2025}
    desk.load("claims.csv", [claim(1, serial="S1", failed_on="2025-02-01")])
    desk.load("units.csv", [{"serial": "S1", **unit, "ship_date": "some day"}])
    desk.load("parts.csv", [{"part_no": "P1", "lead_time_days": "soon"}])
    desk.load(
        "claim_parts.csv",
        [
            {"claim_no": "C1", "part_no": "P1", "quantity": "few"},
            {"claim_no": "C9", "part_no": "P1", "quantity": "1"},
        ],
    )
    desk.load(
        "fitted.csv",
        [
            {"serial": "S1", "component": "motor", "lot": "L", "fitted_on": "once"},
            {"serial": "S9", "component": "motor", "lot": "L", "fitted_on": None},
        ],
    )
    desk.load(
        "field.csv", [{"serial": "S1", "change_no": "E1", "done_on": "2025-02-30"}]
    )
    flags = desk.workspace.flags().fillna("").to_dict("records")
    assert {
        (f["claim_no"], f["serial"], f["column_name"], f["value"]) for f in flags
    } == {
        ("", "S1", "ship_date", "some day"),
        ("", "", "lead_time_days", "soon"),
        ("C1", "", "quantity", "few"),
        ("C9", "", "claim_no", "C9"),
        ("", "S1", "fitted_on", "once"),
        ("", "S9", "serial", "S9"),
        ("", "S1", "done_on", "2025-02-30"),
    }


def test_amounts_and_keys_arrive_as_the_views_promise(tmp_path: Path) -> None:
    desk = Desk(tmp_path)
    desk.load("c.csv", [claim(1, serial="007", cost_total="0.10", currency="EUR")])
    described = dict(row[:2] for row in desk.query("describe select * from claims_now"))
    assert described["serial"] == "VARCHAR"
    assert described["reported_on"] == "DATE"
    assert str(described["cost_total"]).startswith("DECIMAL")
    assert desk.claims("serial")["C1"] == ("007",)
