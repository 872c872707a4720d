"""Claims by month of failure: seen so far, completed, and as shown before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.late_counts import LateCounts
from claimlens.analysis.late_months import EarlierReport, months_back
from claimlens.analysis.late_shares import LEAST_SHARE, WINDOW, Told, tell
from claimlens.analysis.scope import Scope
from claimlens.settings import Settings
from claimlens.stats.completion import complete_counts

__all__ = [
    "DELAY_COLUMNS",
    "FIRST_SHOWN",
    "MONTH_COLUMNS",
    "Report",
    "delay_shares",
    "late_months",
]

MONTH_COLUMNS = (
    "month",
    "claims",
    "share_reported",
    "completed",
    "lower",
    "upper",
    "first_shown",
    "last_shown",
    "restated",
    "lag_claims",
    "note",
    "as_of",
)

DELAY_COLUMNS = (
    "delay_months",
    "claims",
    "share_reported",
    "lower",
    "upper",
    "factor",
    "factor_lower",
    "factor_upper",
    "lag_claims",
    "note",
    "as_of",
)

#: Months of which the first figure is looked up again, the latest among them.
FIRST_SHOWN = 6

_MOSTLY = 0.5

#: An earlier report and its counts; None where it could not be made.
Report = tuple[EarlierReport, LateCounts | None]

Floats = NDArray[np.float64]


def delay_shares(now: LateCounts, settings: Settings, scope: Scope) -> pd.DataFrame:
    """Return the share reported by months after the month of failure.

    Parameters
    ----------
    now : LateCounts
        At the cut-off.
    settings : Settings
        Fewest claims, confidence.
    scope : Scope
        Cut-off in force.

    Returns
    -------
    DataFrame
        The groups of ``now``, then ``DELAY_COLUMNS``: a row a group and delay.
        ``factor`` turns the claims seen into those expected finally. A group with
        too few claims of its own has the shares of all.
    """
    everybody = tell(now.frame, settings)
    parts = []
    for keys, rows in now.groups():
        told = _told_for(rows, everybody, settings)
        part = _delay_rows(told, settings.rates.confidence)
        part["lag_claims"] = told.n_claims
        part["note"] = "; ".join((*scope.notes, *told.notes))
        parts.append(_keyed(part, keys))
    return _together(parts, now.by, DELAY_COLUMNS, scope)


def _delay_rows(told: Told, confidence: float) -> pd.DataFrame:
    if told.table is None:
        empty = dict.fromkeys(DELAY_COLUMNS[2:8], np.nan)
        return pd.DataFrame([{"delay_months": 0, "claims": told.n_claims, **empty}])
    share = told.table.share
    lower, upper = told.table.limits(confidence)

    def factor(part: Floats) -> Floats:
        unknown = np.full(part.shape, np.nan)
        return np.asarray(np.divide(1.0, part, out=unknown, where=part > 0))

    return pd.DataFrame(
        {
            "delay_months": np.arange(share.size),
            "claims": told.table.reported.astype(np.int64),
            "share_reported": share,
            "lower": lower,
            "upper": upper,
            "factor": factor(share),
            "factor_lower": factor(upper),
            "factor_upper": factor(lower),
        }
    )


def late_months(
    now: LateCounts, earlier: Sequence[Report], settings: Settings, scope: Scope
) -> pd.DataFrame:
    """Return the claims by month of failure, seen, completed and as shown before.

    Parameters
    ----------
    now : LateCounts
        At the present cut-off.
    earlier : sequence of Report
        The same counts as the reports before could make them.
    settings : Settings
        Fewest claims, confidence.
    scope : Scope
        Cut-off in force.

    Returns
    -------
    DataFrame
        The groups of ``now``, then ``MONTH_COLUMNS``: a row a group and month of
        failure of the last two years, from the first with a claim on.
        ``share_reported`` is that of the claims seen, ``completed`` the claims
        expected finally with their limits; both are missing where too little is
        reported to tell. ``first_shown`` is the figure of the report of that
        month-end, for the last six months; ``last_shown`` that of the report before
        this one, and ``restated`` tells that it was another.
    """
    wanted = now.frame[now.frame["is_wanted"].astype(bool)]
    seen = wanted.loc[wanted["failed_no"] < WINDOW, "failed_no"]
    months = months_back(scope.as_of, int(seen.max()) + 1 if len(seen) else 1)
    everybody = tell(now.frame, settings)
    shown = _Shown(tuple(earlier), len(months))
    parts = []
    for keys, rows in now.groups():
        told = _told_for(rows, everybody, settings)
        part = _completed(rows, told, len(months), settings)
        part["month"] = pd.to_datetime([month.first for month in months])
        part["first_shown"] = shown.first(keys, int(part["claims"].iloc[0]))
        part["last_shown"] = shown.last(keys)
        part["restated"] = (
            part["last_shown"].notna() & (part["last_shown"] != part["claims"])
        ).astype(bool)
        part["lag_claims"] = told.n_claims
        part["note"] = [
            "; ".join((*scope.notes, *told.notes, *_own_notes(share), *shown.gaps(ago)))
            for ago, share in enumerate(part.pop("told_share"))
        ]
        parts.append(_keyed(part.iloc[::-1], keys))
    return _together(parts, now.by, MONTH_COLUMNS, scope)


def _told_for(rows: pd.DataFrame, everybody: Told, settings: Settings) -> Told:
    """Return what a group's own claims tell, or those of all where they are few."""
    own = tell(rows, settings)
    fewest = settings.rates.lag_group_claims
    if own.n_claims == everybody.n_claims or own.n_claims >= fewest:
        return own
    note = f"lag of all claims: {own.n_claims} of its own, {fewest} needed"
    return Told(
        table=everybody.table,
        undated=own.undated,
        n_claims=everybody.n_claims,
        speed_changed=everybody.speed_changed,
        notes=(*everybody.notes, *((note,) if everybody.table else ())),
    )


