"""Do forecasts hold on fleets of which the next year is known?

Run ``python tests/studies/study_forecast.py [SEEDS] [FLEET ...]``: fleets of several
kinds are drawn a year beyond the cut-off and written as canonical files; what was
shipped and reported by the cut-off is loaded, forecast by component, and set against
the claims that then came. A count on the edge of a band counts half; nothing lies
below 0, so that a 0 is inside a band from 0, and an edge in columns of its own.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from claimlens.start import make_folders, open_workspace
from claimlens.stats.forecast_scores import coverage

MONTH = 30.4375
FIRST, AS_OF, MONTHS = date(2021, 1, 1), date(2025, 6, 30), 12
COVER_DAYS = 730
CHANGED = date(2024, 2, 15)
REPORTED = np.array([0.35, 0.40, 0.15, 0.05, 0.03, 0.02])
COMPONENTS = (
    "battery pack", "charger", "motor", "controller", "display", "wiring harness",
    "connector", "throttle", "brake hydraulic", "drivetrain", "headlight", "frame",
    "switchgear", "lock/key", "firmware", "kickstand",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A fleet: how its sales go, and what happens to its rates.

    ``growth`` is by year; ``season`` and ``shock`` are the sizes of waves of the rate
    over the year, and of months that are worse for no reason; ``window`` is the factor
    of three build months of the charger, ``change`` that of the motor's later ones.
    With ``longer`` every cover lasts three years from the cut-off on, and the forecast
    is asked for that.
    """

    name: str
    units: int = 12_000
    growth: float = 0.0
    season: float = 0.0
    shock: float = 0.0
    batch: float = 0.0
    window: float = 1.0
    change: float = 1.0
    claims: float = 0.35
    sold_on: bool = False
    first: date = FIRST
    undated: float = 0.0
    longer: bool = False


KINDS = (
    Kind(name="steady"),
    Kind(name="growing", growth=0.35),
    Kind(name="shrinking", growth=-0.35),
    Kind(name="seasonal", season=0.35),
    Kind(name="shocked", shock=0.25, batch=0.4),
    Kind(name="window and change", window=4.0, change=0.4, growth=0.15),
    Kind(name="thin", units=2_000, claims=0.15),
    Kind(name="growing, sales planned", growth=0.35, sold_on=True),
    Kind(name="young", growth=0.35, first=date(2024, 1, 1)),
    Kind(name="undated", undated=0.2),
    Kind(name="cover a year longer", longer=True),
    Kind(name="large", units=40_000, growth=0.15, season=0.2, window=4.0, change=0.4),
)


