"""An effect set against what happened to a group that was not changed.

Given all failures of each group and all failures after the change, those of the
changed group among the latter follow the noncentral hypergeometric distribution, with
the ratio of the two ratios as its only unknown.

References
----------
.. [1] Fisher (1935), J. R. Stat. Soc. 98, 39-82.
.. [2] Cornfield (1956), Proc. 3rd Berkeley Symp. 4, 135-148 (limits).
.. [3] Breslow, Day (1980), Statistical Methods in Cancer Research 1, 4.2.
.. [4] Berry, Armitage (1995), Statistician 44, 417-423 (mid-p).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from claimlens.stats.change_effect import ChangeRatio
from claimlens.stats.checks import confidence_of
from claimlens.stats.tails import solve

__all__ = ["RatioOfRatios", "ratio_of_ratios"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioOfRatios:
    """Effect in the changed group over that in the control group.

    Parameters
    ----------
    ratio, lower, upper : float
        Conditional likelihood estimate and its limits; 0 and inf where nothing
        bounds them, the ratio NaN where nothing can be told.
    reason : str
        Why nothing can be told; else empty.
    """

    ratio: float
    lower: float
    upper: float
    reason: str


def ratio_of_ratios(
    changed: ChangeRatio,
    control: ChangeRatio,
    *,
    confidence: float = 0.95,
    exact: bool = False,
) -> RatioOfRatios:
    """Compare the effect of a change with what happened to a control group meanwhile.

    Parameters
    ----------
    changed, control : ChangeRatio
        Before and after the change, of the units that were changed and of others
        (another model, or a component that nobody touched) over the same time. Sums
        of weights are taken as the nearest whole failures.
    confidence : float, default 0.95
        Two-sided level, strictly between 0 and 1.
    exact : bool, default False
        Conservative limits in place of mid-p.

    Returns
    -------
    RatioOfRatios
        Below 1 where the changed group has gained more than the control.

    Raises
    ------
    InputError
        If the confidence is not between 0 and 1.
    """
    tail = (1.0 - confidence_of(confidence)) / 2.0
    counts = [
        round(each)
        for each in (
            changed.claims_before,
            changed.claims_after,
            control.claims_before,
            control.claims_after,
        )
    ]
    before, after, control_before, control_after = counts
    for name, group in (("changed", changed), ("control", control)):
        if round(group.claims_before) == 0 or group.expected_after <= 0:
            return RatioOfRatios(
                ratio=np.nan,
                lower=0.0,
                upper=np.inf,
                reason=f"no claim before the change in the {name} group",
            )
    if after + control_after == 0:
        return RatioOfRatios(
            ratio=np.nan,
            lower=0.0,
            upper=np.inf,
            reason="no claim after the change in either group",
        )
    offset = np.log(changed.expected_after / changed.claims_before) - np.log(
        control.expected_after / control.claims_before
    )
    table = _Table(
        before + after, control_before + control_after, after + control_after
    )
    ratio, lower, upper = table.limits(after, tail, exact)
    scale = float(np.exp(-offset))
    return RatioOfRatios(
        ratio=ratio * scale, lower=lower * scale, upper=upper * scale, reason=""
    )


class _Table:
    """Failures of a 2 x 2 table with fixed margins.

    Parameters
    ----------
    one, other : int
        All failures of each group.
    after : int
        Failures after the change in both.
    """

    def __init__(self, one: int, other: int, after: int) -> None:
        self.first, self.last = max(0, after - other), min(one, after)
        self.margins = one, other, after
        self.count = np.arange(self.first, self.last + 1, dtype=np.float64)
        self.weight = -(
            special.gammaln(self.count + 1)
            + special.gammaln(one - self.count + 1)
            + special.gammaln(after - self.count + 1)
            + special.gammaln(other - after + self.count + 1)
        )

    def limits(self, seen: int, tail: float, exact: bool) -> tuple[float, float, float]:
        """Return the odds ratio of the count seen, with its limits."""
        half = 1.0 if exact else 0.5
        at_least = np.where(self.count > seen, 1.0, 0.0) + half * (self.count == seen)
        at_most = np.where(self.count < seen, 1.0, 0.0) + half * (self.count == seen)
        start = self._start(seen)
        lower = 0.0 if seen == self.first else self._root(at_least, tail, 1.0, start)
        upper = np.inf if seen == self.last else self._root(at_most, tail, -1.0, start)
        if self.first == self.last:
            return np.nan, lower, upper
        if seen == self.first:
            return 0.0, lower, upper
        if seen == self.last:
            return np.inf, lower, upper

        def more(u: float) -> tuple[float, float]:
            chance = self._chances(u)
            mean = float(chance @ self.count)
            return mean - seen, float(chance @ (self.count - mean) ** 2)

        return _solved(more, start), lower, upper

    def _start(self, seen: int) -> float:
        """Return a log odds ratio near the estimate."""
        one, other, after = self.margins
        cells = np.array([seen, other - after + seen, one - seen, after - seen]) + 0.5
        return float(np.log(cells) @ [1.0, 1.0, -1.0, -1.0])

    def _chances(self, u: float) -> Floats:
        """Return the chance of each count at log odds ratio ``u``."""
        log = self.weight + u * self.count
        return np.asarray(np.exp(log - special.logsumexp(log)))

    def _root(self, part: Floats, tail: float, sign: float, start: float) -> float:
        """Return the odds ratio at which the weighted counts have a chance of tail."""

        def excess(u: float) -> tuple[float, float]:
            chance = self._chances(u)
            weighted = chance * part
            total = max(float(weighted.sum()), 1e-300)
            slope = float(weighted @ self.count) / total - float(chance @ self.count)
            return sign * float(np.log(total / tail)), sign * slope

        return _solved(excess, start)


def _solved(excess: Callable[[float], tuple[float, float]], start: float) -> float:
    """Return the odds ratio at which a rising function with its slope is 0."""

    def curve(u: Floats) -> tuple[Floats, Floats]:
        value, slope = excess(float(u[0]))
        return np.array([value]), np.array([slope])

    return float(np.exp(solve(curve, np.array([start]), np.ones(1))[0]))
