"""Limits of a survival curve other than Wilson's, and the age by which half failed.

Private to the room: the functions assume a checked curve.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import special

__all__ = ["Limits", "first_age", "transformed_limits"]

Floats = NDArray[np.float64]

Limits = Literal["wilson", "log", "log-log"]


def transformed_limits(
    survival: Floats, greenwood: Floats, confidence: float, limits: Limits
) -> tuple[Floats, Floats]:
    """Return limits that are symmetric on a transformed scale.

    Parameters
    ----------
    survival : ndarray, shape (..., A)
        Share without a failure after each age.
    greenwood : ndarray, shape (..., A)
        Greenwood's sum: the squared error of the logarithm of ``survival``.
    confidence : float
        Two-sided level.
    limits : {"log", "log-log"}
        ln S, cut at 1, or ln(-ln S).

    Returns
    -------
    lower : ndarray, shape (..., A)
        From 0; 1 before the first failure, where these forms have no width.
    upper : ndarray, shape (..., A)
        Up to 1. Where all at risk have failed the error is not defined: the upper
        limit is that of the age before.

    References
    ----------
    .. [1] Kalbfleisch, Prentice (1980), The Statistical Analysis of Failure Time Data,
       1.3.
    """
    z = float(special.ndtri(0.5 + confidence / 2.0))
    usable = (survival > 0) & (survival < 1) & np.isfinite(greenwood)
    held = np.where(usable, survival, 0.5)
    error = np.sqrt(np.where(usable, greenwood, 0.0))
    if limits == "log":
        lower, upper = held * np.exp(-z * error), held * np.exp(z * error)
    else:
        # the error of ln(-ln S) is that of ln S over -ln S
        width = np.exp(z * error / -np.log(held))
        lower, upper = held**width, held ** (1.0 / width)
    lower = np.where(usable, lower, np.where(survival >= 1, 1.0, 0.0))
    upper = np.where(usable | (survival >= 1), np.minimum(upper, 1.0), 1.0)
    upper = np.where(survival >= 1, 1.0, upper)
    place = np.where(usable | (survival >= 1), np.arange(survival.shape[-1]), -1)
    last = np.maximum.accumulate(place, axis=-1)
    kept = np.take_along_axis(upper, np.maximum(last, 0), axis=-1)
    return lower, np.where(last >= 0, kept, 1.0)


def first_age(ages: Floats, curve: Floats, level: float) -> Floats:
    """Return the first age at which a curve is at or below a level; NaN for none.

    Parameters
    ----------
    ages : ndarray, shape (A,)
        Rising.
    curve : ndarray, shape (..., A)
        NaN where it is not known.
    level : float
        From 0 to 1.

    Returns
    -------
    ndarray, shape (...)
        Ages.
    """
    # products of shares end a few units in the last place away from the level
    reached = curve <= level * (1.0 + 1e-12)
    place = reached.argmax(axis=-1)
    return np.where(reached.any(axis=-1), ages[place], np.nan)
