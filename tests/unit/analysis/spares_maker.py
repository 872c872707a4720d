"""A fleet whose claims take parts of every kind, as plain records."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
from fleet_maker import Fleet, Row, workspace_of, write_csv

from claimlens.workspace import Workspace

AS_OF = date(2025, 6, 30)

PARTS: list[Row] = [
    # a chain of three, by generation
    {"part_no": "M-1", "component": "motor", "generation": "G1"}
    | {"superseded_by": "M-2"},
    {"part_no": "M-2", "component": "motor", "generation": "G2"}
    | {"superseded_by": "m-3"},
    {"part_no": "M-3", "component": "motor", "generation": "G3"}
    | {"description": "hub motor", "supplier": "Tarnwick", "lead_time_days": 45}
    | {"unit_cost": "210.5000", "currency": "EUR"},
    {"part_no": "K-1", "description": "motor bearing kit", "lead_time_days": 20},
    {"part_no": "PAD", "component": "brake pad/rotor", "lead_time_days": 30}
    | {"unit_cost": "8.3300", "currency": "EUR"},
    # two suppliers of one part, and one for a single model
    {"part_no": "D-A", "component": "display", "fits_model": "Orlan"}
    | {"supplier": "Tarnwick"},
    {"part_no": "D-B", "component": "display", "fits_model": "Orlan"}
    | {"supplier": "Quenfold"},
    {"part_no": "D-L", "component": "display", "fits_model": "Orlan L"}
    | {"lead_time_days": 90},
    # without history, and of a component that never failed
    {"part_no": "D-N", "component": "display", "fits_model": "Orlan L"}
    | {"lead_time_days": 90},
    {"part_no": "C-1", "component": "charger", "lead_time_days": 30},
    # of units whose cover has ended, of no unit at all, of no component
    {"part_no": "S-1", "component": "throttle", "fits_model": "Orlan S"}
    | {"lead_time_days": 9},
    {"part_no": "X-1", "component": "motor", "fits_model": "Nobody's"},
    {"part_no": "Y-1", "description": "pump"},
    {"part_no": "R-1", "component": "headlight", "superseded_by": "R-2"},
    {"part_no": "R-2", "component": "headlight", "superseded_by": "R-1"},
    {"part_no": "T-1", "component": "frame", "superseded_by": "T-9"},
]

_TAKES: dict[str, list[tuple[float, list[tuple[str, int | None]]]]] = {
    # chance, and what is taken together
    "motor": [
        (0.2, []),
        (0.2, [("M-1", 1)]),
        (0.2, [("m-2", None)]),
        (0.4, [("M-3", 1), ("K-1", 1)]),
    ],
    "brake pad/rotor": [(0.3, []), (0.5, [("PAD", 2)]), (0.2, [("PAD", 4)])],
    "display": [(0.1, []), (0.6, [("D-A", 1)]), (0.3, [("D-B", 1)])],
    "throttle": [(1.0, [("S-1", 1)])],
}


def spares_fleet(
    folder: Path, settings: str = "", *, naming: bool = True
) -> tuple[Workspace, list[Row], list[Row]]:
    """Return a loaded workspace, its claims with their component, and their parts.

    Parts are loaded only where claims name them (``naming``).
    """
    rng = np.random.default_rng(11)
    units = [_unit(rng, number) for number in range(700)]
    claims: list[Row] = []
    taken: list[Row] = []
    for unit in units:
        is_old = unit["model"] == "Orlan S"
        for component in ["throttle"] if is_old else list(_TAKES)[:3]:
            for _ in range(rng.poisson(0.3)):
                _add_claim(rng, unit, component, claims, taken)
    labels: list[Row] = [
        {
            "claim_no": row["claim_no"],
            "component": row["_component"],
            "failure_mode": "worn",
            "reviewer": "test",
            "reviewed_on": row["reported_on"],
        }
        for row in claims
    ]
    plain = [
        {key: value for key, value in row.items() if not key.startswith("_")}
        for row in claims
    ]
    workspace = workspace_of(
        Fleet(units, plain, labels=labels), folder, settings, load=False
    )
    write_csv(folder / "inbox" / "parts.csv", PARTS)
    if naming:
        write_csv(folder / "inbox" / "claim_parts.csv", taken)
    workspace.ingest()
    return workspace, claims, taken


def _unit(rng: np.random.Generator, number: int) -> Row:
    """Return one unit; the last sixty are old."""
    model = ("Orlan", "Orlan", "Orlan L")[number % 3]
    built = date(2022, 1, 1) + timedelta(days=int(rng.integers(0, 1200)))
    if number >= 640:
        model, built = "Orlan S", date(2021, 1, 1) + timedelta(days=number % 60)
    return {
        "serial": f"S{number:04d}",
        "model": model,
        "model_year": built.year,
        "generation": f"G{1 + (built.year > 2022) + (built.year > 2023)}",
        "build_date": built,
        "ship_date": built + timedelta(days=4),
        "in_service_date": built + timedelta(days=int(rng.integers(10, 60))),
        "region": "DE",
    }


def _add_claim(
    rng: np.random.Generator,
    unit: Row,
    component: str,
    claims: list[Row],
    taken: list[Row],
) -> None:
    """Add a claim that was reported by the cut-off, and what it took."""
    started = unit["in_service_date"]
    assert isinstance(started, date)
    failed = started + timedelta(days=int(rng.integers(0, 730)))
    reported = failed + timedelta(days=int(rng.integers(0, 40)))
    choices = _TAKES[component]
    pick = rng.choice(len(choices), p=[chance for chance, _ in choices])
    if reported > AS_OF:
        return
    claim_no = f"C{len(claims):05d}"
    claims.append(
        {
            "claim_no": claim_no,
            "serial": unit["serial"],
            "reported_on": reported,
            "failed_on": failed,
            "status": "closed",
            "_component": component,
            "_model": unit["model"],
        }
    )
    is_long = component == "display" and unit["model"] == "Orlan L"
    taken += [
        {
            "claim_no": claim_no,
            "part_no": "D-L" if is_long else part_no,
            "quantity": quantity,
        }
        for part_no, quantity in choices[pick][1]
    ]
