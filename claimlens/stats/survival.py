"""Kaplan-Meier share failed by an age, with Wilson limits.

Rows stay in the database: these functions take counts by age. The variance is
Greenwood's; it is turned into an effective number of units, and the interval
is Wilson's on that number, which holds its level where only a few of many
units failed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import ages_of, confidence_of, counts_of, refuse
from claimlens.stats.curve_limits import Limits, first_age, transformed_limits
from claimlens.stats.intervals import wilson
from claimlens.stats.risk_sets import (
    added_by_age,
    effective_size,
    exposure,
    from_right,
    harmonic_mean,
    kept_when_all_fail,
    products,
    truncated,
)
from claimlens.stats.unit_months import DAYS_PER_MONTH

__all__ = ["ShareFailed", "SurvivalCurve", "kaplan_meier", "share_failed"]

Floats = NDArray[np.float64]

_LIMITS = ("wilson", "log", "log-log")

# cells of one pass over the segments; about 64 MB with its intermediate arrays
_CHUNK_CELLS = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class SurvivalCurve:
    """A Kaplan-Meier curve: the share still without a failure after each age.

    Parameters
    ----------
    ages : ndarray, shape (A,)
        Distinct ages, rising.
    survival, lower, upper : ndarray, shape (A,) or (S, A)
        Share without a failure just after the age, and its limits. NaN where
        nobody was under observation.
    standard_error : ndarray, shape (A,) or (S, A)
        Greenwood's standard error of ``survival``.
    at_risk : ndarray, shape (A,) or (S, A)
        Units under observation and without a failure just before the age.
    effective_n : ndarray, shape (A,) or (S, A)
        Units of a complete cohort that would tell as much.
    """

    ages: Floats
    survival: Floats
    lower: Floats
    upper: Floats
    standard_error: Floats
    at_risk: Floats
    effective_n: Floats

    @property
    def median(self) -> Floats:
        """Return the first age by which at least half had failed; NaN for none.

        Shape () or (S,).
        """
        return first_age(self.ages, self.survival, 0.5)

    @property
    def median_interval(self) -> tuple[Floats, Floats]:
        """Return the ages at which the limits of the curve reach one half.

        NaN for an open end. Brookmeyer, Crowley (1982), Biometrics 38, 29-41.
        """
        return (
            first_age(self.ages, self.lower, 0.5),
            first_age(self.ages, self.upper, 0.5),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareFailed:
    """The share of units that failed by given ages.

    Parameters
    ----------
    at : ndarray, shape (K,)
        The ages asked for.
    share, lower, upper : ndarray, shape (K,) or (S, K)
        Share failed and its Wilson limits; NaN where ``reached`` is false.
    effective_n : ndarray, shape (K,) or (S, K)
        Effective number of units; NaN where ``reached`` is false.
    at_risk_last : ndarray, shape (K,) or (S, K)
        Mean number of units at risk over the last month of age.
    reached : ndarray of bool, shape (K,) or (S, K)
        Whether some unit was under observation to that age.
    """

    at: Floats
    share: Floats
    lower: Floats
    upper: Floats
    effective_n: Floats
    at_risk_last: Floats
    reached: NDArray[np.bool_]


def kaplan_meier(
    ages: ArrayLike,
    failures: ArrayLike,
    censored: ArrayLike,
    *,
    entry: ArrayLike | None = None,
    confidence: float = 0.95,
    limits: Limits = "wilson",
) -> SurvivalCurve:
    """Estimate the share of units without a failure after each age.

    Parameters
    ----------
    ages : array_like, shape (A,)
        Age at which the units of a row failed or left; in any order, and an
        age may stand in several rows with different entries.
    failures, censored : array_like, shape (A,) or (S, A)
        Units of each row that failed, and that left without a failure; sums
        of weights are allowed. At one age, failures come before leaving.
    entry : array_like, shape (A,), optional
        Age from which the units of a row were under observation: they are at
        risk at ages above it. An entry of 0 is the start of life, so that a
        failure on day 0 counts.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.
    limits : {"wilson", "log", "log-log"}, default "wilson"
        Wilson on the effective number of units, which holds its level where few
        failed and says something before the first failure; or Greenwood's error on
        the scale of ln S or ln(-ln S), as other programs give it.

    Returns
    -------
    SurvivalCurve
        One value for each distinct age. Before the first failure the
        effective number of units is the harmonic mean of those at risk;
        where all units at risk fail it stays what it was.

    Raises
    ------
    InputError
        If shapes disagree, a value is negative or not finite, or an entry is
        not below its age, or ``limits`` is none of the three.

    References
    ----------
    .. [1] Kaplan, Meier (1958), J. Am. Stat. Assoc. 53, 457-481.
    .. [2] Rothman (1978), J. Chronic Dis. 31, 557-560.
    .. [3] Dorey, Korn (1987), Stat. Med. 6, 679-687.
    .. [4] Kalbfleisch, Prentice (1980), The Statistical Analysis of Failure Time Data,
       1.3 (the transformed limits).
    """
    age, failed, left = ages_of(ages, failures, censored)
    level = confidence_of(confidence)
    if limits not in _LIMITS:
        raise refuse(f"limits must be one of {', '.join(_LIMITS)}", repr(limits))
    start = _entry_of(entry, age, failed + left)
    distinct, column = np.unique(age, return_inverse=True)
    events = added_by_age(failed, column)
    leavers = added_by_age(failed + left, column)
    if start is None:
        at_risk = from_right(leavers)
        entered = at_risk[..., :1]
        harmonic = harmonic_mean(distinct, at_risk)
    else:
        at_risk, entered, harmonic = truncated(start, age, failed + left, distinct)
    share, greenwood = products(events, at_risk)
    size = effective_size(share, greenwood, harmonic, entered)
    size = kept_when_all_fail(size, greenwood)
    if limits == "wilson":
        failed_from, failed_to = wilson(share * size, size, level)
        lower, upper = 1.0 - failed_to, 1.0 - failed_from
    else:
        lower, upper = transformed_limits(1.0 - share, greenwood, level, limits)
    # Greenwood's sum is infinite once all at risk have failed; the curve is 0
    # there and its standard error is not defined
    with np.errstate(invalid="ignore"):
        error = (1.0 - share) * np.sqrt(greenwood)
    seen = at_risk > 0
    return SurvivalCurve(
        ages=distinct,
        survival=np.where(seen, 1.0 - share, np.nan),
        lower=np.where(seen, lower, np.nan),
        upper=np.where(seen, upper, np.nan),
        standard_error=np.where(seen & np.isfinite(error), error, np.nan),
        at_risk=at_risk,
        effective_n=np.where(seen, size, np.nan),
    )


def share_failed(
    ages: ArrayLike,
    failures: ArrayLike,
    censored: ArrayLike | None,
    at: ArrayLike,
    *,
    exposed: ArrayLike | None = None,
    units: ArrayLike | None = None,
    confidence: float = 0.95,
    last_span: float = DAYS_PER_MONTH,
) -> ShareFailed:
    """Estimate the share of units failed by given ages, for many segments.

    Parameters
    ----------
    ages : array_like, shape (A,)
        Ages, strictly rising.
    failures, censored : array_like, shape (A,) or (S, A)
        Units that failed at each age, and that left then without a failure;
        sums of weights are allowed.
    at : array_like, shape (K,)
        Ages asked for, in the unit of ``ages``; failures at that age count.
    exposed : array_like, shape (A,) or (S, A), optional
        In place of ``censored``, which then must be None: units that passed each
        age under observation without failing there, each weighted by the chance
        that a failure would have been seen (see `claimlens.stats.exposure`).
    units : array_like, shape () or (S,), optional
        Units that were ever under observation: no more can be told. By default
        those at the first age.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.
    last_span : float, default 30.4375
        Length of the last stretch of age over which the mean number at risk
        is taken, in the unit of ``ages``.

    Returns
    -------
    ShareFailed
        Arrays of shape (K,) for one segment, (S, K) for several. With a
        complete cohort the share is failed / units and the effective number
        of units is the number of units.

    Raises
    ------
    InputError
        If ages do not rise, shapes disagree, or a value is negative or not
        finite.

    References
    ----------
    .. [1] Kaplan, Meier (1958), J. Am. Stat. Assoc. 53, 457-481.
    .. [2] Dorey, Korn (1987), Stat. Med. 6, 679-687.
    .. [3] Kalbfleisch, Lawless, Robinson (1991), Technometrics 33, 273-285
       (exposure weighted for late reports).
    """
    given = exposed if censored is None else censored
    if given is None or (censored is not None and exposed is not None):
        raise refuse("give either censored or exposed", "both or neither")
    age, failed, other = ages_of(ages, failures, given)
    if (np.diff(age) <= 0).any():
        raise refuse("ages must rise strictly", "equal or falling ages")
    points = counts_of("at", at)
    if points.ndim != 1:
        raise refuse("at must be one row of ages", f"shape {points.shape}")
    if not last_span > 0:
        raise refuse("last_span must be above 0", last_span)
    level = confidence_of(confidence)
    stayed = other if censored is None else from_right(failed + other) - failed
    tables = np.atleast_2d(failed), np.atleast_2d(stayed)
    entered = tables[0][:, :1] + tables[1][:, :1]
    if units is not None:
        entered = np.broadcast_to(
            counts_of("units", units).reshape(-1, 1), entered.shape
        )
    step = max(1, _CHUNK_CELLS // age.size)
    parts = [
        _shares(
            age,
            (tables[0][i : i + step], tables[1][i : i + step]),
            entered[i : i + step],
            points,
            last_span,
        )
        for i in range(0, tables[0].shape[0], step)
    ]
    shape = failed.shape[:-1] + points.shape
    share, size, last, reached = (
        np.concatenate(column).reshape(shape) if parts else np.zeros(shape)
        for column in (zip(*parts, strict=True) if parts else ((),) * 4)
    )
    reach = reached > 0
    held = np.where(reach, size, 0.0)
    lower, upper = wilson(np.where(reach, share * held, 0.0), held, level)
    return ShareFailed(
        at=points,
        share=np.where(reach, share, np.nan),
        lower=np.where(reach, lower, np.nan),
        upper=np.where(reach, upper, np.nan),
        effective_n=np.where(reach, size, np.nan),
        at_risk_last=last,
        reached=reach,
    )


def _shares(
    age: Floats,
    counts: tuple[Floats, Floats],
    entered: Floats,
    points: Floats,
    span: float,
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return share, effective size, mean at risk and reach at each point."""
    failed, stayed = counts
    at_risk = failed + stayed
    share, greenwood = products(failed, at_risk)
    # the last column at or below each point; -1 is the start of life
    column = np.searchsorted(age, points, side="right") - 1
    known = column >= 0
    place = np.maximum(column, 0)
    value = np.where(known, share[:, place], 0.0)
    spread = np.where(known, greenwood[:, place], 0.0)
    after = np.searchsorted(age, points, side="left")
    # a share is known as far as somebody was watched at every age before
    watched = np.minimum.accumulate(at_risk, axis=1)
    padded = np.hstack([watched, np.zeros((at_risk.shape[0], 1))])
    # once everyone at risk has failed, the share stays 1 for good
    reached = np.where(value == 1.0, 1.0, padded[:, after])
    harmonic = harmonic_mean(age, at_risk, points)
    size = effective_size(value, spread, harmonic, entered)
    everyone = np.isinf(spread)
    if everyone.any():
        # all at risk failed by the point: keep the size from just before
        whole = effective_size(share, greenwood, harmonic_mean(age, at_risk), entered)
        size = np.where(everyone, kept_when_all_fail(whole, greenwood)[:, place], size)
    started = np.maximum(points - span, 0.0)
    length = points - started
    mean = np.divide(
        exposure(age, at_risk, points) - exposure(age, at_risk, started),
        length,
        out=np.broadcast_to(entered, reached.shape).copy(),
        where=length > 0,
    )
    return value, size, mean, reached


def _entry_of(entry: ArrayLike | None, age: Floats, units: Floats) -> Floats | None:
    """Return entries with the start of life as minus infinity; None for none."""
    if entry is None:
        return None
    start = counts_of("entry", entry)
    if start.shape != age.shape:
        raise refuse(
            f"entry must have shape {age.shape}, as ages do", f"shape {start.shape}"
        )
    used = units.reshape(-1, age.size).sum(axis=0) > 0
    late = used & (start > 0) & (start >= age)
    if late.any():
        raise refuse(
            "entry must be below the age of its row",
            f"entry {start[late][0]:g} at age {age[late][0]:g}",
        )
    return np.where(start > 0, start, -np.inf)
