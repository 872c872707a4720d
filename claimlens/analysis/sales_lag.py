"""The sales lag: days from leaving the works to first use, by model and region."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.db import Session
from claimlens.stats.sales_lag import in_steps, lag_of_group

__all__ = ["FEWEST_DATED", "STEP_DAYS", "SalesLag", "put_sales_lag"]

Floats = NDArray[np.float64]

# fewer dated units than this tell one lag for everybody
FEWEST_DATED = 20
# a finer lag moves no rate, and the spread rows stay few
STEP_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class SalesLag:
    """What the units with both dates tell of the sales lag.

    Parameters
    ----------
    n_units : int
        Units that have both dates.
    chance : ndarray, shape (k,)
        Chance of a lag of 0, 1, ... days among all units; empty for none.
    n_groups : int
        Groups of model and region that have a distribution of their own.
    """

    n_units: int
    chance: Floats
    n_groups: int


def put_sales_lag(session: Session, as_of: date, *, stretch: float = 1.0) -> SalesLag:
    """Make ``sales_lags``, ``sales_lag_groups`` and ``typical_lag``.

    Units that have both dates tell the lag; one not sold yet is not seen, which is
    corrected for. A group of model and region leans on its region, and the region
    on all, as far as it is thin. Where fewer than 20 units are dated, everybody
    has their median.

    Parameters
    ----------
    session : Session
        With ``int_units``.
    as_of : date
        Cut-off.
    stretch : float, default 1.0
        Factor on every lag, to see how much a rate depends on them.

    Returns
    -------
    SalesLag
        What was seen.
    """
    seen = session.frame("intermediate/int_sales_lags", {"as_of": as_of})
    everyone = _lag_of(seen, None)
    n_units = int(seen["n_units"].sum())
    typical = _median(everyone)
    groups: dict[tuple[str, str], Floats] = {}
    if n_units < FEWEST_DATED:
        everyone = np.zeros(typical + 1)
        everyone[typical] = 1.0 if n_units else 0.0
    else:
        for region, of_region in seen.groupby("region", sort=True):
            regional = _lag_of(of_region, everyone)
            groups["", str(region)] = regional
            for model, of_model in of_region.groupby("model", sort=True):
                groups[str(model), str(region)] = _lag_of(of_model, regional)
    _put_tables(session, everyone, groups, stretch)
    session.put("typical_lag", pd.DataFrame({"days": [round(typical * stretch)]}))
    return SalesLag(
        n_units=n_units,
        chance=everyone,
        n_groups=sum(1 for model, _ in groups if model),
    )


def _lag_of(seen: pd.DataFrame, coarser: Floats | None) -> Floats:
    return lag_of_group(
        seen["lag_days"], seen["horizon_days"], seen["n_units"], coarser=coarser
    )


def _median(chance: Floats) -> int:
    if not chance.size:
        return 0
    # a sum of shares can end a hair below the half that it stands for
    return int(np.searchsorted(np.cumsum(chance), 0.5 - 1e-12))


def _put_tables(
    session: Session,
    everyone: Floats,
    groups: dict[tuple[str, str], Floats],
    stretch: float,
) -> None:
    """Store the distributions in weekly steps; number 0 is that of all units."""
    tables = []
    for number, chance in enumerate([everyone, *groups.values()]):
        lags, weight = in_steps(chance, STEP_DAYS)
        tables.append(
            pd.DataFrame(
                {
                    "lag_group": number,
                    "lag_days": np.rint(lags * stretch).astype(np.int64),
                    "weight": weight,
                }
            )
        )
    session.put("sales_lags", pd.concat(tables, ignore_index=True))
    session.put(
        "sales_lag_groups",
        pd.DataFrame(
            {
                "model": pd.array([model for model, _ in groups], dtype="str"),
                "region": pd.array([region for _, region in groups], dtype="str"),
                "lag_group": np.arange(1, len(groups) + 1),
            }
        ),
    )
