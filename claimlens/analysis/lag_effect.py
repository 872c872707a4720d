"""How much a rate hangs on the sales lag where dates are not missing at random."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.count_tables import DAYS_PER_MONTH
from claimlens.analysis.counts import count_failures
from claimlens.analysis.cover import watch_cover
from claimlens.analysis.notes import joined
from claimlens.analysis.sales_lag import put_sales_lag
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.survival import share_failed

__all__ = ["with_lag_effect"]

Floats = NDArray[np.float64]

_STRETCHES = (0.5, 1.5)


def with_lag_effect(
    table: pd.DataFrame,
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    by: Sequence[str],
    at: Sequence[float],
) -> pd.DataFrame:
    """Add to the note of each rate what it would be with other sales lags.

    Only where in-service dates are known more often, by over 20 points, of units
    with claims than of those without: then the dated units are the claimed ones,
    and what the lags of the others are is hardly known.

    Parameters
    ----------
    table : pandas.DataFrame
        Of ``rates``: one row per segment and age.
    session : Session
        With the tables of ``prepare``, which stand as before afterwards.
    settings : Settings
        Counting rules.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Grouping.
    at : sequence of float
        Months in service, rising.

    Returns
    -------
    pandas.DataFrame
        The same rates; the notes of rates that are known say more.
    """
    if not scope.dates.is_selective or table.empty:
        return table
    shares = [
        _rates_with(session, settings, scope, stretch, by=by, at=at)
        for stretch in _STRETCHES
    ]
    _settle(session, settings, scope, 1.0)
    why = (
        f"in-service dates are known of {scope.dates.claimed:.0%} of the units with "
        f"claims and {scope.dates.quiet:.0%} of the others"
    )
    notes = [
        joined(
            (
                note,
                f"{why}: {half:.2%} if all sales lags were half as long, {more:.2%} if "
                "half as long again",
            )
        )
        if np.isfinite([rate, half, more]).all()
        else note
        for note, rate, half, more in zip(
            table["note"], table["rate"], *shares, strict=True
        )
    ]
    return table.assign(note=notes)


def _settle(session: Session, settings: Settings, scope: Scope, stretch: float) -> None:
    """Make the tables of the watch anew with all sales lags stretched."""
    sales_lag = put_sales_lag(session, settings, scope.as_of, stretch=stretch)
    session.run(
        "intermediate/int_service",
        {"as_of": scope.as_of, "share_dated": sales_lag.dates.share_dated},
    )
    watch_cover(session, settings, scope.as_of)


def _rates_with(
    session: Session,
    settings: Settings,
    scope: Scope,
    stretch: float,
    *,
    by: Sequence[str],
    at: Sequence[float],
) -> Floats:
    """Return the share failed of each segment and age with other lags."""
    _settle(session, settings, scope, stretch)
    counts = count_failures(session, settings, scope, by)
    days = np.ceil(np.asarray(at) * DAYS_PER_MONTH)
    found = [
        share_failed(counts.ages, chunk.failures, None, days, exposed=chunk.exposed)
        for chunk in counts.chunks()
    ]
    return np.concatenate([each.share.reshape(-1) for each in found])
