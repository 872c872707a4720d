"""How many failures it takes to show that a change helped, and when there are enough.

All chances are exact sums over the failures before and after; nothing is drawn.

References
----------
.. [1] Przyborowski, Wilenski (1940), Biometrika 31, 313-323 (the test and its power).
.. [2] Berry, Armitage (1995), Statistician 44, 417-423 (mid-p).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of, counts_of, refuse

__all__ = [
    "chance_of_improved",
    "chance_once_seen",
    "claims_needed",
    "expected_needed",
    "verdict_month",
]

Floats = NDArray[np.float64]

# failures before the change beyond which nobody needs more
_MOST = 5000
# more than so many times the failures before are not waited for
_FAR = 100.0


def chance_of_improved(
    expected_before: float,
    exposure_ratio: float = 1.0,
    *,
    ratio: float = 0.5,
    confidence: float = 0.95,
    exact: bool = False,
) -> float:
    """Return the chance that a change of a given effect is called an improvement.

    Parameters
    ----------
    expected_before : float
        Mean number of failures before the change.
    exposure_ratio : float, default 1.0
        Exposure after over that before, weighted by the hazard of the age; above 0.
    ratio : float, default 0.5
        True hazard after over that before; 0.5 for a halving.
    confidence : float, default 0.95
        Two-sided level of the interval that must lie below 1.
    exact : bool, default False
        Of the conservative interval in place of the mid-p one.

    Returns
    -------
    float
        From 0 to 1.

    Raises
    ------
    InputError
        If a number is negative or not finite, or the exposure ratio is 0.
    """
    mean, part, effect = _numbers(expected_before, exposure_ratio, ratio)
    tail = (1.0 - confidence_of(confidence)) / 2.0
    before = np.arange(_far_out(mean) + 1, dtype=np.float64)
    most = _most_after(before, part, tail, exact)
    below = _at_most(most, mean * part * effect)
    return float((_poisson(before, mean) * below).sum())


def claims_needed(
    chance: float = 0.8,
    exposure_ratio: float = 1.0,
    *,
    ratio: float = 0.5,
    confidence: float = 0.95,
    exact: bool = False,
) -> int | None:
    """Return the failures before a change at which its effect is likely shown.

    Parameters
    ----------
    chance : float, default 0.8
        Chance with which the change is to be called an improvement.
    exposure_ratio, ratio, confidence, exact
        As for `chance_of_improved`.

    Returns
    -------
    int or None
        Smallest whole mean number of failures; None where 5,000 are not enough.

    Raises
    ------
    InputError
        As for `chance_of_improved`, or if the chance is not between 0 and 1.
    """
    goal = confidence_of(chance)

    def enough(claims: int) -> bool:
        reached = chance_of_improved(
            claims, exposure_ratio, ratio=ratio, confidence=confidence, exact=exact
        )
        return reached >= goal

    high = 1
    while not enough(high):
        high *= 2
        if high > _MOST:
            return None
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def chance_once_seen(
    claims_before: float,
    expected_after: ArrayLike,
    *,
    ratio: float = 0.5,
    confidence: float = 0.95,
    exact: bool = False,
) -> Floats:
    """Return the chance of an improvement, the failures before being known.

    Parameters
    ----------
    claims_before : float
        Failures before the change, taken as their rate.
    expected_after : array_like, shape (F,)
        Failures expected after the change at the rate of before.
    ratio : float, default 0.5
        True hazard after over that before.
    confidence : float, default 0.95
        Two-sided level of the interval that must lie below 1.
    exact : bool, default False
        Of the conservative interval in place of the mid-p one.

    Returns
    -------
    ndarray, shape (F,)
        From 0 to 1; 0 without a failure before.

    Raises
    ------
    InputError
        If a number is negative or not finite.
    """
    seen = float(counts_of("claims_before", claims_before))
    expected = np.atleast_1d(counts_of("expected_after", expected_after))
    effect = float(counts_of("ratio", ratio))
    tail = (1.0 - confidence_of(confidence)) / 2.0
    chance = np.zeros(expected.shape)
    some = expected > 0
    if seen > 0 and some.any():
        most = _most_after(
            np.full(int(some.sum()), seen), expected[some] / seen, tail, exact
        )
        chance[some] = _at_most(most, expected[some] * effect)
    return chance


def expected_needed(
    claims_before: float,
    chance: float = 0.8,
    *,
    ratio: float = 0.5,
    confidence: float = 0.95,
    exact: bool = False,
) -> float | None:
    """Return the failures that must be expected after a change for a likely verdict.

    Parameters
    ----------
    claims_before : float
        Failures seen before the change.
    chance : float, default 0.8
        Chance with which the change is to be called an improvement.
    ratio, confidence, exact
        As for `chance_once_seen`.

    Returns
    -------
    float or None
        Failures at the rate of before, within 1 %, beyond which the chance stays
        above ``chance``; None where a hundred times those before are not enough,
        because there were too few before.

    Raises
    ------
    InputError
        If a number is negative or not finite, or the chance is not between 0 and 1.
    """
    goal = confidence_of(chance)
    seen = float(counts_of("claims_before", claims_before))
    # counts come in steps, and the chance saws upwards: the last crossing counts
    grid = np.geomspace(0.5, max(_FAR * seen, 1.0), 1000)
    reached = chance_once_seen(
        seen, grid, ratio=ratio, confidence=confidence, exact=exact
    )
    short = np.flatnonzero(reached < goal)
    last = int(short[-1]) if short.size else -1
    return None if last == grid.size - 1 else float(grid[last + 1])


def verdict_month(
    claims_before: ArrayLike,
    expected_after: ArrayLike,
    chance: float = 0.8,
    *,
    ratio: float = 0.5,
    least_expected: float = 6.0,
    confidence: float = 0.95,
    exact: bool = False,
) -> int | None:
    """Return the first future month in which a verdict is likely.

    Parameters
    ----------
    claims_before : array_like, shape (F,)
        Failures before the change up to the age that both sides will have reached in
        each future month: it grows while the units built after grow older.
    expected_after : array_like, shape (F,)
        Failures expected after the change by then at the rate of before.
    chance : float, default 0.8
        Chance with which the change is to be called an improvement by then.
    ratio, confidence, exact
        As for `chance_once_seen`.
    least_expected : float, default 6.0
        Failures expected below which it is too early whatever the chance.

    Returns
    -------
    int or None
        Position of the month, 0 for the first; None where none of them is enough.

    Raises
    ------
    InputError
        If shapes disagree, a number is negative or not finite, or the chance is not
        between 0 and 1.
    """
    goal = confidence_of(chance)
    before = np.atleast_1d(counts_of("claims_before", claims_before))
    after = np.atleast_1d(counts_of("expected_after", expected_after))
    if before.ndim != 1 or before.shape != after.shape:
        raise refuse(
            "claims_before and expected_after must be rows of one length",
            f"shapes {before.shape} and {after.shape}",
        )
    for month, (seen, expected) in enumerate(zip(before, after, strict=True)):
        reached = chance_once_seen(
            seen, expected, ratio=ratio, confidence=confidence, exact=exact
        )
        if expected >= least_expected and reached[0] >= goal:
            return month
    return None


def _numbers(mean: float, part: float, effect: float) -> tuple[float, float, float]:
    """Return mean, exposure ratio and effect as checked floats."""
    found = (
        float(counts_of("expected_before", mean)),
        float(counts_of("exposure_ratio", part)),
        float(counts_of("ratio", effect)),
    )
    if found[1] == 0:
        raise refuse("exposure_ratio must be above 0", part)
    return found


def _most_after(
    before: Floats, part: float | Floats, tail: float, exact: bool
) -> Floats:
    """Return the most failures after that still show an improvement; -1 for none.

    The interval lies below 1 where, given all failures, so few after the change have
    a chance below ``tail`` at equal hazards.
    """
    share = np.broadcast_to(np.asarray(part / (1.0 + np.asarray(part))), before.shape)
    low = np.full(before.shape, -1.0)
    # at equal hazards more than expected never shows an improvement
    high = np.floor(before * part) + 1.0
    while (high - low > 1).any():
        middle = np.where(high - low > 1, np.floor((low + high) / 2.0), low)
        shown = _tail_of(np.maximum(middle, 0.0), before, share, exact) < tail
        moved = high - low > 1
        low = np.where(moved & shown, middle, low)
        high = np.where(moved & ~shown, middle, high)
    return low


def _tail_of(after: Floats, before: Floats, share: Floats, exact: bool) -> Floats:
    """Return the chance of so few failures after among all, as the limits count it."""
    # at most x of n: the incomplete beta function of (n - x, x + 1)
    at_most = np.where(
        before > 0, special.betainc(np.maximum(before, 1e-9), after + 1.0, 1 - share), 1
    )
    if exact:
        return np.asarray(at_most)
    fewer = np.where(
        after > 0,
        special.betainc(before + 1.0, np.maximum(after, 1e-9), 1 - share),
        0.0,
    )
    return np.asarray(0.5 * (at_most + fewer))


def _at_most(count: Floats, mean: float | Floats) -> Floats:
    """Return the chance of at most so many Poisson events; 0 for -1."""
    return np.where(count >= 0, special.pdtr(np.maximum(count, 0.0), mean), 0.0)


def _poisson(count: Floats, mean: float) -> Floats:
    """Return the chance of each count."""
    log = special.xlogy(count, mean) - mean - special.gammaln(count + 1.0)
    return np.asarray(np.exp(log))


def _far_out(mean: float) -> int:
    """Return a count that is never passed."""
    return int(mean + 10.0 * np.sqrt(mean) + 20.0)
