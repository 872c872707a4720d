"""Time a forecast of a large fleet: 5 million units, 400 segments, 24 months.

The warehouse is made once in FOLDER and used again. Printed are the seconds of a
forecast by model, model year and region, with bands, and the memory at its peak.

    python tests/benchmarks/bench_forecast.py [UNITS] [FOLDER]
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from claimlens.classify.taxonomy import NO_FAULT, load_taxonomy
from claimlens.start import create, open_workspace

SEED = 20240607
FIRST, LAST = np.datetime64("2021-01-01"), np.datetime64("2026-04-30")
MODELS = tuple(f"Nival {n}" for n in range(1, 11))
REGIONS = ("AT", "BE", "CH", "DE", "ES", "FR", "GB", "NL")
MONTHS, BY = 24, "model,model_year,region"


def _days(day: np.ndarray) -> np.ndarray:
    return np.datetime_as_string(day.astype("datetime64[D]"))


def write_fleet(folder: Path, n_units: int) -> None:
    """Write canonical units, parts and claims as CSV files."""
    rng = np.random.default_rng(SEED)
    days = int((LAST - FIRST).astype(int))
    shipped = FIRST + np.sort(rng.integers(0, days, n_units))
    started = shipped + rng.gamma(1.5, 40, n_units).astype(int)
    units = pd.DataFrame(
        {
            "serial": [f"U{number:08d}" for number in range(n_units)],
            "model": np.array(MODELS)[rng.integers(0, len(MODELS), n_units)],
            "model_year": shipped.astype("datetime64[Y]").astype(int) + 1970,
            "build_date": _days(shipped - 10),
            "ship_date": _days(shipped),
            "in_service_date": np.where(started > LAST, "", _days(started)),
            "region": np.array(REGIONS)[rng.integers(0, len(REGIONS), n_units)],
        }
    )
    # five years of models, so 400 segments
    units["model_year"] = np.minimum(units["model_year"], 2025)
    units.to_csv(folder / "units.csv", index=False)
    names = [name for name in load_taxonomy().components if name != NO_FAULT]
    numbers = np.array([f"P{n:03d}" for n in range(len(names))])
    pd.DataFrame({"part_no": numbers, "component": names}).to_csv(
        folder / "parts.csv", index=False
    )
    unit = rng.integers(0, n_units, n_units // 5)
    failed = started[unit] + (730 * rng.random(unit.size)).astype(int)
    reported = failed + rng.gamma(1.2, 20, unit.size).astype(int)
    seen = np.flatnonzero(reported <= LAST)
    pd.DataFrame(
        {
            "claim_no": [f"C{number:08d}" for number in range(seen.size)],
            "serial": units["serial"].to_numpy()[unit[seen]],
            "reported_on": _days(reported[seen]),
            "failed_on": _days(failed[seen]),
            "status": "closed",
            "part_no": numbers[rng.zipf(1.3, seen.size) % len(names)],
        }
    ).to_csv(folder / "claims.csv", index=False)


def main() -> None:
    """Print what was timed."""
    n_units = int(sys.argv[1]) if len(sys.argv) > 1 else 5_000_000
    folder = Path(sys.argv[2] if len(sys.argv) > 2 else tempfile.mkdtemp())
    place = folder / f"fleet-{n_units}"
    if not (place / "warehouse.duckdb").exists():
        write_fleet(create(place).folder / "inbox", n_units)
        started = time.perf_counter()
        open_workspace(place).ingest()
        print(f"ingest and classify: {time.perf_counter() - started:.1f} s", flush=True)
        open_workspace(place).rates()
        return
    workspace = open_workspace(place)
    for by, months in ((BY, MONTHS), ("component", 12)):
        started = time.perf_counter()
        found = workspace.forecast(by=by, months=months)
        taken = time.perf_counter() - started
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
        segments = len(found) // months
        print(
            f"forecast by {by}: {segments} segments, {months} months: {taken:.1f} s, "
            f"{peak:.1f} GiB at most so far"
        )


if __name__ == "__main__":
    main()
