"""Small invented fleets with everything that can go wrong, as plain records."""

from __future__ import annotations

import csv
import hashlib
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from claimlens.start import open_workspace
from claimlens.workspace import Workspace

Row = dict[str, object]

# The last warehouses of this process by what was loaded into them, 3 MB each.
_LOADED: dict[str, bytes] = {}
_KEPT = 20

COMPONENTS = ("battery pack", "motor", "display", "rear light")
MODES = (
    ("no power", 70),
    ("worn", 17),
    ("no fault found", 5),
    ("misuse", 4),
    ("transport damage", 4),
)
FINDINGS = (
    "confirmed fault",
    "no fault found",
    "misuse",
    "transport damage",
    "other",
)


@dataclass
class Fleet:
    """Canonical tables as lists of records."""

    units: list[Row]
    claims: list[Row]
    findings: list[Row] = field(default_factory=list)
    labels: list[Row] = field(default_factory=list)
    fitted_parts: list[Row] = field(default_factory=list)

    def write(self, folder: Path) -> None:
        """Write one CSV file a table."""
        folder.mkdir(parents=True, exist_ok=True)
        for name in ("units", "claims", "findings", "labels", "fitted_parts"):
            rows = getattr(self, name)
            if rows:
                write_csv(folder / f"{name}.csv", rows)


def write_csv(path: Path, rows: list[Row]) -> None:
    """Write records as a comma file with canonical headers."""
    headers = list(dict.fromkeys(name for row in rows for name in row))
    with path.open("w", newline="", encoding="utf-8") as handle:
        writer = csv.writer(handle)
        writer.writerow(headers)
        for row in rows:
            values = [row.get(name) for name in headers]
            writer.writerow(["" if value is None else value for value in values])


def workspace_of(
    fleet: Fleet, folder: Path, settings: str = "", *, load: bool = True
) -> Workspace:
    """Return a workspace in ``folder`` that holds the fleet.

    Files of the same bytes are loaded once a process; who asks again gets a copy
    of the warehouse.
    """
    folder.mkdir(parents=True)
    (folder / "claimlens.toml").write_text(settings, encoding="utf-8")
    fleet.write(folder / "inbox")
    workspace = open_workspace(folder)
    if load:
        given = _bytes_of(folder)
        if given in _LOADED:
            workspace.warehouse.write_bytes(_LOADED[given])
        else:
            workspace.ingest()
            _LOADED[given] = workspace.warehouse.read_bytes()
            if len(_LOADED) > _KEPT:
                del _LOADED[next(iter(_LOADED))]
    return workspace