def _completed(
    rows: pd.DataFrame, told: Told, n_months: int, settings: Settings
) -> pd.DataFrame:
    """Complete each month; claims without a failure date are whole already."""
    undated, dated = np.zeros(n_months), np.zeros(n_months)
    for into, is_assumed in ((undated, True), (dated, False)):
        part = rows[rows["is_failure_date_assumed"].astype(bool) == is_assumed]
        part = part[part["failed_no"] < n_months]
        np.add.at(
            into,
            part["failed_no"].to_numpy(dtype=int),
            part["n_claims"].to_numpy(dtype=float),
        )
    at = np.array([told.share_at(ago) for ago in range(n_months)])
    is_told = at[:, 0] >= LEAST_SHARE
    found = complete_counts(
        dated,
        np.where(is_told, at[:, 0], 0.0),
        np.where(is_told, at[:, 1], 0.0),
        settings.rates.confidence,
    )
    completed = found.count + undated
    seen = dated + undated
    # of a month without a claim the share is that of any claim
    usual = told.undated + (1.0 - told.undated) * at[:, 0]
    share = np.divide(seen, completed, out=usual, where=completed > 0)
    return pd.DataFrame(
        {
            "claims": seen.astype(np.int64),
            "share_reported": share,
            "completed": completed,
            "lower": found.lower + undated,
            "upper": found.upper + undated,
            "told_share": at[:, 0],
        }
    )


def _own_notes(share: float) -> tuple[str, ...]:
    if share < LEAST_SHARE:
        return (f"about {100 * share:.0f} % reported: too little to complete",)
    if share < _MOSTLY:
        return ("less than half reported: no trend can be read",)
    return ()


@dataclass(frozen=True, slots=True)
class _Shown:
    """What earlier reports showed."""

    reports: tuple[Report, ...]
    n_months: int

    def first(self, keys: Mapping[str, object], now: int) -> pd.Series:
        """Return each month's figure in the report of its own month-end."""
        values: list[int | None] = [None] * self.n_months
        values[0] = now
        for report, counts in self.reports:
            if counts is not None and report.months_ago < self.n_months:
                values[report.months_ago] = _claims(counts, keys, 1)[0]
        return pd.Series(values, dtype="Int64")

    def last(self, keys: Mapping[str, object]) -> pd.Series:
        """Return each month's figure in the report before this one."""
        values: list[int | None] = [None] * self.n_months
        for report, counts in self.reports:
            if report.months_ago == 1 and counts is not None:
                values[1:] = _claims(counts, keys, self.n_months - 1)
        return pd.Series(values, dtype="Int64")

    def gaps(self, ago: int) -> tuple[str, ...]:
        """Say that the report of a month-end could not be made."""
        for report, counts in self.reports:
            if report.months_ago == ago and counts is None:
                when = report.as_known or report.as_of
                return (f"no unit or claim was known by {when}: not shown then",)
        return ()


def _claims(
    counts: LateCounts, keys: Mapping[str, object], n_months: int
) -> list[int | None]:
    """Return the claims of a group by month of failure, as a report counted them."""
    rows = counts.frame[counts.frame["is_wanted"].astype(bool)]
    for name, key in keys.items():
        same = rows[name].isna() if key is None else rows[name] == key
        rows = rows[same.fillna(value=False).astype(bool)]
    by_month = rows.groupby("failed_no")["n_claims"].sum()
    return [int(by_month.get(ago, 0)) for ago in range(n_months)]


def _keyed(part: pd.DataFrame, keys: Mapping[str, object]) -> pd.DataFrame:
    return part.assign(**{name: [key] * len(part) for name, key in keys.items()})


def _together(
    parts: Sequence[pd.DataFrame],
    by: Sequence[str],
    columns: Sequence[str],
    scope: Scope,
) -> pd.DataFrame:
    if not parts:
        return pd.DataFrame(columns=[*by, *columns])
    table = pd.concat(parts, ignore_index=True)
    table["as_of"] = pd.Timestamp(scope.as_of)
    return table[[*by, *columns]]
