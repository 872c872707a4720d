"""Shares of causes among claims that share a symptom, and whether they tell anything.

The causes of n claims are counted; what is known of all claims of the same kind goes
in as a prior worth ``weight`` claims. The posterior of the shares is Dirichlet, that of
one share Beta, and the chance that one share lies above another has a closed form [1]_.

References
----------
.. [1] Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., chapters 3 and 5. If
   the shares are Dirichlet(a), p1 / (p1 + p2) is Beta(a1, a2).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of, counts_of, refuse

__all__ = ["CauseShares", "cause_shares"]

Floats = NDArray[np.float64]

# fewer claims than this tell nothing
_FEWEST = 8
# how sure the first must be ahead of the second
_AHEAD = 0.8
_LEADER_LEVEL = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseShares:
    """Shares of K causes among n claims.

    Parameters
    ----------
    share, lower, upper : ndarray, shape (K,)
        Posterior mean and central limits, 0 to 1.
    leader : int or None
        The cause that the symptom tells of; None where it does not tell.
    note : str
        Why it does not; else empty.
    """

    share: Floats
    lower: Floats
    upper: Floats
    leader: int | None
    note: str


def cause_shares(
    counts: ArrayLike,
    base: ArrayLike,
    *,
    usual: ArrayLike | None = None,
    weight: float = 10.0,
    confidence: float = 0.95,
) -> CauseShares:
    """Estimate the shares of causes among claims with one symptom.

    Parameters
    ----------
    counts : array_like, shape (K,)
        Claims by cause; each established by other evidence than the symptom.
    base : array_like, shape (K,)
        Shares of the causes one level up (all ages, all models), adding up to 1 or
        less.
    usual : array_like, shape (K,), optional
        Shares among all claims, whatever their symptom: what the leader must lie
        above. ``base`` where it is not given.
    weight : float, default 10
        Claims that the base shares are worth.
    confidence : float, default 0.95
        Two-sided, strictly between 0 and 1.

    Returns
    -------
    CauseShares
        Without a leader where there are fewer than 8 claims, where the one ahead is
        not shown to be more frequent than among all claims, or where the second may
        well be ahead.

    Raises
    ------
    InputError
        If shapes disagree, a count is negative, or the base adds up to more than 1.
    """
    level = confidence_of(confidence)
    found, prior = counts_of("counts", counts), counts_of("base", base)
    if found.ndim != 1 or found.shape != prior.shape:
        raise refuse(
            "counts and base must be of one shape (K,)",
            f"shapes {found.shape} and {prior.shape}",
        )
    if prior.sum() > 1.0 + 1e-9:
        raise refuse("base shares must not add up to more than 1", prior.sum())
    if not weight > 0.0:
        raise refuse("weight must lie above 0", weight)
    common = prior if usual is None else counts_of("usual", usual)
    if common.shape != found.shape:
        raise refuse("usual must have the shape of counts", common.shape)
    n = float(found.sum())
    own = found + weight * prior
    rest = n + weight - own
    share = own / (n + weight)
    lower, upper = _limits(own, rest, level)
    leader, note = _leader(own, common, n, _limits(own, rest, _LEADER_LEVEL)[0])
    return CauseShares(share=share, lower=lower, upper=upper, leader=leader, note=note)


def _limits(own: Floats, rest: Floats, level: float) -> tuple[Floats, Floats]:
    """Return central Beta limits; exact ends where one side has no weight."""
    tail = (1.0 - level) / 2.0
    some, open_ended = own > 0.0, rest > 0.0
    a, b = np.where(some, own, 1.0), np.where(open_ended, rest, 1.0)
    lower = np.where(open_ended, special.betaincinv(a, b, tail), 1.0)
    upper = np.where(open_ended, special.betaincinv(a, b, 1.0 - tail), 1.0)
    return np.where(some, lower, 0.0), np.where(some, upper, 0.0)


def _leader(
    own: Floats, usual: Floats, n: float, lower: Floats
) -> tuple[int | None, str]:
    """Return the cause that the symptom tells of, or why there is none."""
    if n < _FEWEST:
        return None, f"too few to say: {n:.0f} claims, {_FEWEST} needed"
    ranked = np.lexsort((np.arange(own.size), -own))
    first = int(ranked[0])
    if lower[first] <= usual[first]:
        return None, (
            "these words do not tell: the most frequent cause is no more frequent "
            "than among all claims"
        )
    if own.size > 1:
        second = int(ranked[1])
        behind = float(special.betainc(own[first], max(own[second], 1e-9), 0.5))
        if 1.0 - behind < _AHEAD:
            return None, "these words do not tell: two causes are about as frequent"
    return first, ""
