"""Failures by age month of every component, from few claims or many."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import special

from claimlens.stats.shrinkage import ALPHA_OF_FEW, ALPHA_RANGE, FEW_GROUPS

__all__ = ["gamma_shape", "hazard_by_age", "towards"]

Floats = NDArray[np.float64]

# claims that the lines of all components weigh against what single ages show
_PROFILE_WEIGHT = 8.0
# prior spread of a component's power of age about that of all components
_POWER_SPREAD = 0.5
_POWER_RANGE = (0.2, 4.0)
# components differ by far more than a gamma of shape 1: none leans more on the others
_MOST_LEANING = 1.0
_GRID = np.linspace(np.log(ALPHA_RANGE[0]), np.log(ALPHA_RANGE[1]), 20)


def towards(observed: Floats, expected: Floats, weight: float) -> Floats:
    """Return observed / expected, drawn towards 1 by a weight in claims."""
    return np.asarray((weight + observed) / (weight + expected))


def gamma_shape(observed: Floats, expected: Floats) -> float:
    """Return the gamma shape of the ratios of groups, by marginal likelihood.

    As `claimlens.stats.shrinkage.spread_of`, with a parabola through the best three
    of 20 shapes in place of a search: as good for a weight, and many times faster.
    """
    told = expected > 1e-6
    o, e = observed[told], expected[told]
    if o.size < FEW_GROUPS:
        return ALPHA_OF_FEW
    a = np.exp(_GRID)[:, None]
    log = (
        special.gammaln(a + o)
        - special.gammaln(a)
        - a * np.log1p(e / a)
        - o * np.log(a + e)
    ).sum(axis=1)
    top = int(log.argmax())
    if top in (0, _GRID.size - 1):
        return float(np.exp(_GRID[top]))
    left, middle, right = log[top - 1 : top + 2]
    shift = 0.5 * (left - right) / (left - 2.0 * middle + right)
    return float(np.exp(_GRID[top] + shift * (_GRID[1] - _GRID[0])))


def hazard_by_age(failed: Floats, exposed: Floats) -> tuple[Floats, float]:
    """Estimate first failures per unit-month by age month.

    A component has a level, a power of age (its share failed by age t is taken as
    proportional to t ** power), what all components show at single ages beyond
    their powers, and what it shows itself. Levels are drawn towards each other,
    powers towards that of all components, and what single ages show towards the
    lines, each by as much as chance explains.

    Parameters
    ----------
    failed, exposed : ndarray, shape (C, A)
        First failures, and unit-months.

    Returns
    -------
    hazard : ndarray, shape (C, A)
        Ages nobody has reached follow the lines.
    level_shape : float
        Gamma shape of the components' levels: claims that the mean weighs.
    """
    all_failed, all_exposed = failed.sum(axis=0)[None], exposed.mean(axis=0)[None]
    power = _powers(all_failed, all_exposed, 1.0)
    lines = _line(_powers(failed, exposed, float(power[0])), exposed.shape[1])
    number = failed.sum(axis=1)
    # failures expected of each at one common level
    mass = (exposed * lines).sum(axis=1)
    reach = (exposed * _line(power, exposed.shape[1])).sum(axis=1)
    # half a failure where there is none: nothing is impossible
    mean = max(number.sum(), 0.5) / max(reach.sum(), 1e-300)
    shape = min(gamma_shape(number, reach * mean), _MOST_LEANING)
    level = towards(number, reach * mean, shape) * mean * reach
    hazard = np.where(mass > 0, level / np.maximum(mass, 1e-300), mean)[:, None] * lines
    hazard = hazard * towards(
        all_failed, (exposed * hazard).sum(axis=0)[None], _PROFILE_WEIGHT
    )
    left = exposed * hazard
    return hazard * towards(failed, left, gamma_shape(failed, left)), shape


def _line(power: Floats, n_ages: int) -> Floats:
    """Return the share of age month a, (a + 1)**k - a**k, shape (C, A)."""
    reached = np.arange(n_ages + 1.0) ** power[:, None]
    return np.diff(reached, axis=1)


def _powers(failed: Floats, exposed: Floats, centre: float) -> Floats:
    """Return the power of age of each row, by Fisher scoring.

    The mode of the likelihood given the number of failures, times a normal prior.
    """
    age = np.arange(exposed.shape[1] + 1.0)
    log_age = np.log(np.maximum(age, 1e-300)) * (age > 0)
    total = failed.sum(axis=1)
    power = np.full(len(failed), centre)
    for _ in range(8):
        reached = age ** power[:, None]
        line = np.diff(reached, axis=1)
        slope = np.diff(reached * log_age, axis=1) / line
        share = exposed * line
        share /= np.maximum(share.sum(axis=1), 1e-300)[:, None]
        mean = (share * slope).sum(axis=1)
        spread = (share * slope * slope).sum(axis=1) - mean * mean
        score = (failed * slope).sum(axis=1) - total * mean
        score -= (power - centre) / _POWER_SPREAD**2
        step = score / (total * spread + 1.0 / _POWER_SPREAD**2)
        power = np.clip(power + np.clip(step, -0.5, 0.5), *_POWER_RANGE)
    return power
