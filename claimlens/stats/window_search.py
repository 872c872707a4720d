"""The window of largest excess: its p-value, its limits in time, its ratio.

Private to the room: the functions assume checked counts and rules.

References
----------
.. [1] Kulldorff (1997), Commun. Stat. Theory Methods 26, 1481-1496.
.. [2] Dwass (1957), Ann. Math. Stat. 28, 181-187 (p-value from draws).
.. [3] Cox (1972), J. R. Stat. Soc. B 34, 187-220 (ratio given the failures of an age).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.conditional_ratio import ratio_limits
from claimlens.stats.intervals import poisson_exact
from claimlens.stats.production_counts import ProductionCounts
from claimlens.stats.window_draws import (
    WindowTable,
    draw_failures,
    largest_excess,
    table,
)

__all__ = ["ScanRules", "Search", "Window", "find_window"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_TIE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanRules:
    """How windows are looked for.

    Parameters
    ----------
    max_length : int, default 6
        Production months (or weeks) of the longest window; 1 for single lots.
    max_share : float, default 1.0
        Largest part of the expected failures that a window may hold.
    least_failures : int, default 5
        Fewer tell nothing.
    draws, more_draws : int, default 999 and 9999
        Draws behind the p-value; the second where it comes out below 0.01.
    plausible : float, default 5.0
        Windows whose log-likelihood ratio is this close to the best are plausible.
    level : float, default 0.05
        p-value up to which a further window is looked for.
    further : int, default 3
        Further windows at most.
    alpha : float, default 4.0
        Shape of the gamma prior of the shrunk ratio.
    confidence : float, default 0.95
        Two-sided level of the limits of the ratio.
    """

    max_length: int = 6
    max_share: float = 1.0
    least_failures: int = 5
    draws: int = 999
    more_draws: int = 9999
    plausible: float = 5.0
    level: float = 0.05
    further: int = 3
    alpha: float = 4.0
    confidence: float = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A window; months are positions in the given row, ``stop`` is not inside.

    Parameters
    ----------
    start, stop : int
        The window to name: of all plausible ones, that which overlaps most with the
        true window, on average over where that may lie.
    best_start, best_stop : int
        The window of largest excess, which the p-value belongs to.
    excess : float
        Log-likelihood ratio of the best window, divided by ``phi`` of the scan.
    p_value, p_error : float
        Chance of such an excess anywhere if all months are alike, and its Monte Carlo
        standard error.
    draws : int
        Draws behind the p-value.
    observed, expected : float
        Failures of units of the named window, and those expected at the hazard pooled
        over all production, the window included.
    ratio, lower, upper : float
        Hazard in the window over that of the rest at equal ages, with mid-p limits;
        inf where the rest has no failure. Being searched for, it comes out too high.
    expected_of_rest : float
        ``observed / ratio``: failures expected at the hazard of the rest.
    shrunk : float
        ``(alpha + observed) / (alpha + expected_of_rest)``: to rank and to speak by.
    pooled_ratio, pooled_lower, pooled_upper : float
        ``observed / expected`` with exact limits (Garwood).
    pooled_shrunk : float
        ``(alpha + observed) / (alpha + expected)``: factor of the pooled hazard for
        failures still to come from the window.
    plausible : tuple of (int, int)
        Start and stop of all windows that are nearly as likely, in order.
    union : tuple of int
        From the first to the last month of any of them.
    core : tuple of int or None
        Months that all of them hold; None where there is none.
    """

    start: int
    stop: int
    best_start: int
    best_stop: int
    excess: float
    p_value: float
    p_error: float
    draws: int
    observed: float
    expected: float
    ratio: float
    lower: float
    upper: float
    expected_of_rest: float
    shrunk: float
    pooled_ratio: float
    pooled_lower: float
    pooled_upper: float
    pooled_shrunk: float
    plausible: tuple[tuple[int, int], ...]
    union: tuple[int, int]
    core: tuple[int, int] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """Months among which a window is looked for.

    Parameters
    ----------
    counts : ProductionCounts
        The months, all with units.
    run : ndarray of int, shape (B,)
        Number of the unbroken stretch that each belongs to.
    month : ndarray of int, shape (B,)
        Where each stands in the caller's row.
    phi : float
        Batch noise to allow for; 1 for none.
    rules : ScanRules
        How to look.
    """

    counts: ProductionCounts
    run: Indices
    month: Indices
    phi: float
    rules: ScanRules

    def where(self, first: int, last: int) -> tuple[int, int]:
        """Return start and stop of a window in the caller's row."""
        return int(self.month[first]), int(self.month[last - 1]) + 1


