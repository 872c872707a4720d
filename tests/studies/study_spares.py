"""How often does the quantity to hold run out?

Run ``python tests/studies/study_spares.py [FLEETS]``: fleets sold over two years, of
which claims were recorded in the last year only, with 20 components each. How often
they fail differs between batches of a month and between months; reports come late. An
event takes none, one or several of the part. What was reported by the cut-off is
loaded; the quantity to hold is set against the parts that the claims of the next three
months took. Cases are also told apart by the events that the drawn rate expects in that
time: told apart by what was forecast, those forecast too low would stand together.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from claimlens.start import make_folders, open_workspace

MONTH = 30.4375
FIRST, RECORDED, AS_OF = date(2023, 7, 1), date(2024, 7, 1), date(2025, 6, 30)
LEAD_DAYS, REVIEW_DAYS = 60, 31
COVER_DAYS = 730
REPORTED = np.array([0.35, 0.40, 0.15, 0.05, 0.03, 0.02])
UNITS = 5_000
COMPONENTS = (
    "battery pack", "charger", "motor", "controller", "display", "wiring harness",
    "connector", "throttle", "brake hydraulic", "drivetrain", "headlight", "frame",
    "switchgear", "lock/key", "firmware", "kickstand", "rear light", "speed sensor",
    "wheel/spokes", "tyre/tube",
)  # fmt: skip
# variance of the factor of a build month, and of a month
BATCH, SHOCK = 0.15, 0.03


@dataclass(frozen=True, kw_only=True)
class World:
    """Units, claims until after the cut-off with their parts, and true rates.

    ``wanted`` holds the events that the rate of each component expects in the time that
    the quantity must last, if all units were under cover.
    """

    units: pd.DataFrame
    claims: pd.DataFrame
    wanted: dict[str, float]


def world(seed: int) -> World:
    """Draw a fleet."""
    rng = np.random.default_rng([seed, 4])
    day0 = pd.Timestamp(FIRST)
    span = (AS_OF - FIRST).days
    after = span + LEAD_DAYS + REVIEW_DAYS + 200
    started = np.sort(rng.integers(0, span, UNITS))
    built = started - rng.integers(5, 60, UNITS)
    units = pd.DataFrame(
        {
            "serial": [f"S{n:06d}" for n in range(UNITS)],
            "model": rng.choice(["Orlan", "Orlan L"], UNITS, p=[0.7, 0.3]),
            "build_date": day0 + pd.to_timedelta(built, unit="D"),
            "in_service_date": day0 + pd.to_timedelta(started, unit="D"),
        }
    )
    units["model_year"] = units["build_date"].dt.year
    n_months = after // 30 + 2
    rows = []
    wanted = {}
    for c, name in enumerate(COMPONENTS):
        # 1.5 to 24 events in the time that the quantity must last
        wanted[name] = float(np.exp(rng.uniform(np.log(1.5), np.log(24.0))))
        rate = wanted[name] / ((LEAD_DAYS + REVIEW_DAYS) * UNITS)
        batch = rng.gamma(1 / BATCH, BATCH, (built.max() - built.min()) // 30 + 1)
        month = rng.gamma(1 / SHOCK, SHOCK, n_months)
        factor = batch[(built - built.min()) // 30]
        most = month.max()
        n = rng.poisson(rate * factor * most * COVER_DAYS)
        unit = np.repeat(np.arange(UNITS), n)
        failed = started[unit] + rng.integers(0, COVER_DAYS, unit.size)
        inside = failed < after
        unit, failed = unit[inside], failed[inside]
        keep = rng.random(unit.size) < month[failed // 30] / most
        took = rng.dirichlet([2.0, 5.0, 1.0])
        pieces = rng.choice([0, 1, rng.integers(2, 5)], keep.sum(), p=took)
        rows.append(
            pd.DataFrame(
                {"unit": unit[keep], "failed": failed[keep], "c": c, "pieces": pieces}
            )
        )
    claims = pd.concat(rows, ignore_index=True)
    late = rng.choice(REPORTED.size, len(claims), p=REPORTED)
    claims["failed_on"] = day0 + pd.to_timedelta(claims["failed"], unit="D")
    start = claims["failed_on"].dt.to_period("M").dt.to_timestamp()
    reported = start + pd.to_timedelta(
        np.floor(late * MONTH + rng.random(len(claims)) * 28), unit="D"
    )
    claims["reported_on"] = np.maximum(reported, claims["failed_on"])
    claims["serial"] = units["serial"].to_numpy()[claims["unit"]]
    claims["component"] = np.array(COMPONENTS)[claims["c"]]
    claims["part_no"] = [f"P-{c:02d}" for c in claims["c"]]
    claims["claim_no"] = [f"C{n:06d}" for n in range(len(claims))]
    claims["status"] = "closed"
    recorded = claims["failed_on"] >= pd.Timestamp(RECORDED)
    return World(
        units=units, claims=claims[recorded].reset_index(drop=True), wanted=wanted
    )


def judged(seed: int) -> pd.DataFrame:
    """Return what was to be held and what was needed, by part."""
    made = world(seed)
    claims, cut = made.claims, pd.Timestamp(AS_OF)
    seen = claims[claims["reported_on"] <= cut]
    end = cut + timedelta(days=LEAD_DAYS + REVIEW_DAYS)
    then = claims[(claims["reported_on"] > cut) & (claims["reported_on"] <= end)]
    with tempfile.TemporaryDirectory() as folder:
        place = make_folders(Path(folder) / "study")
        (place / "claimlens.toml").write_text(
            f"[counting]\nrecorded_from = {RECORDED}\n", encoding="utf-8"
        )
        inbox = place / "inbox"
        made.units.to_csv(inbox / "units.csv", index=False)
        seen[["claim_no", "serial", "reported_on", "failed_on", "status"]].to_csv(
            inbox / "claims.csv", index=False
        )
        seen.assign(
            failure_mode="worn", reviewer="study", reviewed_on=seen.reported_on
        )[["claim_no", "component", "failure_mode", "reviewer", "reviewed_on"]].to_csv(
            inbox / "labels.csv", index=False
        )
        seen[seen["pieces"] > 0].rename(columns={"pieces": "quantity"})[
            ["claim_no", "part_no", "quantity"]
        ].to_csv(inbox / "claim_parts.csv", index=False)
        pd.DataFrame(
            {
                "part_no": [f"P-{c:02d}" for c in range(len(COMPONENTS))],
                "component": COMPONENTS,
                "lead_time_days": LEAD_DAYS,
            }
        ).to_csv(inbox / "parts.csv", index=False)
        workspace = open_workspace(place)
        workspace.ingest()
        found = workspace.spares(as_of=AS_OF)
    needed = then.groupby("part_no")["pieces"].sum()
    return found.assign(
        needed=found["part_no"].map(needed).fillna(0).astype(int),
        wanted=found["component"].map(made.wanted),
        seed=seed,
    )


def summary(rows: pd.DataFrame) -> dict[str, object]:
    """Return one row of the table."""
    held = rows["quantity_to_hold"]
    return {
        "cases": len(rows),
        "ran out": (rows["needed"] > held).mean(),
        "stated": rows["runs_out"].mean(),
        "at half": (rows["needed"] > held // 2).mean(),
        "stated at half": rows["runs_out_at_half"].mean(),
        "needed / mean": rows["needed"].sum() / rows["demand_mean"].sum(),
    }


def main() -> None:
    """Print the table."""
    n_fleets = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    found = pd.concat([judged(seed) for seed in range(n_fleets)], ignore_index=True)
    band = pd.cut(found["wanted"], [1.5, 4, 10, 24], labels=["1.5-4", "4-10", "10-24"])
    rows = [{"events": "all"} | summary(found)]
    for name, own in found.groupby(band, observed=True):
        rows.append({"events": str(name)} | summary(own))
    print(pd.DataFrame(rows).round(4).to_string(index=False), flush=True)


if __name__ == "__main__":
    main()
