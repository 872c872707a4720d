"""Limits of counts that are told by draws."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["count_limits"]


def count_limits(
    drawn: NDArray[np.integer], chances: Sequence[float]
) -> NDArray[np.float64]:
    """Return quantiles of counts, each count spread evenly over the unit around it.

    A count is whole, so no whole limit has exactly the chance asked for on its outer
    side; for few counts it is far off. With each count k spread over k - 1/2 to
    k + 1/2 (the continuity correction) the chance of less than a whole limit and half
    the chance of the limit itself add up to what was asked for, which is how a count
    on the edge of a band is to be scored.

    Parameters
    ----------
    drawn : ndarray of int, shape (..., D)
        Draws of counts, none below 0.
    chances : sequence of float, length Q
        Chances of falling below, strictly between 0 and 1.

    Returns
    -------
    ndarray, shape (Q, ...)
        Never below 0.
    """
    n_draws = drawn.shape[-1]
    ranked = np.sort(drawn, axis=-1)
    limits = []
    for chance in chances:
        rank = min(int(np.ceil(chance * n_draws)) - 1, n_draws - 1)
        value = ranked[..., rank]
        below = (ranked < value[..., None]).sum(axis=-1)
        equal = (ranked == value[..., None]).sum(axis=-1)
        limits.append(value - 0.5 + (chance * n_draws - below) / equal)
    return np.asarray(np.maximum(np.stack(limits), 0.0))
