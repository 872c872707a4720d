"""Pairs of counts that belong together: events of trials, events in an exposure.

Private to the room.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import counts_of, refuse

__all__ = ["rates_of", "shares_of"]

Floats = NDArray[np.float64]


def shares_of(
    x_name: str, x: ArrayLike, n_name: str, n: ArrayLike
) -> tuple[Floats, Floats]:
    """Return events and trials in one shape; refuse more events than trials."""
    events, trials = _matched(x_name, x, n_name, n)
    excess = events > trials
    # an effective size times a share may exceed the size by rounding alone
    rounding = excess & (events <= trials * (1.0 + 1e-12))
    bad = excess & ~rounding
    if bad.any():
        raise refuse(
            f"{x_name} must not exceed {n_name}",
            f"{events[bad].flat[0]:g} of {trials[bad].flat[0]:g}",
        )
    return np.minimum(events, trials), trials


def rates_of(
    x_name: str, x: ArrayLike, t_name: str, t: ArrayLike
) -> tuple[Floats, Floats]:
    """Return events and exposure in one shape; refuse events in no exposure."""
    events, exposure = _matched(x_name, x, t_name, t)
    bad = (exposure == 0) & (events > 0)
    if bad.any():
        raise refuse(
            f"{t_name} must be above 0 where there are events",
            f"{events[bad].flat[0]:g} events in 0",
        )
    return events, exposure


def _matched(
    x_name: str, x: ArrayLike, n_name: str, n: ArrayLike
) -> tuple[Floats, Floats]:
    """Return two count arrays broadcast to one shape."""
    first, second = counts_of(x_name, x), counts_of(n_name, n)
    try:
        first, second = np.broadcast_arrays(first, second)
    except ValueError:
        raise refuse(
            f"{x_name} and {n_name} must have shapes that match",
            f"{first.shape} and {second.shape}",
        ) from None
    return first, second
