"""Invented units and claims, sound and spoilt, for exports nobody has seen."""

from __future__ import annotations

import random
import tomllib
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

WORDS = tomllib.loads(
    (Path(__file__).parent / "export_words.toml").read_text(encoding="utf-8")
)


@dataclass
class Row:
    """One physical row: its values, what must become of it, and where it stands.

    ``verdict`` is accept, bad (to be rejected or flagged), superseded, or either.
    """

    values: dict[str, object]
    verdict: str = "accept"
    why: str = ""
    number: int = 0


def words(language: str, name: str, *, unseen: bool) -> list[str]:
    """Return the words of one list, the open or the unseen half."""
    halves = WORDS[language][name].split(" | ")
    return [word.strip() for word in halves[int(unseen) % len(halves)].split(";")]


def serial_of(rng: random.Random, style: str, index: int) -> str:
    """Return one serial number in a maker's habit, look-alikes of dates among them."""
    if style == "zeros":
        return f"{index * 7 + 1203:08d}"
    if style == "datelike":
        return f"{1 + index % 28:02d}-{1 + index % 12:02d}-{2100 + index}"
    if style == "yearlike":
        return f"{2019 + index % 5}-{1 + index % 12:02d}-{index:04d}"
    if style == "frame":
        return f"QX{rng.choice('BKT')}{index % 7}TR{index * 13 % 10}A{index:06d}"
    return f"VK{rng.choice('TS')}-{20 + index % 5}{index:05d}"


def make_units(rng: random.Random, count: int) -> list[dict[str, object]]:
    """Draw the unit register: three serial habits side by side."""
    styles = rng.sample(
        ["zeros", "datelike", "yearlike", "frame", "plain"], rng.choice([1, 2, 3])
    )
    units = []
    for index in range(1, count + 1):
        built = date(2019, 6, 3) + timedelta(days=rng.randrange(1400))
        shipped = built + timedelta(days=rng.randrange(5, 40))
        units.append(
            {
                "serial": serial_of(rng, rng.choice(styles), index),
                "model": rng.choice(["Torvik 2", "Torvik 3L", "Sanda"]),
                "model_year": built.year + (built.month > 8),
                "build_date": built,
                "ship_date": shipped,
                "in_service_date": shipped + timedelta(days=rng.randrange(3, 120)),
                "region": rng.choice(["DE", "FR", "NL", "CH", "IT", "ES"]),
                "dealer": f"D{rng.randrange(100, 160)}",
            }
        )
    return units


def money(rng: random.Random, low: int, high: int) -> Decimal:
    """Draw an amount with cents."""
    return Decimal(rng.randrange(low * 100, high * 100)) / 100


def make_claim(
    rng: random.Random,
    unit: dict[str, object],
    number: str,
    language: str,
    unseen: bool,
) -> Row:
    """Draw one sound claim of a unit."""
    sold = unit["in_service_date"]
    assert isinstance(sold, date)
    failed = sold + timedelta(days=rng.randrange(1, 700))
    reported = failed + timedelta(days=rng.randrange(0, 40))
    status = rng.choice(["open", "approved", "denied", "cancelled", "closed"])
    parts, labour, freight = money(rng, 5, 1900), money(rng, 10, 400), money(rng, 0, 60)
    if rng.random() < 0.05:  # a round sum, written without cents
        freight += 1 - (parts + labour + freight) % 1
    text = "; ".join(
        rng.sample(words(language, "texts", unseen=False), rng.choice([1, 2]))
    )
    return Row(
        {
            **{key: unit[key] for key in ("serial", "model", "model_year", "region")},
            "dealer": unit["dealer"],
            "in_service_date": sold,
            "claim_no": number,
            "failed_on": failed if rng.random() > 0.03 else None,
            "reported_on": reported,
            "updated_at": datetime.combine(reported, datetime.min.time())
            + timedelta(minutes=rng.randrange(600, 60 * 24 * 30)),
            "status": status,
            "status_text": rng.choice(words(language, status, unseen=unseen)),
            "cost_parts": parts,
            "cost_labour": labour,
            "cost_freight": freight,
            "amount": parts + labour + freight,
            "currency": "EUR",
            "narrative": text.replace(";", "."),
            "technician_note": rng.choice(words(language, "texts", unseen=False)),
            "part_no": f"P-{rng.randrange(100, 999)}.{rng.randrange(10, 99)}",
            "quantity": rng.choice([1, 1, 1, 2, 4]),
            "usage": rng.randrange(20, 21000),
            "junk_order": str(rng.randrange(700000, 799999)),
            "junk_customer": rng.choice(
                ["Ostrova", "Lindqvist-Bär", "Caruel", "Brandaz"]
            ),
            "junk_operator": rng.choice(["kb", "ms", "tw"]),
            "junk_flag": rng.choice(["x", ""]),
            "junk_phone": f"0{rng.randrange(10, 99)} {rng.randrange(100000, 999999)}",
            "junk_bin": f"{rng.choice('ABC')}{rng.randrange(1, 40)}",
            "junk_date": reported + timedelta(days=rng.randrange(1, 30)),
            "junk_vat": rng.choice(["19", "20", "21"]),
        }
    )


