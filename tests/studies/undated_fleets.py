"""Fleets of which not every in-service date is known, as exports in a workspace."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from claimlens.start import open_workspace
from claimlens.workspace import Workspace

FIRST = pd.Timestamp(2021, 1, 1)
AS_OF = date(2025, 6, 30)
MONTH = 30.4375
SALES_MONTHS = {"North": 2.0, "South": 4.0}
"""Mean sales lag by region; gamma with shape 1.5."""


@dataclass(frozen=True)
class Truth:
    """Everything that happened, seen or not."""

    units: pd.DataFrame
    claims: pd.DataFrame


def grown_fleet(seed: int, n_units: int, shape: float, share: float = 0.08) -> Truth:
    """Draw a fleet that doubles its sales each two years, some of it unsold.

    ``share`` fails within a year by a Weibull hazard of the given shape; half of
    the failures are reported within three weeks, the last after five months.
    """
    rng = np.random.default_rng(seed)
    days = (pd.Timestamp(AS_OF) - FIRST).days
    chance = 2.0 ** (np.arange(days) / 730) * (
        1 + 0.4 * np.sin(np.arange(days) * 2 * np.pi / 365)
    )
    shipped = rng.choice(days, n_units, p=chance / chance.sum())
    region = rng.choice(list(SALES_MONTHS), n_units, p=[0.6, 0.4])
    mean = np.array([SALES_MONTHS[name] for name in region]) * MONTH
    started = shipped + rng.gamma(1.5, mean / 1.5).astype(int)
    scale = 365.25 / (-np.log1p(-share)) ** (1 / shape)
    age = np.floor(scale * rng.weibull(shape, n_units)).astype(int)
    reported = started + age + np.minimum(rng.gamma(0.8, 40, n_units), 150).astype(int)

    def day(number: np.ndarray) -> pd.Series:
        return pd.Series(FIRST + pd.to_timedelta(number, unit="D"))

    units = pd.DataFrame(
        {
            "serial": [f"K{n:06d}" for n in range(n_units)],
            "model": rng.choice(["Box", "Long"], n_units),
            "model_year": (FIRST + pd.to_timedelta(shipped, unit="D")).year,
            "ship_date": day(shipped),
            "in_service_date": day(started),
            "region": region,
            "is_sold": started <= days,
        }
    )
    is_claim = (age <= 730) & (reported <= days)
    claims = units.loc[
        is_claim, ["serial", "model", "model_year", "in_service_date", "region"]
    ].assign(
        claim_no=[f"C{n:06d}" for n in np.flatnonzero(is_claim)],
        failed_on=day(started + age)[is_claim],
        reported_on=day(reported)[is_claim],
        status="approved",
    )
    units.loc[~units["is_sold"], "in_service_date"] = pd.NaT
    return Truth(units.drop(columns="is_sold"), claims)


def shipments_of(units: pd.DataFrame) -> pd.DataFrame:
    """Return units shipped by month, model, model year and region."""
    month = units["ship_date"].dt.to_period("M").dt.start_time
    keys = ["model", "model_year", "month", "region"]
    counted = units.assign(month=month).groupby(keys).size()
    return counted.rename("quantity").reset_index()


def workspace_with(
    folder: Path, claims: pd.DataFrame, *, settings: str = "", **tables: pd.DataFrame
) -> Workspace:
    """Load tables with canonical headers into a new workspace."""
    inbox = folder / "inbox"
    inbox.mkdir(parents=True)
    (folder / "claimlens.toml").write_text(settings, encoding="utf-8")
    for name, table in {"claims": claims, **tables}.items():
        table.to_csv(inbox / f"{name}.csv", index=False, date_format="%Y-%m-%d")
    workspace = open_workspace(folder)
    workspace.ingest()
    return workspace


def year_rate(workspace: Workspace, by: tuple[str, ...] = ()) -> pd.DataFrame:
    """Return the rates at 12 months."""
    return workspace.rates(by=by, at=12, as_of=AS_OF)
