"""Damage a sound export in one of many ways, the same way for the same number."""

from __future__ import annotations

import gzip
import io
import random
import re
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass

from mutant_seeds import SEEDS, Seed

__all__ = ["MUTATIONS", "Mutant", "mutant"]

Way = Callable[[random.Random, bytes, Seed], bytes]

_HUGE = 300_000
_NOTHING_LEFT = (
    *(zipfile.BadZipFile, zlib.error, StopIteration, IndexError, KeyError),
    *(ValueError, OSError, EOFError, NotImplementedError, RuntimeError),
)
_ODD_NUMBERS = (
    *("1e999", "NaN", "-inf", "1e-400", "99999999999999999999999", "0x1F", "1_000"),
    *("--5", "1.2.3,4", "1e999999999", "٣٤", "½", "-", "'12.50", "1/0"),
)
_ODD_DATES = (
    *("0000-00-00", "9999-12-31", "2024-02-30", "31/31/2024", "45321", "-1"),
    *("2024-3-1T25:61", "1e5", "today", "0001-01-01", "99999999", "2024-W53-7"),
)


@dataclass(frozen=True, slots=True)
class Mutant:
    """A damaged export.

    Parameters
    ----------
    number : int
        Names it for ever.
    seed : Seed
        What it was.
    way : str
        What was done to it.
    contents : bytes
        What it is.
    """

    number: int
    seed: Seed
    way: str
    contents: bytes


def _at(rng: random.Random, data: bytes) -> int:
    return rng.randrange(len(data)) if data else 0


def _insert(data: bytes, at: int, piece: bytes) -> bytes:
    return data[:at] + piece + data[at:]


def _flip_bits(rng: random.Random, data: bytes, _: Seed) -> bytes:
    out = bytearray(data)
    for _n in range(rng.choice((1, 1, 2, 5, 40))):
        if out:
            out[rng.randrange(len(out))] ^= 1 << rng.randrange(8)
    return bytes(out)


def _cut_end(rng: random.Random, data: bytes, _: Seed) -> bytes:
    return data[: _at(rng, data)]


def _cut_inside(rng: random.Random, data: bytes, _: Seed) -> bytes:
    at = _at(rng, data)
    return data[:at] + data[at + rng.choice((1, 2, 7, 60, 400)) :]


def _random_bytes(rng: random.Random, data: bytes, _: Seed) -> bytes:
    at = _at(rng, data)
    piece = rng.randbytes(rng.choice((1, 3, 20)))
    return data[:at] + piece + data[at + rng.choice((0, len(piece))) :]


def _swap_blocks(rng: random.Random, data: bytes, _: Seed) -> bytes:
    a, b, c = sorted(_at(rng, data) for _n in range(3))
    return data[:a] + data[b:c] + data[a:b] + data[c:]