def find_window(search: Search, rng: np.random.Generator) -> Window | None:
    """Find the window of largest excess; None where no month has one.

    Parameters
    ----------
    search : Search
        Where to look, and how.
    rng : Generator
        Source of chance behind the p-value.
    """
    rules, phi = search.rules, search.phi
    windows = table(
        search.counts,
        search.run,
        max_length=rules.max_length,
        max_share=rules.max_share,
    )
    if not windows.excess.any():
        return None
    best = int(np.argmax(windows.excess))
    p_value, draws = _p_value(search, float(windows.excess[best]), rng)
    excess = windows.excess / phi
    near = (excess >= excess[best] - rules.plausible) & (excess > 0)
    plausible = np.flatnonzero(near)
    named = _nearest_to_all(windows, plausible, excess)
    inside = slice(int(windows.start[named]), int(windows.stop[named]))
    starts, stops = windows.start[plausible], windows.stop[plausible]
    core = (int(starts.max()), int(stops.min()))
    start, stop = search.where(inside.start, inside.stop)
    best_start, best_stop = search.where(
        int(windows.start[best]), int(windows.stop[best])
    )
    return Window(
        start=start,
        stop=stop,
        best_start=best_start,
        best_stop=best_stop,
        excess=float(excess[best]),
        p_value=p_value,
        p_error=float(np.sqrt(p_value * (1.0 - p_value) / draws)),
        draws=draws,
        **_ratios(search, inside),
        plausible=tuple(
            sorted(
                search.where(int(a), int(b)) for a, b in zip(starts, stops, strict=True)
            )
        ),
        union=search.where(int(starts.min()), int(stops.max())),
        core=search.where(*core) if core[0] < core[1] else None,
    )


def _p_value(
    search: Search, best: float, rng: np.random.Generator
) -> tuple[float, int]:
    """Return the chance of so large an excess anywhere, and the draws behind it."""
    counts, rules = search.counts, search.rules
    scale = np.rint(counts.observed.sum()) / counts.observed.sum()
    expected = counts.expected * scale
    reached = draws = 0
    # the first draws stay part of the many
    for goal in (rules.draws, rules.more_draws):
        for block in draw_failures(counts, search.phi, max(goal - draws, 0), rng):
            largest = largest_excess(
                block,
                expected,
                search.run,
                max_length=rules.max_length,
                max_share=rules.max_share,
            )
            # as large counts as reached, or ties make p too small
            reached += int((largest >= best - _TIE * max(best, 1.0)).sum())
            draws += block.shape[0]
        p_value = (1 + reached) / (draws + 1)
        if p_value >= 0.01:
            break
    return p_value, draws


def _nearest_to_all(windows: WindowTable, plausible: Indices, excess: Floats) -> int:
    """Return the plausible window that overlaps most with the true one on average.

    The overlap is months in common over months in either. Every window is as likely
    beforehand, so that afterwards its weight is its likelihood.
    """
    start, stop = windows.start[plausible], windows.stop[plausible]
    weight = np.exp(excess[plausible] - excess[plausible].max())
    length = stop - start
    common = np.minimum(stop[:, None], stop) - np.maximum(start[:, None], start)
    common = np.maximum(common, 0)
    overlap = common / (length[:, None] + length - common)
    return int(plausible[int(np.argmax(overlap @ weight))])


def _ratios(search: Search, inside: slice) -> dict[str, float]:
    """Return failures, expectations and ratios of a window."""
    counts, rules, phi = search.counts, search.rules, search.phi
    observed = float(counts.observed[inside].sum())
    expected = float(counts.expected[inside].sum())
    part = counts.share[:, inside].sum(axis=1)
    both = (part > 0) & (part < 1.0 - _TIE)
    stake = np.where(both, counts.at_stake, 0.0) / phi
    odds = np.divide(part, 1.0 - part, out=np.ones(part.shape), where=both)
    mine = float(counts.failures[both, inside].sum())
    rest = float(stake.sum()) * phi - mine
    tail = (1.0 - rules.confidence) / 2.0
    limits = ratio_limits(
        stake[None],
        odds[None],
        np.array([mine / phi]),
        np.array([max(rest, 0.0) / phi]),
        tail,
    )
    ratio = float(limits.ratio[0])
    of_rest = observed / ratio if ratio > 0 and np.isfinite(ratio) else 0.0
    low, high = poisson_exact(observed / phi, expected / phi, rules.confidence)
    alpha = rules.alpha
    return {
        "observed": observed,
        "expected": expected,
        "ratio": ratio,
        "lower": float(limits.lower[0]),
        "upper": float(limits.upper[0]),
        "expected_of_rest": of_rest,
        "shrunk": (alpha + observed) / (alpha + of_rest),
        "pooled_ratio": observed / expected,
        "pooled_lower": float(low),
        "pooled_upper": float(high),
        "pooled_shrunk": (alpha + observed) / (alpha + expected),
    }
