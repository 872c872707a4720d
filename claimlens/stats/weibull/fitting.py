"""The Weibull fit and what it tells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import confidence_of, counts_of, finite_of, refuse
from claimlens.stats.weibull.cells import Cells, prepare
from claimlens.stats.weibull.known import KnownShape, fit_known
from claimlens.stats.weibull.limits import limits, log_life, log_shape
from claimlens.stats.weibull.maximise import Maximum, maximise

__all__ = ["WeibullFit", "fit"]

Floats = NDArray[np.float64]
Values = float | Floats
Pair = tuple[Values, Values]

SCALE_SHARE = float(-np.expm1(-1.0))
"""Share failed at the scale: 63.2 per cent."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeibullFit:
    """A Weibull life, F(t) = 1 - exp(-(t / scale)**shape), for each segment.

    Parameters
    ----------
    shape, scale : float or ndarray, shape (S,)
        The estimates (beta and eta in IEC 61649), scale in the unit of the
        ages; NaN where there is none.
    shape_interval, scale_interval : pair of float or ndarray
        Limits; 0 and inf mean that the data set no limit on that side.
    log_likelihood : float or ndarray
        At the maximum, no constant left out: for exact ages it depends on
        their unit.
    converged : bool or ndarray of bool
        Whether there is an estimate.
    n_failed, n_censored : float or ndarray
        Units that failed and that left without a failure.
    note : str or ndarray of str
        Why there is no estimate, or which limit is open; else empty.
    confidence : float
        Two-sided level of every interval.
    _cells : Cells
        The counts, for intervals asked for later.
    _best : Maximum or KnownShape
        The estimates in the coordinates of the likelihood.
    _single : bool
        Whether the counts were those of one segment.
    """

    shape: Values
    scale: Values
    shape_interval: Pair
    scale_interval: Pair
    log_likelihood: Values
    converged: bool | NDArray[np.bool_]
    n_failed: Values
    n_censored: Values
    note: str | NDArray[np.str_]
    confidence: float
    _cells: Cells
    _best: Maximum | KnownShape
    _single: bool

    def quantile(self, p: ArrayLike) -> Values:
        """Return the age by which a share of the units fails.

        Parameters
        ----------
        p : float or array_like, shape (K,)
            Shares strictly between 0 and 1; 0.1 gives the B10 life.

        Returns
        -------
        float or ndarray
            Shape (K,) for one segment; (S,) or (S, K) for several.
        """
        share = _shares_of(p)
        with np.errstate(invalid="ignore", over="ignore"):
            power = 1.0 / _rows(self.shape, share.ndim)
            life = _rows(self.scale, share.ndim) * (-np.log1p(-share)) ** power
        return _value(life)

    def cdf(self, t: ArrayLike) -> Values:
        """Return the share failed by an age.

        Parameters
        ----------
        t : float or array_like, shape (K,)
            Ages of at least 0.

        Returns
        -------
        float or ndarray
            Shape (K,) for one segment; (S,) or (S, K) for several.
        """
        age = _row("t", counts_of("t", t))
        with np.errstate(invalid="ignore", over="ignore"):
            ratio = age / _rows(self.scale, age.ndim)
            share = -np.expm1(-(ratio ** _rows(self.shape, age.ndim)))
        return _value(share)

    def quantile_interval(self, p: ArrayLike) -> Pair:
        """Return the limits of the age by which a share fails.

        Parameters
        ----------
        p : float or array_like, shape (K,)
            Shares strictly between 0 and 1.

        Returns
        -------
        lower : float or ndarray
            Lower limit, in the shape that `quantile` returns.
        upper : float or ndarray
            Upper limit; inf where the data set none.
        """
        share = _shares_of(p)
        pairs = [self._life(float(one)) for one in np.atleast_1d(share)]
        lower = np.stack([pair[0] for pair in pairs], axis=-1)
        upper = np.stack([pair[1] for pair in pairs], axis=-1)
        if share.ndim == 0:
            lower, upper = lower[..., 0], upper[..., 0]
        if self._single:
            lower, upper = lower[0], upper[0]
        return _value(lower), _value(upper)

    def _life(self, share: float) -> tuple[Floats, Floats]:
        """Return the limits of one life, each (S,)."""
        if isinstance(self._best, KnownShape):
            return self._best.life_interval(share)
        return life_limits(self._cells, self._best, share, self.confidence)


def fit(
    ages: ArrayLike,
    failures: ArrayLike,
    censored: ArrayLike,
    *,
    lower: ArrayLike | None = None,
    entry: ArrayLike | None = None,
    shape: ArrayLike | None = None,
    confidence: float = 0.95,
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
    """
    level = confidence_of(confidence)
    single = np.ndim(failures) == 1
    cells, failed, left, distinct = prepare(ages, failures, censored, lower, entry)
    tally = _Tally(failed.sum(axis=1), left.sum(axis=1), single)
    if shape is not None:
        return _known(cells, shape, level, tally)
    why = _reasons(tally.failed, tally.censored, distinct)
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


def life_limits(
    cells: Cells, best: Maximum, share: float, confidence: float
) -> tuple[Floats, Floats]:
    """Return the limits of the age by which ``share`` fails, each (S,)."""
    figure = log_life(cells.n_segments, share)
    lower, upper = limits(cells, best, figure, confidence)
    with np.errstate(over="ignore"):
        return cells.unit * np.exp(lower), cells.unit * np.exp(upper)


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


def _shares_of(p: ArrayLike) -> Floats:
    """Return shares strictly between 0 and 1, as a scalar or a row."""
    share = _row("p", finite_of("p", p))
    if ((share <= 0) | (share >= 1)).any():
        raise refuse("p must lie strictly between 0 and 1", share)
    return share


def _row(name: str, values: Floats) -> Floats:
    """Return ``values`` if it is a scalar or a row."""
    if values.ndim > 1:
        raise refuse(f"{name} must be one value or a row", f"shape {values.shape}")
    return values


def _rows(values: Values, depth: int) -> Floats:
    """Return one value a segment, with an axis for a row of arguments."""
    array = np.asarray(values, dtype=np.float64)
    return array[..., None] if depth and array.ndim else array


def _value(array: Floats) -> Values:
    """Return a scalar for an array without axes."""
    return float(array) if np.ndim(array) == 0 else array