def fleet(kind: Kind, seed: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Draw units and claims to a year after the cut-off."""
    rng = np.random.default_rng([seed, len(kind.name)])
    end = pd.Timestamp(AS_OF) + pd.DateOffset(months=MONTHS + 1)
    days = (end - pd.Timestamp(kind.first)).days
    pull = (1 + kind.growth) ** (np.arange(days) / 365.25)
    built = np.sort(rng.choice(days, kind.units, p=pull / pull.sum()))
    shipped = built + rng.integers(3, 25, kind.units)
    started = shipped + rng.gamma(1.5, 1.6 * MONTH, kind.units).astype(int)
    model = rng.choice(["Nival", "Nival L", "Tarbo"], kind.units, p=[0.5, 0.3, 0.2])
    day0 = pd.Timestamp(kind.first)
    units = pd.DataFrame(
        {
            "serial": [f"N{n:06d}" for n in range(kind.units)],
            "model": model,
            "build_date": day0 + pd.to_timedelta(built, unit="D"),
            "ship_date": day0 + pd.to_timedelta(shipped, unit="D"),
            "in_service_date": day0 + pd.to_timedelta(started, unit="D"),
            "region": rng.choice(["North", "South"], kind.units),
        }
    )
    units["model_year"] = units["build_date"].dt.year
    n_months = days // 30 + 2
    shock = np.exp(
        rng.normal(-0.5 * kind.shock**2, kind.shock, (len(COMPONENTS), n_months))
    )
    share = rng.lognormal(0, 0.8, len(COMPONENTS))
    share *= kind.claims / share.sum()
    parts = []
    for c, name in enumerate(COMPONENTS):
        shape = rng.choice([0.7, 1.0, 1.0, 1.6, 2.2])
        scale = COVER_DAYS / share[c] ** (1 / shape)
        factor = np.exp(
            rng.normal(-0.5 * kind.batch**2, kind.batch, built.max() // 30 + 1)
        )[built // 30]
        if name == "charger":
            bad = (built > days * 0.55) & (built < days * 0.55 + 91)
            factor = np.where(bad, kind.window, 1.0) * factor
        if name == "motor":
            after = built >= (pd.Timestamp(CHANGED) - day0).days
            factor = np.where(after, kind.change, 1.0) * factor
        most = 1 + kind.season + 6 * kind.shock
        # events of a Poisson process with the greatest intensity, then thinned
        end_of_cover = COVER_DAYS * (1.5 if kind.longer else 1.0)
        n = rng.poisson(factor * most * (end_of_cover / scale) ** shape)
        unit = np.repeat(np.arange(kind.units), n)
        age = end_of_cover * rng.random(unit.size) ** (1 / shape)
        failed = started[unit] + age
        wave = 1 + kind.season * np.cos(2 * np.pi * (failed % 365.25) / 365.25)
        month = np.minimum((failed // 30).astype(int), n_months - 1)
        keep = rng.random(unit.size) < wave * shock[c, month] / most
        parts.append(
            pd.DataFrame(
                {
                    "unit": unit[keep],
                    "failed": failed[keep].astype(int),
                    "c": c,
                    "late": age[keep] > COVER_DAYS,
                }
            )
        )
    claims = pd.concat(parts, ignore_index=True)
    late = rng.choice(REPORTED.size, len(claims), p=REPORTED)
    failed_on = day0 + pd.to_timedelta(claims["failed"], unit="D")
    month_start = failed_on.dt.to_period("M").dt.to_timestamp()
    reported = month_start + pd.to_timedelta(
        np.floor(late * MONTH + rng.random(len(claims)) * 28), unit="D"
    )
    claims["failed_on"] = failed_on
    claims["reported_on"] = np.maximum(reported, failed_on)
    claims["serial"] = units["serial"].to_numpy()[claims["unit"]]
    claims["component"] = np.array(COMPONENTS)[claims["c"]]
    claims["claim_no"] = [f"C{n:06d}" for n in range(len(claims))]
    claims["status"] = "approved"
    return units, claims


def judged(kind: Kind, seed: int) -> pd.DataFrame:
    """Return forecast and truth by component and month."""
    units, claims = fleet(kind, seed)
    cut = pd.Timestamp(AS_OF)
    known = units[units["ship_date"] <= cut].copy()
    sold = units if kind.sold_on else known
    then = claims[claims["serial"].isin(sold["serial"]) & (claims["reported_on"] > cut)]
    # before the cut-off nobody claims what is not covered
    then = then[~then["late"] | (then["failed_on"] > cut)]
    seen = claims[(claims["reported_on"] <= cut) & ~claims["late"]]
    planned = None
    if kind.sold_on:
        later = units[units["in_service_date"] > cut]
        planned = (
            later.assign(month=later["in_service_date"].dt.strftime("%Y-%m"))
            .groupby(["model", "month"])
            .size()
            .rename("quantity")
            .reset_index()
        )
    unknown = np.random.default_rng(seed).random(len(known)) < kind.undated
    known.loc[(known["in_service_date"] > cut) | unknown, "in_service_date"] = pd.NaT
    with tempfile.TemporaryDirectory() as folder:
        place = make_folders(Path(folder) / "study")
        (place / "claimlens.toml").write_text("", encoding="utf-8")
        inbox = place / "inbox"
        known.to_csv(inbox / "units.csv", index=False)
        columns = ["claim_no", "serial", "reported_on", "failed_on", "status"]
        seen[columns].to_csv(inbox / "claims.csv", index=False)
        seen.assign(
            failure_mode="worn", reviewer="study", reviewed_on=seen.reported_on
        )[["claim_no", "component", "failure_mode", "reviewer", "reviewed_on"]].to_csv(
            inbox / "labels.csv", index=False
        )
        if kind.change != 1.0:
            (inbox / "changes.csv").write_text(
                "change_no,component,description,effective_build_date\n"
                f"EC-1,motor,another make,{CHANGED}\n",
                encoding="utf-8",
            )
        more: dict[str, object] = {"coverage": 36} if kind.longer else {}
        if planned is not None:
            planned.to_csv(place / "sales.csv", index=False)
            more["sales"] = place / "sales.csv"
        workspace = open_workspace(place)
        workspace.ingest()
        found = workspace.forecast(by="component", as_of=AS_OF, months=MONTHS, **more)
    month = then["reported_on"].dt.to_period("M").dt.to_timestamp()
    actual = then.groupby(["component", month]).size()
    index = pd.MultiIndex.from_frame(found[["component", "month"]])
    last = seen[seen["reported_on"] > cut - pd.DateOffset(months=3)]
    return found.assign(
        actual=actual.reindex(index).fillna(0).to_numpy(),
        recent=found["component"].map(last.groupby("component").size() / 3).fillna(0),
        kind=kind.name,
        seed=seed,
    )


def held(rows: pd.DataFrame, level: str, least: float = 0.0) -> float:
    """Return the share of months inside a band, its edges counting half."""
    bands = (rows[f"lower{level}"], rows[f"upper{level}"])
    return float(coverage(*bands, rows["actual"], least=least).share)


def summary(rows: pd.DataFrame) -> dict[str, object]:
    """Return one row of the table."""
    year = rows.groupby(["seed", "component"])[["claims", "actual", "recent"]].sum()
    error = (year["claims"] - year["actual"]).abs().sum()
    naive = (year["recent"] - year["actual"]).abs().sum()
    many = rows.groupby(["seed", "component"])["actual"].transform("sum") >= 10
    return {
        "fleets": rows["seed"].nunique(),
        "claims": int(year["actual"].sum()),
        "80 %": held(rows, "80"),
        "95 %": held(rows, "95"),
        "80 %, 10 and more": held(rows[many], "80"),
        "95 %, 10 and more": held(rows[many], "95"),
        "80 %, 0 an edge": held(rows, "80", -np.inf),
        "95 %, 0 an edge": held(rows, "95", -np.inf),
        "bias": year["claims"].sum() / year["actual"].sum() - 1,
        "error / naive": error / naive,
        "chance alone": float(np.sqrt(2 / np.pi * year["actual"]).sum() / naive),
    }


def main() -> None:
    """Print the table."""
    n_seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    wanted = sys.argv[2:]
    kinds = [kind for kind in KINDS if not wanted or kind.name in wanted]
    rows = []
    for kind in kinds:
        found = pd.concat([judged(kind, seed) for seed in range(n_seeds)])
        rows.append({"fleet": kind.name, **summary(found)})
        print(pd.DataFrame(rows[-1:]).round(3).to_string(index=False), flush=True)


if __name__ == "__main__":
    main()
