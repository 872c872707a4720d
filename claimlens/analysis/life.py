"""Weibull lives of segments, with the pattern word that their limits allow."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.counts import Counts, count_failures
from claimlens.analysis.grouping import Grouping
from claimlens.analysis.life_figures import FIGURES, chunk_lives
from claimlens.analysis.life_patterns import (
    PRONE_COLUMNS,
    add_patterns,
    quarter_intervals,
)
from claimlens.analysis.life_shapes import Held
from claimlens.analysis.life_terms import KnownShape, LifeAsked, life_asked
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import Settings

__all__ = ["LIFE_COLUMNS", "KnownShape", "life", "life_counts"]

LIFE_COLUMNS = (
    "units",
    "failures",
    *FIGURES,
    "pattern",
    "fit_p_value",
    "note",
    "as_of",
)

_SHARE_COLUMNS = ("at_months", "share_failed", "share_lower", "share_upper")

_ROUNDED = (*FIGURES, *PRONE_COLUMNS, "shape_mean_unbiased", *_SHARE_COLUMNS[1:])

Floats = NDArray[np.float64]


def life(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    by: Sequence[str],
    min_failures: int | None = None,
    known_shape: KnownShape = None,
    at: Sequence[float] | None = None,
    mean_unbiased: bool = False,
    prone: bool = False,
) -> pd.DataFrame:
    """Fit a Weibull life to each segment that has enough failures.

    Fits rest on exposure weighted for late reports and limits of distance, so that
    recent failures can be used. Failures of other components do not end a unit's
    watch: each component has its own clock.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        How many failures a fit and a B-life need; seed of the tests.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Grouping.
    min_failures : int, optional
        In place of the settings' number; at least 3.
    known_shape : float or "component", optional
        Hold the shape, and give the scale with exact limits for any number of
        failures: at a value, or at that of the same component in all other
        segments where at least 20 failures tell it.
    at : sequence of float, optional
        Months in service: adds the share failed by then, one row a segment and
        age. Where there is no fit, its limits hold for a level hazard.
    mean_unbiased : bool, default False
        Adds ``shape_mean_unbiased``, the shape times (r - 1) / r: right on
        average for rare failures at one common age, too low for staggered ones
        (Ross 1996, IEEE Trans. Dielectr. Electr. Insul. 3, 28-42). It has no
        limits: those shown are of the plain estimate.
    prone : bool, default False
        Adds ``prone_share, prone_lower, prone_upper, prone_p``: the share of the
        units that can fail at all, from 20 failures on (Meeker 1987,
        Technometrics 29, 51-65), and how often chance alone looks so. The note
        names it in any case where it is shown.

    Returns
    -------
    pandas.DataFrame
        The columns of ``by``, then ``LIFE_COLUMNS``, with what was added before
        ``note``; one row per segment, or per segment and age. Figures that the
        data cannot give are NaN (a limit that stays open too), with the reason in
        ``note``. No B-life and no share failed is given beyond 1.5 times the
        oldest age observed in the segment: of such a life only the lower limit.
        The scale is a parameter and is given wherever it lies.

    Raises
    ------
    InputError
        If ``min_failures`` is below 3, a shape or an age lies outside its range,
        or there is nothing to borrow a shape from.
    """
    asked = life_asked(
        settings,
        min_failures=min_failures,
        known_shape=known_shape,
        at=at,
        mean_unbiased=mean_unbiased,
        prone=prone,
    )
    counts = life_counts(session, settings, scope, by)
    held = Held(counts, lambda: _whole(session, settings, scope, counts))
    lives = [
        chunk_lives(
            counts, chunk, asked=asked, held=held, settings=settings, scope=scope
        )
        for chunk in counts.chunks()
    ]
    columns = [*counts.by, *_columns(asked)]
    if not lives:
        return pd.DataFrame(columns=columns)
    table = pd.concat([one.table for one in lives], ignore_index=True)
    table["pattern"] = pd.array([None] * len(table), dtype="str")
    for name in ("fit_p_value", *PRONE_COLUMNS):
        table[name] = np.nan
    if asked.known_shape is None:
        fitted = np.flatnonzero(table["shape"].notna())
        finer = _finer(session, settings, scope, counts) if fitted.size else None
        quarters = quarter_intervals(counts, finer, fitted, settings.rates.confidence)
        add_patterns(counts, table, fitted, quarters, settings)
    r = table["failures"]
    table["shape_mean_unbiased"] = table["shape"] * (r - 1) / r.where(r > 0)
    shares = np.concatenate([one.shares for one in lives])
    table = _with_shares(table, shares, asked)[columns]
    figures = table.columns.intersection(_ROUNDED)
    table[figures] = table[figures].map(_rounded)
    return table


def life_counts(
    session: Session,
    settings: Settings,
    scope: Scope,
    by: Sequence[str] | Grouping,
) -> Counts:
    """Count what a life fit reads.

    A date that is only estimated smears the age at failure and pulls a shape
    towards 1; so where dates are missing at random, lives rest on the units that
    have one.

    Parameters
    ----------
    session, settings, scope, by
        As for ``life``.

    Returns
    -------
    Counts
        Of the dated units, or of all where the dated ones are not like the rest.
    """
    return count_failures(
        session, settings, scope, by, only_dated=scope.dates_at_random
    )


def _columns(asked: LifeAsked) -> tuple[str, ...]:
    """Return the columns after the keys."""
    added = (
        *(PRONE_COLUMNS if asked.prone else ()),
        *(("shape_mean_unbiased",) if asked.mean_unbiased else ()),
        *(_SHARE_COLUMNS if asked.at else ()),
    )
    return (*LIFE_COLUMNS[:-2], *added, *LIFE_COLUMNS[-2:])


def _whole(
    session: Session, settings: Settings, scope: Scope, counts: Counts
) -> Counts | None:
    """Count each component over all segments, where there is more than one."""
    grouping = counts.grouping
    if "component" not in grouping.inner or len(grouping.inner) == 1:
        return None
    if grouping.of_parts or "failure_mode" in grouping.inner:
        return None
    return life_counts(session, settings, scope, ("component",))


def _finer(
    session: Session, settings: Settings, scope: Scope, counts: Counts
) -> Counts | None:
    """Count by build month too, where that tells more."""
    grouping = counts.grouping
    if grouping.of_parts or "build_month" in grouping.inner:
        return None
    return life_counts(session, settings, scope, grouping.with_inner("build_month"))


def _rounded(value: float) -> float:
    """Drop the digits in which sums differ with the segments beside them."""
    return float(f"{value:.12g}")


def _with_shares(table: pd.DataFrame, shares: Floats, asked: LifeAsked) -> pd.DataFrame:
    """Repeat each row for the ages asked for, with the share failed by then."""
    if not asked.at:
        return table
    n_ages = len(asked.at)
    table = table.loc[table.index.repeat(n_ages)].reset_index(drop=True)
    table["at_months"] = np.tile(np.asarray(asked.at), len(shares))
    for k, name in enumerate(_SHARE_COLUMNS[1:]):
        table[name] = shares[..., k].reshape(-1)
    return table
