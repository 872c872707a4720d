"""JSON Lines, arrays, objects that hold a list, and lists inside records."""

from __future__ import annotations

import json
from pathlib import Path

from claimlens.ingest.records import Records, SourceBlock, open_records

CLAIM = {
    "id": "C1",
    "unit": {"serial": "007", "model": {"name": "Lasto"}},
    "amount": 12.50,
    "goodwill": False,
    "parts": [{"no": "P1", "qty": 2}, {"no": "P2"}],
    "codes": ["E1", "E2"],
}


def _rows(records: Records) -> list[tuple[int, dict[str, str | None]]]:
    return [
        (row, dict(zip(chunk.values, cells, strict=True)))
        for chunk in records.chunks()
        for row, cells in zip(
            chunk.rows, zip(*chunk.values.values(), strict=True), strict=True
        )
    ]


def _open(path: Path, records: str | None = None) -> Records:
    return open_records(path, source=SourceBlock(name="x", records=records))


def test_nested_objects_are_flattened_with_dots(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    path.write_text(json.dumps(CLAIM) + "\n" + json.dumps({"id": "C2"}) + "\n")
    rows = _rows(_open(path))
    assert rows[0] == (
        1,
        {
            "id": "C1",
            "unit.serial": "007",
            "unit.model.name": "Lasto",
            "amount": "12.5",
            "goodwill": "no",
            "parts": '[{"no":"P1","qty":2},{"no":"P2"}]',
            "codes": '["E1","E2"]',
        },
    )
    assert rows[1][1]["unit.serial"] is None


def test_a_broken_line_is_rejected_and_blank_lines_are_counted(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    path.write_text('{"id":"C1"}\n\n{"id":"C2",\n[1]\n{"id":"C3"}\n')
    records = _open(path)
    assert [row for row, _ in _rows(records)] == [1, 5]
    assert [reject.row for reject in records.rejected] == [3, 4]
    assert (records.rows_read, records.skipped_lines) == (4, 1)


def test_a_list_inside_records_can_be_read_with_its_parent(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    path.write_text(json.dumps(CLAIM) + "\n" + json.dumps({"id": "C2"}) + "\n")
    rows = _rows(_open(path, "parts"))
    assert [(row, cells["no"], cells["^id"]) for row, cells in rows] == [
        (1, "P1", "C1"),
        (1, "P2", "C1"),
    ]
    assert rows[0][1]["^unit.serial"] == "007"


def test_arrays_number_their_elements(tmp_path: Path) -> None:
    path = tmp_path / "a.json"
    path.write_text(json.dumps([CLAIM, {"id": "C2"}, 5], indent=1))
    records = _open(path)
    assert [(row, cells["id"]) for row, cells in _rows(records)] == [
        (1, "C1"),
        (2, "C2"),
    ]
    assert records.rejected[0].row == 3


def test_the_longest_list_of_an_object_is_found(tmp_path: Path) -> None:
    path = tmp_path / "a.json"
    inside = {"meta": {"tags": [{"a": 1}]}, "data": {"claims": [CLAIM, CLAIM]}}
    path.write_text(json.dumps(inside))
    records = _open(path)
    assert records.layout.records == "data.claims"
    assert len(_rows(records)) == 2
    parts = _rows(_open(path, "data.claims.parts"))
    assert [cells["no"] for _, cells in parts] == ["P1", "P2", "P1", "P2"]


def test_numbers_keep_their_digits(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    path.write_text('{"a": 1.10, "b": 12345678901234567890, "c": 1.0, "d": 1.234}\n')
    assert _rows(_open(path))[0][1] == {
        "a": "1.10",
        "b": "12345678901234567890",
        "c": "1",
        "d": "1.2340",
    }


def test_utf_16_json_lines_are_read(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    path.write_bytes('{"id":"C1","text":"läuft"}\n'.encode("utf-16"))
    assert _rows(_open(path))[0][1]["text"] == "läuft"
