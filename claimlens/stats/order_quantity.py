"""How much to hold of something whose demand is told by draws, and what to order.

The quantity to hold up to is the smallest one that the demand until the next delivery
does not exceed with the chance asked for (the newsvendor's rule with that chance as
the critical ratio [1]_), read off the draws themselves: demand for spares is far from
normal, many draws being nothing at all.

A draw of the demand is compound [2]_: events come at a rate that is drawn once, and
each takes a quantity with the shares in which past events took it. The shares are
drawn too (the Bayesian bootstrap [3]_), so that ten past events say less than a
thousand. Given rate and shares, the events that take one quantity are Poisson, and
those of different quantities are independent.

References
----------
.. [1] Arrow, Harris, Marschak (1951), Econometrica 19, 250-272.
.. [2] Feeney, Sherbrooke (1966), Management Science 12, 391-411.
.. [3] Rubin (1981), Ann. Statist. 9, 130-134.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.errors import InputError
from claimlens.stats.checks import confidence_of, counts_of, refuse

__all__ = ["chance_above", "demand_drawn", "order_size", "shares_drawn", "to_hold"]

Floats = NDArray[np.float64]

# a level such as 0.95 times a number of draws is not always the whole number it means
_TINY = 1e-9


def to_hold(drawn: ArrayLike, level: float) -> NDArray[np.int64]:
    """Return the smallest whole quantity that suffices with a given chance.

    Parameters
    ----------
    drawn : array_like, shape (..., D)
        Draws of the demand, none below 0; parts of a piece are allowed.
    level : float
        Chance strictly between 0 and 1.

    Returns
    -------
    ndarray of int, shape (...)
        Of the draws, at least the share ``level`` lies at or below it, and less than
        that at or below one piece fewer.

    Raises
    ------
    InputError
        If the level lies outside, there is no draw, or one is negative.
    """
    chance = confidence_of(level)
    demand = counts_of("drawn", drawn)
    if demand.ndim == 0 or demand.shape[-1] == 0:
        raise refuse("drawn must hold at least one draw", f"shape {demand.shape}")
    rank = int(np.ceil(chance * demand.shape[-1] - _TINY)) - 1
    found = np.partition(demand, rank, axis=-1)[..., rank]
    return np.asarray(np.ceil(found - _TINY), dtype=np.int64)


def chance_above(drawn: ArrayLike, quantity: ArrayLike) -> Floats:
    """Return the share of the draws of a demand that exceed a quantity.

    Parameters
    ----------
    drawn : array_like, shape (..., D)
        Draws of the demand.
    quantity : array_like, shape (...)
        What is held.

    Returns
    -------
    ndarray, shape (...)
        Chance of running out.
    """
    demand = counts_of("drawn", drawn)
    held = np.asarray(quantity, dtype=np.float64)[..., None]
    return np.asarray((demand > held + _TINY).mean(axis=-1))


def shares_drawn(
    weights: ArrayLike, n_draws: int, random: np.random.Generator
) -> Floats:
    """Draw the shares of events of several kinds, given how many of each were seen.

    Parameters
    ----------
    weights : array_like, shape (J,)
        Events seen of each kind, at least 0, one of them above; parts of an event
        are allowed.
    n_draws : int
        Draws D.
    random : Generator
        Source of chance.

    Returns
    -------
    ndarray, shape (J, D)
        Dirichlet draws; they add up to 1.

    Raises
    ------
    InputError
        If a weight is negative, or none is above 0.
    """
    seen = counts_of("weights", weights)
    if not seen.any():
        raise InputError("No event tells the shares.", remedy="give one weight above 0")
    drawn = random.gamma(seen[:, None], 1.0, (seen.size, n_draws))
    # of weights far below 1 all draws can vanish together
    total = drawn.sum(axis=0)
    drawn[int(np.argmax(seen)), total == 0] = 1.0
    return np.asarray(drawn / drawn.sum(axis=0))


def demand_drawn(
    sizes: ArrayLike, rates: ArrayLike, random: np.random.Generator
) -> Floats:
    """Draw a demand to which events of several sizes add.

    Parameters
    ----------
    sizes : array_like, shape (J,)
        Pieces that an event of each kind takes.
    rates : array_like, shape (J, D)
        Expected events of each kind, by draw.
    random : Generator
        Source of chance.

    Returns
    -------
    ndarray, shape (D,)
        Pieces.
    """
    pieces = counts_of("sizes", sizes)
    events = random.poisson(counts_of("rates", rates))
    return np.asarray(pieces @ events, dtype=np.float64)


def order_size(needed: int, *, minimum: int = 1, pack: int = 1) -> int:
    """Return the smallest order that covers a need and that the supplier takes.

    Parameters
    ----------
    needed : int
        Pieces that are missing; nothing is ordered where it is 0 or below.
    minimum : int, default 1
        Least order, in pieces.
    pack : int, default 1
        Pieces in a pack; only whole packs are sold.

    Returns
    -------
    int
        Pieces.

    Raises
    ------
    InputError
        If minimum or pack is below 1.
    """
    if minimum < 1 or pack < 1:
        raise refuse("minimum and pack must be at least 1", f"{minimum} and {pack}")
    if needed <= 0:
        return 0
    return -(-max(needed, minimum) // pack) * pack
