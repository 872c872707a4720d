"""Windows of consecutive production months, and the largest excess that chance gives.

Private to the room: the functions assume checked counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from claimlens.stats.production_counts import ProductionCounts

__all__ = [
    "WindowTable",
    "draw_by_class",
    "draw_failures",
    "largest_excess",
    "likelihood_ratio",
    "table",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

# draws of one block, so that no table of draws by months grows large
_BLOCK = 2000
_SEEN = 1e-300


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowTable:
    """All windows that are looked at; arrays of shape (W,), short ones first.

    Parameters
    ----------
    start, stop : ndarray of int
        First month, and the one after the last.
    observed, expected : ndarray
        Failures inside; ``expected`` at the hazard pooled over all months.
    excess : ndarray
        Log-likelihood ratio; 0 where no more failed than expected.
    """

    start: Indices
    stop: Indices
    observed: Floats
    expected: Floats
    excess: Floats


def likelihood_ratio(observed: Floats, expected: Floats, total: float) -> Floats:
    """Return Kulldorff's log-likelihood ratio of an excess, given the total.

    Parameters
    ----------
    observed, expected : ndarray
        Failures inside; expected ones on the scale on which all add up to ``total``.
    total : float
        Failures inside and outside.

    Returns
    -------
    ndarray
        O ln(O / e) + (C - O) ln((C - O) / (C - e)), 0 where O <= e.
    """
    outside = np.maximum(total - observed, 0.0)
    rest = np.maximum(total - expected, _SEEN)
    ratio = (
        special.xlogy(observed, observed)
        - special.xlogy(observed, np.maximum(expected, _SEEN))
        + special.xlogy(outside, outside)
        - special.xlogy(outside, rest)
    )
    # what rounding leaves of the whole production is no window
    above = observed > expected * (1.0 + 1e-12)
    return np.where(above, np.maximum(ratio, 0.0), 0.0)


def table(
    counts: ProductionCounts, run: Indices, *, max_length: int, max_share: float
) -> WindowTable:
    """List the windows of up to ``max_length`` months, with their excess.

    Parameters
    ----------
    counts : ProductionCounts
        Months with units, in order of production.
    run : ndarray of int, shape (B,)
        Number of the unbroken stretch that each month belongs to; no window reaches
        from one into another.
    max_length : int
        Months, at least 1.
    max_share : float
        Largest part of the expected failures that a window may hold.

    Returns
    -------
    WindowTable
        In positions among the given months.
    """
    rows = []
    observed, expected = counts.observed[None], counts.expected
    total = float(observed.sum())
    for start, stop, inside, wanted, allowed in _windows(
        observed, expected, run, max_length, max_share
    ):
        excess = likelihood_ratio(inside[0], wanted, total)
        rows.append(
            [each[allowed] for each in (start, stop, inside[0], wanted, excess)]
        )
    start, stop, inside, wanted, excess = (
        np.concatenate(each) for each in zip(*rows, strict=True)
    )
    return WindowTable(
        start=start.astype(np.intp),
        stop=stop.astype(np.intp),
        observed=inside,
        expected=wanted,
        excess=excess,
    )


def largest_excess(
    draws: Floats,
    expected: Floats,
    run: Indices,
    *,
    max_length: int,
    max_share: float,
) -> Floats:
    """Return the largest excess over the same windows for each draw.

    Parameters
    ----------
    draws : ndarray, shape (R, B)
        Failures by month; each draw adds up to one total.
    expected : ndarray, shape (B,)
        As in the data, adding up to the total of the draws.
    run, max_length, max_share
        As for `table`.

    Returns
    -------
    ndarray, shape (R,)
    """
    total = float(draws[0].sum())
    best = np.zeros(draws.shape[0])
    # drawn failures are whole: x ln x is looked up, not computed
    entropy = special.xlogy(*np.tile(np.arange(total + 1.0), (2, 1)))
    for _, _, inside, wanted, allowed in _windows(
        draws, expected, run, max_length, max_share
    ):
        if not allowed.any():
            continue
        o, e = inside[:, allowed].astype(np.intp), wanted[allowed]
        outside = int(total) - o
        ratio = (
            entropy[o]
            + entropy[outside]
            - o * np.log(np.maximum(e, _SEEN))
            - outside * np.log(np.maximum(total - e, _SEEN))
        )
        ratio[o <= e * (1.0 + 1e-12)] = 0.0
        np.maximum(best, ratio.max(axis=1), out=best)
    return best


def draw_failures(
    counts: ProductionCounts, phi: float, draws: int, rng: np.random.Generator
) -> Iterator[Floats]:
    """Draw failures by month for a production whose months are alike.

    Given the failures of each class, those of the months are multinomial by their
    exposure. With ``phi`` above 1 every month has a gamma factor of mean 1, such that
    its failures are negative binomial, with ``phi`` times the Poisson variance in a
    month of typical size.

    Parameters
    ----------
    counts : ProductionCounts
        Months with units. Sums of weights are drawn as whole failures, as many as
        they add up to.
    phi : float
        Variance over that of Poisson counts, at least 1.
    draws : int
        Draws in all.
    rng : Generator
        Source of chance.

    Yields
    ------
    ndarray, shape (R, B)
        Blocks of draws.
    """
    whole = _whole(counts.at_stake)
    chosen = np.flatnonzero(whole)
    share, expected = counts.share, counts.expected
    for first in range(0, draws, _BLOCK):
        size = min(_BLOCK, draws - first)
        sums = np.zeros((size, expected.size))
        factor = _month_factors(expected, phi, size, rng)
        for k in chosen:
            chance = share[k] if factor is None else share[k] * factor
            chance = chance / chance.sum(axis=-1, keepdims=True)
            sums += rng.multinomial(whole[k], chance, size=size)
        yield sums


def draw_by_class(
    counts: ProductionCounts, draws: int, rng: np.random.Generator
) -> Floats:
    """Draw failures by class and month for months that are alike, shape (R, K, B)."""
    whole, share = _whole(counts.at_stake), counts.share
    result = np.zeros((draws, *share.shape))
    for k in np.flatnonzero(whole):
        result[:, k] = rng.multinomial(whole[k], share[k] / share[k].sum(), size=draws)
    return result


def _whole(failures: Floats) -> NDArray[np.int64]:
    """Return whole failures by class, as many in all as the sums of weights."""
    return np.diff(np.rint(np.cumsum(failures)), prepend=0.0).astype(np.int64)


def _month_factors(
    expected: Floats, phi: float, size: int, rng: np.random.Generator
) -> Floats | None:
    """Return the gamma factors of the months, (size, B); None without noise."""
    if phi <= 1.0:
        return None
    # rates that differ from batch to batch: the variance of a month is
    # e (1 + (phi - 1) e / mean of e)
    typical = expected[expected >= 1.0]
    shape = float(typical.mean() if typical.size else 1.0) / (phi - 1.0)
    return np.maximum(rng.gamma(shape, 1.0 / shape, (size, expected.size)), 1e-12)


def _windows(
    failures: Floats, expected: Floats, run: Indices, max_length: int, max_share: float
) -> Iterator[tuple[Indices, Indices, Floats, Floats, NDArray[np.bool_]]]:
    """Yield start, stop, failures (R, .), expected and permission by length."""
    months = expected.size
    failed = np.concatenate(
        [np.zeros((failures.shape[0], 1)), np.cumsum(failures, axis=1)], axis=1
    )
    wanted = np.concatenate([[0.0], np.cumsum(expected)])
    most = max_share * wanted[-1] * (1.0 + 1e-12)
    for length in range(1, min(max_length, months) + 1):
        start = np.arange(months - length + 1)
        stop = start + length
        inside = wanted[length:] - wanted[:-length]
        allowed = (run[start] == run[stop - 1]) & (inside <= most)
        yield start, stop, failed[:, length:] - failed[:, :-length], inside, allowed
