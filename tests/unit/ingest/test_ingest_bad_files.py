"""Files that cannot be used say what, where and what to do."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pytest
import xlsxwriter

from claimlens.errors import SourceError
from claimlens.ingest.records import SourceBlock, open_records

NOISE = np.random.default_rng(20240607).bytes(5_000)
LOCKED = (
    b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
    + bytes(1_000)
    + "EncryptedPackage".encode("utf-16-le")
)


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("empty.csv", b"", "empty"),
        ("blank.csv", b"\xef\xbb\xbf\r\n \r\n", "empty"),
        ("picture.csv", b"\x89PNG\r\n\x1a\n" + NOISE, "PNG picture"),
        ("photo.csv", b"\xff\xd8\xff\xe0" + NOISE, "JPEG picture"),
        ("paper.csv", b"%PDF-1.7\n" + NOISE, "PDF"),
        ("noise.csv", NOISE, "no text"),
        ("page.xls", b"<html><table><tr><td>1</td></tr></table></html>", "web page"),
        ("locked.xlsx", LOCKED, "password"),
        ("broken.xlsx", b"PK\x03\x04" + NOISE, "damaged"),
        ("archive.csv", b"PK\x03\x04" + NOISE, "zip archive"),
        ("torn.csv.gz", gzip.compress(NOISE)[:2_000], "cannot be unpacked"),
        ("broken.json", b'[{"claim_no": "1"},\n {"claim_no": ', "no valid JSON"),
        ("bare.json", b'{"claim_no": "1"\n', "no valid JSON|no list of JSON objects"),
        ("twice.csv", b"claim_no,serial,serial\n1,2,3\n", "columns 2 and 3"),
        ("headless.csv", b"1,2024-01-01,12\n2,2024-01-02,13\n", "No header row"),
        ("bad.parquet", b"PAR1" + NOISE, "Parquet file is damaged"),
    ],
)
def test_an_unusable_file_gets_one_readable_message(
    tmp_path: Path, name: str, content: bytes, says: str
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(SourceError, match=says) as caught:
        open_records(path, source=SourceBlock(name="x"))
    assert caught.value.source == str(path)
    assert caught.value.remedy


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="does not exist"):
        open_records(tmp_path / "none.csv", source=SourceBlock(name="x"))


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="folder"):
        open_records(tmp_path, source=SourceBlock(name="x"))


def test_a_workbook_without_rows_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "empty.xlsx"
    xlsxwriter.Workbook(path).close()
    with pytest.raises(SourceError, match="no rows"):
        open_records(path, source=SourceBlock(name="x"))


def test_an_unknown_sheet_lists_the_sheets(tmp_path: Path) -> None:
    path = tmp_path / "claims.xlsx"
    book = xlsxwriter.Workbook(path)
    book.add_worksheet("Claims").write_row(0, 0, ["claim_no", "reported_on"])
    book.close()
    with pytest.raises(SourceError, match="no sheet 'Parts'") as caught:
        open_records(path, source=SourceBlock(name="x", sheet="Parts"))
    assert "Claims" in str(caught.value.remedy)


def test_an_unknown_encoding_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "claims.csv"
    path.write_text("claim_no,reported_on\n1,2024-01-01\n")
    with pytest.raises(SourceError, match="encoding 'klingon'"):
        open_records(path, source=SourceBlock(name="x", encoding="klingon"))
