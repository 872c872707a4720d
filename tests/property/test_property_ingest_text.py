"""The account of a text file, against counts known by construction."""

from __future__ import annotations

import csv
import io
import tempfile
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from claimlens.errors import SourceError
from claimlens.ingest.describe import describe
from claimlens.ingest.records import SourceBlock, open_records

HEADER = (
    "claim_no",
    "reported_on",
    "serial",
    "model",
    "narrative",
    "technician_note",
    "cost_total",
)
DELIMITERS = (";", ",", "\t", "|")
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252")
# what a narrative may hold: delimiters, quotes, line breaks, letters of cp1252
PROSE = st.text(
    st.sampled_from("abcdefghij klmnop ,;|\"\n'.-€äöüéèñç0123456789"),
    min_size=1,
    max_size=60,
).map(lambda text: "x" + text.strip() + "x")


@dataclass
class Built:
    """A file and what is in it."""

    text: str = ""
    rows: list[tuple[int, list[str | None]]] = field(default_factory=list)
    rejected: list[int] = field(default_factory=list)
    skipped: int = 0

    @property
    def next_line(self) -> int:
        """Return the number of the physical line that comes next."""
        return self.text.count("\n") + 1


def _written(cells: list[str], delimiter: str, quoting: int, end: str) -> str:
    stream = io.StringIO()
    csv.writer(
        stream, delimiter=delimiter, quoting=quoting, lineterminator=end
    ).writerow(cells)
    return stream.getvalue()


@st.composite
def files(draw: st.DrawFn) -> tuple[Built, str, str]:
    """Draw a file of good rows with every kind of line around them."""
    delimiter = draw(st.sampled_from(DELIMITERS))
    quoting = draw(st.sampled_from((csv.QUOTE_MINIMAL, csv.QUOTE_ALL)))
    end = draw(st.sampled_from(("\n", "\r\n")))
    built = Built()
    for _ in range(draw(st.integers(0, 2))):
        built.text += f"Overview of warranty claims{end}"
        built.skipped += 1
    if draw(st.booleans()):
        built.text += end
        built.skipped += 1
    header = _written(list(HEADER), delimiter, quoting, end)
    built.text += header
    kinds = draw(
        st.lists(
            st.sampled_from(
                (
                    *("row", "row", "row", "row", "blank", "header", "total"),
                    *("bare total", "cut", "long", "open quote", "inch", "padding"),
                    *("no key", "nul"),
                )
            ),
            min_size=4,
            max_size=40,
        )
    )
    for number, kind in enumerate(["row", "row", "row", *kinds]):
        cells = [
            f"WC-{number:04d}",
            "2024-03-15",
            f"SN{number:06d}",
            "Lasto 3",
            draw(PROSE),
            draw(st.sampled_from(("", "replaced motor", "ok"))),
            "12.50",
        ]
        _add(built, kind, cells, (delimiter, quoting, end))
    if draw(st.booleans()):
        built.text += f"End of report{end}"
        built.skipped += 1
    encoding = draw(st.sampled_from(ENCODINGS))
    if encoding.startswith("utf-16") and "\0" in built.text:
        encoding = "utf-8"
    return built, delimiter, encoding