def _ends(data: bytes, seed: Seed) -> tuple[str, list[str]] | None:
    """Return the text of a mutant and its lines, ends kept; None if it is none."""
    try:
        text = data.decode(seed.encoding)
    except UnicodeError:
        return None
    return text, re.findall(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+$", text)


def _lines(change: Callable[[random.Random, list[str], Seed], list[str]]) -> Way:
    """Return a way that works on the lines of text."""

    def way(rng: random.Random, data: bytes, seed: Seed) -> bytes:
        told = _ends(data, seed)
        if told is None or not told[1]:
            return _flip_bits(rng, data, seed)
        changed = "".join(change(rng, told[1], seed))
        errors = "surrogatepass" if seed.encoding.startswith("utf") else "replace"
        return changed.encode(seed.encoding, errors)

    return way


def _double(rng: random.Random, lines: list[str], _: Seed) -> list[str]:
    at = rng.randrange(len(lines))
    return lines[: at + 1] + [lines[at]] * rng.choice((1, 1, 3)) + lines[at + 1 :]


def _lose(rng: random.Random, lines: list[str], _: Seed) -> list[str]:
    at = rng.randrange(len(lines))
    return lines[:at] + lines[at + rng.choice((1, 1, 5)) :]


def _join(rng: random.Random, lines: list[str], _: Seed) -> list[str]:
    at = rng.randrange(len(lines))
    return [*lines[:at], lines[at].rstrip("\r\n"), *lines[at + 1 :]]


def _shuffle(rng: random.Random, lines: list[str], _: Seed) -> list[str]:
    rest = lines[1:]
    rng.shuffle(rest)
    return lines[:1] + rest


def _mix_ends(rng: random.Random, lines: list[str], _: Seed) -> list[str]:
    ends = ("\n", "\r\n", "\r", "\n\n", "\r\r\n")
    return [line.rstrip("\r\n") + rng.choice(ends) for line in lines]


def _into_line(pieces: Callable[[random.Random, Seed], str]) -> Way:
    """Return a way that puts something into a line."""

    def change(rng: random.Random, lines: list[str], seed: Seed) -> list[str]:
        at = rng.randrange(len(lines))
        place = rng.randrange(len(lines[at]) + 1)
        line = lines[at][:place] + pieces(rng, seed) + lines[at][place:]
        return [*lines[:at], line, *lines[at + 1 :]]

    return _lines(change)


def _drop_letter(letters: Callable[[Seed], str]) -> Way:
    """Return a way that takes one of some letters out."""

    def change(rng: random.Random, lines: list[str], seed: Seed) -> list[str]:
        text = "".join(lines)
        places = [at for at, one in enumerate(text) if one in letters(seed)]
        if not places:
            return lines
        at = rng.choice(places)
        return [text[:at] + text[at + 1 :]]

    return _lines(change)


def _fields(rng: random.Random, lines: list[str], seed: Seed) -> list[str]:
    """Take fields from a line, or add some."""
    at = rng.randrange(len(lines))
    body = lines[at].rstrip("\r\n")
    end = lines[at][len(body) :]
    cells = body.split(seed.delimiter)
    kind = rng.randrange(4)
    if kind == 0:
        cells = cells[: rng.randrange(len(cells) + 1)]
    elif kind == 1:
        cells += ["more"] * rng.choice((1, 2, 50))
    elif kind == 2:
        cells = [""] * len(cells)
    else:
        cells = cells[1:]
    return [*lines[:at], seed.delimiter.join(cells) + end, *lines[at + 1 :]]


def _header(rng: random.Random, lines: list[str], seed: Seed) -> list[str]:
    """Play a trick with the header."""
    body = lines[0].rstrip("\r\n")
    end = lines[0][len(body) :]
    cells = body.split(seed.delimiter)
    at = rng.randrange(len(cells))
    tricks: list[Callable[[], list[str]]] = [
        lambda: [*cells[:at], cells[at - 1], *cells[at + 1 :]],
        lambda: [*cells[:at], "", *cells[at + 1 :]],
        lambda: [cell.upper() for cell in cells],
        lambda: [f"  {cell} " for cell in cells],
        lambda: [*cells[:at], cells[at] + "\u200b", *cells[at + 1 :]],
        lambda: [*cells, "=cmd()"],
        lambda: list(reversed(cells)),
        lambda: [*cells[:at], "x" * 5_000, *cells[at + 1 :]],
        lambda: [],
    ]
    header = seed.delimiter.join(rng.choice(tricks)()) + end
    shown = header.encode(seed.encoding, "replace").decode(seed.encoding)
    extra = [shown] * rng.choice((1, 1, 2))
    return extra + lines[1:]


def _cell(choices: tuple[str, ...], header: str) -> Way:
    """Return a way that writes odd values into a column."""

    def change(rng: random.Random, lines: list[str], seed: Seed) -> list[str]:
        out = list(lines)
        for _n in range(rng.choice((1, 3))):
            at = rng.randrange(len(out))
            odd = rng.choice(choices).encode(seed.encoding, "replace")
            text = odd.decode(seed.encoding, "replace").lstrip("\ufeff")
            if seed.form in ("json", "lines"):
                pattern = rf'("{header}": )[^,\n}}]*'
            elif header == "cost_total":
                pattern = r"()\d+\.50"
            else:
                pattern = r"()\d{4}-\d\d-\d\d"
            out[at] = re.sub(pattern, lambda m, t=text: m.group(1) + t, out[at])
        return out

    return _lines(change)


def _deep(rng: random.Random, seed: Seed) -> str:
    depth = rng.choice((50, 900, 5_000, 100_000))
    return rng.choice(("[" * depth, '{"a":' * depth, "[" * depth + "]" * depth))


def _json_tricks(rng: random.Random, seed: Seed) -> str:
    return rng.choice(
        (
            *('"\\ud800":1,', '"x":"\\udfff",', "null,", "NaN,", "{},", "[],", "//"),
            *('"claim_no":"WC-1",', "\\", "}{", "],[", "\u2028", "'", "True,"),
        )
    )


def _rezip(change: Callable[[random.Random, dict[str, bytes]], None]) -> Way:
    """Return a way that works on the parts of an archive."""

    def way(rng: random.Random, data: bytes, seed: Seed) -> bytes:
        if not data.startswith(b"PK"):
            return _random_bytes(rng, data, seed)
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = {name: archive.read(name) for name in archive.namelist()}
        change(rng, parts)
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, contents in parts.items():
                archive.writestr(name, contents)
        return out.getvalue()

    return way


def _sheet_of(parts: dict[str, bytes]) -> str:
    wanted = ("content.xml", "xl/worksheets/sheet1.xml")
    return next(name for name in wanted if name in parts)


def _part_bytes(rng: random.Random, parts: dict[str, bytes]) -> None:
    name = rng.choice(sorted(parts))
    ways = (_flip_bits, _cut_end, _cut_inside, _random_bytes, _swap_blocks)
    parts[name] = rng.choice(ways)(rng, parts[name], SEEDS[0])


def _part_names(rng: random.Random, parts: dict[str, bytes]) -> None:
    name = rng.choice(sorted(parts))
    kind = rng.randrange(4)
    if kind == 0:
        del parts[name]
    elif kind == 1:
        parts[rng.choice(("../../x.xml", "/x", "C:\\x", name.upper()))] = parts[name]
    elif kind == 2:
        parts[name + " "] = parts.pop(name)
    else:
        parts["bomb.xml"] = b"\0" * 3_000_000


def _sheet_marks(rng: random.Random, parts: dict[str, bytes]) -> None:
    """Change places, kinds and numbers in the XML of a sheet."""
    name = _sheet_of(parts)
    text = parts[name]
    kind = rng.randrange(7)
    numbers = [found.span() for found in re.finditer(rb"\d+", text)]
    tags = [found.span() for found in re.finditer(rb"<[^>]*>", text)]
    start, stop = rng.choice(numbers if kind < 3 else tags)
    odd = (b"0", b"-1", b"99999999", b"1048577", b"4294967296", b"")
    if kind < 3:
        piece = rng.choice(odd)
    elif kind == 3:
        piece = b""
    elif kind == 4:
        piece = text[start:stop] * 2
    elif kind == 5:
        piece = b'<!DOCTYPE a [<!ENTITY b "c">]>' + text[start:stop]
    else:
        piece = text[start:stop].replace(b"s", b"n", 1)
    parts[name] = text[:start] + piece + text[stop:]


def _sheet_rows(rng: random.Random, parts: dict[str, bytes]) -> None:
    """Double, lose or empty whole rows of a sheet."""
    name = _sheet_of(parts)
    text = parts[name]
    pattern = rb"<row .*?</row>|<table:table-row>.*?</table:table-row>"
    rows = [found.span() for found in re.finditer(pattern, text, re.DOTALL)]
    start, stop = rng.choice(rows)
    row = text[start:stop]
    ways = (row + row, b"", re.sub(rb"<(?:v|text:p)>.*?</(?:v|text:p)>", b"", row))
    parts[name] = text[:start] + rng.choice(ways) + text[stop:]


def _append(rng: random.Random, data: bytes, _: Seed) -> bytes:
    junk = rng.choice((b"\0" * 100, rng.randbytes(50), data, b"\x1a", b"PK\x05\x06"))
    return data + junk if rng.random() < 0.6 else junk + data


def _text_of(pick: tuple[str, ...]) -> Callable[[random.Random, Seed], str]:
    def piece(rng: random.Random, seed: Seed) -> str:
        text = rng.choice(pick)
        try:
            text.encode(seed.encoding)
        except UnicodeError:
            return "?"
        return text

    return piece


_ANY: dict[str, Way] = {
    "bits flipped": _flip_bits,
    "cut at the end": _cut_end,
    "cut inside": _cut_inside,
    "bytes at random": _random_bytes,
    "blocks swapped": _swap_blocks,
    "junk around": _append,
}
_OF_TEXT: dict[str, Way] = {
    "line doubled": _lines(_double),
    "line lost": _lines(_lose),
    "lines joined": _lines(_join),
    "lines in another order": _lines(_shuffle),
    "line ends mixed": _lines(_mix_ends),
    "quote opened": _into_line(lambda rng, seed: '"' * rng.choice((1, 1, 2, 3))),
    "quote lost": _drop_letter(lambda seed: '"'),
    "delimiter more": _into_line(lambda rng, seed: seed.delimiter),
    "delimiter less": _drop_letter(lambda seed: seed.delimiter),
    "other delimiter": _into_line(lambda rng, seed: rng.choice(";,\t|")),
    "fields more or less": _lines(_fields),
    "header": _lines(_header),
    "byte-order mark": _into_line(_text_of(("\ufeff", "\ufffe", "ï»¿"))),
    "NUL": _into_line(lambda rng, seed: "\0" * rng.choice((1, 1, 30))),
    "half characters": _into_line(lambda rng, seed: "\udcff"),
    "huge field": _into_line(lambda rng, seed: rng.choice("xé 9,") * _HUGE),
    "odd numbers": _cell(_ODD_NUMBERS, "cost_total"),
    "odd dates": _cell(_ODD_DATES, "reported_on"),
}
_OF_JSON: dict[str, Way] = {
    "nested deep": _into_line(_deep),
    "JSON tricks": _into_line(_json_tricks),
}
_OF_ARCHIVES: dict[str, Way] = {
    "part damaged": _rezip(_part_bytes),
    "part names": _rezip(_part_names),
    "sheet marks": _rezip(_sheet_marks),
    "sheet rows": _rezip(_sheet_rows),
}
MUTATIONS: dict[str, dict[str, Way]] = {
    "text": {**_ANY, **_OF_TEXT},
    "json": {**_ANY, **_OF_TEXT, **_OF_JSON},
    "lines": {**_ANY, **_OF_TEXT, **_OF_JSON},
    "xlsx": {**_ANY, **_OF_ARCHIVES},
    "ods": {**_ANY, **_OF_ARCHIVES},
    "xls": _ANY,
    "parquet": _ANY,
}


def mutant(number: int) -> Mutant:
    """Return the mutant of that number.

    Parameters
    ----------
    number : int
        From 0; formats take turns, and within each its ways.

    Returns
    -------
    Mutant
        In one case of five it was damaged twice.
    """
    rng = random.Random(20240607 + number)
    seed = SEEDS[number % len(SEEDS)]
    ways = MUTATIONS[seed.form]
    names = sorted(ways)
    name = names[number // len(SEEDS) % len(names)]
    contents = seed.contents
    inside = seed.packed and rng.random() < 0.7
    if inside:
        contents = gzip.decompress(contents)
    for again in range(2 if rng.random() < 0.2 else 1):
        way = ways[name if not again else rng.choice(names)]
        try:
            contents = way(rng, contents, seed)
        except _NOTHING_LEFT:
            break  # the first damage left nothing to work on
    if inside:
        contents = gzip.compress(contents, mtime=0)
    return Mutant(number, seed, name, contents)
