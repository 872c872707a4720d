"""What the claims inside the cover tell of how late reports come."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.settings import Settings
from claimlens.stats.lag import LagTable, lag_table

__all__ = ["LEAST_SHARE", "SPAN", "WINDOW", "Told", "tell"]

#: Months of failure that tell the lag, and that are shown.
WINDOW = 24

#: Of a month of which less than this is reported, nothing is concluded.
LEAST_SHARE = 0.2

_LONGEST = 12
_HALF = 12

#: Months of failure looked at where some reports come later than twelve months.
SPAN = WINDOW + _LONGEST

# the first delays are watched for a change of speed
_WATCHED = 3
_CHANGE = 0.1
_HALF_CLAIMS = 100
# from this share of claims without a failure date on a reader must be told
_UNDATED = 0.2
# a difference must also be beyond what chance makes of three comparisons in a
# hundred looks
_CHANCE = 2.94

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """How late reports come, as some claims tell it.

    Parameters
    ----------
    table : LagTable or None
        Share reported by months of delay; None where too few claims tell it.
    undated : float
        Share of the claims that have no failure date of their own, 0 to 1: they
        stand at their report, so none of them is missing.
    n_claims : int
        Claims with a failure date that told it.
    speed_changed : bool
        Whether the last year's reports came at another speed than the year's
        before; then only the last year tells.
    notes : tuple of str
        What a reader must know.
    """

    table: LagTable | None
    undated: float
    n_claims: int
    speed_changed: bool = False
    notes: tuple[str, ...] = ()

    def share_at(self, month: int) -> tuple[float, float]:
        """Return the share reported of a month so many months ago, dated claims.

        Returns
        -------
        share : float
            0 to 1; NaN where nothing tells it.
        log_variance : float
            Variance of its logarithm.
        """
        if self.table is None:
            return np.nan, np.nan
        place = min(month, self.table.share.size - 1)
        return float(self.table.share[place]), float(self.table.log_variance[place])


def tell(frame: pd.DataFrame, settings: Settings) -> Told:
    """Estimate how late reports come.

    Parameters
    ----------
    frame : DataFrame
        ``failed_no``, ``lag``, ``is_failure_date_assumed``, ``n_claims``: see
        `claimlens.analysis.late_counts.LateCounts`.
    settings : Settings
        Fewest claims.

    Returns
    -------
    Told
        From the failures of the last 24 months, lags of up to 12; of the last 36
        months and lags of up to 24, where some came as late as twelve months.
    """
    assumed = frame["is_failure_date_assumed"].astype(bool)
    recent = frame["failed_no"] < WINDOW
    n_recent = int(frame.loc[recent, "n_claims"].sum())
    n_assumed = int(frame.loc[recent & assumed, "n_claims"].sum())
    undated = n_assumed / n_recent if n_recent else 0.0
    dated = frame[~assumed & (frame["lag"] >= 0)]
    # failures before the first month with a report show their latest reports only
    began = int((dated["failed_no"] - dated["lag"]).max()) if len(dated) else 0
    dated = dated[dated["failed_no"] <= began]
    within = dated[dated["failed_no"] < WINDOW]
    n_claims = int(within["n_claims"].sum())
    if n_claims < settings.rates.lag_claims:
        note = (
            f"{n_claims} claims tell how late reports come, "
            f"{settings.rates.lag_claims} needed"
        )
        return Told(table=None, undated=undated, n_claims=n_claims, notes=(note,))
    longest, span, notes = _LONGEST, WINDOW, []
    if undated > _UNDATED:
        notes.append(
            f"{100 * undated:.0f} % of the claims have no failure date and stand at "
            "their report"
        )
    if (within["lag"] >= _LONGEST).any():
        longest, span = 2 * _LONGEST, SPAN
        notes.append("some reports came after twelve months: lags of up to 24 counted")
    counts = _counts(dated, span, longest)
    changed = _speed_changed(_counts(dated, WINDOW, _LONGEST))
    if changed:
        counts = counts[:_HALF]
        n_claims = int(counts.sum())
        notes.append("reporting speed changed: only failures of the last year tell it")
    table = lag_table(counts, np.arange(len(counts)))
    if table.note and table.share[0] < 1.0:
        notes.append(table.note)
    return Told(
        table=table,
        undated=undated,
        n_claims=n_claims,
        speed_changed=changed,
        notes=tuple(notes),
    )


def _counts(dated: pd.DataFrame, span: int, longest: int) -> Floats:
    """Return claims by month of failure, the latest first, and lag."""
    kept = dated[(dated["failed_no"] < span) & (dated["lag"] <= longest)]
    counts = np.zeros((span, longest + 1))
    np.add.at(
        counts,
        (kept["failed_no"].to_numpy(dtype=int), kept["lag"].to_numpy(dtype=int)),
        kept["n_claims"].to_numpy(dtype=float),
    )
    return counts


def _speed_changed(counts: Floats) -> bool:
    """Compare the share reported early, of the last year and of the one before."""
    ago = np.arange(len(counts))
    halves = [(counts[:_HALF], ago[:_HALF]), (counts[_HALF:], ago[_HALF:])]
    if min(float(rows.sum()) for rows, _ in halves) < _HALF_CLAIMS:
        return False
    last, before = (lag_table(rows, horizons) for rows, horizons in halves)
    step = np.abs(last.share - before.share)[:_WATCHED]
    error = np.sqrt(
        last.share**2 * last.log_variance + before.share**2 * before.log_variance
    )[:_WATCHED]
    return bool(((step > _CHANGE) & (step > _CHANCE * error)).any())
