"""What months to come may bring: draws that share everything that months share.

Of one draw all months and rows share the rate (its uncertainty is that of the fit), the
drift from quarter to quarter, and the shock of a month; given these, counts are
Poisson. So a total's band is not the sum of its parts' bands [1]_. Draws of a rate have
the mean that was expected.

References
----------
.. [1] Lawless, Fredette (2005), Biometrika 92, 529-542.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import special

from claimlens.stats.intensity.ahead import Outlook
from claimlens.stats.intensity.fitting import Fit

__all__ = ["Shock", "drawn_rates", "shock_variance"]

Floats = NDArray[np.float64]
Small = NDArray[np.float32]

# nothing is less known than by this (variance of a logarithm): a component that never
# failed has its chance from the others, not from the shape of a normal curve
_LEAST_KNOWN = 1.5
_GRID = np.exp(np.linspace(np.log(1e-4), np.log(1.0), 60))
# a component's own shocks lie about those of all by a factor of e, more or less
_LEAN = 1.0


def shock_variance(seen: Floats, expected: Floats) -> Floats:
    """Return how much months differ from what was expected, beyond chance.

    Counts are negative binomial with variance m + v m^2. The variances v of all
    components are about one that they share.

    Parameters
    ----------
    seen, expected : ndarray, shape (C, U)
        Counts of past months and what the fit makes of them.

    Returns
    -------
    ndarray, shape (C,)
        v of each component.
    """
    size = 1.0 / _GRID[:, None, None]
    mean = np.maximum(expected, 1e-9)
    likelihood = (
        special.gammaln(seen + size)
        - special.gammaln(size)
        + size * np.log(size / (size + mean))
        + seen * np.log(mean / (size + mean))
    ).sum(axis=2)
    together = likelihood.sum(axis=1)
    weight = np.exp(together - together.max())
    centre = float(weight @ np.log(_GRID) / weight.sum())
    prior = -0.5 * ((np.log(_GRID) - centre) / _LEAN) ** 2
    own = likelihood + prior[:, None]
    weights = np.exp(own - own.max(axis=0))
    return np.asarray(weights.T @ _GRID / weights.sum(axis=0))


class Shock:
    """What all rows of a component share in the months to come.

    Parameters
    ----------
    quarter : ndarray of int, shape (U,)
        Quarters from the last one seen to each month.
    drift : float
        Variance of the step from quarter to quarter, of the logarithm.
    month : float
        Variance of a month's factor.
    """

    def __init__(self, quarter: NDArray[np.intp], drift: float, month: float) -> None:
        self.quarter, self.drift, self.month = quarter, drift, month

    def drawn(self, n_draws: int, random: np.random.Generator) -> Floats:
        """Return factors with mean 1, shape (U, n_draws)."""
        steps = random.standard_normal((int(self.quarter.max(initial=0)), n_draws))
        walk = np.concatenate([np.zeros((1, n_draws)), np.cumsum(steps, axis=0)])
        walk *= np.sqrt(self.drift)
        half = 0.5 * self.drift * self.quarter[:, None]
        factor = np.exp(walk[self.quarter] - half)
        if self.month > 0:
            size = 1.0 / self.month
            factor *= random.gamma(size, self.month, factor.shape)
        return np.asarray(factor)


def drawn_rates(
    fit: Fit,
    outlook: Outlook,
    shock: Shock,
    *,
    n_draws: int,
    random: np.random.Generator,
) -> Small:
    """Draw the expected claims of a component by row and month.

    Parameters
    ----------
    fit : Fit
        Of the component.
    outlook : Outlook
        R rows and U months.
    shock : Shock
        What rows share.
    n_draws : int
        Draws D.
    random : Generator
        Source of chance.

    Returns
    -------
    ndarray of float32, shape (R, U, D)
        With the mean of the outlook.
    """
    n_rows, n_months, p = outlook.slope.shape
    # of rows and months of which nothing is expected, nothing is drawn
    mean = outlook.mean.reshape(-1)
    some = np.flatnonzero(mean)
    moves = outlook.slope.reshape(n_rows * n_months, p)[some] @ fit.root
    variance = np.square(moves).sum(axis=1)
    scale = np.sqrt(np.minimum(1.0, _LEAST_KNOWN / np.maximum(variance, 1e-12)))
    moves = (moves * scale[:, None]).astype(np.float32)
    half = 0.5 * np.square(moves).sum(axis=1, keepdims=True)
    chance = random.standard_normal((p, n_draws), dtype=np.float32)
    drawn = moves @ chance
    drawn -= half
    np.exp(drawn, out=drawn)
    drawn *= mean[some, None].astype(np.float32)
    shocks = shock.drawn(n_draws, random).astype(np.float32)
    rates = np.zeros((n_rows * n_months, n_draws), dtype=np.float32)
    for place, one in zip(some.tolist(), drawn, strict=True):
        np.multiply(one, shocks[place % n_months], out=rates[place])
    return rates.reshape(n_rows, n_months, n_draws)
