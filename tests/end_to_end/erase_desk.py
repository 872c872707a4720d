"""A small workspace in which one person stands in every kind of place."""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

import duckdb

from claimlens.start import create
from claimlens.upkeep.erasure_files import show_text
from claimlens.workspace import Workspace

SERIAL = "UNIT-7007"
CLAIMS = ("CLM-90071", "CLM-90072")
OTHER_CLAIM = "CLM-80001"
# words that nobody else uses
SECRETS = (
    "Quendolin", "Farthingale", "zirbelholz", "Mondscheingasse", "wimmelkiste",
    "grunzend", "tannhauser", "klabauter", "pumpernickel", "schnurzel",
    "BATTSER-55501", SERIAL, SERIAL.lower(), *CLAIMS,
)  # fmt: skip

Rows = list[dict[str, str]]

_SAYS = (
    ("charger", "the charger does not load and is dead", "charger replaced"),
    ("motor", "motor makes a grinding noise", "motor exchanged, noise gone"),
    ("brake", "brake pads worn down", "new brake pads fitted"),
    ("display", "display stays dark", "display swapped"),
)


def text_of(rows: Rows, delimiter: str = ",") -> str:
    """Return rows as delimited text."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    out = io.StringIO()
    writer = csv.DictWriter(out, names, delimiter=delimiter, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def units() -> Rows:
    """Return a register of 60 units and the person's."""
    rows = []
    first = date(2024, 1, 10)
    for at in range(60):
        built = first + timedelta(days=9 * at)
        rows.append(
            {
                "serial": SERIAL if at == 7 else f"UNIT-{1000 + at}",
                "model": "Lastrad" if at % 2 else "Roller",
                "model_year": str(built.year),
                "build_date": built.isoformat(),
                "ship_date": (built + timedelta(days=20)).isoformat(),
                "in_service_date": (built + timedelta(days=60)).isoformat(),
                "region": "north" if at % 3 else "south",
                "dealer": f"dealer {at % 4}",
                "Owner": "Quendolin Farthingale" if at == 7 else f"owner {at}",
                "Street": "Mondscheingasse 5" if at == 7 else f"street {at}",
            }
        )
    return rows


def _claim(number: str, serial: str, at: int, day: date) -> dict[str, str]:
    _, says, did = _SAYS[at % len(_SAYS)]
    return {
        "claim_no": number,
        "reported_on": day.isoformat(),
        "serial": serial,
        "model": "Lastrad" if at % 2 else "Roller",
        "failed_on": (day - timedelta(days=3)).isoformat(),
        "status": "approved",
        "decision_reason": "covered",
        "narrative": f"{says}, number {at}",
        "technician_note": did,
        "resolution": "done",
        "part_no": f"P-{at % 4}",
        "cost_parts": f"{20 + at}.50",
        "cost_total": f"{40 + at}.50",
        "currency": "EUR",
        "Contact": f"contact {at}",
    }


def claims(newest: bool) -> Rows:
    """Return an export of claims: an earlier one, or a newer with later versions."""
    rng = random.Random(7)
    rows = []
    for at in range(50):
        unit = rng.randrange(60)
        serial = SERIAL if unit == 7 else f"UNIT-{1000 + unit}"
        if serial == SERIAL:
            serial = "UNIT-1008"
        day = date(2025, 1, 5) + timedelta(days=7 * at)
        rows.append(_claim(f"CLM-{10000 + at}", serial, at, day))
    rows[3]["narrative"] += f"; same fault as {CLAIMS[0]} on {SERIAL}."
    first = _claim(CLAIMS[0], SERIAL, 0, date(2025, 3, 3))
    first["narrative"] = (
        "Quendolin Farthingale says the charger does not load and is dead, zirbelholz"
    )
    first["technician_note"] = "phoned Mondscheingasse, charger dead, wimmelkiste"
    first["Contact"] = "Quendolin Farthingale"
    first["decision_reason"] = "covered, grunzend"
    second = _claim(CLAIMS[1], SERIAL.lower(), 1, date(2025, 9, 9))
    second["narrative"] = "motor makes a grinding noise tannhauser"
    second["resolution"] = "motor exchanged for klabauter"
    second["cost_total"] = "unknown pumpernickel"
    danger = _claim(OTHER_CLAIM, "UNIT-1010", 2, date(2025, 10, 1))
    danger["narrative"] = "smoke and fire from the battery pack while charging"
    rows += [first, second, danger]
    if not newest:
        return [row for row in rows if row["reported_on"] < "2025-10-15"]
    for row in rows:
        row["status"] = "closed"
        if row["reported_on"] < "2025-11-15":
            row["closed_on"] = "2025-11-25"
    first["technician_note"] += "; charger exchanged"
    return rows


