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
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.intervals import wilson
from claimlens.stats.survival import ShareFailed, share_failed

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
    months = _checked_ages(at)
    counts = count_failures(session, settings, scope, by)
    tables = [
        _chunk_rates(counts, chunk, months, settings=settings, scope=scope)
        for chunk in counts.chunks()
    ]
    if not tables:
        return pd.DataFrame(columns=[*counts.by, *RATE_COLUMNS])
    return pd.concat(tables, ignore_index=True)


def _checked_ages(at: Sequence[float]) -> list[float]:
    months = [float(month) for month in at]
    if not months or not all(0 < month <= 600 for month in months):
        raise InputError(
            f"ages must lie above 0 and up to 600 months; got {list(at)}",
            remedy="write them as in --at 3,6,12",
        )
    return sorted(set(months))


@dataclass(frozen=True, slots=True)
class _Whole:
    """Counts of a chunk at each age, shape (segments, ages asked for)."""

    units: Floats
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
        counts.ages, chunk.failures, chunk.censored, days, confidence=confidence
    )
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
    reached = share.reached & has_any
    mature, notes = _maturity(
        counts, chunk, share, reached, settings=settings, scope=scope
    )
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


def _whole_counts(counts: Counts, chunk: SegmentChunk, days: Floats) -> _Whole:
    """Add up units, failures and repeats by each age asked for."""
    shape = (chunk.planned.shape[0], len(days))
    units = np.broadcast_to(chunk.planned.sum(axis=1)[:, None], shape)
    old_enough, failed, failed_old, repeats = (np.zeros(shape) for _ in range(4))
    here = counts.events[
        counts.events["segment"].between(chunk.rows.start, chunk.rows.stop - 1)
    ]
    row = here["segment"].to_numpy() - chunk.rows.start
    age, planned = here["age"].to_numpy(), here["planned"].to_numpy()
    n, is_first = here["n"].to_numpy(), here["is_first"].to_numpy()
    for k, day in enumerate(days):
        old_enough[:, k] = chunk.planned[:, counts.ages >= day].sum(axis=1)
        by_then = age <= day
        for target, chosen in (
            (failed, is_first & by_then),
            (failed_old, is_first & by_then & (planned >= day)),
            (repeats, ~is_first & by_then),
        ):
            np.add.at(target[:, k], row[chosen], n[chosen])
    return _Whole(units, old_enough, failed, failed_old, repeats)


def _maturity(
    counts: Counts,
    chunk: SegmentChunk,
    share: ShareFailed,
    reached: NDArray[np.bool_],
    *,
    settings: Settings,
    scope: Scope,
) -> tuple[NDArray[np.bool_], list[str]]:
    """Judge each figure, and say in words what a reader must know."""
    fewest = settings.rates.mature_units
    effective = np.nan_to_num(share.effective_n)
    mature = reached & (effective >= fewest) & (share.at_risk_last >= fewest)
    estimated = counts.estimated[counts.unit_of_segment[chunk.rows]]
    oldest = _oldest(chunk.planned, counts.ages)
    notes: list[str] = []
    for i in range(mature.shape[0]):
        for k in range(mature.shape[1]):
            parts = list(scope.notes)
            if oldest[i] == 0:
                parts.append(
                    "claims only: which units carry this supplier's part is not known"
                    if "supplier" in counts.by
                    else "no unit in service and covered"
                )
            elif not reached[i, k]:
                parts.append(_unreached(oldest[i], share.at[k]))
            elif share.at_risk_last[i, k] < fewest:
                parts.append(
                    f"too young: {share.at_risk_last[i, k]:.0f} units at risk in the "
                    f"last month, {fewest} needed"
                )
            elif effective[i, k] < fewest:
                parts.append(
                    f"too few units: effective size {effective[i, k]:.0f}, "
                    f"{fewest} needed"
                )
            if estimated[i] >= 0.5:
                parts.append(
                    f"{estimated[i]:.0f} units with an estimated in-service date"
                )
            notes.append("; ".join(parts))
    return mature, notes


def _unreached(oldest: float, day: float) -> str:
    """Say why no unit tells the share failed by a day."""
    if oldest >= day:
        return "the units that are old enough had failed while younger ones were few"
    return (
        f"no unit was watched for longer than {oldest / DAYS_PER_MONTH:.1f} months "
        "(cut-off, end of cover or retirement)"
    )


def _oldest(planned: Floats, ages: Floats) -> Floats:
    """Return the oldest age that some unit of each segment was watched to."""
    return np.asarray(np.where(planned > 0, ages, 0.0).max(axis=1, initial=0.0))


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