def _spoilt(rng: random.Random, values: dict[str, Any]) -> dict[str, dict[str, object]]:
    """Return what each fault puts into a row."""
    money = ("amount", "cost_parts", "cost_labour", "cost_freight")
    return {
        "impossible report date": {"reported_on": (2022, 2, 31)},
        "impossible failure date": {"failed_on": (2021, 2, 30)},
        "no report date": {"reported_on": None},
        "no claim number": {"claim_no": None},
        "negative amount": {name: -values[name] for name in money},
        "failed after reported": {
            "failed_on": values["reported_on"] + timedelta(days=9)
        },
        "far future": {"reported_on": date(2204, 5, 17)},
        "unknown serial": {"serial": f"ZZ{rng.randrange(10**6, 10**7)}"},
        "unknown currency": {"currency": "XQZ"},
        "unreadable amount": {"amount": "12,x4"},
        "failed before sold": {
            "failed_on": values["in_service_date"] - timedelta(days=90)
        },
    }


def spoil(rng: random.Random, row: Row, why: str) -> Row:
    """Make one row one that must be rejected or flagged; ``why`` says how."""
    row.values.update(_spoilt(rng, row.values)[why])
    row.verdict, row.why = "bad", why
    return row


VALUE_FAULTS = (
    "impossible report date",
    "impossible failure date",
    "no report date",
    "no claim number",
    "negative amount",
    "failed after reported",
    "far future",
    "unknown serial",
    "unknown currency",
    "unreadable amount",
    "failed before sold",
)


def make_rows(
    rng: random.Random,
    units: list[dict[str, object]],
    count: int,
    language: str,
    *,
    unseen: bool,
    prefix: str,
    newest_first: bool,
    currencies: tuple[str, ...],
    faults: tuple[str, ...] = VALUE_FAULTS,
) -> list[Row]:
    """Draw the rows of one export, spoilt and repeated ones among them."""
    rows = [
        make_claim(rng, rng.choice(units), f"{prefix}{index:05d}", language, unseen)
        for index in range(1, count + 1)
    ]
    for row in rows:
        row.values["currency"] = rng.choice(currencies)
    chosen = rng.sample(range(count), 2 * len(faults) + 12)
    for position, index in enumerate(chosen[12:]):
        spoil(rng, rows[index], faults[position % len(faults)])
    repeats = []
    for index in chosen[:12]:
        old = rows[index]
        new = Row(dict(old.values))
        new.values["updated_at"] = old.values["updated_at"] + timedelta(days=11)  # type: ignore[operator]
        new.values["status"] = "closed"
        new.values["status_text"] = rng.choice(words(language, "closed", unseen=unseen))
        for name in ("amount", "cost_parts"):
            new.values[name] = old.values[name] + Decimal("25.5")  # type: ignore[operator]
        old.verdict, old.why = "superseded", "older version"
        repeats.append((index, old, new))
    for index, old, new in sorted(repeats, key=lambda item: -item[0]):
        first, second = (new, old) if newest_first else (old, new)
        rows[index] = first
        rows.insert(min(len(rows), index + rng.choice([1, 2, 30])), second)
    return rows
