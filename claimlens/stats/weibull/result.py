"""A fitted Weibull life and what it tells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import counts_of, finite_of, refuse
from claimlens.stats.weibull.cells import Cells
from claimlens.stats.weibull.known import KnownShape
from claimlens.stats.weibull.limits import limits, log_hazard_at, log_life
from claimlens.stats.weibull.maximise import Maximum

__all__ = ["Pair", "Values", "WeibullFit", "life_limits"]

Floats = NDArray[np.float64]
Values = float | Floats
Pair = tuple[Values, Values]


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

    def cdf_interval(self, t: ArrayLike) -> Pair:
        """Return the limits of the share failed by an age.

        They hold for one age at a time, not for the curve as a whole.

        Parameters
        ----------
        t : float or array_like, shape (K,)
            Ages of at least 0.

        Returns
        -------
        lower : float or ndarray
            Profile-likelihood limit, in the shape that `cdf` returns; for a
            shape known beforehand from the chi-square limits of the scale.
        upper : float or ndarray
            Upper limit likewise.

        References
        ----------
        .. [1] Meeker, Escobar (1998), Statistical Methods for Reliability
           Data, ch. 8.
        """
        ages = _row("t", counts_of("t", t))
        at = np.atleast_1d(ages)
        hazards = self._hazard_limits(np.where(at > 0, at, self._cells.unit))
        lower, upper = (
            np.where((at == 0) & np.isfinite(hazard), 0.0, -np.expm1(-hazard))
            for hazard in hazards
        )
        if ages.ndim == 0:
            lower, upper = lower[:, 0], upper[:, 0]
        if self._single:
            lower, upper = lower[0], upper[0]
        return _value(lower), _value(upper)

    def _hazard_limits(self, ages: Floats) -> tuple[Floats, Floats]:
        """Return the limits of the cumulative hazard by ages, each (S, K)."""
        cells, best = self._cells, self._best
        size = cells.n_segments
        if isinstance(best, KnownShape):
            # a longer scale means fewer failures
            low, high = best.scale_interval()
            with np.errstate(over="ignore", divide="ignore"):
                lower, upper = (
                    (ages / scale[:, None]) ** best.shape[:, None]
                    for scale in (high, low)
                )
            return lower, upper
        rows = np.repeat(np.arange(size), ages.size)
        points = np.tile(np.log(ages / cells.unit), size)
        logs = limits(
            cells.take(rows), best.take(rows), log_hazard_at(points), self.confidence
        )
        with np.errstate(over="ignore"):
            lower, upper = (np.exp(log).reshape(size, ages.size) for log in logs)
        return lower, upper

    def _life(self, share: float) -> tuple[Floats, Floats]:
        """Return the limits of one life, each (S,)."""
        if isinstance(self._best, KnownShape):
            return self._best.life_interval(share)
        return life_limits(self._cells, self._best, share, self.confidence)


def life_limits(
    cells: Cells, best: Maximum, share: float, confidence: float
) -> tuple[Floats, Floats]:
    """Return the limits of the age by which ``share`` fails, each (S,)."""
    figure = log_life(cells.n_segments, share)
    lower, upper = limits(cells, best, figure, confidence)
    with np.errstate(over="ignore"):
        return cells.unit * np.exp(lower), cells.unit * np.exp(upper)


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
