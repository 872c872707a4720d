"""The Weibull fit of counts by age."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import confidence_of, finite_of, refuse
from claimlens.stats.weibull.cells import Cells, prepare
from claimlens.stats.weibull.known import KnownShape, fit_known
from claimlens.stats.weibull.limits import limits, log_shape
from claimlens.stats.weibull.maximise import Maximum, maximise
from claimlens.stats.weibull.result import Values, WeibullFit, life_limits

__all__ = ["fit"]

Floats = NDArray[np.float64]

SCALE_SHARE = float(-np.expm1(-1.0))
"""Share failed at the scale: 63.2 per cent."""


def fit(
    ages: ArrayLike,
    failures: ArrayLike,
    censored: ArrayLike | None,
    *,
    lower: ArrayLike | None = None,
    entry: ArrayLike | None = None,
    shape: ArrayLike | None = None,
    confidence: float = 0.95,
    exposed: ArrayLike | None = None,
) -> WeibullFit:
    """Fit a Weibull life to failures and survivors by maximum likelihood.

    Parameters
    ----------
    ages : array_like, shape (A,)
        Age of each row, in any order.
    failures, censored : array_like, shape (A,) or (S, A)
        Units that failed at the age, and that left then without a failure,
        for one segment or for S; sums of weights are allowed.
    lower : array_like, shape (A,), optional
        With it, failures of a row happened somewhere in (lower, age], which
        is how calendar days and inspections should be given: a failure on
        day d lies in (d, d + 1]. Without it, exactly at the age.
    entry : array_like, shape (A,), optional
        Age from which the units of a row were under observation; 0 means
        from the start.
    shape : float or array_like, shape (S,), optional
        A shape known beforehand. Only the scale is estimated then, with
        chi-square limits; without failures it has a one-sided lower limit.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.
    exposed : array_like, shape (A,) or (S, A), optional
        In place of ``censored`` and ``entry``, which then must be None, and
        with ``lower``: units that passed each (lower, age] under observation
        without failing there, each weighted by the chance that a failure would
        have been seen (see `claimlens.stats.exposure`). With L the cumulative
        hazard over a cell, its failures d and exposed n, the log-likelihood is
        the sum of d ln(1 - exp(-L)) - n L.

    Returns
    -------
    WeibullFit
        With likelihood-ratio intervals. A segment that cannot be estimated
        holds NaN and its reason in ``note``.

    Raises
    ------
    InputError
        If shapes disagree, a value is negative or not finite, a bound or
        entry is not below its age, or a failure has the exact age 0.

    References
    ----------
    .. [1] Lawless (2003), Statistical Models and Methods for Lifetime Data,
       2nd ed., ch. 3 and 5.
    .. [2] Meeker, Escobar (1998), Statistical Methods for Reliability Data,
       ch. 7 and 8.
    .. [3] IEC 61649:2008, Weibull analysis.
    .. [4] Nelson (1985), J. Qual. Technol. 17, 140-146 (known shape).
    .. [5] Kalbfleisch, Lawless, Robinson (1991), Technometrics 33, 273-285
       (weighted exposure).
    """
    level = confidence_of(confidence)
    single = np.ndim(failures) == 1
    made = prepare(ages, failures, censored, lower=lower, entry=entry, exposed=exposed)
    cells = made.cells
    tally = _Tally(made.failures.sum(axis=1), made.stayed, single)
    if shape is not None:
        return _known(cells, shape, level, tally)
    why = _reasons(tally.failed, tally.censored, made.distinct)
    best = _estimates(cells, why)
    _note_failures(why, best)
    with np.errstate(invalid="ignore", over="ignore"):
        scale = cells.unit * np.exp(-best.m / best.k)
    shape_low, shape_high = limits(cells, best, log_shape(len(why)), level)
    low, high = life_limits(cells, best, SCALE_SHARE, level)
    shape_low, shape_high = np.exp(shape_low), np.exp(shape_high)
    _note_open(why, shape_low, shape_high, high)
    return _result(
        cells,
        best,
        (best.k, scale, best.value, shape_low, shape_high, low, high),
        (tally, why),
        level,
    )


@dataclass(frozen=True, slots=True)
class _Tally:
    """Units of each segment, and whether the caller gave a single one."""

    failed: Floats
    censored: Floats
    single: bool


def _known(cells: Cells, shape: ArrayLike, level: float, tally: _Tally) -> WeibullFit:
    """Return the fit for a shape known beforehand."""
    k = finite_of("shape", shape)
    size = tally.failed.size
    if k.ndim > 1 or (k.ndim == 1 and k.size != size) or (k <= 0).any():
        raise refuse(
            f"shape must be one value above 0, or {size} of them",
            np.array2string(k, threshold=5),
        )
    k = np.full(size, k)
    known = fit_known(cells, k, level)
    low, high = known.scale_interval()
    return _result(
        cells,
        known,
        (k, known.scale, known.log_likelihood, k, k, low, high),
        (tally, known.notes(tally.failed, tally.censored)),
        level,
    )


def _reasons(r: Floats, c: Floats, distinct: NDArray[np.int64]) -> list[str]:
    """Return why each segment cannot be fitted; empty where it can be tried."""

    def reason(failed: float, left: float, cells: int) -> str:
        if failed <= 0:
            return "no failure" if left > 0 else "no unit"
        if cells < 2:
            return (
                f"{failed:g} failure, 2 needed"
                if failed <= 1
                else "all failures at one age"
            )
        return ""

    return [reason(*row) for row in zip(r, c, distinct, strict=True)]


def _estimates(cells: Cells, why: list[str]) -> Maximum:
    """Return the maxima; NaN for the segments that are not tried."""
    where = np.flatnonzero(np.array([not text for text in why], dtype=bool))
    found = maximise(cells.take(where))

    def spread(values: Floats) -> Floats:
        full = np.full(len(why), np.nan)
        full[where] = np.where(found.converged, values, np.nan)
        return full

    converged = np.zeros(len(why), dtype=bool)
    edge = np.zeros(len(why), dtype=np.int64)
    converged[where], edge[where] = found.converged, found.edge
    return Maximum(
        k=spread(found.k),
        m=spread(found.m),
        value=spread(found.value),
        converged=converged,
        edge=edge,
    )


def _note_failures(why: list[str], best: Maximum) -> None:
    """Write why a segment that was tried has no estimate."""
    for segment, text in enumerate(why):
        if text or best.converged[segment]:
            continue
        if best.edge[segment] < 0:
            why[segment] = "failures only at the first ages: no shape fits best"
        elif best.edge[segment] > 0:
            why[segment] = "failures too close in age: no shape fits best"
        else:
            why[segment] = "the fit did not converge"


def _note_open(why: list[str], low: Floats, high: Floats, scale_high: Floats) -> None:
    """Write which limits the data do not set."""
    for segment, text in enumerate(why):
        if text:
            continue
        open_ends = [
            words
            for found, words in (
                (low[segment] == 0.0, "no lower limit for the shape"),
                (np.isinf(high[segment]), "no upper limit for the shape"),
                (np.isinf(scale_high[segment]), "no upper limit for the scale"),
            )
            if found
        ]
        why[segment] = "; ".join(open_ends)


def _result(
    cells: Cells,
    best: Maximum | KnownShape,
    figures: tuple[Floats, ...],
    told: tuple[_Tally, list[str]],
    confidence: float,
) -> WeibullFit:
    """Put the result together: scalars for a single segment.

    ``figures`` are shape, scale, log-likelihood and the limits of the first
    two.
    """
    tally, why = told
    single = tally.single

    def out(values: Floats) -> Values:
        return float(values[0]) if single else values

    shape, scale, value, shape_low, shape_high, low, high = map(out, figures)
    return WeibullFit(
        shape=shape,
        scale=scale,
        log_likelihood=value,
        shape_interval=(shape_low, shape_high),
        scale_interval=(low, high),
        converged=bool(best.converged[0]) if single else best.converged,
        n_failed=out(tally.failed),
        n_censored=out(tally.censored),
        note=why[0] if single else np.array(why, dtype=np.str_),
        confidence=confidence,
        _cells=cells,
        _best=best,
        _single=single,
    )
