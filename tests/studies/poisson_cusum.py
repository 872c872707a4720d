"""Run length of the Poisson cumulative sum chart, the textbook's rival of our rule."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from scipy import stats


def average_run_length(
    mean: float, reference: float, limit: float, start: float = 0.0
) -> float:
    """Return the mean number of periods up to the first signal.

    The sum S = max(0, S + X - reference) starts at ``start`` and signals when it
    reaches ``limit``; the period of the signal counts. It is a Markov chain on a
    lattice, so the mean solves one linear system.

    Parameters
    ----------
    mean : float
        Mean of the counts X.
    reference, limit, start : float
        Multiples of a common fraction.

    Returns
    -------
    float

    References
    ----------
    .. [1] Lucas (1985), Technometrics 27, 129-144.
    .. [2] Brook, Evans (1972), Biometrika 59, 539-549 (Markov chain).
    """
    parts = [
        Fraction(value).limit_denominator(1000) for value in (reference, limit, start)
    ]
    steps = int(np.lcm.reduce([part.denominator for part in parts]))
    k, h, s = (int(part * steps) for part in parts)
    state = np.arange(h)
    moves = np.zeros((h, h))
    for count in range(h // steps + k // steps + 2):
        target = np.maximum(state + count * steps - k, 0)
        inside = target < h
        moves[state[inside], target[inside]] += stats.poisson.pmf(count, mean)
    lengths = np.linalg.solve(np.eye(h) - moves, np.ones(h))
    return float(lengths[s])
