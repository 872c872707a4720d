"""Run-off triangles: how a month's total grows until all of it is reported."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import refuse

__all__ = ["RunOff", "chain_ladder", "totals_of"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOff:
    """A triangle run off to its end.

    Parameters
    ----------
    factors : ndarray, shape (J - 1,)
        Volume-weighted growth from each development to the next.
    sigma : ndarray, shape (J - 1,)
        Root of Mack's variance parameter; NaN where no two rows tell it.
    share : ndarray, shape (J,)
        Share of the final total that each development shows; above 1 only where
        money came back later, 0 where nothing is seen so early.
    latest : ndarray, shape (I,)
        Last seen total of each row.
    final : ndarray, shape (I,)
        Expected total at the last development.
    to_come : ndarray, shape (I,)
        ``final`` less ``latest``.
    standard_error : ndarray, shape (I,)
        Of ``to_come``, process and estimation together (Mack); NaN where a step
        that the row still has to take has no ``sigma``.
    total_to_come, total_standard_error : float
        Of all rows; the rows share the factors, so their errors do not add as
        if independent.
    note : str
        What is to be said of the figures; else empty.
    """

    factors: Floats
    sigma: Floats
    share: Floats
    latest: Floats
    final: Floats
    to_come: Floats
    standard_error: Floats
    total_to_come: float
    total_standard_error: float
    note: str


def totals_of(increments: ArrayLike) -> Floats:
    """Return the cumulative triangle of what came new with each development.

    Parameters
    ----------
    increments : array_like, shape (I, J)
        Counts or money that came new; NaN where not seen yet. A negative one is
        money that came back.

    Returns
    -------
    ndarray, shape (I, J)
        Totals for `chain_ladder`.

    Raises
    ------
    InputError
        As `chain_ladder`.
    """
    new = _table("increments", increments)
    return _checked(np.where(np.isnan(new), np.nan, np.nancumsum(new, axis=1)))


def chain_ladder(cumulative: ArrayLike) -> RunOff:
    """Run a cumulative triangle off with volume-weighted factors.

    For counts it is the same arithmetic as the reverse-time product limit of
    `claimlens.stats.lag.lag_table`: q_j = 1 - 1 / f_j.

    Parameters
    ----------
    cumulative : array_like, shape (I, J)
        Totals of each origin (row) seen by each development (column), counts or
        money, at least 0; NaN where not seen yet. The seen part of a row starts
        at the first column and has no gap.

    Returns
    -------
    RunOff
        A development that no row grows from has factor 1, with a note; where
        all that follows is new, no factor can tell how much, and rows that have
        yet to get there have no standard error. The last sigma follows Mack's
        rule: min(s2**2/s1, min(s1, s2)) of the two before it, squared.

    Raises
    ------
    InputError
        If the triangle is not two-dimensional, a row is empty or has a gap, or
        a total is negative or infinite.

    References
    ----------
    .. [1] Mack (1993), ASTIN Bulletin 23, 213-225.
    .. [2] Mack (1994), Measuring the variability of chain ladder reserve
       estimates, Casualty Actuarial Society Forum.
    """
    total = _checked(_table("cumulative", cumulative))
    seen = ~np.isnan(total)
    known = np.where(seen, total, 0.0)
    both = seen[:, 1:]
    volume = np.where(both, known[:, :-1], 0.0).sum(axis=0)
    grown = np.where(both, known[:, 1:], 0.0).sum(axis=0)
    factors = np.divide(grown, volume, out=np.ones_like(grown), where=volume > 0)
    sigma_squared = _sigma_squared(known, both, factors)
    last = seen.sum(axis=1) - 1
    latest = known[np.arange(len(known)), last]
    filled = known.copy()
    for j in range(1, filled.shape[1]):
        filled[:, j] = np.where(
            seen[:, j], known[:, j], filled[:, j - 1] * factors[j - 1]
        )
    final = filled[:, -1]
    from_nothing = (volume <= 0) & (grown > 0)
    error, total_error = _mack(filled, seen, factors, sigma_squared)
    return RunOff(
        factors=factors,
        sigma=np.sqrt(sigma_squared),
        share=_share(np.where(from_nothing, np.inf, factors)),
        latest=latest,
        final=final,
        to_come=final - latest,
        standard_error=error,
        total_to_come=float((final - latest).sum()),
        total_standard_error=total_error,
        note=_note(volume, from_nothing, sigma_squared),
    )


def _table(name: str, values: ArrayLike) -> Floats:
    try:
        table = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise refuse(f"{name} must be a table of numbers", repr(values)[:80]) from None
    if table.ndim != 2 or table.size == 0:
        raise refuse(f"{name} must have shape (I, J)", f"shape {table.shape}")
    return table


def _checked(total: Floats) -> Floats:
    seen = ~np.isnan(total)
    if not seen[:, 0].all() or (seen[:, 1:] & ~seen[:, :-1]).any():
        bad = ~seen[:, 0] | (seen[:, 1:] & ~seen[:, :-1]).any(axis=1)
        raise refuse(
            "the seen part of a row must start at the first column without a gap",
            f"row {int(np.flatnonzero(bad)[0])}",
            "write NaN only for what is not seen yet",
        )
    if not np.isfinite(total[seen]).all() or (total[seen] < 0).any():
        raise refuse("totals must be finite and not negative", total[seen].min())
    return total


def _share(factors: Floats) -> Floats:
    """Return the share that each development shows; factors may be infinite."""
    # after a factor of 0 all came back again: no share of nothing
    with np.errstate(divide="ignore", invalid="ignore"):
        to_finish = np.append(np.cumprod(factors[::-1])[::-1], 1.0)
        return np.where(to_finish > 0, 1.0 / to_finish, np.nan)


def _sigma_squared(known: Floats, both: NDArray[np.bool_], factors: Floats) -> Floats:
    """Return Mack's variance parameter of each development."""
    start, end = known[:, :-1], known[:, 1:]
    use = both & (start > 0)
    squares = np.divide(
        (end - start * factors) ** 2, start, out=np.zeros_like(start), where=use
    ).sum(axis=0)
    n = use.sum(axis=0)
    result = np.divide(squares, n - 1, out=np.full(n.size, np.nan), where=n > 1)
    if n.size and n[-1] <= 1:
        before = result[:-1][~np.isnan(result[:-1])][-2:]
        if before.size == 2:
            # 0/0 where the growth before was exact: then it stays exact
            ratio = before[1] ** 2 / before[0] if before[0] > 0 else 0.0
            result[-1] = min(ratio, before.min())
        elif before.size == 1:
            result[-1] = before[0]
    return np.asarray(result)


