"""The messy exports hold what their account says, counted without claimlens."""

from __future__ import annotations

import csv
import gzip
import io
import json
import re
import tomllib
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest

from claimlens.demo import (
    Export,
    FileTruth,
    World,
    expected_flags,
    load_truth,
    make_exports,
    make_world,
    write_exports,
    write_settings,
)
from claimlens.demo.exports.lines import Lines, grouped
from claimlens.demo.exports.snapshot import as_of
from claimlens.demo.exports.workspace_file import monthly_rates
from claimlens.resources import find
from claimlens.tables import TABLES as CANONICAL

Claims = dict[str, dict[str, str]]


def _name(exports: dict[str, Export], start: str) -> Export:
    (name,) = [n for n in exports if n.startswith(start)]
    return exports[name]


def _records(text: str, delimiter: str) -> list[tuple[int, list[str]]]:
    """Return each record with its first physical line, by Python's csv alone."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    out, start = [], 1
    for record in reader:
        out.append((start, record))
        start = reader.line_num + 1
    return out


TEXTS = {
    "unit_register": ("utf-8-sig", ","),
    "parts_list": ("utf-8", "|"),
    "engineering_changes": ("utf-8", ";"),
    "field_changes": ("utf-8", ";"),
    "pruefbefunde": ("latin-1", ";"),
    "build_records": ("utf-8", ","),
    "claims_de_2024": ("cp1252", ";"),
    "claims_de_2026": ("cp1252", ";"),
    "dossiers_fr": ("utf-16", "\t"),
    "claims_gb": ("utf-8", ","),
    "claims_us": ("utf-8", ","),
}


def _read(exports: dict[str, Export], start: str) -> list[tuple[int, list[str]]]:
    encoding, delimiter = TEXTS[start]
    return _records(_name(exports, start).content.decode(encoding), delimiter)


def _header(records: list[tuple[int, list[str]]]) -> list[str]:
    return next(r for _, r in records if len(r) > 2)


@pytest.mark.parametrize("start", TEXTS)
def test_a_text_export_has_as_many_rows_and_skipped_lines_as_its_account(
    demo_exports: dict[str, Export], start: str
) -> None:
    truth = _name(demo_exports, start).truths[0]
    records = _read(demo_exports, start)
    header = _header(records)
    cut = {row.row for row in truth.rejected if row.column is None}
    rows = [
        (line, r)
        for line, r in records
        if (len(r) == len(header) and r != header and "otal" not in r[0]) or line in cut
    ]

    assert len(rows) == truth.rows_read
    assert len(records) - 1 - len(rows) == truth.skipped_lines


@pytest.mark.parametrize("start", TEXTS)
def test_the_dirty_rows_stand_where_the_account_says(
    demo_exports: dict[str, Export], start: str
) -> None:
    export = _name(demo_exports, start)
    block = tomllib.loads(export.blocks[0])["source"][0]
    header_of = {field: header for header, field in block["columns"].items()}
    records = dict(_read(demo_exports, start))
    header = _header(list(records.items()))
    for dirt in export.truths[0].rejected:
        record = records[dirt.row]
        if dirt.column is None:
            assert len(record) < len(header)
            continue
        value = record[header.index(header_of[dirt.column])]
        assert value in {"", "20x3", "31.02.2024", "30/02/2024", "31/06/2024"} | {
            "2/30/2024"
        }


def _german(exports: dict[str, Export], start: str) -> Claims:
    records = _read(exports, start)
    header = _header(records)
    found: Claims = {}
    for _, record in records:
        if len(record) == len(header) and record != header and record[0]:
            found[record[0]] = dict(zip(header, record, strict=True))
    return found


def test_a_german_row_reads_back_as_the_claim_that_it_was(
    demo_world: World, demo_exports: dict[str, Export]
) -> None:
    """Read with Python alone: day first, decimal comma, German words."""
    written = _german(demo_exports, "claims_de_2026")
    claims = demo_world.claims.set_index("claim_no")
    mine = [number for number in written if number in claims.index]

    assert len(mine) > 1000
    for number in mine:
        theirs, ours = written[number], claims.loc[number]
        assert theirs["Fahrgestellnr."] == ours["serial"]
        day = datetime.strptime(theirs["Meldedatum"], "%d.%m.%Y")
        assert day == ours["reported_on"]
        amount = theirs["Betrag beantragt"].replace(".", "").replace(",", ".")
        assert float(amount) == ours["amount_requested"]
        assert (theirs["Status"] == "abgeschlossen") == (ours["status"] == "closed")


def test_claims_in_both_german_exports_are_newer_in_the_second(
    demo_exports: dict[str, Export],
) -> None:
    first = _german(demo_exports, "claims_de_2024")
    second = _german(demo_exports, "claims_de_2026")
    both = set(first) & set(second)
    moved = [n for n in both if first[n]["Status"] != second[n]["Status"]]

    assert len(both) > 200
    assert len(moved) > 10
    for number in moved:
        assert first[number]["Status"] in ("offen", "genehmigt")
        assert _stamp(first[number]) < _stamp(second[number])


def _stamp(row: dict[str, str]) -> datetime:
    return datetime.strptime(row["Letzte Änderung"], "%d.%m.%Y %H:%M:%S")


def test_together_the_exports_hold_every_claim_of_the_world(
    demo_world: World, demo_exports: dict[str, Export]
) -> None:
    numbers: set[str] = set()
    for start in ("claims_de_2024", "claims_de_2026", "dossiers_fr", "claims_gb"):
        numbers |= {record[0] for _, record in _read(demo_exports, start) if record}
    numbers |= {r[0] for _, r in _read(demo_exports, "claims_us") if r}
    numbers |= {str(row[0]) for row in _swiss(demo_exports)}
    numbers |= {r["id"] for r in _app(demo_exports) if r}

    padded = {n.zfill(7) if n.isdigit() else n for n in numbers if n}
    added = {key for e in demo_exports.values() for t in e.truths for key in t.added}
    assert set(demo_world.claims["claim_no"]) <= padded
    assert added <= padded
    assert 8000 < sum(_rows(e) for e in demo_exports.values()) < 10500


def _rows(export: Export) -> int:
    return sum(t.rows_read for t in export.truths if t.kind == "claims")


def _swiss(exports: dict[str, Export]) -> list[tuple[Any, ...]]:
    content = _name(exports, "claims_ch").content
    book = openpyxl.load_workbook(io.BytesIO(content), read_only=True)
    return list(book["Gesuche"].iter_rows(min_row=1, values_only=True))


def test_the_workbook_holds_its_rows_below_a_title(
    demo_exports: dict[str, Export],
) -> None:
    truth = _name(demo_exports, "claims_ch").truths[0]
    rows = _swiss(demo_exports)
    body = rows[5:]
    filled = [r for r in body if any(v is not None for v in r) and r[0] != "Total"]

    assert rows[4][0] == "Gesuchsnummer"
    assert len(filled) == truth.rows_read
    assert len(rows) - 1 - len(filled) == truth.skipped_lines


def test_the_workbook_mixes_dates_texts_and_numbers(
    demo_exports: dict[str, Export],
) -> None:
    body = [r for r in _swiss(demo_exports)[5:] if r[2] is not None]

    assert {type(r[1]) for r in body} == {datetime, str}
    assert {type(r[11]) for r in body} >= {float, str}
    assert {type(r[0]) for r in body} >= {int, str}
    texts = [r[11] for r in body if isinstance(r[11], str)]
    assert all(re.fullmatch(r"\d{1,3}('\d{3})*\.\d\d", text) for text in texts)


def _app(exports: dict[str, Export]) -> list[dict[str, Any] | None]:
    out: list[dict[str, Any] | None] = []
    for line in _name(exports, "service_app").content.decode().splitlines():
        try:
            out.append(json.loads(line))
        except json.JSONDecodeError:
            out.append(None)
    return out


def test_the_app_export_nests_units_and_parts(
    demo_world: World, demo_exports: dict[str, Export]
) -> None:
    export = _name(demo_exports, "service_app")
    claims, parts = export.truths
    lines = _app(demo_exports)
    used = sum(len(record["parts"]) for record in lines if record)
    broken = [n for n, record in enumerate(lines, start=1) if record is None]

    assert len(lines) == claims.rows_read
    assert broken == [r.row for r in claims.rejected if r.column is None]
    assert used == parts.rows_read - len(parts.rejected)
    serials = {r["id"]: r["unit"]["serial"] for r in lines if r and r["id"]}
    ours = demo_world.claims.set_index("claim_no")["serial"]
    assert all(ours[n] == s for n, s in serials.items() if n in ours.index)


def test_the_british_export_breaks_lines_inside_quotes_and_repeats_its_header(
    demo_exports: dict[str, Export],
) -> None:
    records = _read(demo_exports, "claims_gb")
    header = _header(records)
    amounts = [r[header.index("Amount Claimed")] for _, r in records if len(r) > 20]

    assert sum("\n" in value for _, r in records for value in r) > 50
    assert sum(r == header for _, r in records) > 2
    assert any(a.startswith("£1,") for a in amounts)
    assert sum(a == "(£45.50)" for a in amounts) == 1


def test_every_header_of_a_source_block_stands_in_its_file(
    demo_exports: dict[str, Export],
) -> None:
    for start in TEXTS:
        block = tomllib.loads(_name(demo_exports, start).blocks[0])["source"][0]
        records = _read(demo_exports, start)
        (header,) = [r for n, r in records if n == block["header_row"]]
        assert set(block["columns"]) <= set(header), start


def test_the_settings_know_a_rate_for_every_month_and_currency(
    demo_world: World, tmp_path: Path
) -> None:
    path = write_settings(demo_world, tmp_path)
    settings = tomllib.loads(path.read_text(encoding="utf-8"))
    rates = settings["currency"]["rates"]
    claims = demo_world.claims[demo_world.claims["currency"] != "EUR"]
    needed = set(
        zip(claims["reported_on"].dt.strftime("%Y-%m"), claims["currency"], strict=True)
    )

    assert settings["currency"]["report"] == "EUR"
    assert all(currency in rates[month] for month, currency in needed)
    assert settings["coverage"]["terms"] == [{"model": "Korvane Box", "months": 36}]
    assert rates == monthly_rates(demo_world.truth)


def test_every_file_is_read_by_exactly_the_sources_made_for_it(
    demo_world: World, demo_exports: dict[str, Export], tmp_path: Path
) -> None:
    settings = tomllib.loads(
        write_settings(demo_world, tmp_path).read_text(encoding="utf-8")
    )
    for export in demo_exports.values():
        name = Path(export.name.removesuffix(".gz"))
        kinds = [s["kind"] for s in settings["source"] if name.match(s["files"])]
        assert kinds == [truth.kind for truth in export.truths]


def test_no_source_of_the_exports_catches_a_canonical_file(
    demo_world: World, tmp_path: Path
) -> None:
    full = tomllib.loads(write_settings(demo_world, tmp_path).read_text("utf-8"))
    bare = write_settings(demo_world, tmp_path, sources=False).read_text("utf-8")
    canonical = [f"{kind}.csv" for kind in CANONICAL]

    for source in full["source"]:
        assert not any(Path(name).match(source["files"]) for name in canonical)
    assert "source" not in tomllib.loads(bare)
    assert tomllib.loads(bare)["coverage"] == full["coverage"]


def test_a_snapshot_takes_back_what_was_decided_later(demo_world: World) -> None:
    day = date(2023, 6, 30)
    known = as_of(demo_world.claims, day)
    later = demo_world.claims.set_index("claim_no").loc[known["claim_no"]]

    assert (known["reported_on"] <= pd.Timestamp(day)).all()
    assert not (known["decided_on"] > pd.Timestamp(day)).any()
    assert (known["updated_at"].dt.normalize() <= pd.Timestamp(day)).all()
    waiting = known["status"] == "open"
    assert waiting.sum() > 5
    assert known.loc[waiting, ["cost_total", "part_no"]].isna().all(axis=None)
    assert (later["status"].to_numpy()[waiting] != "open").all()


def test_a_second_writing_gives_the_same_bytes(tmp_path: Path) -> None:
    world = make_world(load_truth(), 11, units=1500)
    first = write_exports(world, tmp_path / "one")
    second = write_exports(make_world(load_truth(), 11, units=1500), tmp_path / "two")

    for one, two in zip(first, second, strict=True):
        assert one.name == two.name
        assert one.read_bytes() == two.read_bytes(), one.name


def test_demo_data_is_what_the_generator_writes(
    demo_world: World, demo_exports: dict[str, Export], tmp_path: Path
) -> None:
    """Same bytes; for packed files and the workbook the same contents."""
    folder = find("demo_data/exports")
    on_disk = {path.name: path for path in folder.iterdir()}

    assert set(on_disk) == set(demo_exports)
    for name, export in demo_exports.items():
        content = on_disk[name].read_bytes()
        if name.endswith(".gz"):
            content = gzip.decompress(content)
        if name.endswith(".xlsx"):
            assert _cells(content) == _cells(export.content)
        else:
            assert content == export.content, name
    settings = write_settings(demo_world, tmp_path).read_bytes()
    assert (folder.parent / "claimlens.toml").read_bytes() == settings


def _cells(content: bytes) -> list[list[tuple[Any, ...]]]:
    book = openpyxl.load_workbook(io.BytesIO(content), read_only=True)
    return [list(sheet.iter_rows(values_only=True)) for sheet in book.worksheets]


def test_demo_data_stays_below_six_megabytes() -> None:
    folder = find("demo_data/truth.toml").parent
    size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())

    assert size <= 6_000_000


def test_no_export_names_a_real_maker_or_a_person(
    demo_exports: dict[str, Export],
) -> None:
    """Mail addresses, links and telephone numbers have no place in the demo."""
    for export in demo_exports.values():
        if not export.name.endswith(".xlsx"):
            text = export.content.decode("latin-1")
            assert not re.search(r"https?://|www\.|\w@\w|\+\d{2} ?\d{3}", text)


def test_accounts_are_not_empty(demo_exports: dict[str, Export]) -> None:
    truths: list[FileTruth] = [t for e in demo_exports.values() for t in e.truths]

    assert sum(len(t.rejected) for t in truths) >= 20
    assert sum(len(t.flagged) for t in truths) >= 8
    assert sum(t.superseded for t in truths) == 15


def test_each_dirty_copy_and_each_odd_claim_of_the_world_is_an_expected_flag(
    demo_world: World, demo_exports: dict[str, Export]
) -> None:
    flags = expected_flags(demo_world, list(demo_exports.values()))
    counts = flags["why"].value_counts().to_dict()
    origin = demo_world.claim_truth["origin"].value_counts()

    assert not flags.duplicated(["claim_no", "column_name"]).any()
    assert counts["negative amount"] == counts["reported before it failed"] == 5
    assert counts["failed before in service"] == origin["before delivery"]
    assert counts["serial in nobody's register"] == origin["unknown serial"]
    assert counts["no failure date"] == demo_world.claims["failed_on"].isna().sum()


def test_lines_count_breaks_inside_quotes_and_quote_what_must_be() -> None:
    lines = Lines(";")
    lines.skip("title")

    assert lines.header(["a", "b"]) == 2
    assert lines.row(["x\ny", 'say "so"; then']) == 3
    assert lines.row(["1", "2"]) == 5
    text = lines.encode("utf-8").decode()
    assert list(csv.reader(io.StringIO(text), delimiter=";"))[2] == [
        "x\ny",
        'say "so"; then',
    ]


def test_amounts_are_grouped_with_the_signs_of_the_country() -> None:
    assert grouped(123456789, ".", ",") == "1.234.567,89"
    assert grouped(-5, "'", ".") == "-0.05"
    assert grouped(100000, ",", ".") == "1,000.00"


@pytest.mark.parametrize("units", [1, 20, 400])
def test_a_small_world_still_writes_every_file(units: int) -> None:
    exports = make_exports(make_world(load_truth(), 4, units=units))

    assert len(exports) == 14
    assert all(export.content for export in exports)
