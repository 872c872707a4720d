"""How soon failures are reported: the share known by days after the failure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.lag import share_within

__all__ = ["Reporting", "read_reporting"]

Floats = NDArray[np.float64]

_YEAR = 366
# a lag this long is "seen at twelve months": then two years are looked at
_LATE = 335
_LATE_SHARE = 0.01
# of days on which less than this is known, nothing is concluded
_LEAST_KNOWN = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Reporting:
    """Share of failures reported within so many days.

    Parameters
    ----------
    classes : dict of str to int
        Region to its row of ``share``; a region that is not named has row 0,
        which is that of all claims together.
    share : ndarray, shape (L, K)
        Share reported within 0, 1, ... K - 1 days; the last is 1. Days on which
        less than 20 % is known count as 0: their exposure and their failures are
        left out, not inflated.
    n_claims : int
        Claims that told it.
    note : str
        What a reader must know; else empty.
    """

    classes: dict[str, int]
    share: Floats
    n_claims: int
    note: str = ""

    @property
    def longest(self) -> int:
        """Return the days after which every failure is taken as reported."""
        return int(self.share.shape[1]) - 1

    def is_known(
        self, reporting: NDArray[np.intp], days: NDArray[np.intp]
    ) -> NDArray[np.bool_]:
        """Tell whether enough is known of failures so many days old."""
        within = np.clip(days, 0, self.longest)
        return np.asarray(self.share[reporting, within] > 0)


def read_reporting(session: Session, settings: Settings, as_of: date) -> Reporting:
    """Estimate the reporting lag of the counted claims.

    Claims of the last two failure years with a failure date of their own tell it.
    Those without one are placed at their report: of them nothing is missing, and
    the share known is raised by their share.

    Parameters
    ----------
    session : Session
        With ``int_claims``.
    settings : Settings
        Fewest claims, late reports.
    as_of : date
        Cut-off.

    Returns
    -------
    Reporting
        All ones where too few claims tell a lag.
    """
    counting = settings.counting
    seen = session.frame(
        "marts/reporting_lags",
        {
            "as_of": as_of,
            "longest": 3 * _YEAR,
            "late_report_days": settings.coverage.late_report_days,
            "count_outside_coverage": counting.outside_coverage,
        },
    )
    dated = seen[~seen["is_failure_date_assumed"].astype(bool)]
    recent = dated[dated["days_ago"] <= 2 * _YEAR]
    n_claims = int(recent["n_claims"].sum())
    if n_claims < settings.rates.lag_claims:
        note = (
            f"late reports not allowed for: {n_claims} claims tell how late reports "
            f"come, {settings.rates.lag_claims} needed"
        )
        return Reporting(
            classes={}, share=np.ones((1, 1)), n_claims=n_claims, note=note
        )
    longest, span = _YEAR, 2 * _YEAR
    late = recent.loc[recent["lag_days"] > _LATE, "n_claims"].sum()
    if late >= _LATE_SHARE * n_claims:
        longest, span = 2 * _YEAR, 3 * _YEAR
    rows = {"": _share_known(seen, longest, span)}
    per_region = recent.groupby("region")["n_claims"].sum()
    for region in sorted(
        per_region.index[per_region >= settings.rates.lag_group_claims]
    ):
        if region:
            rows[region] = _share_known(seen[seen["region"] == region], longest, span)
    return Reporting(
        classes={region: row for row, region in enumerate(rows) if region},
        share=np.stack(list(rows.values())),
        n_claims=n_claims,
    )


def _share_known(seen: pd.DataFrame, longest: int, span: int) -> Floats:
    """Return the share known within 0 to ``longest`` days."""
    here = seen[(seen["days_ago"] <= span) & (seen["lag_days"] <= longest)]
    assumed = here["is_failure_date_assumed"].astype(bool)
    dated = here[~assumed]
    known = share_within(
        dated["lag_days"], dated["horizon_days"], dated["n_claims"], longest
    )
    undated = here.loc[assumed, "n_claims"].sum() / here["n_claims"].sum()
    known = undated + (1.0 - undated) * known
    return np.where(known < _LEAST_KNOWN, 0.0, known)