def _add(
    built: Built,
    kind: str,
    cells: list[str],
    style: tuple[str, int, str],
) -> None:
    """Append one line of a kind and note what must become of it."""
    delimiter, quoting, end = style
    line = built.next_line
    plain = [cell.replace("\n", " ").replace('"', "") for cell in cells]
    if kind in ("blank", "header", "total", "bare total"):
        built.skipped += 1
        built.text += {
            "blank": end,
            "header": _written(list(HEADER), delimiter, quoting, end),
            "total": _written(
                ["Total", *[""] * (len(HEADER) - 2), "99.00"], delimiter, quoting, end
            ),
            "bare total": _written(
                [*[""] * (len(HEADER) - 1), "99.00"], delimiter, quoting, end
            ),
        }[kind]
        return
    if kind == "cut":
        built.rejected.append(line)
        built.text += _written(plain[:3], delimiter, quoting, end)
        return
    if kind == "long":
        built.rejected.append(line)
        built.text += _written([*plain, "surplus"], delimiter, quoting, end)
        return
    if kind == "nul":
        built.rejected.append(line)
        plain[3] = "Las\0to"
        built.text += _written(plain, delimiter, csv.QUOTE_MINIMAL, end)
        return
    if kind in ("open quote", "inch"):
        # delimiters inside would leave no reading without the quote
        plain[4] = "".join(c for c in plain[4] if c not in DELIMITERS)
        plain[4] = f'"{plain[4]}' if kind == "open quote" else f'20" {plain[4]}'
        built.text += delimiter.join(plain) + end
        built.rows.append((line, [cell.strip() or None for cell in plain]))
        return
    if kind == "padding":
        built.text += _written([*cells, "", ""], delimiter, quoting, end)
    else:
        if kind == "no key":
            cells = ["", *cells[1:]]
        built.text += _written(cells, delimiter, quoting, end)
    built.rows.append((line, [cell.strip() or None for cell in cells]))


def _read(path: Path) -> tuple[list[tuple[int, list[str | None]]], object]:
    records = open_records(path, source=SourceBlock(name="x"))
    assert records.headers == HEADER
    rows = [
        (row, list(cells))
        for chunk in records.chunks()
        for row, cells in zip(
            chunk.rows, zip(*chunk.values.values(), strict=True), strict=True
        )
    ]
    return rows, records


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(files())
def test_every_line_of_a_random_file_is_a_row_rejected_or_skipped(
    drawn: tuple[Built, str, str],
) -> None:
    built, _, encoding = drawn
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "claims.csv"
        path.write_bytes(built.text.encode(encoding))
        rows, records = _read(path)
    assert rows == built.rows
    assert [reject.row for reject in records.rejected] == built.rejected
    assert records.skipped_lines == built.skipped
    assert records.rows_read == len(built.rows) + len(built.rejected)


@settings(max_examples=50, deadline=None)
@given(st.lists(PROSE, min_size=3, max_size=12), st.integers(0, 11))
def test_an_open_quote_harms_no_row_but_its_own(texts: list[str], place: int) -> None:
    """The rows after it are read as if it had not been there."""
    at = place % len(texts)
    lines = [",".join(HEADER) + "\n"]
    for number, text in enumerate(texts):
        cells = [f"WC-{number:04d}", "2024-03-15", "SN000001", "Lasto 3", text, "", "1"]
        line = _written(cells, ",", csv.QUOTE_MINIMAL, "\n")
        lines.append('WC-9999,2024-03-15,"SN1\n' if number == at else line)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "claims.csv"
        path.write_bytes("".join(lines).encode())
        rows, records = _read(path)
    kept = [cells[0] for _, cells in rows]
    assert kept == [f"WC-{n:04d}" for n in range(len(texts)) if n != at]
    assert len(records.rejected) == 1


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(0, 400),
            st.binary(max_size=4) | st.sampled_from([b'"', b"\n", b";", b"\x00", b"{"]),
        ),
        max_size=8,
    ),
    st.booleans(),
)
def test_a_damaged_file_is_described_or_refused_with_a_message(
    damage: list[tuple[int, bytes]], as_json: bool
) -> None:
    """No damage ends in anything but a description or one of our errors."""
    line = '{"claim_no":"C%d","reported_on":"2024-03-%02d","total":12.5}\n'
    text = (
        "".join(line % (n, n) for n in range(1, 10))
        if as_json
        else ";".join(HEADER) + "\n" + "WC-1;15.03.2024;S1;L;x;y;12,50\n" * 8
    )
    content = bytearray(text.encode())
    for place, extra in damage:
        content[place % len(content) : place % len(content) + 1] = extra
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "claims.csv"
        path.write_bytes(bytes(content))
        try:
            described = describe(path)
        except SourceError:
            return
    assert tomllib.loads(described.source_block())["source"][0]["kind"]
    assert described.text()
