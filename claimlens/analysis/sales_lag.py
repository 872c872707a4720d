"""The sales lag: days from leaving the works to first use, by model and region."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.count_tables import DAYS_PER_MONTH
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.inflow import gamma_lag
from claimlens.stats.sales_lag import in_steps, lag_of_group

__all__ = ["FEWEST_DATED", "STEP_DAYS", "DatesKnown", "SalesLag", "put_sales_lag"]

Floats = NDArray[np.float64]

# fewer dated units than this tell one lag for everybody
FEWEST_DATED = 20
# a finer lag moves no rate, and the spread rows stay few
STEP_DAYS = 7
# dates known more often of units with claims by more than this: they are written
# down when a claim is made; a rule of ours, as the next
_FAR_MORE = 0.2
_MOST = 0.5
_SUREST = 0.999


@dataclass(frozen=True, slots=True, kw_only=True)
class DatesKnown:
    """Shares of units old enough to be sold that have an in-service date.

    Parameters
    ----------
    claimed, quiet : float
        Of units with and without claims, by the register; NaN for no such unit.
    """

    claimed: float
    quiet: float

    @property
    def is_selective(self) -> bool:
        """Tell whether dates are known far more often of units with claims."""
        return self.claimed - self.quiet > _FAR_MORE

    @property
    def share_dated(self) -> float:
        """Return which share of the units sold without a claim has its date."""
        # a register that never misses one is a claim that no data prove
        return 0.0 if np.isnan(self.quiet) else min(self.quiet, _SUREST)

    @property
    def at_random(self) -> bool:
        """Tell whether the dated units can stand for all: most have their date."""
        return self.quiet >= _MOST and not self.is_selective


@dataclass(frozen=True, slots=True, kw_only=True)
class SalesLag:
    """What is known of the sales lag.

    Parameters
    ----------
    n_units : int
        Units of the register that have both dates.
    chance : ndarray, shape (k,)
        Chance of a lag of 0, 1, ... days among all units; empty where nothing
        tells it.
    n_groups : int
        Groups of model and region that have a distribution of their own.
    dates : DatesKnown
        Whose dates are known.
    notes : tuple of str
        What a reader of any number from here must know.
    """

    n_units: int
    chance: Floats
    n_groups: int
    dates: DatesKnown
    notes: tuple[str, ...]


def put_sales_lag(
    session: Session, settings: Settings, as_of: date, *, stretch: float = 1.0
) -> SalesLag:
    """Make ``sales_lags``, ``sales_lag_groups`` and ``typical_lag``.

    Units that have both dates tell the lag; one not sold yet is not seen, which is
    corrected for. A group of model and region leans on its region, and the region
    on all, as far as it is thin. Where dates are known because a claim was made,
    the dates that claims carry tell it too, corrected for what had no time to fail.
    Where fewer than 20 units are dated, everybody has the lag of the settings, else
    their median.

    Parameters
    ----------
    session : Session
        With ``int_units``.
    settings : Settings
        A sales lag that is known from elsewhere.
    as_of : date
        Cut-off.
    stretch : float, default 1.0
        Factor on every lag, to see how much a rate depends on them.

    Returns
    -------
    SalesLag
        What was seen.
    """
    dates = _dates_known(session, as_of)
    seen = _seen(session, as_of, from_claims=dates.is_selective)
    if not dates.is_selective and seen["n_units"].sum() < FEWEST_DATED:
        seen = _seen(session, as_of, from_claims=True)
    everyone = _lag_of(seen, None)
    n_units = int(seen["n_units"].sum())
    typical = _median(everyone)
    groups: dict[tuple[str, str], Floats] = {}
    stated = settings.shipments.sales_lag_months
    if n_units >= FEWEST_DATED:
        for region, of_region in seen.groupby("region", sort=True):
            regional = _lag_of(of_region, everyone)
            groups["", str(region)] = regional
            for model, of_model in of_region.groupby("model", sort=True):
                groups[str(model), str(region)] = _lag_of(of_model, regional)
    elif stated is not None:
        everyone = gamma_lag(stated * DAYS_PER_MONTH)
        typical = _median(everyone)
    elif n_units:
        everyone = np.zeros(typical + 1)
        everyone[typical] = 1.0
    _put_tables(session, everyone, groups, stretch)
    session.put("typical_lag", pd.DataFrame({"days": [round(typical * stretch)]}))
    return SalesLag(
        n_units=n_units,
        chance=everyone,
        n_groups=sum(1 for model, _ in groups if model),
        dates=dates,
        notes=_notes(session, everyone),
    )


def _seen(session: Session, as_of: date, *, from_claims: bool) -> pd.DataFrame:
    return session.frame(
        "intermediate/int_sales_lags", {"as_of": as_of, "from_claims": from_claims}
    )


def _dates_known(session: Session, as_of: date) -> DatesKnown:
    """Return whose dates are known, of units that must have been sold by now."""
    row = session.frame("intermediate/int_dates", {"as_of": as_of}).iloc[0]
    claimed, quiet = int(row["n_claimed"]), int(row["n_quiet"])
    of_quiet = int(row["n_quiet_dated"]) / quiet if quiet else np.nan
    return DatesKnown(
        claimed=int(row["n_claimed_dated"]) / claimed if claimed else of_quiet,
        quiet=of_quiet,
    )


def _notes(session: Session, everyone: Floats) -> tuple[str, ...]:
    if everyone.size:
        return ()
    n_left_out = int(session.frame("intermediate/int_undated").iloc[0]["n_units"])
    if not n_left_out:
        return ()
    return (
        f"{n_left_out:,} units without an in-service date are left out: nothing tells "
        "their sales lag; state sales_lag_months under [shipments]",
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