def other_files() -> dict[str, str]:
    """Return what else a workspace is told, by file name."""
    findings = [
        {
            "claim_no": number,
            "inspected_on": "2025-11-02",
            "part_no": "P-1",
            "finding": "confirmed fault",
            "component": "motor",
            "failure_mode": "noise/vibration",
            "note": note,
            "Sent by": sender,
        }
        for number, note, sender in (
            (CLAIMS[1], "bearing dry, schnurzel", "Farthingale"),
            ("CLM-10001", "bearing dry", "workshop"),
        )
    ]
    return {
        "findings.csv": text_of(findings),
        "claim_parts.csv": text_of(
            [
                {"claim_no": n, "part_no": p, "quantity": "1", "unit_cost": "12.00",
                 "currency": "EUR"}
                for n, p in ((CLAIMS[0], "P-0"), (CLAIMS[1], "P-1"), ("CLM-2", "P-2"))
            ]
        ),
        "parts.csv": text_of(
            [
                {"part_no": f"P-{at}", "description": name, "component": component,
                 "supplier": f"supplier {at}", "unit_cost": "12.00", "currency": "EUR"}
                for at, (name, component) in enumerate(
                    (("charger 2A", "charger"), ("hub motor", "motor"),
                     ("pads", "brake pad/rotor"), ("display unit", "display"))
                )
            ]
        ),
        "fitted_parts.csv": text_of(
            [
                {"serial": s, "component": "battery pack", "part_no": "B-1",
                 "supplier": "supplier 9", "lot": "L1", "component_serial": b,
                 "fitted_on": "2024-03-01"}
                for s, b in ((SERIAL, "BATTSER-55501"), ("UNIT-1001", "BATTSER-1"))
            ]
        ),
        "changes.csv": text_of(
            [
                {"change_no": "EC-1", "component": "motor", "description": "bearing",
                 "model": "Lastrad", "effective_serial": SERIAL}
            ]
        ),
        "unit_changes.csv": text_of(
            [
                {"serial": s, "change_no": "EC-1", "done_on": "2025-05-05"}
                for s in (SERIAL, "UNIT-1003")
            ]
        ),
        "responses.csv": text_of(
            [
                {"supplier": "supplier 1", "question_no": "Q1", "claim_no": CLAIMS[1],
                 "asked_on": "2025-11-10", "answered_on": "2025-11-20",
                 "answer": "we know Farthingale"}
            ]
        ),
        "labels.csv": text_of(
            [
                {"claim_no": CLAIMS[0], "component": "charger",
                 "failure_mode": "no power", "reviewer": "R. Lind",
                 "reviewed_on": "2025-12-01", "remark": "asked Quendolin"}
            ]
        ),
        "short.csv": f"claim_no,reported_on,serial\n{CLAIMS[0]},2025-03-03\n"
        f"CLM-5,Farthingale {SERIAL},UNIT-1001\n",
    }  # fmt: skip


def make(folder: Path) -> Workspace:
    """Return the workspace, its inbox full and nothing loaded yet."""
    workspace = create(folder)
    inbox = folder / "inbox"
    (inbox / "units.csv").write_text(text_of(units()), encoding="utf-8")
    (inbox / "claims_1.csv").write_text(text_of(claims(False)), encoding="utf-8")
    (inbox / "claims_2.csv").write_text(text_of(claims(True)), encoding="utf-8")
    for name, text in other_files().items():
        (inbox / name).write_text(text, encoding="utf-8")
    return workspace


def strings_of(warehouse: Path) -> str:
    """Return every text of every table of a warehouse."""
    with duckdb.connect(str(warehouse), read_only=True) as connection:
        names = connection.execute(
            "select table_name from duckdb_tables() order by table_name"
        ).fetchall()
        found = [
            connection.execute(f'select * from "{name}"').fetchall()
            for (name,) in names
        ]
    return repr(found)


def found_in(text: str, secrets: Sequence[str] = SECRETS) -> list[str]:
    """Return the secrets that a text holds."""
    folded = text.lower()
    return [secret for secret in secrets if secret.lower() in folded]


def found_in_bytes(path: Path, secrets: Sequence[str] = SECRETS) -> list[str]:
    """Return the secrets that stand in the bytes of a file."""
    raw = path.read_bytes().lower()
    return [secret for secret in secrets if secret.lower().encode() in raw]


def texts_of_files(folder: Path) -> dict[str, str]:
    """Return what every file of a workspace shows, the warehouse apart."""
    found = {}
    for path in sorted(folder.rglob("*")):
        if path.is_file() and not path.name.startswith("warehouse.duckdb"):
            raw = path.read_bytes().decode("utf-8", "replace")
            found[path.relative_to(folder).as_posix()] = raw + show_text(path)
    return found
