"""What a forecast is made from: claims seen, and units under cover by month.

The age of a unit is told in calendar months since the month in which it came into
service, for the claims seen and for the units to come alike; the first and the last
month under cover count for the part of them that was covered.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.carriers import put_carriers
from claimlens.analysis.cover import watch_until
from claimlens.analysis.months import first_of, month_no
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.unit_months import DAYS_PER_MONTH

__all__ = [
    "CLAIM_KEYS",
    "UNIT_KEYS",
    "Ahead",
    "check_claims",
    "claims_reported",
    "cohort_days",
    "count_ahead",
    "horizon_of",
    "month_numbers",
    "units_ahead",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

UNIT_KEYS = (
    "model", "model_year", "region", "generation", "build_month", "dealer",
)  # fmt: skip
"""Keys that a unit has before it fails."""

CLAIM_KEYS = ("component", "failure_mode", "supplier")
"""Keys that only a claim has."""

# build dates are put together by quarters
_COHORT_MONTHS = 3
_PLACED = ("service_month", "failed_month", "reported_month")


@dataclass(frozen=True, kw_only=True)
class Ahead:
    """Units and claims of the past and units of the months to come.

    Parameters
    ----------
    as_of : date
        Cut-off.
    months : int
        Months to come.
    unit_keys : tuple of str
        Keys of units asked for.
    units : DataFrame
        Rows of ``forecast_units``; months as numbers.
    claims : DataFrame
        Rows of ``forecast_claims`` reported by the cut-off; months as numbers, -1
        for a claim whose unit has no day in service.
    cohorts : DataFrame
        ``cohort``, ``from_date``, ``to_date``: build dates that go together.
    changes : DataFrame
        Engineering changes: ``change_no``, ``component``, ``model``, ``starts_on``.
    distance : ndarray, shape (D, A)
        Share of units within their distance limit by class and day of age.
    retired : float
        Share of the units in service that retire in a month.
    later : DataFrame or None
        Units of the months to come, where they are not under cover as they were.
    undone : tuple of str
        Numbers of changes taken as not made in the months to come.
    planned : int, default 0
        Units of planned sales among those of the months to come.
    """

    as_of: date
    months: int
    unit_keys: tuple[str, ...]
    units: pd.DataFrame
    claims: pd.DataFrame
    cohorts: pd.DataFrame
    changes: pd.DataFrame
    distance: Floats
    retired: float
    later: pd.DataFrame | None = None
    undone: tuple[str, ...] = ()
    planned: int = 0

    @property
    def units_to_come(self) -> pd.DataFrame:
        """Return the units of the months to come, with their cover then."""
        return self.units if self.later is None else self.later

    @property
    def now(self) -> int:
        """Return the number of the month of the cut-off."""
        return month_no(self.as_of)

    @property
    def part_gone(self) -> float:
        """Return which part of the month of the cut-off has passed; 1 at its end."""
        following = first_of(self.now + 1)
        length = (following - first_of(self.now)).days
        return ((self.as_of - first_of(self.now)).days + 1) / length

    @property
    def first(self) -> int:
        """Return the number of the first month to come."""
        return self.now + (self.part_gone >= 1.0)

    @property
    def last(self) -> int:
        """Return the number of the last month to come."""
        return self.first + self.months - 1


def count_ahead(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    by: Sequence[str],
    months: int,
    sold_after: date = date.max,
) -> Ahead:
    """Count claims seen and units under cover, past and to come.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``; ``int_service``, ``int_watch`` and
        ``int_built`` are made anew, to the end of the forecast.
    settings : Settings
        Cover and counting rules.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Keys of ``UNIT_KEYS`` and ``CLAIM_KEYS``.
    months : int
        Months to come.
    sold_after : date, optional
        Units that left the works after that day are ``is_new``.

    Returns
    -------
    Ahead

    Raises
    ------
    InputError
        If no unit has a day in service under cover.
    """
    horizon = horizon_of(scope.as_of, months)
    session.run("intermediate/int_stock", {"after": scope.as_of, "as_of": horizon})
    session.run(
        "intermediate/int_service_ahead",
        {"as_of": scope.as_of, "share_dated": scope.dates.share_dated},
    )
    session.run("intermediate/int_built")
    watch_until(session, settings, horizon)
    if session.count("int_watch") == 0:
        raise InputError(
            "No unit in sight has a day in service under cover, so nothing tells how "
            "many claims will come.",
            remedy="load a unit register or shipments by month: claimlens ingest FILE; "
            "or check coverage in claimlens.toml",
        )
    changes = _changes(session)
    cohorts = _cohorts(session, changes)
    session.put("cohort_days", cohort_days(cohorts))
    session.run("intermediate/int_cohorts")
    put_carriers(session, scope.as_of)
    units = units_ahead(session, by, sold_after)
    claims = claims_reported(session, settings, by, shipped_by=date.max)
    longest = int((units["last_month"] - units["service_month"]).max() + 2) * 31
    return Ahead(
        as_of=scope.as_of,
        months=months,
        unit_keys=tuple(key for key in UNIT_KEYS if key in by),
        units=units,
        claims=claims,
        cohorts=cohorts,
        changes=changes,
        distance=scope.covered(longest),
        retired=_retired(session, scope.as_of),
    )


def check_claims(ahead: Ahead, what: str) -> None:
    """Refuse to look ahead where no claim in sight is under cover.

    Parameters
    ----------
    ahead : Ahead
        From `count_ahead`.
    what : str
        What nothing tells then.
    """
    if ahead.claims.empty:
        raise InputError(
            f"No claim in sight is under cover, so nothing tells {what}.",
            remedy="ask without the filters, or check coverage in claimlens.toml",
        )


def horizon_of(as_of: date, months: int) -> date:
    """Return a day after the last of so many months to come."""
    return first_of(month_no(as_of) + months + 2)


def units_ahead(
    session: Session, by: Sequence[str], sold_after: date = date.max
) -> pd.DataFrame:
    """Return units by the months of their cover, from ``int_watch`` as it stands.

    Parameters
    ----------
    session : Session
        With ``int_watch`` to the end of the forecast, and ``cohorts``.
    by : sequence of str
        Keys of units.
    sold_after : date, optional
        Units that left the works after that day are ``is_new``.

    Returns
    -------
    pandas.DataFrame
        Rows of ``forecast_units``, with months as numbers.
    """
    units = session.frame(
        "marts/forecast_units", _flags(by) | {"sold_after": sold_after}
    )
    for name in ("service_month", "first_month", "last_month"):
        units[name] = month_numbers(units[name])
    return units.assign(model=units["model"].fillna(""))


def _retired(session: Session, as_of: date) -> float:
    """Return the share of the units in service that retire in a month."""
    row = session.frame("marts/retired_rate", {"as_of": as_of}).iloc[0]
    days = float(row["unit_days"])
    return float(row["n_retired"]) / days * DAYS_PER_MONTH if days > 0 else 0.0


def _flags(by: Sequence[str]) -> dict[str, bool]:
    return {f"by_{key}": key in by for key in UNIT_KEYS if key != "model"}


def claims_reported(
    session: Session, settings: Settings, by: Sequence[str], *, shipped_by: date
) -> pd.DataFrame:
    """Return the claims under cover, with their months as numbers.

    Parameters
    ----------
    session : Session
        With the tables that `count_ahead` makes.
    settings : Settings
        Counting rules.
    by : sequence of str
        Keys of units and of claims.
    shipped_by : date
        Only claims of units that had left the works by then.

    Returns
    -------
    pandas.DataFrame
        Rows of ``forecast_claims``; a month is -1 where there is none.
    """
    claims = session.frame(
        "marts/forecast_claims",
        _flags(by)
        | {
            "by_failure_mode": "failure_mode" in by,
            "by_supplier": "supplier" in by,
            "tolerance_days": settings.counting.predelivery_tolerance_days,
            "shipped_by": shipped_by,
        },
    )
    for name in _PLACED:
        claims[name] = month_numbers(claims[name])
    return claims.assign(model=claims["model"].fillna(""))


def month_numbers(days: pd.Series) -> pd.Series:
    """Return the numbers of months, -1 for none."""
    stamps = pd.to_datetime(days)
    number = stamps.dt.year * 12 + stamps.dt.month - 1
    return number.fillna(-1).astype(int)


def cohort_days(cohorts: pd.DataFrame) -> pd.DataFrame:
    """Return the cohort of every build date: ``built_on`` and ``cohort``."""
    days = pd.date_range(
        cohorts["from_date"].iloc[0], cohorts["to_date"].iloc[-1], inclusive="left"
    )
    starts = pd.DatetimeIndex(cohorts["from_date"])
    place = starts.searchsorted(days, side="right") - 1
    number = cohorts["cohort"].to_numpy()[place]
    return pd.DataFrame({"built_on": days, "cohort": number})


def _changes(session: Session) -> pd.DataFrame:
    listed = session.frame("marts/changes_listed")
    dated = listed[listed["starts_on"].notna()]
    return dated[["change_no", "component", "model", "starts_on"]].reset_index(
        drop=True
    )


def _cohorts(session: Session, changes: pd.DataFrame) -> pd.DataFrame:
    """Return quarters of build dates, cut where a change began."""
    span = session.frame("marts/built_span").iloc[0]
    if pd.isna(span["first_on"]):
        days = pd.DatetimeIndex(["2000-01-01", "2000-01-02"])
    else:
        first, last = pd.Timestamp(span["first_on"]), pd.Timestamp(span["last_on"])
        start = pd.Timestamp(first.year, 3 * ((first.month - 1) // 3) + 1, 1)
        end = last + pd.DateOffset(months=_COHORT_MONTHS)
        days = pd.date_range(start, end, freq=f"{_COHORT_MONTHS}MS")
        begun = pd.DatetimeIndex(changes["starts_on"])
        begun = begun[(begun > days[0]) & (begun <= last)]
        days = days.union(begun).unique().sort_values()
    return pd.DataFrame(
        {
            "cohort": np.arange(len(days) - 1),
            "from_date": days[:-1],
            "to_date": days[1:],
        }
    )
