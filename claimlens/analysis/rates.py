"""Share of units that failed by fixed months in service."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.counts import (
    DAYS_PER_MONTH,
    Counts,
    SegmentChunk,
    count_failures,
)
from claimlens.analysis.lag_effect import with_lag_effect
from claimlens.analysis.maturity import judge
from claimlens.analysis.notes import joined
from claimlens.analysis.question import ages_asked
from claimlens.analysis.scope import Scope
from claimlens.analysis.undated import with_undated_error
from claimlens.analysis.usage_effect import with_usage_error
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.intervals import wilson
from claimlens.stats.survival import share_failed

__all__ = ["RATE_COLUMNS", "predelivery", "rates"]

RATE_COLUMNS = (
    "units",
    "units_old_enough",
    "claims",
    "repeats",
    "rate",
    "lower",
    "upper",
    "effective_n",
    "plain_rate",
    "plain_lower",
    "plain_upper",
    "at_months",
    "mature",
    "note",
    "as_of",
)

Floats = NDArray[np.float64]


def rates(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    by: Sequence[str],
    at: Sequence[float],
) -> pd.DataFrame:
    """Compute the share of units failed by each age, with its interval.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting and maturity rules.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Grouping.
    at : sequence of float
        Months in service, above 0.

    Returns
    -------
    pandas.DataFrame
        The columns of ``by``, then ``RATE_COLUMNS``; one row per segment and age.
        ``rate`` is NaN where no unit has reached the age.

    Raises
    ------
    InputError
        If an age is not above 0.
    """
    months = ages_asked(at, example="3,6,12")
    counts = count_failures(session, settings, scope, by)
    tables = [
        _chunk_rates(counts, chunk, months, settings=settings, scope=scope)
        for chunk in counts.chunks()
    ]
    if not tables:
        return pd.DataFrame(columns=[*counts.by, *RATE_COLUMNS])
    table = pd.concat(tables, ignore_index=True)
    return with_lag_effect(table, session, settings, scope, by=by, at=months)


@dataclass(frozen=True, slots=True)
class _Whole:
    """Counts of a chunk at each age, shape (segments, ages asked for)."""

    units: Floats
    ran_to: Floats
    old_enough: Floats
    failed: Floats
    failed_old_enough: Floats
    repeats: Floats


def _chunk_rates(
    counts: Counts,
    chunk: SegmentChunk,
    months: list[float],
    *,
    settings: Settings,
    scope: Scope,
) -> pd.DataFrame:
    """Return the rows of one chunk of segments."""
    confidence = settings.rates.confidence
    days = np.ceil(np.asarray(months) * DAYS_PER_MONTH)
    whole = _whole_counts(counts, chunk, days)
    share = share_failed(
        counts.ages,
        chunk.failures,
        None,
        days,
        exposed=chunk.exposed,
        units=chunk.planned.sum(axis=1),
        confidence=confidence,
    )
    if counts.has_distance_limit:
        share = with_usage_error(
            share, counts, chunk, scope.cover, confidence=confidence
        )
    share = with_undated_error(share, counts, chunk, confidence=confidence)
    plain_lower, plain_upper = wilson(
        np.minimum(whole.failed_old_enough, whole.old_enough),
        whole.old_enough,
        confidence,
    )
    has_any = whole.old_enough > 0
    plain = np.divide(
        whole.failed_old_enough,
        whole.old_enough,
        out=np.full_like(whole.old_enough, np.nan),
        where=has_any,
    )
    # claims of a supplier whose parts nobody counted have no denominator
    reached = share.reached & (whole.ran_to > 0)
    mature, notes = judge(counts, chunk, share, reached, settings=settings, scope=scope)
    if counts.has_distance_limit:
        by_age = _by_age_only(counts, chunk, days)
        notes = [
            joined((note, f"{rate:.2%} if no cover ended by distance"))
            if known
            else note
            for note, rate, known in zip(
                notes, by_age.reshape(-1), reached.reshape(-1), strict=True
            )
        ]
    n_ages = len(months)
    segments = counts.segments.iloc[chunk.rows]
    table = segments.loc[segments.index.repeat(n_ages)].reset_index(drop=True)

    def flat(values: NDArray[np.generic]) -> NDArray[np.generic]:
        return np.asarray(values).reshape(-1)

    table["units"] = flat(np.rint(whole.units).astype(np.int64))
    table["units_old_enough"] = flat(np.rint(whole.old_enough).astype(np.int64))
    table["claims"] = flat(np.rint(whole.failed).astype(np.int64))
    table["repeats"] = flat(np.rint(whole.repeats).astype(np.int64))
    table["rate"] = flat(np.where(reached, share.share, np.nan))
    table["lower"] = flat(np.where(reached, share.lower, np.nan))
    table["upper"] = flat(np.where(reached, share.upper, np.nan))
    table["effective_n"] = flat(np.where(reached, share.effective_n, np.nan))
    table["plain_rate"] = flat(plain)
    table["plain_lower"] = flat(np.where(has_any, plain_lower, np.nan))
    table["plain_upper"] = flat(np.where(has_any, plain_upper, np.nan))
    table["at_months"] = np.tile(np.asarray(months), len(segments))
    table["mature"] = flat(mature)
    table["note"] = notes
    table["as_of"] = pd.Timestamp(scope.as_of)
    return table


def _by_age_only(counts: Counts, chunk: SegmentChunk, days: Floats) -> Floats:
    """Return the shares failed as if cover had ended by date only."""
    unlimited = counts.without_distance_limit().take(chunk.rows)
    return share_failed(
        counts.ages, unlimited.failures, None, days, exposed=unlimited.exposed
    ).share


def _whole_counts(counts: Counts, chunk: SegmentChunk, days: Floats) -> _Whole:
    """Add up units, failures and repeats by each age asked for."""
    shape = (len(chunk.rows), len(days))
    units = np.broadcast_to(chunk.planned.sum(axis=1)[:, None], shape)
    ran_to, old_enough, failed, failed_old, repeats = (
        np.zeros(shape) for _ in range(5)
    )
    here = counts.events[counts.events["segment"].isin(chunk.rows)]
    row = here["segment"].to_numpy() - chunk.rows[0]
    age, leaves = here["age"].to_numpy(), here["last_day"].to_numpy() + 1
    n, is_first = here["n"].to_numpy(), here["is_first"].to_numpy()
    whole = ~here["is_late"].to_numpy()
    from_start = counts.from_start[counts.unit_of_segment[chunk.rows]]
    for k, day in enumerate(days):
        ran_to[:, k] = chunk.planned[:, counts.ages >= day].sum(axis=1)
        old_enough[:, k] = from_start[:, counts.ages >= day].sum(axis=1)
        by_then = age <= day
        for target, chosen in (
            (failed, is_first & by_then),
            (failed_old, is_first & by_then & (leaves >= day) & whole),
            (repeats, ~is_first & by_then),
        ):
            np.add.at(target[:, k], row[chosen], n[chosen])
    return _Whole(units, ran_to, old_enough, failed, failed_old, repeats)


def predelivery(session: Session, settings: Settings, scope: Scope) -> pd.DataFrame:
    """Compute claims found before or at delivery per thousand units shipped.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        For the confidence.
    scope : Scope
        Cut-off in force.

    Returns
    -------
    pandas.DataFrame
        ``model, units_shipped, units_claimed, claims, rate_per_thousand, lower,
        upper, as_of``: units with such a claim per thousand, Wilson interval.

    Raises
    ------
    InputError
        If the question is for one supplier: what was shipped is not his.
    """
    if "supplier" in scope.wanted:
        raise InputError(
            "Claims before delivery are not counted by supplier: they are divided "
            "by units shipped.",
            remedy="leave --supplier out; --model, --model-year, --component and "
            "--region work",
        )
    counted = session.frame("marts/predelivery_counts", {"as_of": scope.as_of})
    shipped = counted["n_shipped"].to_numpy(dtype=np.float64)
    claimed = counted["n_units_claimed"].to_numpy(dtype=np.float64)
    lower, upper = wilson(
        np.minimum(claimed, shipped), shipped, settings.rates.confidence
    )
    return pd.DataFrame(
        {
            "model": counted["model"],
            "units_shipped": counted["n_shipped"],
            "units_claimed": counted["n_units_claimed"],
            "claims": counted["n_claims"],
            "rate_per_thousand": 1000 * claimed / shipped,
            "lower": 1000 * lower,
            "upper": 1000 * upper,
            "as_of": pd.Timestamp(scope.as_of),
        }
    )
