"""The Weibull log-likelihood of counts, with its derivatives.

With x = ln(age / unit) the cumulative hazard is exp(m + k x): k is the shape,
m = -k ln(scale / unit). In (k, m) the log-likelihood is concave, for exact and
grouped failures alike (Burridge 1981, J. R. Stat. Soc. B 43, 41-45), unless
units entered late.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.weibull.cells import Cells

__all__ = ["Slope", "evaluate"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Slope:
    """Log-likelihood and its first and second derivatives, each (S,)."""

    value: Floats
    k: Floats
    m: Floats
    kk: Floats
    km: Floats
    mm: Floats


def evaluate(cells: Cells, k: Floats, m: Floats) -> Slope:
    """Return the log-likelihood of each segment at its own (k, m).

    Parameters
    ----------
    cells : Cells
        Of S segments.
    k, m : ndarray, shape (S,)
        Shape, and intercept of the log cumulative hazard.

    Returns
    -------
    Slope
        Not a number, or minus infinity, where the point is out of reach of
        floating-point numbers.
    """
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        hazard = k[:, None] * cells.bounds
        hazard += m[:, None]
        np.exp(hazard, out=hazard)
        # no matrix product: its threads cost more than they save on tables of
        # this shape, and its rounding depends on their number
        loss = cells.weight * hazard
        value = -loss.sum(axis=1)
        first_k = -np.einsum("sb,b->s", loss, cells.bounds)
        second_kk = -np.einsum("sb,b->s", loss, cells.bounds**2)
        first_m, second_km, second_mm = value, first_k, value
        if cells.exact.any():
            value = value + (
                cells.exact * (np.log(k) + m - np.log(cells.unit))
                + (k - 1.0) * cells.exact_log
            )
            first_k = first_k + cells.exact / k + cells.exact_log
            first_m = first_m + cells.exact
            second_kk = second_kk - cells.exact / k**2
        if cells.count.size:
            grouped = _grouped(cells, hazard)
            value = value + grouped.value
            first_k, first_m = first_k + grouped.k, first_m + grouped.m
            second_kk = second_kk + grouped.kk
            second_km = second_km + grouped.km
            second_mm = second_mm + grouped.mm
    return Slope(value, first_k, first_m, second_kk, second_km, second_mm)


def _grouped(cells: Cells, hazard: Floats) -> Slope:
    """Return the part of failures known to lie in a cell.

    With y the cumulative hazard over the cell and q = y / (e**y - 1):
    f = ln(1 - e**-y), df/dm = q, dq/dm = q (1 - q - y), and R = dy/dk / y
    carries the chain rule to k.
    """
    # positions in the flattened table: several times faster than pairs
    first = cells.owner * cells.bounds.size
    flat = hazard.ravel()
    born = cells.lower < 0
    top_x, top = cells.bounds.take(cells.upper), flat.take(first + cells.upper)
    low_x, low = cells.bounds.take(cells.lower), flat.take(first + cells.lower)
    low[born] = 0.0
    y = top - low
    growth = np.expm1(y)
    q = y / growth
    log_share = np.log(growth) - y
    far = np.flatnonzero(y > 30.0)
    if far.size:
        log_share[far], q[far] = -np.exp(-y[far]), y[far] * np.exp(-y[far])
    top *= top_x
    low *= low_x
    ratio = (top - low) / y
    square = (top * top_x - low * low_x) / y
    bend = q * (1.0 - q - y)
    count = cells.count
    add = cells.per_segment
    by_k, bend_k = q * ratio, bend * ratio
    return Slope(
        add(count * log_share),
        add(count * by_k),
        add(count * q),
        add(count * (bend_k * ratio + q * square - by_k * ratio)),
        add(count * bend_k),
        add(count * bend),
    )
