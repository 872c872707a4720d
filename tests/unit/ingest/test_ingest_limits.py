"""Files that are too much, that are no files, or that change while they are read."""

from __future__ import annotations

import gzip
import json
import os
import socket
import zipfile
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
import xlsxwriter
import xlwt

from claimlens.db.parquet import write_parquet
from claimlens.errors import SourceError
from claimlens.ingest.paths import check_inside, expand
from claimlens.ingest.records import open_records
from claimlens.ingest.source import SourceBlock
from claimlens.settings import LimitSettings

HEADER = "claim_no,reported_on,serial,narrative\n"
ROW = "WC-1,2024-03-15,SN1,rattles\n"

Damage = Callable[[str, bytes], bytes]


def block(**limits: int) -> SourceBlock:
    return SourceBlock(name="x", limits=LimitSettings(**limits))


def count(path: Path, **limits: int) -> int:
    records = open_records(path, source=block(**limits))
    for _ in records.chunks():
        pass
    return records.rows_read


def book(path: Path, *, far: tuple[int, int] | None = None, rows: int = 3) -> Path:
    with xlsxwriter.Workbook(path) as made:
        sheet = made.add_worksheet()
        sheet.write_row(0, 0, HEADER.strip().split(","))
        for row in range(1, rows + 1):
            sheet.write_row(row, 0, [f"WC-{row}", "2024-03-15", f"SN{row}", "rattles"])
        if far:
            sheet.write(*far, "far")
    return path


