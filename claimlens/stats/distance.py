"""Weibull life against distance, where distances are known at failures only.

Of a unit that did not fail nobody read a distance; the usage rates of its kind say how
likely it passed each stretch of distance while it was watched. Where failures come by
distance, the units that failed are the far riders among their kind: with shape k, a
unit's chance to be among them grows with its rate to the power k. So the rates of all
units are those read at failures, tilted back by k [1]_, and k is the shape that the fit
with these rates finds itself.

References
----------
.. [1] Lawless, Hu, Cao (1995), Lifetime Data Anal. 1, 227-240, who take the rates of
   units that did not fail from a follow-up; the tilt in place of one is ours.
.. [2] Shao, Tu (1995), The Jackknife and Bootstrap, section 5.4 (leaving out groups).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from claimlens.stats.checks import confidence_of, counts_of, finite_of, refuse
from claimlens.stats.usage import UsageRates, fit_usage
from claimlens.stats.weibull import fit

__all__ = ["GROUPS", "DistanceLife", "Failed", "Kind", "fit_by_distance"]

Floats = NDArray[np.float64]
Groups = NDArray[np.intp]

GROUPS = 20
"""Groups of failed units that the limits leave out in turn."""

# tilts looked at: up to the largest in steps, then finer between two of them
_STEP, _MOST = 0.25, 6.0
_ROUNDS, _POINTS = 2, 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """Units of one segment that go alike.

    Parameters
    ----------
    watched : ndarray, shape (A,)
        Units watched in each step of age.
    step : float
        Days in a step.
    limit : float
        Distance at which their cover ends; infinite for none.
    rates : UsageRates or None
        Known rates of all units; None to take them from the readings.
    distances, ages, limits : ndarray, shape (n,)
        Readings at failures: distance, days, limit of the cover then.
    groups : ndarray of int, shape (n,)
        Group of failed units that each reading belongs to; -1 for a reading of
        another segment's failure.
    """

    watched: Floats
    step: float
    limit: float
    rates: UsageRates | None
    distances: Floats
    ages: Floats
    limits: Floats
    groups: Groups

    def rates_without(self, group: int, fewest: int) -> UsageRates | None:
        """Return the rates at failures, without one group; None for no estimate."""
        if self.rates is not None:
            return self.rates
        kept = self.groups != group if group >= 0 else np.ones(self.ages.size, bool)
        return fit_usage(
            self.distances[kept], self.ages[kept], self.limits[kept], fewest=fewest
        ).rates

    def passing(self, edges: Floats, rates: UsageRates, tilt: float) -> Floats:
        """Return the units expected to pass each edge had nobody failed."""
        everyone = rates if self.rates is not None else rates.tilted(-tilt)
        per_step = UsageRates(median=everyone.median * self.step, spread=rates.spread)
        passed = per_step.share_passing(edges[1:], self.watched.size) @ self.watched
        at_start = self.watched.max(initial=0.0)
        return np.where(edges <= self.limit, np.append(at_start, passed), 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Failed:
    """Failed units of one segment whose distance was read; arrays of shape (n,).

    Parameters
    ----------
    distances : ndarray
        Distance at the failure, above 0.
    last : ndarray
        Distance at which the unit would have left the watch.
    weights : ndarray
        Units, 1 each but for those whose dates are estimated.
    groups : ndarray of int
        A group of 0 to ``GROUPS`` - 1, drawn for each.
    """

    distances: Floats
    last: Floats
    weights: Floats
    groups: Groups


@dataclass(frozen=True, slots=True, kw_only=True)
class DistanceLife:
    """A Weibull life against distance.

    Parameters
    ----------
    shape, scale : float
        NaN where there is none; ``note`` says why.
    shape_interval, scale_interval : pair of float
        Limits by leaving out groups of failed units in turn, on the logarithm: they
        carry what the usage rates are uncertain by.
    lives : ndarray, shape (P,)
        Distance by which each share asked for has failed.
    lives_lower, lives_upper : ndarray, shape (P,)
        Their limits.
    note : str
        Why there is no estimate, else empty.
    """

    shape: float = np.nan
    scale: float = np.nan
    shape_interval: tuple[float, float] = (np.nan, np.nan)
    scale_interval: tuple[float, float] = (np.nan, np.nan)
    lives: Floats
    lives_lower: Floats
    lives_upper: Floats
    note: str = ""


def fit_by_distance(
    edges: ArrayLike,
    failed: Failed,
    kinds: Sequence[Kind],
    *,
    share_read: float = 1.0,
    shares: ArrayLike = (0.01, 0.1),
    fewest: int = 30,
    confidence: float = 0.95,
) -> DistanceLife:
    """Fit a Weibull life to failures by distance.

    Parameters
    ----------
    edges : array_like, shape (X + 1,)
        Edges of the cells of distance, rising from 0.
    failed : Failed
        The failures with a distance.
    kinds : sequence of Kind
        The units of the segment.
    share_read : float, default 1
        Share of the failures that have a distance, taken as missing at random.
    shares : array_like, shape (P,), default (0.01, 0.1)
        Shares failed whose distances are wanted.
    fewest : int, default 30
        Readings that usage rates need.
    confidence : float, default 0.95
        Two-sided level of the limits.

    Returns
    -------
    DistanceLife
        One segment's life.

    Raises
    ------
    InputError
        If edges do not rise from 0, a distance lies beyond them, or the share
        read is not above 0 and at most 1.
    """
    level = confidence_of(confidence)
    edge, share = finite_of("edges", edges), finite_of("shares", shares)
    distance = counts_of("distances", failed.distances)
    if edge.ndim != 1 or edge.size < 2 or edge[0] != 0 or (np.diff(edge) <= 0).any():
        raise refuse("edges must rise from 0", f"{edge[:3]}...")
    if distance.size and distance.max() > edge[-1]:
        raise refuse(f"distances must be at most {edge[-1]}", distance.max())
    if not 0 < share_read <= 1:
        raise refuse("share_read must be above 0 and at most 1", share_read)
    nothing = np.full(share.shape, np.nan)
    none = DistanceLife(lives=nothing, lives_lower=nothing, lives_upper=nothing)
    segment = _Segment(edge, failed, kinds, share_read, fewest)
    tilt = segment.first_crossing()
    if tilt is None:
        return DistanceLife(
            lives=none.lives,
            lives_lower=none.lives_lower,
            lives_upper=none.lives_upper,
            note="how far the units that did not fail go cannot be told",
        )
    return _with_limits(segment, tilt, share, level)


class _Segment:
    """The counts of one segment, and fits to them under any tilt."""

    def __init__(
        self,
        edges: Floats,
        failed: Failed,
        kinds: Sequence[Kind],
        share_read: float,
        fewest: int,
    ) -> None:
        self._edges = edges
        self._kinds = kinds
        self._share_read = share_read
        # left out in turn, a group may take more readings than are to spare
        self._rates = [
            [kind.rates_without(group, fewest if group < 0 else 3) for kind in kinds]
            for group in range(-1, GROUPS)
        ]
        # row 0 is everybody, row g + 1 all but group g
        self.failed, self.left = np.zeros((2, GROUPS + 1, edges.size - 1))
        for group in range(-1, GROUPS):
            kept = failed.groups != group
            for target, values in (
                (self.failed, failed.distances),
                (self.left, np.minimum(failed.last, edges[-1])),
            ):
                target[group + 1] = np.histogram(
                    values[kept], edges, weights=failed.weights[kept]
                )[0]

    def lives(self, rows: Sequence[int], tilts: Floats) -> tuple[Floats, Floats]:
        """Return shapes and scales of some rows, each under its own tilt."""
        exposed = np.stack(
            [self._exposed(row, tilt) for row, tilt in zip(rows, tilts, strict=True)]
        )
        found = fit(
            self._edges[1:],
            self.failed[list(rows)],
            None,
            lower=self._edges[:-1],
            exposed=exposed,
        )
        return np.asarray(found.shape), np.asarray(found.scale)

    def _exposed(self, row: int, tilt: float) -> Floats:
        """Return the units that passed each cell without failing in it."""
        passed = np.zeros(self._edges.size)
        for kind, rates in zip(self._kinds, self._rates[row], strict=True):
            if rates is None:
                return np.zeros(self._edges.size - 1)
            passed += kind.passing(self._edges, rates, tilt)
        passed *= self._share_read * (1.0 - (row > 0) / GROUPS)
        # those that failed pass no further, until they would have left anyhow
        gone = np.cumsum(self.failed[row])
        left = np.cumsum(self.left[row]) - self.left[row]
        return np.asarray(
            np.maximum((passed[1:] + passed[:-1]) / 2 - (gone - left), 0.0)
        )

    def first_crossing(self) -> float | None:
        """Return the first tilt that the shape fitted with it does not exceed.

        Tilted back too far, few units seem to have gone far at all, and the shape
        overtakes the tilt again: a later crossing is a valley of the likelihood.
        """
        tilts = np.arange(0.0, _MOST + _STEP / 2, _STEP)
        for _ in range(_ROUNDS):
            above = self.lives([0] * tilts.size, tilts)[0] - tilts
            crossed = np.flatnonzero(~(above > 0))
            if not crossed.size or crossed[0] == 0 or np.isnan(above[crossed[0]]):
                return None
            before, after = tilts[crossed[0] - 1 : crossed[0] + 1]
            tilts = np.linspace(before, after, _POINTS)
        # straight between the last two points
        over, under = above[crossed[0] - 1], -above[crossed[0]]
        return float(before + (after - before) * over / (over + under))


def _with_limits(
    segment: _Segment, tilt: float, shares: Floats, level: float
) -> DistanceLife:
    """Return the life at a tilt with limits by leaving out groups."""
    rows = range(GROUPS + 1)
    shapes, _ = segment.lives(rows, np.full(GROUPS + 1, tilt))
    nudged = segment.lives([0], np.array([tilt + 0.01]))[0][0]
    # each row's own tilt to first order: t = shape(t)
    slope = min((nudged - shapes[0]) / 0.01, 0.95)
    own = np.maximum(tilt + (shapes - tilt) / (1.0 - slope), 0.0)
    own[0] = tilt
    shapes, scales = segment.lives(rows, own)
    far = np.log(-np.log1p(-shares))
    logs = np.column_stack(
        [
            np.log(shapes),
            np.log(scales),
            np.log(scales)[:, None] + far / shapes[:, None],
        ]
    )
    known = np.isfinite(logs[1:]).all(axis=1)
    n = int(known.sum())
    spread = logs[1:][known] - logs[1:][known].mean(axis=0)
    error = np.sqrt((n - 1) / n * np.sum(spread**2, axis=0))
    half = float(special.stdtrit(n - 1, 0.5 + level / 2)) * error
    middle, lower, upper = (np.exp(logs[0] + sign * half) for sign in (0, -1, 1))
    return DistanceLife(
        shape=float(middle[0]),
        scale=float(middle[1]),
        shape_interval=(float(lower[0]), float(upper[0])),
        scale_interval=(float(lower[1]), float(upper[1])),
        lives=middle[2:],
        lives_lower=lower[2:],
        lives_upper=upper[2:],
    )
