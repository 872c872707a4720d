"""Counts drawn from a fitted Weibull life, for the bootstrap tests.

The cells are passed in order of age. What differs from the real counts is only
who fails: with ``n`` units that passed a cell, ``d`` that failed there and ``W``
that would have been watched through it had nobody failed, the units at risk in a
drawn fleet are ``n + d + c``, where the carry ``c`` begins at 0 and becomes
``(c + d - d*) * min(1, W' / W)`` for the next cell, W' units wide: units that
failed in the real fleet and not in the drawn one stay, and leave as all others
do. So late entries, weights and unequal ends of watching need no model.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import ages_of, counts_of, refuse
from claimlens.stats.weibull.cells import Cells, Prepared, prepare
from claimlens.stats.weibull.coarse import merge_cells

__all__ = ["Table", "table_of"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One segment's counts in cells that follow each other; arrays (A,).

    Parameters
    ----------
    lower, upper : ndarray
        Ends of the cells.
    failures : ndarray
        Units that failed in each cell.
    exposed : ndarray
        Weighted units that passed it without failing.
    watched : ndarray
        Weighted units that would be watched through it had nobody failed.
    """

    lower: Floats
    upper: Floats
    failures: Floats
    exposed: Floats
    watched: Floats

    @property
    def at_risk(self) -> Floats:
        """Return the weighted units at risk in each cell."""
        return self.exposed + self.failures

    def prepared(self, failures: Floats, exposed: Floats) -> Prepared:
        """Return checked counts on these cells, of one segment or several."""
        return prepare(
            self.upper, failures, None, lower=self.lower, entry=None, exposed=exposed
        )

    def chances(self, k: Floats, m: Floats, unit: float) -> Floats:
        """Return the chance to fail in each cell for units at risk, (B, A)."""
        with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
            top, low = (
                np.exp(m[:, None] + k[:, None] * np.log(ends / unit))
                for ends in (self.upper, self.lower)
            )
            return np.asarray(-np.expm1(low - top))

    def draw(
        self, rng: np.random.Generator, chance: Floats, draws: int
    ) -> tuple[Floats, Floats]:
        """Draw fleets in which units at risk fail by chance.

        Parameters
        ----------
        rng : Generator
            Source of chance.
        chance : ndarray, shape (A,)
            Chance to fail in each cell.
        draws : int
            Fleets B.

        Returns
        -------
        failures, exposed : ndarray, shape (B, A)
            Counts of each fleet.
        """
        failed, passed = np.zeros((2, draws, self.upper.size))
        carry = np.zeros(draws)
        stay = self._staying()
        for cell, (risk, real) in enumerate(
            zip(self.at_risk, self.failures, strict=True)
        ):
            units = np.maximum(risk + carry, 0.0)
            whole = np.floor(units)
            drawn = rng.binomial(whole.astype(np.int64), chance[cell]).astype(float)
            # what is left of a unit fails as often as its weight says
            drawn += rng.poisson((units - whole) * chance[cell])
            failed[:, cell] = drawn
            passed[:, cell] = np.maximum(units - drawn, 0.0)
            carry = (carry + real - drawn) * stay[cell]
        return failed, passed

    def _staying(self) -> Floats:
        """Return the share of units of each cell that the next one still sees."""
        following = np.append(self.watched[1:], 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(self.watched > 0, following / self.watched, 0.0)
        return np.minimum(share, 1.0)


def table_of(
    ages: ArrayLike,
    failures: ArrayLike,
    exposed: ArrayLike,
    watched: ArrayLike,
    *,
    lower: ArrayLike,
    width: float | None,
) -> tuple[Table, Cells, Floats]:
    """Check one segment's counts and merge cells that are needlessly narrow.

    Parameters
    ----------
    ages, failures, exposed, watched : array_like, shape (A,)
        As in `fit_test`.
    lower : array_like, shape (A,)
        Lower ends of the cells.
    width : float or None
        Cells are merged up to 2 per cent of their age, and not across multiples
        of the width; None leaves them as they are.

    Returns
    -------
    table : Table
        The counts by merged cell.
    cells : Cells
        The same for the likelihood.
    edges : ndarray, shape (C + 1,)
        Ends of the merged cells at which a new width begins.

    Raises
    ------
    InputError
        If a rule of `fit` is broken, a cell overlaps another, more units passed a
        cell than are watched there, or the width is not above 0.
    """
    if np.ndim(failures) != 1:
        raise refuse("failures must be one row", f"shape {np.shape(failures)}")
    seen = counts_of("watched", watched)
    if seen.shape != np.shape(failures):
        raise refuse(
            f"watched must have shape {np.shape(failures)}, as ages do",
            f"shape {seen.shape}",
        )
    # refuses what no likelihood can be made of
    prepare(ages, failures, None, lower=lower, entry=None, exposed=exposed)
    age, failed, passed = ages_of(ages, failures, exposed)
    if (passed > seen * (1.0 + 1e-9) + 1e-9).any():
        raise refuse(
            "exposed must not be above watched, who would be seen had nobody failed",
            f"{passed.max():g} exposed, {seen.max():g} watched",
        )
    if width is None:
        order = np.argsort(age, kind="stable")
        floor = counts_of("lower", lower)
        order = order[floor[order] < age[order]]
        # refuses cells that overlap
        merge_cells(age[order], floor[order])
        table = Table(
            lower=floor[order],
            upper=age[order],
            failures=failed[order],
            exposed=passed[order],
            watched=seen[order],
        )
        edges = np.append(table.lower[:1], table.upper)
    else:
        merging = merge_cells(age, lower, width=width)
        table = Table(
            lower=merging.lower,
            upper=merging.upper,
            failures=merging.added(failed),
            exposed=merging.exposed(passed, failed),
            watched=merging.mean(seen),
        )
        begins = np.flatnonzero(np.diff(merging.stretch, prepend=-1))
        edges = np.append(table.lower[begins], table.upper[-1])
    return table, table.prepared(table.failures, table.exposed).cells, edges
