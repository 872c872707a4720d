"""Lag distributions that the cut-off truncates on the right."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.errors import InputError
from claimlens.stats.checks import confidence_of, counts_of, refuse

__all__ = ["LagTable", "lag_table", "share_within", "truncated_lag"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LagTable:
    """Share of claims reported within so many periods of the failure.

    Parameters
    ----------
    reported : ndarray, shape (K + 1,)
        Claims seen with each lag j.
    at_risk : ndarray, shape (K + 1,)
        Claims seen with a lag of at most j, of the rows that could show j.
    hazard : ndarray, shape (K + 1,)
        q_j: share of ``at_risk`` with lag j exactly; 0 where nothing is at risk.
    share : ndarray, shape (K + 1,)
        G(j): share reported within j, of those reported within K; the last is 1.
    log_variance : ndarray, shape (K + 1,)
        Variance of ln G(j); infinite where G(j) is 0.
    note : str
        What is to be said of the table; else empty.
    """

    reported: Floats
    at_risk: Floats
    hazard: Floats
    share: Floats
    log_variance: Floats
    note: str

    def limits(self, confidence: float = 0.95) -> tuple[Floats, Floats]:
        """Return limits of ``share``.

        Parameters
        ----------
        confidence : float, default 0.95
            Two-sided level, strictly between 0 and 1.

        Returns
        -------
        lower : ndarray, shape (K + 1,)
            Normal on the scale of ln(-ln G), so within 0 to 1. Where no claim
            came later, the share at which the claims at risk would all have come
            by then with the chance that the level leaves to one side. The last is
            1: the table is conditional on it.
        upper : ndarray, shape (K + 1,)
            Likewise; 1 where no claim came later.
        """
        level = confidence_of(confidence)
        z = float(special.ndtri(0.5 + level / 2.0))
        with np.errstate(divide="ignore", invalid="ignore"):
            log_share = np.log(self.share)
            factor = np.exp(z * np.sqrt(self.log_variance) / -log_share)
            lower, upper = self.share**factor, self.share ** (1.0 / factor)
        whole, none = self.share >= 1.0, self.share <= 0.0
        next_at_risk = np.append(self.at_risk[1:], np.inf)
        alone = ((1.0 - level) / 2.0) ** (1.0 / np.maximum(next_at_risk, 1.0))
        return (
            np.where(whole, alone, np.where(none, 0.0, lower)),
            np.where(whole, 1.0, np.where(none, 1.0, upper)),
        )


def lag_table(counts: ArrayLike, horizons: ArrayLike) -> LagTable:
    """Estimate the lag distribution from a triangle that the cut-off truncates.

    The same arithmetic as `claimlens.stats.run_off.chain_ladder`, read backwards:
    the factor from j - 1 to j is 1 / (1 - q_j).

    Parameters
    ----------
    counts : array_like, shape (M, K + 1)
        Claims that failed in period i and were reported j periods later; 0 beyond
        the row's horizon.
    horizons : array_like of int, shape (M,)
        Longest lag that each row could have shown, at least 0; values above K
        count as K.

    Returns
    -------
    LagTable
        Conditional on a lag of at most K. A lag that no row tells, because none
        of those that could show it has a claim, is taken as not occurring, with
        a note.

    Raises
    ------
    InputError
        If shapes disagree, a count is negative or not finite, or a row has claims
        beyond its horizon.

    References
    ----------
    .. [1] Lagakos, Barraj, De Gruttola (1988), Biometrika 75, 515-523.
    .. [2] Kalbfleisch, Lawless (1991), Statistica Sinica 1, 19-32.
    """
    table = counts_of("counts", counts)
    horizon = counts_of("horizons", horizons)
    if table.ndim != 2 or table.shape[1] == 0 or horizon.shape != table.shape[:1]:
        raise refuse(
            "counts must have shape (M, K + 1) and horizons shape (M,)",
            f"shapes {table.shape} and {horizon.shape}",
        )
    lags = np.arange(table.shape[1])
    seen = lags <= horizon[:, None]
    if table[~seen].any():
        bad = np.flatnonzero((table * ~seen).any(axis=1))[0]
        raise refuse(
            "no claim can have a lag beyond its row's horizon",
            f"row {bad} with horizon {horizon[bad]:g}",
        )
    reported = table.sum(axis=0)
    at_risk = np.where(seen, np.cumsum(table, axis=1), 0.0).sum(axis=0)
    hazard = np.divide(
        reported, at_risk, out=np.zeros_like(reported), where=at_risk > 0
    )
    later = 1.0 - hazard[1:]
    share = np.append(np.cumprod(later[::-1])[::-1], 1.0)
    # binomial variance of each q_l, by the delta method: q / (D (1 - q))
    with np.errstate(divide="ignore", invalid="ignore"):
        term = np.where(hazard > 0, hazard / (at_risk * (1.0 - hazard)), 0.0)[1:]
    log_variance = np.append(np.cumsum(term[::-1])[::-1], 0.0)
    untold = np.flatnonzero(at_risk[1:] == 0) + 1
    return LagTable(
        reported=reported,
        at_risk=at_risk,
        hazard=hazard,
        share=share,
        log_variance=log_variance,
        note=(
            f"no claim tells how many come at lag {', '.join(map(str, untold))}: "
            "taken as none"
            if untold.size
            else ""
        ),
    )


def truncated_lag(
    lags: ArrayLike, horizons: ArrayLike, counts: ArrayLike
) -> tuple[NDArray[np.int64], Floats]:
    """Estimate a lag distribution from pairs seen only if the lag has ended.

    A unit shipped ``horizon`` days before the cut-off is seen sold only if its
    lag is at most ``horizon``; so short lags are over-represented among the seen.
    The reverse-time product limit undoes that.

    Parameters
    ----------
    lags : array_like of int, shape (n,)
        Days, at least 0 and at most the row's horizon.
    horizons : array_like of int, shape (n,)
        Longest lag that the row could have shown, days.
    counts : array_like of float, shape (n,)
        Units of each row.

    Returns
    -------
    support : ndarray of int, shape (m,)
        The distinct lags, rising; empty for no rows.
    probability : ndarray of float, shape (m,)
        Chance of each, conditional on a lag of at most the longest seen; adds
        up to 1.

    Raises
    ------
    InputError
        If shapes differ, a lag is negative or beyond its horizon, or a count is
        negative.

    References
    ----------
    .. [1] Lagakos, Barraj, De Gruttola (1988), Biometrika 75, 515-523.
    .. [2] Kalbfleisch, Lawless (1989), J. Am. Stat. Assoc. 84, 360-372.
    """
    lag = np.asarray(lags, dtype=np.int64)
    horizon = np.asarray(horizons, dtype=np.int64)
    count = np.asarray(counts, dtype=np.float64)
    if not lag.shape == horizon.shape == count.shape or lag.ndim != 1:
        raise InputError("lags, horizons and counts must be arrays of one length.")
    if lag.size and (lag.min() < 0 or np.any(lag > horizon) or count.min() < 0):
        raise InputError(
            "lags must lie between 0 and their horizon, and counts must not be "
            "negative."
        )
    if not lag.size:
        return lag, count
    longest = int(lag.max())
    ended = np.bincount(lag, weights=count, minlength=longest + 1)
    # at risk in reverse time at l: lag <= l <= horizon
    starts = np.cumsum(ended)
    left = np.bincount(
        np.minimum(horizon, longest), weights=count, minlength=longest + 1
    )
    at_risk = starts - np.concatenate(([0.0], np.cumsum(left)[:-1]))
    hazard = np.divide(ended, at_risk, out=np.zeros_like(ended), where=at_risk > 0)
    # G(l) = prod over j > l of (1 - q_j)
    survivors = np.concatenate((np.cumprod((1.0 - hazard)[:0:-1])[::-1], [1.0]))
    probability = survivors * hazard
    probability[0] = survivors[0]
    support = np.flatnonzero(probability > 0)
    return support, probability[support] / probability.sum()


def share_within(
    lags: ArrayLike, horizons: ArrayLike, counts: ArrayLike, longest: int
) -> Floats:
    """Estimate the share of lags that have ended within 0, 1, ... ``longest`` days.

    Parameters
    ----------
    lags, horizons, counts : array_like, shape (n,)
        As for `truncated_lag`; no lag above ``longest``.
    longest : int
        A lag is taken to be this long at most.

    Returns
    -------
    ndarray, shape (longest + 1,)
        Rising to 1.

    Raises
    ------
    InputError
        As `truncated_lag`.
    """
    support, chance = truncated_lag(lags, np.minimum(horizons, longest), counts)
    by_day = np.zeros(longest + 1)
    by_day[support] = chance
    share = np.minimum(np.cumsum(by_day), 1.0)
    share[-1] = 1.0
    return share