def rewritten(path: Path, change: Damage, more: dict[str, bytes] | None = None) -> Path:
    """Write a workbook again, with its parts changed."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    target = path.with_name(f"changed_{path.name}")
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, contents in parts.items():
            archive.writestr(name, change(name, contents))
        for name, contents in (more or {}).items():
            archive.writestr(name, contents)
    return target


def same(_: str, contents: bytes) -> bytes:
    return contents


def test_a_line_that_is_too_long_is_named(tmp_path: Path) -> None:
    path = tmp_path / "claims.csv"
    path.write_text(HEADER + ROW * 5 + "WC-2,2024-03-15,SN2," + "x" * 2_000 + "\n")
    assert count(path) == 6
    with pytest.raises(SourceError, match=r"Line 7 is longer than 1,000 characters"):
        count(path, line_characters=1_000)


def test_a_line_as_long_as_is_allowed_is_read(tmp_path: Path) -> None:
    path = tmp_path / "claims.csv"
    line = "WC-2,2024-03-15,SN2,"
    path.write_bytes(
        (HEADER + ROW + line + "x" * (1_000 - len(line)) + "\r\n").encode()
    )
    assert count(path, line_characters=1_000) == 2


def test_a_quote_that_never_closes_gathers_no_more_than_a_line_may_hold(
    tmp_path: Path,
) -> None:
    path = tmp_path / "claims.csv"
    path.write_text(
        HEADER + ROW * 3 + 'WC-2,2024-03-15,"SN2\n' + ("y" * 900 + "\n") * 9
    )
    assert count(path, line_characters=1_000) == 3 + 10


def test_a_json_line_that_is_too_long_is_named(tmp_path: Path) -> None:
    path = tmp_path / "claims.jsonl"
    line = {"claim_no": "WC-1", "reported_on": "2024-03-15", "narrative": ""}
    path.write_text(
        "".join(
            json.dumps({**line, "narrative": text}) + "\n"
            for text in ("", "", "x" * 2_000)
        )
    )
    assert count(path) == 3
    with pytest.raises(SourceError, match="Line 3 is longer than 1,000 characters"):
        count(path, line_characters=1_000)


def test_a_json_document_that_is_too_long_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "claims.json"
    rows = [{"claim_no": f"WC-{n}", "narrative": "x" * 500} for n in range(3_000)]
    path.write_text(json.dumps(rows))
    assert count(path) == 3_000
    for text in (json.dumps(rows), json.dumps(rows, indent=1)):
        path.write_text(text)
        with pytest.raises(SourceError) as caught:
            count(path, document_mb=1)
        assert "under [limits]" in str(caught.value)


def test_a_packed_text_may_unpack_to_so_much(tmp_path: Path) -> None:
    path = tmp_path / "claims.csv.gz"
    path.write_bytes(gzip.compress((HEADER + ROW * 100_000).encode()))
    assert count(path, ratio_from_mb=50) == 100_000
    with pytest.raises(SourceError, match="more than 1 MB"):
        count(path, unpacked_mb=1)
    with pytest.raises(SourceError, match="more than 20 times its size"):
        count(path, ratio=20, ratio_from_mb=1)


def test_a_workbook_may_unpack_to_so_much(tmp_path: Path) -> None:
    path = rewritten(
        book(tmp_path / "a.xlsx"), same, {"xl/media/i.bin": b"0" * 3_000_000}
    )
    assert count(path) == 3
    with pytest.raises(SourceError, match="more than 1 MB"):
        count(path, workbook_mb=1)
    with pytest.raises(SourceError, match="more than 50 times its size"):
        count(path, ratio=50, ratio_from_mb=1)


def test_a_part_that_holds_more_than_it_says_is_refused(tmp_path: Path) -> None:
    path = rewritten(book(tmp_path / "a.xlsx"), same, {"xl/more.xml": b"<a/>" * 99})
    raw = path.read_bytes()
    lied = raw.replace((4 * 99).to_bytes(4, "little"), (4).to_bytes(4, "little"))
    assert lied != raw
    path.write_bytes(lied)
    with pytest.raises(SourceError, match="damaged"):
        count(path)


@pytest.mark.parametrize("far", [(1_048_575, 16_383), (900_000, 200)])
def test_a_cell_far_away_is_told_before_memory_is_asked_for(
    tmp_path: Path, far: tuple[int, int]
) -> None:
    with pytest.raises(SourceError) as caught:
        count(book(tmp_path / "a.xlsx", far=far))
    assert f"spans {far[0] + 1:,} rows and {far[1] + 1:,} columns" in str(caught.value)


def test_empty_cells_with_a_look_do_not_count(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    with xlsxwriter.Workbook(path) as made:
        sheet = made.add_worksheet()
        sheet.write_row(0, 0, HEADER.strip().split(","))
        sheet.write_row(1, 0, ["WC-1", "2024-03-15", "SN1", "rattles"])
        sheet.write_blank(1_048_575, 16_383, None, made.add_format({"bold": True}))
    assert count(path) == 1


def test_cells_without_a_place_are_counted_where_they_stand(tmp_path: Path) -> None:
    def bare(name: str, contents: bytes) -> bytes:
        if not name.endswith("sheet1.xml"):
            return contents
        wide = b"<c><v>1</v></c>" * 2_000
        return contents.replace(
            b"</sheetData>",
            b"<row>" + wide + b"</row>" + b"<row/>" * 900 + b"</sheetData>",
        )

    path = rewritten(book(tmp_path / "a.xlsx"), bare)
    with pytest.raises(SourceError, match="2,000 columns"):
        count(path, cells=1_000_000)


def test_a_text_repeated_without_end_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    with xlsxwriter.Workbook(path) as made:
        sheet = made.add_worksheet()
        sheet.write_row(0, 0, HEADER.strip().split(","))
        for row in range(1, 101):
            sheet.write_row(row, 0, [f"WC-{row}", "2024-03-15", "SN1", "x" * 30_000])
    assert count(path) == 100
    with pytest.raises(SourceError, match="repeat a text"):
        count(path, workbook_mb=1)


def test_a_parquet_file_that_would_not_fit_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.parquet"
    write_parquet(pd.DataFrame({"claim_no": ["x" * 900] * 2_000, "n": 1}), path)
    assert count(path) == 2_000
    with pytest.raises(SourceError, match="take 1 MB"):
        count(path, workbook_mb=1)
    with pytest.raises(SourceError, match="2,000 rows and 2 columns"):
        count(path, cells=1_000)


def test_a_name_like_a_pattern_reads_no_other_file(tmp_path: Path) -> None:
    for name in ("*.parquet", "other.parquet"):
        frame = pd.DataFrame({"claim_no": [name], "serial": ["SN1"]})
        write_parquet(frame, tmp_path / name)
    assert count(tmp_path / "*.parquet") == 1


def test_entities_in_a_workbook_are_refused(tmp_path: Path) -> None:
    bomb = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'

    def with_entities(name: str, contents: bytes) -> bytes:
        if not name.endswith("sharedStrings.xml"):
            return contents
        head, mark, rest = contents.partition(b"?>")
        return head + mark + bomb + rest.replace(b"rattles", b"&b;")

    path = rewritten(book(tmp_path / "a.xlsx"), with_entities)
    with pytest.raises(SourceError, match="defines XML entities in"):
        count(path)


@pytest.mark.parametrize(
    "name", ["../../evil.xml", "/etc/evil", "C:\\evil", "xl\\..\\a"]
)
def test_a_part_whose_name_leads_out_is_refused(tmp_path: Path, name: str) -> None:
    path = rewritten(book(tmp_path / "a.xlsx"), same, {name: b"x"})
    with pytest.raises(SourceError, match="leads out of it"):
        count(path)


def test_a_part_that_stands_twice_is_refused(tmp_path: Path) -> None:
    path = rewritten(book(tmp_path / "a.xlsx"), same, {"xl/WORKBOOK.xml": b"<a/>"})
    with pytest.raises(SourceError, match="twice"):
        count(path)


def test_an_old_workbook_with_a_far_cell_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.xls"
    made = xlwt.Workbook()
    sheet = made.add_sheet("x")
    for column, name in enumerate(HEADER.strip().split(",")):
        sheet.write(0, column, name)
        sheet.write(1, column, "2024-03-15")
    sheet.write(65_535, 255, "far")
    made.save(str(path))
    with pytest.raises(SourceError, match="spans 65,536 rows and 256 columns"):
        count(path, cells=1_000_000)


def test_an_open_document_with_repeated_cells_is_refused(tmp_path: Path) -> None:
    filled = (
        '<table:table-cell office:value-type="string"><text:p>a</text:p>'
        "</table:table-cell>"
    )
    content = (
        '<office:document-content><table:table table:name="x"><table:table-row>'
        f"{filled * 4}</table:table-row>"
        '<table:table-row table:number-rows-repeated="1048000">'
        '<table:table-cell office:value-type="float" office:value="1" '
        'table:number-columns-repeated="16384"><text:p>1</text:p></table:table-cell>'
        "</table:table-row></table:table></office:document-content>"
    )
    path = tmp_path / "a.ods"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)
    with pytest.raises(SourceError, match="16,384 columns"):
        count(path)


@pytest.mark.parametrize("depth", [5_000, 200_000])
def test_json_nested_without_end_is_refused(tmp_path: Path, depth: int) -> None:
    path = tmp_path / "a.json"
    deep = '{"a":' * depth + "1" + "}" * depth
    path.write_text(f'[{{"claim_no":"1","x":{deep}}}]')
    with pytest.raises(SourceError):
        count(path)
    path.write_text(f'{{"claim_no":"1","x":{deep}}}\n{{"claim_no":"2"}}\n')
    records = open_records(path, source=block())
    for _ in records.chunks():
        pass
    assert records.rows_read == 2
    assert "nested too deep" in records.rejected[0].reason


def test_numbers_of_json_without_end_stay_as_written(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    path.write_text(
        '{"claim_no":"1","cost_total":1e999999999}\n'
        f'{{"claim_no":"2","cost_total":{"9" * 5_000}}}\n'
        '{"claim_no":"3","cost_total":1.5e3}\n'
    )
    records = open_records(path, source=block())
    [chunk] = records.chunks()
    told = chunk.values["cost_total"]
    assert told[0] == "1E+999999999"
    assert told[1] == "9" * 5_000
    assert told[2] == "1500"


def test_half_a_character_becomes_the_replacement_character(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    path.write_text(
        '{"claim_no":"1","note":"a\\ud800b"}\n{"claim_no":"2","note":"\\ud83d\\ude00"}\n'
    )
    records = open_records(path, source=block())
    [chunk] = records.chunks()
    assert chunk.values["note"] == ["a\ufffdb", "😀"]


def test_what_is_no_file_is_told_and_never_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "archive").mkdir()
    (tmp_path / "lost.csv").symlink_to(tmp_path / "nowhere")
    with socket.socket(socket.AF_UNIX) as server:
        place = os.getcwd()
        os.chdir(tmp_path)  # the name of a socket must be short
        try:
            server.bind("socket.csv")
        finally:
            os.chdir(place)
        found = expand([tmp_path])
        assert [path.name for path, _ in found] == [
            *("folder.csv", "lost.csv", "pipe.csv", "socket.csv")
        ]
        told = []
        for path, _ in found:
            with pytest.raises(SourceError) as caught:
                open_records(path, source=block())
            told.append(caught.value.problem)
    assert told == [
        "This is a folder, not a file.",
        "The link leads to no file.",
        "This is a pipe, not a file.",
        "This is a socket, not a file.",
    ]
    with pytest.raises(SourceError, match="a device"):
        open_records(Path("/dev/zero"), source=block())


def test_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    (tmp_path / "secret.csv").write_text(HEADER + ROW)
    (inbox / "own.csv").write_text(HEADER + ROW)
    (inbox / "inside.csv").symlink_to("own.csv")
    (inbox / "outside.csv").symlink_to("../secret.csv")
    (inbox / "circle.csv").symlink_to("circle.csv")
    refused = []
    for path, folder in expand([inbox]):
        try:
            check_inside(path, folder)
        except SourceError as error:
            refused.append((path.name, error.problem))
    told = "This is a link that leads out of its folder."
    assert [name for name, _ in refused if name != "circle.csv"] == ["outside.csv"]
    assert dict(refused)["outside.csv"] == told
    assert expand([inbox / "outside.csv"]) == [(inbox / "outside.csv", None)]
    check_inside(inbox / "outside.csv", None)


def test_a_name_with_a_nul_is_no_file() -> None:
    with pytest.raises(SourceError):
        expand(["a\0b.csv"])


def test_json_nested_deep_is_kept_as_text_below_some_levels(tmp_path: Path) -> None:
    path = tmp_path / "a.json"
    deep = '{"a":' * 300 + "1" + "}" * 300
    path.write_text(f'[{{"claim_no":"1","x":{deep}}}]')
    records = open_records(path, source=block())
    [chunk] = records.chunks()
    assert records.headers == ("claim_no", "x" + ".a" * 20)
    assert str(chunk.values[records.headers[1]][0]).count("a") == 280
