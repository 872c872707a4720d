"""What a number of claims costs together, each with a cost of its own."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import finite_of, refuse

__all__ = ["compound_sums"]

Floats = NDArray[np.float64]

# of more claims than this the sum is drawn as a normal number: the skewness of a sum
# falls with the root of its claims
_MANY = 1_000
# claims drawn at a time, 40 MB
_BLOCK = 5_000_000


def compound_sums(
    counts: ArrayLike,
    means: ArrayLike,
    sample: ArrayLike,
    *,
    rng: np.random.Generator,
) -> Floats:
    """Draw what claims cost together, each costing as one of a sample.

    Costs are drawn from the sample with replacement and scaled to the mean that is
    in force; where a mean is not above 0 they are moved to it instead.

    Parameters
    ----------
    counts : array_like of int, shape (N,)
        Claims of each sum, at least 0.
    means : array_like, shape (N,)
        Mean cost of a claim of each sum.
    sample : array_like, shape (S,)
        Costs seen; at least one.
    rng : Generator
        Seeded source of chance.

    Returns
    -------
    ndarray, shape (N,)
        In the unit of the costs; 0 where there is no claim.

    Raises
    ------
    InputError
        If shapes disagree, a count is negative, or the sample is empty.

    References
    ----------
    .. [1] Klugman, Panjer, Willmot (2012), Loss Models, chapter 9: aggregate losses.
    """
    number, mean = finite_of("counts", counts), finite_of("means", means)
    seen = finite_of("sample", sample)
    if number.ndim != 1 or number.shape != mean.shape:
        raise refuse(
            "counts and means must have one shape (N,)",
            f"shapes {number.shape}, {mean.shape}",
        )
    if (number < 0).any():
        raise refuse("counts must not be negative", number.min())
    if not seen.size:
        raise refuse("the sample must hold a cost", "none")
    whole = number.astype(np.int64)
    centre = float(seen.mean())
    sums = np.zeros(whole.size)
    few = whole <= _MANY
    sums[few] = _resampled(whole[few], seen, rng)
    many = whole[~few]
    spread = np.sqrt(many) * seen.std() * rng.standard_normal(many.size)
    sums[~few] = many * centre + spread
    if centre > 0:
        scaled = sums * (mean / centre)
        return np.where(mean > 0, scaled, sums + whole * (mean - centre))
    return np.asarray(sums + whole * (mean - centre))


def _resampled(
    number: NDArray[np.int64], seen: Floats, rng: np.random.Generator
) -> Floats:
    """Return sums of costs drawn with replacement."""
    sums = np.zeros(number.size)
    ends = np.cumsum(number)
    start, drawn = 0, 0
    while start < number.size:
        stop = int(np.searchsorted(ends, drawn + _BLOCK, side="right"))
        stop = max(stop, start + 1)
        part = number[start:stop]
        costs = seen[rng.integers(0, seen.size, int(part.sum()))]
        total = np.concatenate([[0.0], np.cumsum(costs)])
        last = np.cumsum(part)
        sums[start:stop] = total[last] - total[last - part]
        start, drawn = stop, int(ends[stop - 1])
    return sums
