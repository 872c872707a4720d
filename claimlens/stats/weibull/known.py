"""The scale when the shape is known beforehand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from claimlens.stats.weibull.cells import Cells
from claimlens.stats.weibull.likelihood import evaluate
from claimlens.stats.weibull.maximise import solve_m

__all__ = ["KnownShape", "fit_known"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownShape:
    """Scale and its limits for a known shape; arrays of shape (S,).

    Parameters
    ----------
    shape, scale, log_likelihood : ndarray
        The given shape, and the estimates; the scale is NaN without failures.
    log_low, log_high : ndarray
        Logarithms of the limits of the scale.
    converged : ndarray of bool
        Whether there is an estimate of the scale.
    """

    shape: Floats
    scale: Floats
    log_likelihood: Floats
    log_low: Floats
    log_high: Floats
    converged: NDArray[np.bool_]

    def scale_interval(self) -> tuple[Floats, Floats]:
        """Return the limits of the scale."""
        return np.exp(self.log_low), np.exp(self.log_high)

    def life_interval(self, share: float) -> tuple[Floats, Floats]:
        """Return the limits of the age by which ``share`` fails."""
        shift = np.log(-np.log1p(-share)) / self.shape
        with np.errstate(over="ignore"):
            return np.exp(self.log_low + shift), np.exp(self.log_high + shift)

    def notes(self, failed: Floats, censored: Floats) -> list[str]:
        """Return what is to be said of each segment."""
        texts = []
        for r, c, low in zip(failed, censored, self.log_low, strict=True):
            if r > 0:
                texts.append("")
            elif c > 0 and np.isfinite(low):
                texts.append("no failure: one-sided lower limit only")
            else:
                texts.append("no unit" if c <= 0 else "no time under observation")
        return texts


def fit_known(cells: Cells, k: Floats, confidence: float) -> KnownShape:
    """Estimate the scale of each segment for a given shape.

    With W = r * scale**k, which is the sum of age**k over all units where
    failures have exact ages, the limits are
    (2 W / chi2(1 - tail; 2 r + 2))**(1/k) and (2 W / chi2(tail; 2 r))**(1/k);
    without failures (W / -ln(1 - confidence))**(1/k), one-sided.

    Parameters
    ----------
    cells : Cells
        Of S segments.
    k : ndarray, shape (S,)
        Shapes above 0.
    confidence : float
        Two-sided level; one-sided where nothing failed.

    Returns
    -------
    KnownShape
        Of the S segments; a scale of NaN where nothing failed.

    References
    ----------
    .. [1] Nelson (1985), J. Qual. Technol. 17, 140-146.
    .. [2] IEC 61649:2008, Weibull analysis.
    """
    failed = cells.failed
    some = failed > 0
    log_unit = np.log(cells.unit)
    with np.errstate(all="ignore"):
        log_total = np.log(
            np.einsum("sb,sb->s", cells.weight, np.exp(k[:, None] * cells.bounds))
        )
    m = np.zeros(k.size)
    where = np.flatnonzero(some)
    if where.size:
        part = cells.take(where)
        with np.errstate(all="ignore"):
            first = np.log(failed[where]) - log_total[where]
        first = np.where(np.isfinite(first), first, 0.0)
        m[where] = solve_m(part, k[where], first)
    log_scale = np.where(some, log_unit - m / k, np.nan)
    tail = (1.0 - confidence) / 2.0
    # half a chi-square quantile with 2 r degrees of freedom is a gamma quantile
    with np.errstate(divide="ignore"):
        low_factor = np.log(np.where(some, failed, 1.0)) - np.log(
            special.gammaincinv(failed + 1.0, 1.0 - tail)
        )
        high_factor = np.log(np.where(some, failed, 1.0)) - np.log(
            special.gammaincinv(np.where(some, failed, 1.0), tail)
        )
        alone = log_unit + (log_total - np.log(-np.log1p(-confidence))) / k
    value = evaluate(cells, k, m).value
    return KnownShape(
        shape=k,
        scale=np.exp(log_scale),
        log_likelihood=np.where(some, value, np.nan),
        log_low=np.where(some, log_scale + low_factor / k, alone),
        log_high=np.where(some, log_scale + high_factor / k, np.inf),
        converged=some,
    )
