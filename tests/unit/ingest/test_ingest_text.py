"""Delimited text: encodings, dialects, lines that are no rows, torn rows."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest

from claimlens.ingest.records import Records, SourceBlock, open_records

HEADER = "Antragsnr.;Meldedatum;Fahrgestellnr;Beanstandung;Gesamtkosten"
ROW = "G-1;15.03.2024;007;läuft nicht – défaut;12,50"


def _read(path: Path, **known: object) -> tuple[Records, list[dict[str, str | None]]]:
    records = open_records(path, source=SourceBlock(name="x", **known))  # type: ignore[arg-type]
    rows = [
        dict(zip(chunk.values, cells, strict=True))
        for chunk in records.chunks()
        for cells in zip(*chunk.values.values(), strict=True)
    ]
    return records, rows


def _file(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    path = folder / "claims.csv"
    path.write_bytes(text.encode(encoding))
    return path


@pytest.mark.parametrize(
    "encoding",
    ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"],
)
def test_letters_arrive_whole_in_every_encoding(tmp_path: Path, encoding: str) -> None:
    path = _file(tmp_path, f"{HEADER}\r\n{ROW}\r\n", encoding)
    _, rows = _read(path)
    assert rows[0]["Beanstandung"] == "läuft nicht – défaut"
    assert rows[0]["Fahrgestellnr"] == "007"


def test_latin_1_with_undefined_bytes_is_read(tmp_path: Path) -> None:
    path = tmp_path / "claims.csv"
    path.write_bytes(
        f"{HEADER}\nG-1;15.03.2024;007;l\xe4uft \x81;1\n".encode("latin-1")
    )
    records, rows = _read(path)
    assert records.layout.encoding == "latin-1"
    assert str(rows[0]["Beanstandung"]).startswith("läuft")


def test_one_stray_byte_does_not_spoil_a_utf_8_file(tmp_path: Path) -> None:
    good = "".join(f"G-{n};15.03.2024;007;läuft;1\n" for n in range(50))
    path = tmp_path / "claims.csv"
    path.write_bytes(f"{HEADER}\n{good}".encode() + b"G-99;15.03.2024;008;l\xe4uft;1\n")
    _, rows = _read(path)
    assert {row["Beanstandung"] for row in rows} == {"läuft"}


def test_a_letter_at_the_end_of_a_long_file_decides_the_encoding(
    tmp_path: Path,
) -> None:
    plain = "".join(f"G-{n};15.03.2024;007;rattles;1\n" for n in range(60_000))
    path = _file(tmp_path, f"{HEADER}\n{plain}G-x;15.03.2024;1;läuft;1\n", "cp1252")
    _, rows = _read(path)
    assert rows[-1]["Beanstandung"] == "läuft"


@pytest.mark.parametrize("delimiter", [";", ",", "\t", "|"])
@pytest.mark.parametrize("packed", [False, True])
def test_delimiters_are_found_in_plain_and_packed_files(
    tmp_path: Path, delimiter: str, packed: bool
) -> None:
    text = f"{HEADER}\n{ROW.replace(',50', '')}\n".replace(";", delimiter)
    path = tmp_path / "claims.dat"
    path.write_bytes(gzip.compress(text.encode()) if packed else text.encode())
    records, rows = _read(path)
    assert records.layout.delimiter == delimiter
    assert len(rows) == 1


def test_a_declared_separator_line_is_obeyed_and_skipped(tmp_path: Path) -> None:
    path = _file(tmp_path, f"sep=;\r\n{HEADER}\r\n{ROW}\r\n")
    records, rows = _read(path)
    assert (records.layout.header_row, records.skipped_lines, len(rows)) == (2, 1, 1)


@pytest.mark.parametrize(
    "line",
    [
        "",
        ";;;;",
        "Summe;;;;99,00",
        "Zwischensumme März;;;;99,00",
        "Total général;;;;99,00",
        "Totaal;;;;99,00",
        "Suma total;;;;99,00",
        "Totale complessivo;;;;99,00",
        "Grand total (2 claims);;;;99.00",
        ";;;Gesamt:;99,00",
        ";;;;1.234,00",
        "Anzahl: 412;;;;",
        "Anzahl;412;;;",
        "-----;-----;-----;-----;-----",
        HEADER,
        HEADER.upper(),
        "Export erstellt am 01.02.2024",
        "*** Ende der Liste ***;;;;",
        "Hinweis: Beträge netto; ohne Fracht",
        "Seite 2 von 7",
    ],
)
def test_lines_that_are_no_rows_are_skipped_and_counted(
    tmp_path: Path, line: str
) -> None:
    path = _file(tmp_path, f"{HEADER}\n{ROW}\n{line}\n{ROW}\n")
    records, rows = _read(path)
    assert len(rows) == 2
    assert records.skipped_lines == 1
    assert records.rejected == []


@pytest.mark.parametrize(
    "line",
    [
        ";15.03.2024;007;läuft nicht;12,50",
        "Total-Motors 4;15.03.2024;007;läuft nicht;12,50",
        "G-2;;;;",
        "G-2;15.03.2024;;;99,00",
        "G-3;15.03.2024;008;Summe der Teile klappert;",
    ],
)
def test_rows_that_lack_something_are_still_rows(tmp_path: Path, line: str) -> None:
    path = _file(tmp_path, f"{HEADER}\n{ROW}\n{line}\n{ROW}\n")
    records, rows = _read(path)
    assert len(rows) == 3
    assert records.skipped_lines == 0


@pytest.mark.parametrize("line", ["G-2;15.03.2024", "G-2", "G", f"{ROW};more", ";;x"])
def test_cut_and_overlong_rows_are_rejected_with_their_line(
    tmp_path: Path, line: str
) -> None:
    path = _file(tmp_path, f"{HEADER}\n{ROW}\n{line}\n{ROW}\n")
    records, rows = _read(path)
    assert len(rows) == 2
    (reject,) = records.rejected
    assert (reject.row, reject.value) == (3, line)
    assert "fields" in reject.reason
    assert records.rows_read == 3


def test_empty_columns_at_the_end_may_be_missing(tmp_path: Path) -> None:
    path = _file(tmp_path, f"{HEADER};;\n{ROW}\n{ROW};;\n{ROW};;;\n")
    records, rows = _read(path)
    assert len(rows) == 3
    assert len(records.headers) == 5


def test_a_filled_column_without_a_name_gets_one(tmp_path: Path) -> None:
    path = _file(tmp_path, f"{HEADER};\n{ROW};seen\n")
    records, rows = _read(path)
    assert records.headers[-1] == "column 6"
    assert rows[0]["column 6"] == "seen"


def test_a_late_value_under_no_header_is_rejected_not_lost(tmp_path: Path) -> None:
    many = f"{ROW};\n" * 3000
    path = _file(tmp_path, f"{HEADER};\n{many}{ROW};late\n")
    records, rows = _read(path)
    assert len(rows) == 3000
    assert records.rejected[0].row == 3002


def test_header_cells_with_line_breaks_become_one_line(tmp_path: Path) -> None:
    header = HEADER.replace("Meldedatum", '"Melde-\ndatum"')
    path = _file(tmp_path, f"{header}\n{ROW}\n")
    records, rows = _read(path)
    assert records.headers[1] == "Melde- datum"
    assert len(rows) == 1


def test_repeated_title_lines_of_later_pages_are_skipped(tmp_path: Path) -> None:
    title = "Garantieliste Nord\nZeitraum;2024\n"
    text = f"{title}{HEADER}\n{ROW}\n{title}{HEADER}\n{ROW}\n"
    records, rows = _read(_file(tmp_path, text))
    assert len(rows) == 2
    assert records.skipped_lines == 5


def test_a_row_with_nul_bytes_is_rejected(tmp_path: Path) -> None:
    text = f"{HEADER}\n{ROW}\nG-2;15.03.2024;0\x007;x;1\n{ROW}\n"
    records, rows = _read(_file(tmp_path, text))
    assert len(rows) == 2
    assert records.rejected[0].reason == "holds NUL bytes"


def test_the_header_row_of_the_source_block_wins(tmp_path: Path) -> None:
    text = f"{HEADER}\nwell;here;is;our;header\n{ROW}\n"
    records, rows = _read(_file(tmp_path, text), header_row=2)
    assert records.headers[0] == "well"
    assert len(rows) == 1


def test_chunks_can_be_read_twice_with_the_same_account(tmp_path: Path) -> None:
    records, first = _read(_file(tmp_path, f"{HEADER}\n{ROW}\nG-2\n\n"))
    assert sum(len(chunk.rows) for chunk in records.chunks()) == len(first) == 1
    assert (records.rows_read, records.skipped_lines) == (2, 1)


def test_text_wrapped_to_keep_its_zeros_is_unwrapped(tmp_path: Path) -> None:
    wrapped = ROW.replace("007", '="007"')
    quoted = ROW.replace("007", '"=""008"""')
    _, rows = _read(_file(tmp_path, f"{HEADER}\n{wrapped}\n{quoted}\n"))
    assert [row["Fahrgestellnr"] for row in rows] == ["007", "008"]


def test_identifiers_that_begin_like_a_label_are_rows(tmp_path: Path) -> None:
    wide = HEADER + ";a;b;c;d;e;f;g"
    rows = "".join(f"SUM-{n:04d};15.03.2024;;;{n},50;;;;;;;\n" for n in range(9))
    records, read = _read(_file(tmp_path, f"{wide}\n{rows}Summe;;;;36,00;;;;;;;\n"))
    assert len(read) == 9
    assert records.skipped_lines == 1
