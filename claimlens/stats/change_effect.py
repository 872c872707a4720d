"""Did a change of the product help? Failures before and after it at equal ages.

References
----------
.. [1] Przyborowski, Wilenski (1940), Biometrika 31, 313-323.
.. [2] Cox (1972), J. R. Stat. Soc. B 34, 187-220 (conditioning, age by age).
.. [3] Berry, Armitage (1995), Statistician 44, 417-423 (mid-p).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from claimlens.stats.checks import confidence_of, counts_of, refuse
from claimlens.stats.conditional_ratio import ratio_limits
from claimlens.stats.intervals import rate_ratio_exact
from claimlens.stats.paired_counts import rates_of

__all__ = [
    "ChangeEffect",
    "ChangeRatio",
    "ChangeRules",
    "CountsByAge",
    "Verdict",
    "change_effect",
]

Floats = NDArray[np.float64]
Verdict = Literal["improved", "unchanged", "worse", "not shown", "too early"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRules:
    """When a change is judged, and how.

    Parameters
    ----------
    least_units : int, default 30
        Units built after the change that must have reached an age for it to count.
    least_before : int, default 10
        Failures before the change below which nothing can be shown.
    least_expected : float, default 6.0
        Failures that would have come after the change without an effect; below it is
        too early.
    alike : tuple of float, default (0.8, 1.25)
        Limits within which the whole interval must lie for "unchanged".
    confidence : float, default 0.95
        Two-sided level of the limits.
    exact : bool, default False
        Conservative limits in place of mid-p.
    phi : float, default 1.0
        Batch noise: variance over that of Poisson counts.
    """

    least_units: int = 30
    least_before: int = 10
    least_expected: float = 6.0
    alike: tuple[float, float] = (0.8, 1.25)
    confidence: float = 0.95
    exact: bool = False
    phi: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CountsByAge:
    """Failures and unit-months by age in months in service, arrays of shape (A,).

    Parameters
    ----------
    failures : array_like
        First failures of the component.
    unit_months : array_like
        Under observation at that age, weighted by the chance that a failure would
        have been reported by now; above 0 where there are failures.
    """

    failures: ArrayLike
    unit_months: ArrayLike


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRatio:
    """Hazard after a change over that before, at equal ages.

    Parameters
    ----------
    claims_before, claims_after : float
        Failures at the ages compared.
    expected_after : float
        Failures after the change at the hazard of before. 0 without a failure before.
    ratio, lower, upper : float
        ``claims_after / expected_after`` with its limits; inf without a failure
        before, NaN without any.
    p_value : float
        Two-sided mid-p for a ratio of 1; NaN without any failure.
    """

    claims_before: float
    claims_after: float
    expected_after: float
    ratio: float
    lower: float
    upper: float
    p_value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeEffect:
    """The verdict on a change and what it rests on.

    Parameters
    ----------
    ages : int
        Months in service that both sides reached: ages 0 to ``ages - 1``.
    effect : ChangeRatio
        With all production before the change.
    without_signal : ChangeRatio or None
        The same without the months whose bad record led to the change.
    verdict : str
        ``improved``, ``unchanged``, ``worse``, ``not shown`` or ``too early``.
    at_least_halved : bool
        Improved, with every upper limit at most one half.
    reason : str
        What the verdict rests on, as a clause.
    """

    ages: int
    effect: ChangeRatio
    without_signal: ChangeRatio | None
    verdict: Verdict
    at_least_halved: bool
    reason: str


def change_effect(
    before: CountsByAge,
    after: CountsByAge,
    *,
    before_without_signal: CountsByAge | None = None,
    units_after: ArrayLike | None = None,
    rules: ChangeRules | None = None,
) -> ChangeEffect:
    """Judge a change by the failures before and after it at equal ages.

    Parameters
    ----------
    before, after : CountsByAge
        Units built before and after the change, without those built around it.
    before_without_signal : CountsByAge, optional
        Before, without the production window that raised the alarm. A change follows
        a bad stretch, and what comes after a bad stretch is mostly better by itself:
        an improvement must hold without it too.
    units_after : array_like, shape (A,), optional
        Units built after the change that reached each age; its unit-months where
        left out.
    rules : ChangeRules, optional
        The defaults where left out.

    Returns
    -------
    ChangeEffect
        The ratio is that of hazards given the failures of each age, of which those
        after the change are binomial: with one hazard at all ages it is the ratio of
        two Poisson rates. Ages go up to the last that enough units reached.

    Raises
    ------
    InputError
        If shapes disagree, a value is negative or not finite, there are failures
        without unit-months, or a rule makes no sense.

    Notes
    -----
    Effective exposures from a hazard pooled over both sides draw the ratio towards 1
    where units after the change are younger: a halving with 50 failures before came
    out as 0.53 and was seen in 75 % in place of 79 % of 4,000 simulated histories.
    """
    rules = rules or ChangeRules()
    _check(rules)
    old, new = _tables(before, "before"), _tables(after, "after")
    ages = _common_ages(old, new, units_after, rules.least_units)
    effect = _ratio(_first(old, ages), _first(new, ages), rules)
    without = None
    if before_without_signal is not None:
        calm = _tables(before_without_signal, "before without the signal")
        without = _ratio(_first(calm, ages), _first(new, ages), rules)
    verdict, reason = _verdict(effect, ages, float(old[0].sum()), rules)
    if verdict == "improved" and without is not None:
        verdict, reason = _without_the_signal(without, rules)
    uppers = [each.upper for each in (effect, without) if each is not None]
    return ChangeEffect(
        ages=ages,
        effect=effect,
        without_signal=without,
        verdict=verdict,
        at_least_halved=verdict == "improved" and max(uppers) <= 0.5,
        reason=reason,
    )


def _check(rules: ChangeRules) -> None:
    """Refuse rules that make no sense."""
    confidence_of(rules.confidence)
    low, high = rules.alike
    if not 0.0 < low < 1.0 < high:
        raise refuse("alike must be limits around 1", rules.alike)
    if not rules.phi >= 1.0 or not np.isfinite(rules.phi):
        raise refuse("phi must be a number of at least 1", rules.phi)


def _tables(counts: CountsByAge, side: str) -> tuple[Floats, Floats]:
    """Return failures and unit-months of one side, checked, shape (A,)."""
    d, n = rates_of(
        f"failures {side}", counts.failures, f"unit_months {side}", counts.unit_months
    )
    if d.ndim != 1:
        raise refuse(f"failures {side} must be one row of ages", f"shape {d.shape}")
    return d, n


def _common_ages(
    old: tuple[Floats, Floats],
    new: tuple[Floats, Floats],
    units: ArrayLike | None,
    least: int,
) -> int:
    """Return how many ages, from 0 on, both sides have reached."""
    reached = new[1] if units is None else counts_of("units_after", units)
    if reached.shape != new[1].shape or old[1].shape != new[1].shape:
        raise refuse(
            "before, after and units_after must have one value for each age",
            f"shapes {old[1].shape}, {new[1].shape} and {reached.shape}",
        )
    both = (reached >= least) & (new[1] > 0) & (old[1] > 0)
    return int(np.cumprod(both).sum())


def _first(table: tuple[Floats, Floats], ages: int) -> tuple[Floats, Floats]:
    """Return the table up to the common age."""
    return table[0][:ages], table[1][:ages]


def _ratio(
    old: tuple[Floats, Floats], new: tuple[Floats, Floats], rules: ChangeRules
) -> ChangeRatio:
    """Return the ratio of hazards, after over before, with its limits."""
    both = (old[1] > 0) & (new[1] > 0)
    claims_before, claims_after = float(old[0][both].sum()), float(new[0][both].sum())
    total = np.where(both, old[0] + new[0], 0.0)
    odds = np.divide(new[1], old[1], out=np.ones(total.shape), where=both)
    tail = (1.0 - rules.confidence) / 2.0
    limits = ratio_limits(
        total[None] / rules.phi,
        odds[None],
        np.array([claims_after / rules.phi]),
        np.array([claims_before / rules.phi]),
        tail,
    )
    ratio = float(limits.ratio[0])
    expected = _expected(total, odds, ratio)
    lower, upper = float(limits.lower[0]), float(limits.upper[0])
    if np.isnan(ratio):
        lower = upper = np.nan
    elif claims_before > 0 and (rules.exact or _alike(odds, total)):
        # at the hazard of before its own exposure is its failures
        lower, upper = rate_ratio_exact(
            claims_after / rules.phi,
            expected,
            claims_before / rules.phi,
            claims_before,
            rules.confidence,
            mid_p=not rules.exact,
        )
    return ChangeRatio(
        claims_before=claims_before,
        claims_after=claims_after,
        expected_after=expected,
        ratio=ratio,
        lower=float(lower),
        upper=float(upper),
        p_value=float(limits.p_value[0]),
    )


def _alike(odds: Floats, total: Floats) -> bool:
    """Return whether all ages have one share of exposure: then one binomial holds."""
    some = odds[total > 0]
    return bool(some.size and some.max() <= some.min() * (1.0 + 1e-9))


def _expected(total: Floats, odds: Floats, ratio: float) -> float:
    """Return the failures after the change at the hazard of before.

    The hazard of an age is failures / (exposure before + ratio * exposure after).
    """
    if not np.isfinite(ratio):
        return 0.0
    return float((total * odds / (1.0 + ratio * odds)).sum())


def _verdict(
    effect: ChangeRatio, ages: int, all_before: float, rules: ChangeRules
) -> tuple[Verdict, str]:
    """Return the word for one comparison, with its reason."""
    early = _not_yet(effect, ages, all_before, rules)
    if early is not None:
        # a rise is not called one before its time, but neither is it kept back
        risen = ", but the whole interval lies above 1 already"
        return early[0], early[1] + (risen if effect.lower > 1.0 else "")
    if effect.upper < 1.0:
        return "improved", "the whole interval lies below 1"
    if effect.lower > 1.0:
        return "worse", "the whole interval lies above 1"
    low, high = rules.alike
    if low <= effect.lower and effect.upper <= high:
        return "unchanged", f"the whole interval lies within {low:g} to {high:g}"
    return "not shown", "the interval holds 1 and more than small differences"


def _not_yet(
    effect: ChangeRatio, ages: int, all_before: float, rules: ChangeRules
) -> tuple[Verdict, str] | None:
    """Return why no verdict is possible; None where one is."""
    if all_before == 0:
        return "not shown", "no claim before the change"
    if all_before < rules.least_before:
        return "not shown", (
            f"{all_before:g} of at least {rules.least_before} claims before the change"
        )
    if ages == 0:
        return "too early", (
            f"fewer than {rules.least_units} units built after the change are in "
            "service"
        )
    if effect.expected_after < rules.least_expected:
        return "too early", (
            f"{effect.expected_after:.1f} claims expected after the change without an "
            f"effect, {rules.least_expected:g} needed"
        )
    if effect.claims_before < rules.least_before:
        return "not shown", (
            f"{effect.claims_before:g} of at least {rules.least_before} claims before "
            "the change at the ages compared"
        )
    return None


def _without_the_signal(
    without: ChangeRatio, rules: ChangeRules
) -> tuple[Verdict, str]:
    """Return the word for what was an improvement with the signal's window."""
    if without.claims_before < rules.least_before:
        return "not shown", (
            f"without the window that raised the signal {without.claims_before:g} of "
            f"at least {rules.least_before} claims before the change"
        )
    if without.upper < 1.0:
        return "improved", (
            "the whole interval lies below 1, also without the window that raised "
            "the signal"
        )
    return "not shown", (
        "the improvement rests on the window that raised the signal: without it the "
        "interval holds 1"
    )
