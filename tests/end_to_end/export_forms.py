"""How an export writes its dates, amounts and headers."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from export_claims import Row, words

SYMBOLS = {"EUR": "€", "GBP": "£", "USD": "$", "CHF": "CHF", "SEK": "SEK"}
DATES = ("reported_on", "failed_on", "in_service_date")
CORE = ("claim_no", "serial", "reported_on", "failed_on", "status")
OPTIONAL = (
    *("model", "model_year", "narrative", "technician_note", "part_no", "quantity"),
    *("dealer", "region", "usage", "junk_order", "junk_customer", "junk_operator"),
    *("junk_flag", "junk_phone", "junk_bin", "junk_date", "junk_vat"),
)
Ymd = tuple[int, int, int]


def date_writer(style: str, language: str) -> Callable[[Ymd, datetime | None], str]:
    """Return a writer of dates: a style word, and the moment for time stamps."""
    names = words(language, "months", unseen=False)
    short = [name[:3] for name in words("en", "months", unseen=False)]
    patterns: dict[str, Callable[[int, int, int], str]] = {
        "dd.mm.yyyy": lambda y, m, d: f"{d:02d}.{m:02d}.{y}",
        "d.m.yyyy": lambda y, m, d: f"{d}.{m}.{y}",
        "dd.mm.yy": lambda y, m, d: f"{d:02d}.{m:02d}.{y % 100:02d}",
        "dd/mm/yyyy": lambda y, m, d: f"{d:02d}/{m:02d}/{y}",
        "mm/dd/yyyy": lambda y, m, d: f"{m:02d}/{d:02d}/{y}",
        "m/d/yyyy": lambda y, m, d: f"{m}/{d}/{y}",
        "dd-mm-yyyy": lambda y, m, d: f"{d:02d}-{m:02d}-{y}",
        "yyyy-mm-dd": lambda y, m, d: f"{y}-{m:02d}-{d:02d}",
        "yyyymmdd": lambda y, m, d: f"{y}{m:02d}{d:02d}",
        "d-mmm-yy": lambda y, m, d: f"{d}-{short[m - 1]}-{y % 100:02d}",
        "words": lambda y, m, d: (
            f"{d}{'.' if language == 'de' else ''} "
            f"{'de ' if language == 'es' else ''}{names[m - 1]} "
            f"{'de ' if language == 'es' else ''}{y}"
        ),
    }
    base, _, clock = style.partition("+")
    write = patterns[base]

    def written(ymd: Ymd, moment: datetime | None) -> str:
        text = write(*ymd)
        if moment is not None or clock:
            at = moment or datetime(2020, 1, 1, 8 + sum(ymd) % 9, sum(ymd) % 60)
            if clock == "T":
                return f"{text}T{at:%H:%M:%S}+01:00"
            return f"{text} {at:%H:%M}"
        return text

    return written


def amount_text(
    value: Decimal,
    currency: str,
    *,
    decimal: str,
    thousands: str,
    sign: str,
    minus: str,
) -> str:
    """Write an amount; ``sign`` is none, before, after or code."""
    digits = ",.0f" if value == int(value) else ",.2f"
    text = f"{abs(value):{digits}}".replace(",", "\0").replace(".", decimal)
    text = text.replace("\0", thousands)
    if sign == "before":
        mark = SYMBOLS[currency]
        text = f"{mark}{'' if mark in '£$' else ' '}{text}"
    elif sign == "after":
        text = f"{text} {SYMBOLS[currency]}"
    elif sign == "code":
        text = f"{currency} {text}"
    if value < 0:
        return {
            "(": f"({text})",
            "-": f"-{text}",
            "after": f"{text}-",
            "\u2212": f"\u2212{text}",
        }[minus]
    return text


@dataclass
class Style:
    """How one file writes dates and amounts."""

    language: str
    dates: str
    decimal: str
    thousands: str
    sign: str = "none"
    minus: str = "-"
    null: str = ""
    others: dict[str, str] = field(default_factory=dict)

    def text(self, name: str, row: Row) -> str:
        """Return the cell of a field as text."""
        value = row.values.get("status_text" if name == "status" else name)
        if value is None:
            return self.null if name == "failed_on" else ""
        if isinstance(value, datetime):
            return date_writer(self.others.get(name, self.dates), self.language)(
                (value.year, value.month, value.day), value
            )
        if isinstance(value, date):
            value = (value.year, value.month, value.day)
        if isinstance(value, tuple):
            return date_writer(self.others.get(name, self.dates), self.language)(
                value, None
            )
        if isinstance(value, Decimal):
            return amount_text(
                value,
                str(row.values["currency"]),
                decimal=self.decimal,
                thousands=self.thousands,
                sign=self.sign,
                minus=self.minus,
            )
        return str(value)


def choose_columns(
    rng: random.Random,
    language: str,
    *,
    unseen: bool,
    currency_mode: str,
    updated: bool,
    costs: bool,
    currency: str,
) -> dict[str, str]:
    """Choose 12 to 25 columns and their header words, in the file's order."""
    names = (
        list(CORE) + ["amount"] + (["in_service_date"] if rng.random() < 0.7 else [])
    )
    names += ["updated_at"] * updated + ["currency"] * (currency_mode == "column")
    names += ["cost_parts", "cost_labour", "cost_freight"] * costs
    names += rng.sample(OPTIONAL, rng.randint(max(5, 12 - len(names)), 14))
    rest = names[1:]
    rng.shuffle(rest)
    names = ["claim_no", *rest]
    if rng.random() < 0.4:
        place = rng.randrange(1, 5)
        names[0], names[place] = names[place], names[0]
    headers: dict[str, str] = {}
    for name in names:
        free = [
            w for w in words(language, name, unseen=unseen) if w not in headers.values()
        ]
        headers[name] = rng.choice(free)
    if currency_mode == "header":
        mark = rng.choice([f" ({currency})", f" [{currency}]", f" {currency}"])
        for name in ("amount", "cost_parts", "cost_labour", "cost_freight"):
            if name in headers:
                headers[name] += mark
    return headers


def total_cells(
    rng: random.Random,
    headers: dict[str, str],
    style: Style,
    rows: list[Row],
    unseen: bool,
) -> list[str]:
    """Return a totals line: a word somewhere left, sums under the money columns."""
    cells = ["" for _ in headers]
    names = list(headers)
    for name in ("amount", "cost_parts", "cost_labour", "cost_freight"):
        if name in headers:
            numbers = [
                row.values[name]
                for row in rows
                if isinstance(row.values[name], Decimal)
            ]
            total = Row({name: sum(numbers, Decimal(0)), "currency": "EUR"})
            cells[names.index(name)] = style.text(name, total)
    place = 0 if not cells[0] else next(i for i, cell in enumerate(cells) if not cell)
    cells[place] = rng.choice(words(style.language, "total_row", unseen=unseen))
    return cells
