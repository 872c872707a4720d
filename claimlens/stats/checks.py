"""What every estimator asks of its arguments at the public door."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.errors import InputError

__all__ = ["ages_of", "confidence_of", "counts_of", "finite_of", "refuse"]

Floats = NDArray[np.float64]


def refuse(rule: str, value: object, remedy: str | None = None) -> InputError:
    """Return the error for a broken rule, with the value received.

    Parameters
    ----------
    rule : str
        The rule as a sentence without its full stop.
    value : object
        What was received.
    remedy : str, optional
        What the caller can do.

    Returns
    -------
    InputError
        To be raised by the caller.
    """
    return InputError(f"{rule}; got {value}.", remedy=remedy)


def confidence_of(confidence: float) -> float:
    """Return the two-sided confidence level as a float.

    Parameters
    ----------
    confidence : float
        Level strictly between 0 and 1.

    Returns
    -------
    float
        The same level.

    Raises
    ------
    InputError
        If it is not strictly between 0 and 1.
    """
    try:
        level = float(confidence)
    except (TypeError, ValueError):
        raise refuse("confidence must be one number", repr(confidence)) from None
    if not 0.0 < level < 1.0:
        raise refuse(
            "confidence must lie strictly between 0 and 1",
            confidence,
            "write 95 per cent as 0.95",
        )
    return level


def finite_of(name: str, values: ArrayLike) -> Floats:
    """Return ``values`` as finite floats.

    Parameters
    ----------
    name : str
        Argument name for the message.
    values : array_like
        Any shape.

    Returns
    -------
    ndarray of float
        Same shape.

    Raises
    ------
    InputError
        If a value is no number, or is missing or infinite.
    """
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise refuse(f"{name} must be numbers", repr(values)[:80]) from None
    bad = ~np.isfinite(array)
    if bad.any():
        raise refuse(f"{name} must be finite", array[bad].flat[0])
    return array


def counts_of(name: str, values: ArrayLike) -> Floats:
    """Return ``values`` as finite floats of at least 0.

    Parameters
    ----------
    name : str
        Argument name for the message.
    values : array_like
        Counts, or sums of weights, any shape.

    Returns
    -------
    ndarray of float
        Same shape.

    Raises
    ------
    InputError
        If a value is negative or not finite.
    """
    array = finite_of(name, values)
    if (array < 0).any():
        raise refuse(f"{name} must not be negative", array[array < 0].flat[0])
    return array


def ages_of(
    ages: ArrayLike, failures: ArrayLike, censored: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """Return ages and the two count tables in matching shapes.

    Parameters
    ----------
    ages : array_like, shape (A,)
        Ages of at least 0.
    failures, censored : array_like, shape (A,) or (S, A)
        Counts or sums of weights.

    Returns
    -------
    ages : ndarray, shape (A,)
        The ages as floats.
    failures : ndarray, shape (A,) or (S, A)
        The failures as floats.
    censored : ndarray, shape (A,) or (S, A)
        The survivors as floats, in the shape of ``failures``.

    Raises
    ------
    InputError
        If shapes disagree, a count is negative or something is not finite.
    """
    age = counts_of("ages", ages)
    if age.ndim != 1 or age.size == 0:
        raise refuse("ages must be one row of at least one age", f"shape {age.shape}")
    failed = counts_of("failures", failures)
    left = counts_of("censored", censored)
    for name, table in (("failures", failed), ("censored", left)):
        if table.ndim not in (1, 2) or table.shape[-1] != age.size:
            raise refuse(
                f"{name} must have shape ({age.size},) or (S, {age.size}), as ages do",
                f"shape {table.shape}",
            )
    if failed.ndim != left.ndim or failed.shape != left.shape:
        raise refuse(
            "failures and censored must have the same shape",
            f"shapes {failed.shape} and {left.shape}",
        )
    return age, failed, left
