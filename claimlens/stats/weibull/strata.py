"""One shape shared by strata that each have their own scale."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of
from claimlens.stats.weibull.cells import Cells, prepare
from claimlens.stats.weibull.likelihood import evaluate
from claimlens.stats.weibull.maximise import (
    FLAT,
    K_MAX,
    K_MIN,
    information,
    solve_m,
)
from claimlens.stats.weibull.search import SPAN

__all__ = ["CommonShape", "common_shape"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class CommonShape:
    """A Weibull shape that holds in every stratum.

    Parameters
    ----------
    shape : float
        The estimate; NaN where there is none.
    shape_interval : pair of float
        Likelihood-ratio limits; 0 and inf where open.
    scale : ndarray, shape (S,)
        Scale of each stratum; NaN for one without failures, or of nothing but
        failures, which says nothing about the shape.
    log_likelihood : float
        Sum over the strata at the maximum.
    converged : bool
        Whether there is an estimate.
    n_failed : float
        Failures in all strata.
    n_empty : int
        Strata without a failure.
    note : str
        Why there is no estimate, or which limit is open; else empty.
    """

    shape: float
    shape_interval: tuple[float, float]
    scale: Floats
    log_likelihood: float
    converged: bool
    n_failed: float
    n_empty: int
    note: str


class _Profile:
    """The log-likelihood as a function of the common shape alone."""

    def __init__(self, cells: Cells) -> None:
        self.cells = cells
        # where the last solution lay: the next shape asked for is near
        self.m = np.zeros(cells.n_segments)

    def at(self, log_k: float) -> tuple[float, float]:
        """Return the log-likelihood and its derivative by ln k."""
        k = np.full(self.cells.n_segments, np.exp(log_k))
        self.m = solve_m(self.cells, k, self.m)
        here = evaluate(self.cells, k, self.m)
        return float(here.value.sum()), float((here.k * k).sum())

    def information(self, log_k: float) -> float:
        """Return what all strata together tell of ln k."""
        k = np.full(self.cells.n_segments, np.exp(log_k))
        self.m = solve_m(self.cells, k, self.m)
        return float(information(evaluate(self.cells, k, self.m), k).sum())

    def score(self, log_k: float) -> float:
        """Return the derivative by ln k."""
        return self.at(log_k)[1]

    def value(self, log_k: float) -> float:
        """Return the log-likelihood."""
        return self.at(log_k)[0]


def common_shape(
    ages: ArrayLike,
    failures: ArrayLike,
    censored: ArrayLike | None,
    *,
    lower: ArrayLike | None = None,
    entry: ArrayLike | None = None,
    confidence: float = 0.95,
    exposed: ArrayLike | None = None,
) -> CommonShape:
    """Fit one Weibull shape to strata with a scale of their own.

    Bad or young batches among the strata then do not pass for an effect of
    age, as they do when all units are pooled.

    Parameters
    ----------
    ages : array_like, shape (A,)
        Age of each row.
    failures, censored : array_like, shape (S, A)
        Units of each stratum.
    lower, entry : array_like, shape (A,), optional
        As in `fit`.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.
    exposed : array_like, shape (S, A), optional
        As in `fit`, in place of ``censored`` and ``entry``.

    Returns
    -------
    CommonShape
        With NaN and a note where the data hold no estimate.

    Raises
    ------
    InputError
        As `fit` does.

    References
    ----------
    .. [1] Lawless (2003), Statistical Models and Methods for Lifetime Data,
       2nd ed., ch. 5.
    """
    level = confidence_of(confidence)
    made = prepare(ages, failures, censored, lower=lower, entry=entry, exposed=exposed)
    cells, r = made.cells, made.failures.sum(axis=1)
    # where no unit passed any cell, the likelihood rises with the hazard for ever, and
    # whatever the shape is
    told = cells.weight.any(axis=1) | (cells.exact > 0)
    used = np.flatnonzero((r > 0) & told)
    total, empty = float(r.sum()), int((r == 0).sum())
    scale = np.full(r.size, np.nan)
    if total < 2:
        why = "no failure" if total == 0 else f"{total:g} failure, 2 needed"
        return _none(scale, total, empty, why)
    if not used.size:
        return _none(scale, total, empty, "no shape fits these strata best")
    profile = _Profile(cells.take(used))
    low, high = float(np.log(K_MIN)), float(np.log(K_MAX))
    best = _summit(profile, low, high)
    if best is None or profile.information(best) < FLAT:
        return _none(scale, total, empty, "no shape fits these strata best")
    peak = profile.value(best)
    scale[used] = cells.unit * np.exp(-profile.m / np.exp(best))
    drop = float(special.chdtri(1.0, 1.0 - level)) / 2.0
    ends = [_crossing(profile, best, side, peak - drop) for side in (-1.0, 1.0)]
    notes = [
        f"no {name} limit for the shape"
        for name, end in zip(("lower", "upper"), ends, strict=True)
        if np.isinf(end)
    ]
    return CommonShape(
        shape=float(np.exp(best)),
        shape_interval=(float(np.exp(ends[0])), float(np.exp(ends[1]))),
        scale=scale,
        log_likelihood=peak,
        converged=True,
        n_failed=total,
        n_empty=empty,
        note="; ".join(notes),
    )


def _none(scale: Floats, failed: float, empty: int, why: str) -> CommonShape:
    """Return the result without an estimate."""
    return CommonShape(
        shape=np.nan,
        shape_interval=(np.nan, np.nan),
        scale=scale,
        log_likelihood=np.nan,
        converged=False,
        n_failed=failed,
        n_empty=empty,
        note=why,
    )


def _summit(profile: _Profile, low: float, high: float) -> float | None:
    """Return ln k at the maximum; None where it lies outside the range."""
    # walk out from shape 1, so that each inner solution starts close by
    left = right = 0.0
    slope = profile.score(0.0)
    if slope == 0.0:
        return 0.0
    step = 0.5 if slope > 0 else -0.5
    while low <= right <= high:
        left, right = right, right + step
        if profile.score(right) * slope <= 0:
            found = _root(profile.score, left, right)
            return found if found is not None and low < found < high else None
    return None


def _crossing(profile: _Profile, best: float, side: float, goal: float) -> float:
    """Return ln k where the profile falls to the goal; infinite if it does not."""
    profile.value(best)
    inner, step = best, 0.25
    while True:
        outer = best + side * min(step, SPAN)
        if profile.value(outer) < goal:
            break
        if step >= SPAN:
            return float(side * np.inf)
        inner, step = outer, step * 2.0
    found = _root(lambda log_k: profile.value(log_k) - goal, inner, outer)
    return inner if found is None else found


def _root(
    function: Callable[[float], float], left: float, right: float
) -> float | None:
    """Return a root between two ends; None where they turn out on one side.

    The inner solutions start from the last ones, so that on a surface that is
    level to rounding an end may come out otherwise than before.
    """
    if not function(left) * function(right) <= 0:
        return None
    try:
        return float(scipy.optimize.brentq(function, left, right, xtol=1e-11))
    except ValueError:
        return None
