"""Do rates stand when sale dates are missing, or nobody keeps a register at all?

First the limits: fleets of 6,000 units whose sales lag is gamma (shape 1.5, mean three
months), 40 % of the units undated, spread as the pipeline spreads them. The ratio is
to the rate that all dates give; limits are those with the missing information.

Then whole exports through the pipeline: a fleet that doubles its sales each two years,
two regions with unlike lags, units still at dealers, late reports. Each time the rate
at 12 months is compared with the one that full knowledge gives.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from fleets import Floats, report
from undated_fleets import Truth, grown_fleet, shipments_of, workspace_with, year_rate

from claimlens.stats.intervals import wilson
from claimlens.stats.sales_lag import in_steps, lag_of_group
from claimlens.stats.survival import share_failed

AT = 366
HORIZON = 1096
AGES = np.arange(1.0, HORIZON + 1.0)


def by_age(
    age: Floats, planned: Floats, weight: Floats, fails: Floats
) -> tuple[Floats, Floats]:
    """Return failures and leavers by day of age."""
    failed = (fails & (age <= planned)).astype(bool)
    return (
        np.bincount(age[failed], weights=weight[failed], minlength=HORIZON + 1)[
            :HORIZON
        ],
        np.bincount(planned[~failed], weights=weight[~failed], minlength=HORIZON + 1)[
            :HORIZON
        ],
    )


def one_fleet(
    rng: np.random.Generator, shape: float, undated: float, share: float = 0.05
) -> tuple[float, float, bool, bool]:
    """Return rate with all dates, rate without, and whether limits hold the truth."""
    n = 6_000
    ship = rng.integers(0, HORIZON, n)
    lag = rng.gamma(1.5, 60.0, n).astype(int)
    scale = AT / (-np.log1p(-share)) ** (1 / shape)
    age = np.floor(scale * rng.weibull(shape, n)).astype(int)
    sold = ship + lag <= HORIZON - 1
    fails = sold & (ship + lag + age <= HORIZON - 1)
    planned = HORIZON - 1 - ship - lag
    ones = np.ones(n)
    whole = by_age(age[sold], planned[sold], ones[sold], fails[sold])
    best = share_failed(AGES, *whole, np.array([AT], dtype=float))
    dated = sold & (rng.random(n) >= undated)
    chance = lag_of_group(lag[dated], HORIZON - 1 - ship[dated], ones[dated])
    lags, weights = in_steps(chance, 7)
    open_ = np.flatnonzero(~dated)  # undated, or at a dealer still
    start = ship[open_][:, None] + lags[None, :]
    day = np.where(fails[open_], (ship + lag + age)[open_], HORIZON - 1)
    possible = start <= day[:, None]
    p = np.where(possible, weights[None, :], 0.0)
    total = p.sum(axis=1, keepdims=True)
    p = np.where(fails[open_][:, None], p / np.maximum(total, 1e-12), p)
    cell, held = day[:, None] - start, p > 0
    failing = np.broadcast_to(fails[open_][:, None], held.shape)
    below = np.where(cell < AT, p, 0.0).sum(axis=1)[fails[open_]]
    parts = list(by_age(age[dated], planned[dated], ones[dated], fails[dated]))
    for k, kind in enumerate((failing, ~failing)):
        parts[k] = (
            parts[k]
            + np.bincount(
                cell[held & kind], weights=p[held & kind], minlength=HORIZON + 1
            )[:HORIZON]
        )
    found = share_failed(AGES, *parts, np.array([AT], dtype=float))
    value, size = float(found.share[0]), float(found.effective_n[0])
    number = parts[0][:AT].sum()
    extra = float((below * (1 - below)).sum()) * (value / number) ** 2
    spread = value * (1 - value)
    lower, upper = wilson(value * (m := spread / (spread / size + extra)), m)
    plain = bool(found.lower[0] <= share <= found.upper[0])
    return (
        float(best.share[0]),
        value,
        plain,
        bool(lower <= share <= upper),
    )


def limits(runs: int, seed: int = 4) -> list[dict[str, Any]]:
    """Return bias and coverage by shape and share undated."""
    rows = []
    for shape in (0.6, 1.0, 2.0):
        for undated in (0.15, 0.4):
            rng = np.random.default_rng([seed, int(10 * shape), int(100 * undated)])
            found = np.array([one_fleet(rng, shape, undated) for _ in range(runs)])
            ratio = found[:, 1].sum() / found[:, 0].sum()
            rows.append(
                {
                    "shape": shape,
                    "undated": f"{undated:.0%}",
                    "rate / with all dates": f"{ratio:.3f}",
                    "coverage, plain": f"{found[:, 2].mean():.1%}",
                    "coverage": f"{found[:, 3].mean():.1%}",
                }
            )
    return rows


def variants(truth: Truth, seed: int) -> Iterator[tuple[str, dict[str, pd.DataFrame]]]:
    """Yield what can be missing from the exports of a fleet, the whole first."""
    rng = np.random.default_rng(seed)
    units, claims = truth.units, truth.claims
    without = claims.drop(columns="in_service_date")
    yield "all dates", {"units": units, "claims": without}
    gone = rng.random(len(units))
    claimed = units["serial"].isin(claims["serial"])

    def blank(where: pd.Series | np.ndarray) -> pd.DataFrame:
        kept = units["in_service_date"].where(~where)
        return units.assign(in_service_date=kept)

    yield "15 % at random", {"units": blank(gone < 0.15), "claims": without}
    yield "40 % at random", {"units": blank(gone < 0.4), "claims": without}
    yield (
        "15 % of unclaimed units",
        {"units": blank((gone < 0.15) & ~claimed), "claims": without},
    )
    yield (
        "no date but on claims",
        {"units": units.drop(columns="in_service_date"), "claims": claims},
    )
    some = claims["in_service_date"].where(rng.random(len(claims)) > 0.15)
    yield (
        "shipments by month, 15 % of claims undated",
        {
            "shipments": shipments_of(units),
            "claims": claims.assign(in_service_date=some),
        },
    )


def whole_exports(
    folder: Path, *, n_units: int, shapes: tuple[float, ...], seed: int = 8
) -> list[dict[str, Any]]:
    """Return rates from exports with something missing over those from whole ones."""
    rows = []
    for shape in shapes:
        truth = grown_fleet(seed, n_units, shape)
        best = None
        for name, tables in variants(truth, seed):
            workspace = workspace_with(folder / f"{shape} {len(rows)}", **tables)
            found = year_rate(workspace).iloc[0]
            regional = year_rate(workspace, ("region",)).set_index("region")["rate"]
            best = (found["rate"], regional) if best is None else best
            rows.append(
                {
                    "shape": shape,
                    "missing": name,
                    "failed": int(found["claims"]),
                    "rate": f"{found['rate']:.2%}",
                    "over full knowledge": f"{found['rate'] / best[0]:.3f}",
                    "North": f"{regional['North'] / best[1]['North']:.3f}",
                    "South": f"{regional['South'] / best[1]['South']:.3f}",
                }
            )
    return rows


def exports() -> list[dict[str, Any]]:
    """Run whole exports through the pipeline."""
    with tempfile.TemporaryDirectory() as name:
        return whole_exports(Path(name), n_units=10_000, shapes=(0.7, 1.5))


if __name__ == "__main__":
    report("Limits with undated units", lambda: limits(1_000))
    report("Rates from what is left of an export", exports)
