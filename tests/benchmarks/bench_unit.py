"""Time the answers that somebody waits for at a desk, at a million claims.

A fleet of 2.5 units a claim, six years of production, with parts that tell the
component and two dozen texts; the warehouse is made once in FOLDER and used again.
Printed are the seconds of ``unit`` for the first time (known faults are found and
kept), then for other units of the same open workspace, and of ``causes``.

    python tests/benchmarks/bench_unit.py [claims] [FOLDER]
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from claimlens.classify.taxonomy import NO_FAULT, load_taxonomy
from claimlens.start import create, open_workspace
from claimlens.workspace import Workspace

SEED = 20240607
FIRST_BUILT = np.datetime64("2020-05-01")
DAYS_BUILT, LAST_DAY = 2190, np.datetime64("2026-04-30")
MODELS = ("Arbel 1", "Arbel 2", "Arbel 3", "Corvin 1", "Corvin 2", "Dorne 1")
REGIONS = ("AT", "CH", "DE", "FR", "NL")
TEXTS = (
    "The display stays dead, nothing on the screen.",
    "Display flickers and then goes dark.",
    "No power at all, the battery does not charge any more.",
    "Battery loses half of its range in the cold.",
    "The motor makes a grinding noise when climbing.",
    "Motor cuts out under load.",
    "Front brake feels spongy and leaks fluid.",
    "Squeaking brakes since the last service.",
    "The chain jumps under load.",
    "A spoke of the rear wheel broke.",
    "Flat tyre for the third time.",
    "Rear light does not work.",
    "Headlight flickers on bumps.",
    "The throttle sticks.",
    "Speed is not shown any more.",
    "Error code after rain, then everything went off.",
    "Kickstand is bent.",
    "The lock does not open with the key.",
    "The fork creaks.",
    "Charger gets very hot and smells.",
    "Cable to the motor is chafed.",
    "Steering has play.",
    "The seat post slips down.",
    "Mudguard rattles.",
)


def _days(day: np.ndarray) -> np.ndarray:
    return np.datetime_as_string(day.astype("datetime64[D]"))


def write_fleet(folder: Path, claims: int) -> None:
    """Write canonical units, parts and claims as CSV files."""
    rng = np.random.default_rng(SEED)
    n_units = claims * 5 // 2
    built = FIRST_BUILT + np.sort(rng.integers(0, DAYS_BUILT, n_units))
    shipped = built + rng.integers(1, 20, n_units)
    started = shipped + rng.gamma(1.5, 30, n_units).astype(int)
    model = rng.integers(0, len(MODELS), n_units)
    year = built.astype("datetime64[Y]").astype(int) + 1970
    units = pd.DataFrame(
        {
            "serial": [f"U{number:08d}" for number in range(n_units)],
            "model": np.array(MODELS)[model],
            "model_year": year,
            "generation": np.char.add("G", (1 + (year > 2022)).astype(str)),
            "build_date": _days(built),
            "ship_date": _days(shipped),
            # one in twenty has no date, and nothing after the cut-off is known
            "in_service_date": np.where(
                (rng.random(n_units) < 0.05) | (started > LAST_DAY), "", _days(started)
            ),
            "region": np.array(REGIONS)[rng.integers(0, len(REGIONS), n_units)],
        }
    )
    units.to_csv(folder / "units.csv", index=False)
    names = [name for name in load_taxonomy().components if name != NO_FAULT]
    parts = pd.DataFrame({"part_no": [f"P{n:03d}" for n in range(len(names))]})
    parts.assign(description="spare part", component=names).to_csv(
        folder / "parts.csv", index=False
    )
    _claims(rng, units["serial"].to_numpy(), started, len(names), claims).to_csv(
        folder / "claims.csv", index=False
    )


def _claims(
    rng: np.random.Generator,
    serial: np.ndarray,
    started: np.ndarray,
    n_parts: int,
    claims: int,
) -> pd.DataFrame:
    """Draw failures within two years, each reported within some weeks."""
    unit = rng.integers(0, serial.size, 3 * claims)
    failed = started[unit] + (730 * rng.random(unit.size) ** 1.3).astype(int)
    reported = failed + rng.gamma(1.2, 14, unit.size).astype(int)
    seen = np.flatnonzero(reported <= LAST_DAY)[:claims]
    component = rng.zipf(1.3, seen.size) % n_parts
    text = (component + rng.integers(0, 3, seen.size)) % len(TEXTS)
    return pd.DataFrame(
        {
            "claim_no": [f"C{number:08d}" for number in range(seen.size)],
            "serial": serial[unit[seen]],
            "reported_on": _days(reported[seen]),
            "failed_on": _days(failed[seen]),
            "status": "closed",
            "narrative": np.array(TEXTS)[text],
            # one in ten names no part: what its text says is all there is
            "part_no": np.where(
                rng.random(seen.size) < 0.1,
                "",
                np.array([f"P{n:03d}" for n in range(n_parts)])[component],
            ),
            "cost_labour": np.round(rng.gamma(2.0, 30.0, seen.size), 2),
            "currency": "EUR",
        }
    )


def _made(folder: Path, claims: int) -> Workspace:
    """Return the workspace of so many claims, made where it is not there."""
    place = folder / f"fleet-{claims}"
    if not (place / "warehouse.duckdb").exists():
        write_fleet(create(place).inbox, claims)
        _timed("ingest and classify", open_workspace(place).ingest)
    return open_workspace(place)


def _timed(what: str, ask: Callable[[], object]) -> None:
    start = time.perf_counter()
    ask()
    print(f"{what}: {time.perf_counter() - start:.2f} s", flush=True)


def main() -> None:
    """Print seconds by the clock."""
    claims = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(sys.argv[2]) if len(sys.argv) > 2 else Path(scratch)
        workspace = _made(folder, claims)
        serials = [f"U{number:08d}" for number in range(7, claims, claims // 4)]
        symptom = "display dead"
        _timed("unit, nothing kept", lambda: workspace.unit(serials[0]))
        for serial in serials[1:]:
            _timed(f"unit {serial}", lambda serial=serial: workspace.unit(serial))
        for serial in serials:
            _timed(
                f"unit {serial} --symptom",
                lambda serial=serial: workspace.unit(serial, symptom=symptom),
            )
        for text in (symptom, "brakes squeak", "dark rain"):
            _timed(f"causes {text!r}", lambda text=text: workspace.causes(text))


if __name__ == "__main__":
    main()