def _mack(
    filled: Floats, seen: NDArray[np.bool_], factors: Floats, sigma_squared: Floats
) -> tuple[Floats, float]:
    """Return the standard error of each row's amount to come, and of their sum."""
    n_rows = len(filled)
    relative = np.divide(
        sigma_squared,
        factors**2,
        out=np.zeros_like(factors),
        where=factors > 0,
    )
    volume = np.where(seen[:, 1:], filled[:, :-1], 0.0).sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        # a step that nothing grows through adds no error
        by_row = np.where(filled[:, :-1] > 0, relative / filled[:, :-1], 0.0)
        shared = np.where(volume > 0, relative / volume, 0.0)
    open_step = ~seen[:, 1:]
    unknown = np.isnan(sigma_squared)
    by_row[:, unknown] = shared[unknown] = np.nan
    final = filled[:, -1]
    row_variance = final**2 * np.where(open_step, by_row + shared, 0.0).sum(axis=1)
    estimation = np.where(open_step, shared, 0.0)
    total = 0.0
    for i in range(n_rows):
        total += row_variance[i]
        for k in range(i + 1, n_rows):
            # steps that both rows still have to take
            common = np.minimum(estimation[i], estimation[k]).sum()
            total += 2.0 * final[i] * final[k] * common
    return np.sqrt(row_variance), float(np.sqrt(total))


def _note(
    volume: Floats, from_nothing: NDArray[np.bool_], sigma_squared: Floats
) -> str:
    parts = []
    if ((volume <= 0) & ~from_nothing).any():
        parts.append("no row grows through some development: taken as not growing")
    if from_nothing.any():
        parts.append("nothing is seen before some development: what came then is new")
    if np.isnan(sigma_squared).any():
        parts.append("too few rows for a standard error")
    return "; ".join(parts)
