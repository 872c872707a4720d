"""Makes claim exports that nobody has seen, with what is true of every row."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from export_books import Cell, book_grid, write_book, write_json, write_parquet
from export_claims import VALUE_FAULTS, Row, make_rows, make_units, words
from export_forms import DATES, Style, choose_columns
from export_texts import write_text


@dataclass
class Export:
    """A written file and the truth about it."""

    path: Path
    shape: str
    language: str
    rows: list[Row]
    skipped: int
    headers: dict[str, str]
    currency_mode: str


LOCAL = {  # language: dates, decimal sign, thousands; common practice, no source
    "en": ("dd/mm/yyyy", ".", ","),
    "de": ("dd.mm.yyyy", ",", "."),
    "fr": ("dd/mm/yyyy", ",", "\u202f"),
    "nl": ("dd-mm-yyyy", ",", "."),
    "es": ("dd/mm/yyyy", ",", "."),
    "it": ("dd/mm/yyyy", ",", "."),
}
SHAPES = (
    "semicolon",
    "xlsx",
    "xls",
    "ods",
    "jsonl",
    "json",
    "utf16",
    "utf16_bare",
    "comma",
    "pipe",
    "latin",
    "gz",
    "parquet",
)


class Maker:
    """Makes the exports of one seed into a folder."""

    def __init__(
        self, folder: Path, seed: int, *, unseen: bool = False, count: int = 300
    ) -> None:
        self.rng = random.Random(seed)
        self.folder = folder
        self.seed = seed
        self.unseen = unseen
        self.count = count
        self.units = make_units(self.rng, count)
        folder.mkdir(parents=True, exist_ok=True)

    def register(self, language: str) -> Export:
        """Write the unit register as a semicolon text of that language."""
        dates, decimal, thousands = LOCAL[language]
        style = Style(language, dates, decimal, thousands)
        names = [
            "serial",
            "model",
            "model_year",
            "build_date",
            "ship_date",
            "in_service_date",
            "region",
            "dealer",
        ]
        headers = {
            name: words(language, name, unseen=self.unseen)[self.seed % 2]
            for name in names
        }
        rows = [Row(dict(unit)) for unit in self.units]
        path = self.folder / f"register_{language}.csv"
        skipped = write_text(
            self.rng,
            path,
            rows,
            headers,
            style,
            delimiter=";",
            encoding="utf-8-sig",
            titles=False,
            totals=False,
            form_faults=(),
        )
        return Export(path, "register", language, rows, skipped, headers, "none")

    def _ready(
        self,
        language: str,
        shape: str,
        modes: tuple[str, ...],
        faults: tuple[str, ...] = VALUE_FAULTS,
    ) -> tuple[list[Row], dict[str, str], str]:
        rng = self.rng
        mode = rng.choice(modes)
        updated = rng.random() < 0.6
        home = rng.choice(["EUR", "CHF"] if mode == "header" else ["EUR", "GBP"])
        several = (home, "EUR", "GBP") if mode != "header" else (home,)
        headers = choose_columns(
            rng,
            language,
            unseen=self.unseen,
            currency_mode=mode,
            updated=updated,
            costs=rng.random() < 0.4,
            currency=home,
        )
        left_out = {
            "unknown currency": mode != "column",
            "failed before sold": "in_service_date" not in headers,
        }
        rows = make_rows(
            rng,
            self.units,
            self.count,
            language,
            unseen=self.unseen,
            prefix=rng.choice(
                [f"C{self.seed}-", f"00{self.seed}", f"{2020 + self.seed % 5}/"]
            )
            + shape[0]
            + str(SHAPES.index(shape) if shape in SHAPES else 99),
            newest_first=updated and rng.random() < 0.5,
            currencies=several,
            faults=tuple(f for f in faults if not left_out.get(f)),
        )
        return rows, headers, mode

    def make(self, shape: str, language: str) -> Export:
        """Write one export of a shape."""
        rng = self.rng
        dates, decimal, thousands = LOCAL[language]
        us = language == "en" and rng.random() < 0.5
        if us:
            dates = "mm/dd/yyyy"
        suffix = {
            "gz": ".csv.gz",
            "semicolon": ".csv",
            "comma": ".csv",
            "utf16": ".txt",
            "utf16_bare": ".txt",
            "pipe": ".txt",
            "latin": ".csv",
        }.get(shape, "." + shape)
        path = self.folder / f"{shape}_{language}{suffix}"
        style = Style(
            language,
            dates,
            decimal,
            thousands,
            minus=rng.choice(["-", "(", "after"]),
            null=rng.choice(["", "-", "n/a"]),
        )
        if rng.random() < 0.3:
            style.others = dict.fromkeys(
                rng.choice([("updated_at",), ("in_service_date", "junk_date")]),
                "yyyy-mm-dd",
            )
        build = getattr(
            self, f"_{'book' if shape in ('xlsx', 'xls', 'ods') else shape}"
        )
        rows, headers, mode, skipped = build(path, shape, language, style)
        return Export(path, shape, language, rows, skipped, headers, mode)

    def _semicolon(
        self, path: Path, shape: str, language: str, style: Style
    ) -> tuple[list[Row], dict[str, str], str, int]:
        rows, headers, mode = self._ready(language, shape, ("column", "header"))
        style.dates = "dd.mm.yyyy" if language != "en" else style.dates
        style.thousands = {"\u202f": "\xa0"}.get(style.thousands, style.thousands)
        skipped = write_text(
            self.rng,
            path,
            rows,
            headers,
            style,
            delimiter=";",
            encoding="cp1252",
            unseen=self.unseen,
            trailing=self.rng.random() < 0.3,
            declared=self.rng.random() < 0.2,
        )
        return rows, headers, mode, skipped

    def _book(
        self, path: Path, shape: str, language: str, style: Style
    ) -> tuple[list[Row], dict[str, str], str, int]:
        rows, headers, mode = self._ready(language, shape, ("column", "header"))
        style.null = ""
        grid, skipped = book_grid(self.rng, rows, headers, style, self.unseen)
        cover = [
            [Cell("Ostrova Mobil")],
            [],
            [Cell(words(language, "title", unseen=self.unseen)[0])],
            [Cell(date(2024, 6, 30), "yyyy-mm-dd")],
        ]
        sums = [[Cell(headers["status"]), Cell(headers["amount"])]] + [
            [
                Cell(words(language, s, unseen=self.unseen)[0]),
                Cell(self.rng.randrange(9000)),
            ]
            for s in ("open", "closed", "denied")
        ]
        order = [
            ("Info", cover),
            (self.rng.choice(["Export", "Data", "T1"]), grid),
            ("Pivot", sums),
        ]
        if self.rng.random() < 0.4:
            order = [order[0], order[2], order[1]]
        write_book(path, dict(order))
        return rows, headers, mode, skipped

    def _jsonl(
        self, path: Path, shape: str, language: str, style: Style
    ) -> tuple[list[Row], dict[str, str], str, int]:
        rows, headers, mode = self._ready(language, shape, ("column",))
        style.dates = self.rng.choice(["yyyy-mm-dd", "yyyy-mm-dd+T", style.dates])
        blanks = write_json(
            self.rng,
            path,
            rows,
            headers,
            style,
            lines=shape == "jsonl",
            plain=language == "en",
        )
        return rows, headers, mode, blanks

    _json = _jsonl

    def _utf16(
        self, path: Path, shape: str, language: str, style: Style
    ) -> tuple[list[Row], dict[str, str], str, int]:
        rows, headers, mode = self._ready(
            language, shape, ("column", "header", "inside")
        )
        style.dates = self.rng.choice(
            ["mm/dd/yyyy", "m/d/yyyy"] if language == "en" else ["dd/mm/yyyy"]
        )
        style.sign = "after" if mode == "inside" else "none"
        little = self.rng.random() < 0.6
        bom = (b"\xff\xfe" if little else b"\xfe\xff") if shape == "utf16" else b""
        skipped = write_text(
            self.rng,
            path,
            rows,
            headers,
            style,
            delimiter="\t",
            encoding="utf-16-le" if little else "utf-16-be",
            bom=bom,
            titles=self.rng.random() < 0.5,
            totals=self.rng.random() < 0.5,
            unseen=self.unseen,
        )
        return rows, headers, mode, skipped

    _utf16_bare = _utf16

    def _comma(
        self, path: Path, shape: str, language: str, style: Style
    ) -> tuple[list[Row], dict[str, str], str, int]:
        rows, headers, mode = self._ready(language, shape, ("inside", "column"))
        style.sign = (
            self.rng.choice(["before", "after", "code"]) if mode == "inside" else "none"
        )
        skipped = write_text(
            self.rng,
            path,
            rows,
            headers,
            style,
            delimiter=",",
            encoding="utf-8",
            bom=b"\xef\xbb\xbf",
            quote_all=self.rng.random() < 0.3,
            repeats=True,
            blanks=True,
            line_breaks=True,
            newline=self.rng.choice(["\r\n", "\n"]),
            unseen=self.unseen,
        )
        return rows, headers, mode, skipped

    def _pipe(
        self, path: Path, shape: str, language: str, style: Style
    ) -> tuple[list[Row], dict[str, str], str, int]:
        rows, headers, mode = self._ready(language, shape, ("inside", "header"))
        style.dates = self.rng.choice(
            ["words", "d-mmm-yy"] if language == "en" else ["words"]
        )
        style.decimal, style.thousands = ".", "'"
        style.sign = "code" if mode == "inside" else "none"
        skipped = write_text(
            self.rng,
            path,
            rows,
            headers,
            style,
            delimiter="|",
            encoding="utf-8",
            unseen=self.unseen,
        )
        return rows, headers, mode, skipped

    def _latin(
        self, path: Path, shape: str, language: str, style: Style
    ) -> tuple[list[Row], dict[str, str], str, int]:
        rows, headers, mode = self._ready(language, shape, ("column", "header"))
        style.dates = self.rng.choice(
            ["yyyymmdd", "dd-mm-yyyy", "d.m.yyyy", "dd.mm.yy"]
        )
        style.thousands = " "
        headers = {name: text.replace("œ", "oe") for name, text in headers.items()}
        skipped = write_text(
            self.rng,
            path,
            rows,
            headers,
            style,
            delimiter=";",
            encoding="latin-1",
            blanks=True,
            newline="\n",
            unseen=self.unseen,
        )
        return rows, headers, mode, skipped

    def _gz(
        self, path: Path, shape: str, language: str, style: Style
    ) -> tuple[list[Row], dict[str, str], str, int]:
        rows, headers, mode = self._ready(language, shape, ("column",))
        style.dates = self.rng.choice(["yyyy-mm-dd+T", f"{style.dates}+", "yyyy-mm-dd"])
        style.dates = style.dates if style.dates[-1] != "+" else style.dates + "hm"
        style.decimal, style.thousands = self.rng.choice([(".", ""), (",", "")])
        skipped = write_text(
            self.rng,
            path,
            rows,
            headers,
            style,
            delimiter=",",
            encoding="utf-8",
            titles=False,
            totals=False,
            unseen=self.unseen,
        )
        return rows, headers, mode, skipped

    def _parquet(
        self, path: Path, shape: str, language: str, style: Style
    ) -> tuple[list[Row], dict[str, str], str, int]:
        left = tuple(
            f for f in VALUE_FAULTS if not f.startswith(("impossible", "unreadable"))
        )
        rows, headers, mode = self._ready(language, shape, ("column",), left)
        write_parquet(path, rows, headers, style)
        return rows, headers, mode, 0

    def undecided(self, language: str) -> Export:
        """Write an export whose dates read both ways."""
        rows, headers, mode = self._ready(
            language, "ambiguous", ("column",), ("no claim number",)
        )
        for row in rows:
            for name in (*DATES, "junk_date", "updated_at"):
                value = row.values[name]
                if isinstance(value, date):
                    row.values[name] = value.replace(day=1 + value.day % 12)
        dates = "dd/mm/yyyy"
        style = Style(language, dates, LOCAL[language][1], LOCAL[language][2])
        path = self.folder / f"undecided_{language}.csv"
        skipped = write_text(
            self.rng,
            path,
            rows,
            headers,
            style,
            delimiter=";",
            encoding="utf-8",
            form_faults=(),
        )
        return Export(path, "undecided", language, rows, skipped, headers, mode)
