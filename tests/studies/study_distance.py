"""Covers that end by distance: rates behind the limit, usage rates, distance lives.

Fleets with known usage rates go through the whole product: 5,000 units of two models,
in service over three years, covered for 24 months or 10,000 km; 70 % of the claims
carry a reading. Beside it usage rates and lives against distance from arrays alone.
"""

from __future__ import annotations

import tempfile
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from fleets import report

from claimlens.start import open_workspace
from claimlens.stats.distance import GROUPS, Failed, Kind, fit_by_distance
from claimlens.stats.usage import fit_usage

LIMIT = 10_000.0
SETTINGS = "[coverage]\nmonths = 24\ndistance = 10000\n"
AS_OF = date(2025, 6, 30)
YEAR = 12 * 30.4375
MODELS = {"Trike": 15.0, "Scooter": 8.0}  # median kilometres a day


def fleet(
    rng: np.random.Generator, units: int, shape: float, spread: float
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Draw units, and the claims that a cover by age and distance lets in."""
    started = rng.integers(0, 1096, units)
    model = rng.choice(list(MODELS), units)
    median = np.array([MODELS[name] for name in model])
    rate = median * np.exp(spread * rng.standard_normal(units))
    # a tenth fail within a year of age
    life = YEAR * (rng.exponential(size=units) / -np.log(0.9)) ** (1 / shape)
    gone = life * rate
    first = date(2022, 6, 1)
    dates = [first + timedelta(days=int(day)) for day in started]
    register = pd.DataFrame(
        {
            "serial": [f"U{i:05d}" for i in range(units)],
            "model": model,
            "model_year": 2022,
            "in_service_date": dates,
        }
    )
    failed = np.array(dates, dtype="datetime64[D]") + np.minimum(life, 9_000).astype(
        int
    )
    reported = failed + rng.exponential(12, units).astype(int)
    seen = (failed <= np.datetime64(AS_OF)) & (life < 730) & (gone <= LIMIT)
    reading = np.where(rng.random(units) < 0.7, np.maximum(gone, 0.1).round(1), np.nan)
    claims = pd.DataFrame(
        {
            "claim_no": [f"C{i:05d}" for i in range(units)],
            "serial": register["serial"],
            "failed_on": failed,
            "reported_on": reported,
            "status": "closed",
            "usage": reading,
            "usage_unit": "km",
        }
    )
    return register, claims[seen]


def product_rates(
    seed: int, *, units: int, shape: float, spread: float
) -> dict[float, dict[str, float]]:
    """Return the rates that the product gives at 12 and 24 months."""
    rng = np.random.default_rng([20240607, seed])
    register, claims = fleet(rng, units, shape, spread)
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder) / "workspace"
        (home / "inbox").mkdir(parents=True)
        (home / "claimlens.toml").write_text(SETTINGS, encoding="utf-8")
        register.to_csv(home / "inbox" / "units.csv", index=False)
        claims.to_csv(home / "inbox" / "claims.csv", index=False)
        workspace = open_workspace(home)
        workspace.ingest()
        table = workspace.rates(by=(), at=[12, 24], as_of=AS_OF)
    return {
        row["at_months"]: {
            "rate": row["rate"],
            "lower": row["lower"],
            "upper": row["upper"],
            "by age only": float(row["note"].rsplit("; ", 1)[-1].split("%")[0]) / 100,
        }
        for row in table.to_dict("records")
    }


def study_rates(
    worlds: int = 5, units: int = 5000, seed: int = 0
) -> list[dict[str, Any]]:
    """Compare the product's rates with the truth without a limit."""
    rows = []
    for shape in (0.7, 1.0, 1.8):
        for spread in (0.4, 0.8):
            found = [
                product_rates(seed + world, units=units, shape=shape, spread=spread)
                for world in range(worlds)
            ]
            for months in (12.0, 24.0):
                truth = -np.expm1(np.log(0.9) * (months / 12) ** shape)
                here = [each[months] for each in found]
                rows.append(
                    {
                        "shape": shape,
                        "spread of rates": spread,
                        "months": int(months),
                        "truth": float(truth),
                        "estimate / truth": float(
                            np.mean([each["rate"] for each in here]) / truth
                        ),
                        "by age only / truth": float(
                            np.mean([each["by age only"] for each in here]) / truth
                        ),
                        "95 % interval holds it": float(
                            np.mean(
                                [
                                    each["lower"] <= truth <= each["upper"]
                                    for each in here
                                ]
                            )
                        ),
                    }
                )
    return rows


def study_usage(repeats: int = 3000, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return bias and coverage of usage rates read behind a limit."""
    rows = []
    for n in (30, 100, 400):
        for spread in (0.4, 0.8):
            rng = np.random.default_rng([seed, n, int(spread * 10)])
            found = []
            for _ in range(repeats):
                age = rng.uniform(30, 730, 8 * n)
                rate = 12 * np.exp(spread * rng.standard_normal(8 * n))
                seen = np.flatnonzero(rate * age <= 7_000)[:n]
                fit = fit_usage(
                    (rate * age)[seen], age[seen], np.full(len(seen), 7_000.0)
                )
                if fit.rates is not None:
                    found.append(
                        (
                            fit.rates.median / 12,
                            fit.rates.spread / spread,
                            fit.median_interval[0] <= 12 <= fit.median_interval[1],
                            fit.spread_interval[0] <= spread <= fit.spread_interval[1],
                        )
                    )
            told = np.array(found, dtype=float)
            rows.append(
                {
                    "readings": n,
                    "spread of rates": spread,
                    "median / truth": float(np.median(told[:, 0])),
                    "spread / truth": float(np.median(told[:, 1])),
                    "median covered": float(told[:, 2].mean()),
                    "spread covered": float(told[:, 3].mean()),
                    "no estimate": 1 - len(found) / repeats,
                }
            )
    return rows


def study_lives(repeats: int = 60, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return bias and coverage of lives against distance, failures by distance."""
    rows = []
    for shape in (0.7, 1.0, 2.0):
        for units in (2000, 8000):
            rng = np.random.default_rng([seed, units, int(shape * 10)])
            scale = LIMIT * (-np.log(0.9)) ** (-1 / shape)
            b5 = scale * (-np.log(0.95)) ** (1 / shape)
            found = []
            failures = 0
            for _ in range(repeats):
                life, n = _one_life(rng, units, shape, scale)
                failures += n
                if not np.isnan(life.shape):
                    low, high = life.shape_interval
                    found.append(
                        (
                            life.shape / shape,
                            low <= shape <= high,
                            life.lives[0] / b5,
                            life.lives_lower[0] <= b5 <= life.lives_upper[0],
                        )
                    )
            told = np.array(found, dtype=float)
            rows.append(
                {
                    "shape": shape,
                    "failures": failures / repeats,
                    "shape / truth": float(np.median(told[:, 0])),
                    "shape covered": float(told[:, 1].mean()),
                    "B5 / truth": float(np.median(told[:, 2])),
                    "B5 covered": float(told[:, 3].mean()),
                    "no estimate": 1 - len(found) / repeats,
                }
            )
    return rows


def _one_life(
    rng: np.random.Generator, units: int, shape: float, scale: float
) -> tuple[Any, int]:
    """Fit one fleet whose failures come by distance."""
    planned = rng.uniform(30, 730, units)
    rate = 12 * np.exp(0.6 * rng.standard_normal(units))
    gone = scale * rng.weibull(shape, units)
    age = gone / rate
    seen = (age <= planned) & (gone <= LIMIT)
    group = rng.integers(0, GROUPS, int(seen.sum()))
    told = age[seen] >= 30
    weeks = np.arange(0.0, 730.0, 7.0)
    watched = np.clip((planned[:, None] - weeks) / 7.0, 0.0, 1.0).sum(axis=0)
    kind = Kind(
        watched=watched,
        step=7.0,
        limit=LIMIT,
        rates=None,
        distances=gone[seen][told],
        ages=age[seen][told],
        limits=np.full(int(told.sum()), LIMIT),
        groups=group[told],
    )
    failed = Failed(
        distances=gone[seen],
        last=np.minimum(rate * planned, LIMIT)[seen],
        weights=np.ones(int(seen.sum())),
        groups=group,
    )
    edges = np.arange(0.0, LIMIT + 1, 100.0)
    life = fit_by_distance(edges, failed, [kind], shares=(0.05,))
    return life, int(seen.sum())


if __name__ == "__main__":
    report("Rates behind a limit of 10,000 km, through the product", study_rates)
    report("Usage rates from readings behind a limit", study_usage)
    report("Lives against distance", study_lives)
