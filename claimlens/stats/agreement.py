"""Agreement of two reviewers beyond chance: Cohen's kappa with its errors."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import confidence_of, counts_of, refuse
from claimlens.stats.intervals import wilson

__all__ = ["Agreement", "cohen_kappa"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """How far two reviewers agree.

    Parameters
    ----------
    n : float
        Items that both have judged.
    agreement : float
        Share of items on which they agree, 0 to 1.
    chance_agreement : float
        Share that would agree if each had kept to his or her own shares of
        the classes and drawn blindly.
    kappa : float
        (agreement - chance) / (1 - chance): 1 is full agreement, 0 is what
        chance gives; NaN where it is not defined.
    standard_error : float
        Of kappa, in large samples.
    standard_error_chance : float
        The same if true kappa were 0, for a test of that.
    interval : tuple of (float, float)
        Limits of kappa, within -1 and 1.
    note : str
        Why something is NaN; empty otherwise.
    """

    n: float
    agreement: float
    chance_agreement: float
    kappa: float
    standard_error: float
    standard_error_chance: float
    interval: tuple[float, float]
    note: str = ""


def cohen_kappa(table: ArrayLike, confidence: float = 0.95) -> Agreement:
    """Compute Cohen's kappa of two reviewers.

    The limits are those of Wilson for the share that agrees, on the sample
    size that would give kappa its large-sample variance, with the agreement by
    chance held as seen. Unlike kappa plus and minus its errors they keep
    their level where few items were judged twice and nearly all agree: with
    all of ten alike that error is 0.

    Parameters
    ----------
    table : array_like of int, shape (K, K)
        Items by class of the first reviewer (row) and of the second (column),
        classes in the same order; not negative.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.

    Returns
    -------
    Agreement
        NaN with a note where there is no item, or both reviewers gave one
        and the same class throughout: chance alone would agree then.

    Raises
    ------
    InputError
        If the table is not square, or a count is negative or not finite.

    References
    ----------
    .. [1] Cohen (1960), Educ. Psychol. Meas. 20, 37-46: kappa.
    .. [2] Fleiss, Cohen & Everitt (1969), Psychol. Bull. 72, 323-327: both
       standard errors.
    .. [3] Wilson (1927), J. Am. Stat. Assoc. 22, 209-212.
    """
    counts = counts_of("table", table)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1]:
        raise refuse("table must be square", f"shape {counts.shape}")
    level = confidence_of(confidence)
    total = float(counts.sum())
    if total == 0:
        return _undefined(0.0, math.nan, math.nan, "no item was judged twice")
    shares = counts / total
    first, second = shares.sum(axis=1), shares.sum(axis=0)
    agreed = float(np.trace(shares))
    chance = float(first @ second)
    if np.count_nonzero(counts) == 1 and agreed > 0:
        return _undefined(
            total, agreed, chance, "both gave one class throughout, as chance would"
        )
    kappa = (agreed - chance) / (1 - chance)
    variance = _variance(shares, first, second, kappa, chance) / total
    by_chance = chance + chance**2 - float((first * second) @ (first + second))
    lower, upper = _limits(agreed, chance, variance, total, level)
    return Agreement(
        n=total,
        agreement=agreed,
        chance_agreement=chance,
        kappa=kappa,
        standard_error=math.sqrt(variance),
        standard_error_chance=math.sqrt(max(by_chance, 0.0) / total) / (1 - chance),
        interval=(max(min(lower, kappa), -1.0), max(upper, kappa)),
    )


def _variance(
    shares: Floats, first: Floats, second: Floats, kappa: float, chance: float
) -> float:
    """Return n times the large-sample variance of kappa."""
    left = 1 - kappa
    agreeing = float(np.diag(shares) @ (1 - (first + second) * left) ** 2)
    # p_ij meets the second reviewer's share of i and the first one's of j
    crossed = shares * (second[:, None] + first[None, :]) ** 2
    np.fill_diagonal(crossed, 0.0)
    disagreeing = left**2 * float(crossed.sum())
    mean = kappa - chance * left
    # full agreement gives 0, and rounding a little less
    return max(agreeing + disagreeing - mean**2, 0.0) / (1 - chance) ** 2


def _limits(
    agreed: float, chance: float, variance: float, total: float, level: float
) -> tuple[float, float]:
    """Return limits of kappa from Wilson's for the share that agrees."""
    spread = agreed * (1 - agreed)
    size = spread / (variance * (1 - chance) ** 2) if variance > 0 else 0.0
    if not size > 0:
        size = total
    low, high = (float(v) for v in wilson(agreed * size, size, level))
    return (low - chance) / (1 - chance), (high - chance) / (1 - chance)


def _undefined(total: float, agreed: float, chance: float, why: str) -> Agreement:
    nan = math.nan
    return Agreement(
        n=total,
        agreement=agreed,
        chance_agreement=chance,
        kappa=nan,
        standard_error=nan,
        standard_error_chance=nan,
        interval=(nan, nan),
        note=why,
    )