def _bytes_of(folder: Path) -> str:
    """Return the digest of everything that a load of the workspace reads."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    told = hashlib.sha256()
    for path in files:
        content = path.read_bytes()
        told.update(f"{path.relative_to(folder)} {len(content)}\n".encode())
        told.update(content)
    return told.hexdigest()


def random_fleet(
    seed: int, *, n_units: int = 90, undated: float = 0.0, suppliers: bool = False
) -> Fleet:
    """Draw a fleet; the same seed gives the same fleet."""
    rng = np.random.default_rng(seed)
    units = [_unit(rng, number, undated) for number in range(n_units)]
    fleet = Fleet(units=units, claims=[])
    for unit in units:
        started = unit.pop("_started")
        assert isinstance(started, date)
        for _ in range(rng.poisson(0.7)):
            _add_claims(fleet, rng, unit, started)
    if suppliers:
        _add_suppliers(fleet, rng)
    return fleet


def _unit(rng: np.random.Generator, number: int, undated: float) -> Row:
    built = date(2022, 1, 1) + timedelta(days=int(rng.integers(0, 900)))
    shipped = built + timedelta(days=int(rng.integers(1, 30)))
    started = shipped + timedelta(days=int(rng.gamma(1.5, 40)))
    retired = None
    if rng.random() < 0.12:
        retired = started + timedelta(days=int(rng.integers(0, 700)))
    year = built.year
    return {
        "serial": f"00{number:03d}-{'AB'[number % 2]}",
        "model": ("Trike", "Scooter")[int(rng.integers(2))],
        "model_year": year,
        "generation": ("g1", "g2", None)[int(rng.integers(3))],
        "build_date": built,
        "ship_date": shipped,
        "in_service_date": None if rng.random() < undated else started,
        "region": ("North", "South", None)[int(rng.integers(3))],
        "retired_on": retired,
        "_started": started,
    }


def _add_claims(
    fleet: Fleet, rng: np.random.Generator, unit: Row, started: date
) -> None:
    """Add a claim, now and then with others of the same days."""
    component = COMPONENTS[int(rng.choice(4, p=(0.5, 0.3, 0.15, 0.05)))]
    failed = started + timedelta(days=int(rng.integers(-8, 900)))
    while True:
        _add_claim(fleet, rng, unit, component, failed)
        if rng.random() > 0.3:
            return
        failed += timedelta(days=int(rng.integers(0, 9)))


def _add_claim(
    fleet: Fleet,
    rng: np.random.Generator,
    unit: Row,
    component: str,
    failed: date,
) -> None:
    number = f"C{len(fleet.claims):04d}"
    reported = failed + timedelta(days=int(rng.integers(0, 75)))
    if rng.random() < 0.03:
        reported = failed - timedelta(days=2)
    serial: str | None = str(unit["serial"])
    chance = rng.random()
    if chance < 0.03:
        serial = None
    elif chance < 0.06:
        serial = "999-Z"
    elif chance < 0.2:
        serial = serial.lower() if serial else None
    fleet.claims.append(
        {
            "claim_no": number,
            "reported_on": reported,
            "serial": serial,
            "failed_on": None if rng.random() < 0.05 else failed,
            "status": str(
                rng.choice(
                    ["open", "approved", "closed", "denied", "cancelled"],
                    p=[0.1, 0.2, 0.55, 0.08, 0.07],
                )
            ),
            "goodwill": str(rng.choice(["yes", "no"], p=[0.06, 0.94])),
            "cost_total": f"{rng.integers(5, 900)}.50",
            "currency": "EUR",
        }
    )
    is_labelled = rng.random() < 0.9
    if is_labelled:
        modes = [mode for mode, _ in MODES]
        weights = np.array([weight for _, weight in MODES]) / 100
        fleet.labels.append(
            {
                "claim_no": number,
                "component": component,
                "failure_mode": str(rng.choice(modes, p=weights)),
                "reviewer": "R. Viewer",
                "reviewed_on": reported,
            }
        )
    if not is_labelled:
        return  # neither label nor finding: the claim stays unclassified
    inspections = {
        (int(rng.choice([3, 9, 60])), f"P-{rng.integers(2)}")
        for _ in range(int(rng.choice([0, 1, 2, 3], p=[0.7, 0.2, 0.05, 0.05])))
    }
    for days, part_no in sorted(inspections):
        fleet.findings.append(
            {
                "claim_no": number,
                "inspected_on": reported + timedelta(days=days),
                "part_no": part_no,
                "finding": str(rng.choice(FINDINGS, p=[0.6, 0.2, 0.08, 0.07, 0.05])),
            }
        )


def _add_suppliers(fleet: Fleet, rng: np.random.Generator) -> None:
    for unit in fleet.units:
        for component in COMPONENTS[:2]:
            if rng.random() < 0.9:
                fleet.fitted_parts.append(
                    {
                        "serial": unit["serial"],
                        "component": component,
                        "supplier": ("Orla Cells", "Pinewright")[int(rng.integers(2))],
                        "fitted_on": unit["build_date"],
                    }
                )


def shuffled(fleet: Fleet, seed: int) -> Fleet:
    """Return the same fleet with the rows of every table in another order."""
    rng = np.random.default_rng(seed)

    def mixed(rows: list[Row]) -> list[Row]:
        return [rows[i] for i in rng.permutation(len(rows))]

    return Fleet(
        units=mixed(fleet.units),
        claims=mixed(fleet.claims),
        findings=mixed(fleet.findings),
        labels=mixed(fleet.labels),
        fitted_parts=mixed(fleet.fitted_parts),
    )
