"""Production windows: consecutive months whose units fail more than the others'.

All windows of up to six months are looked at; the p-value is that of the largest excess
among all of them, so that looking at many is paid for.

References
----------
.. [1] Kulldorff (1997), Commun. Stat. Theory Methods 26, 1481-1496.
.. [2] Naus (1965), J. Am. Stat. Assoc. 60, 532-538.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from claimlens.stats.batch_noise import NOISY, batch_noise
from claimlens.stats.checks import confidence_of, refuse
from claimlens.stats.production_counts import ProductionCounts
from claimlens.stats.seeds import seed_for
from claimlens.stats.window_search import ScanRules, Search, Window, find_window

__all__ = ["ScanRules", "Window", "WindowScan", "scan_components", "scan_windows"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowScan:
    """What a scan found.

    Parameters
    ----------
    windows : tuple of Window
        The best window, whatever its p-value; then those found after taking the
        earlier ones away, while the p-value is at most the level. Empty with a reason.
    total : float
        Failures of all months.
    phi : float
        Variance of the months over that of Poisson counts; above 1 it widens all.
    reason : str
        Why there is no window; else empty.
    """

    windows: tuple[Window, ...]
    total: float
    phi: float
    reason: str


def scan_windows(
    counts: ProductionCounts,
    *,
    seed: int,
    phi: float = 1.0,
    rules: ScanRules | None = None,
) -> WindowScan:
    """Look for production windows of one component.

    Parameters
    ----------
    counts : ProductionCounts
        Failures and exposure by month of production, in order; months without units
        are skipped, so that they neither count nor end a window.
    seed : int
        Seed of the draws.
    phi : float, default 1.0
        Batch noise, as `batch_noise` finds it. Above 1.2 log-likelihood ratios are
        divided by it and draws are negative binomial.
    rules : ScanRules, optional
        The defaults where left out.

    Returns
    -------
    WindowScan
        Without a window, and with a reason, below 5 failures or two months.

    Raises
    ------
    InputError
        If ``phi`` is below 1 or a rule makes no sense.

    Notes
    -----
    Draws are made given the failures of each class of `counts`, of which the months
    have their shares. With one class this is Kulldorff's test given the total.
    """
    rules = rules or ScanRules()
    _check(rules, phi)
    noise = phi if phi > NOISY else 1.0
    total = float(counts.observed.sum())
    free = counts.produced
    reason = _why_not(counts, rules)
    rng = np.random.Generator(np.random.PCG64(seed))
    windows: list[Window] = []
    while not reason and len(windows) <= rules.further:
        left = counts.only(free)
        # a window does not reach over months that were taken away
        run = np.cumsum(counts.produced & ~free)[free].astype(np.intp)
        if windows and _why_not(left, rules):
            break
        search = Search(
            counts=left, run=run, month=np.flatnonzero(free), phi=noise, rules=rules
        )
        found = find_window(search, rng)
        if found is None or (windows and found.p_value > rules.level):
            break
        windows.append(found)
        if found.p_value > rules.level:
            break
        taken = slice(
            min(found.start, found.best_start), max(found.stop, found.best_stop)
        )
        free = free.copy()
        free[taken] = False
    if not windows and not reason:
        reason = "no month failed more than its share"
    return WindowScan(windows=tuple(windows), total=total, phi=noise, reason=reason)


def scan_components(
    components: Mapping[str, ProductionCounts],
    *,
    base_seed: int,
    analysis: str = "windows",
    rules: ScanRules | None = None,
) -> dict[str, WindowScan]:
    """Look for production windows of many components.

    Parameters
    ----------
    components : mapping of str to ProductionCounts
        Counts by the key of each component (or component and model).
    base_seed : int
        Seed of the settings. The draws of a component depend on it, ``analysis`` and
        the key alone: a further component changes no other.
    analysis : str, default "windows"
        Name that keeps these draws apart from those of other analyses.
    rules : ScanRules, optional
        The defaults where left out.

    Returns
    -------
    dict of str to WindowScan
        In the order of ``components``, each with the batch noise of its own months.
    """
    scans = {}
    for key, counts in components.items():
        noise = batch_noise(
            counts,
            seed=seed_for(base_seed, analysis, "noise", key),
            max_length=(rules or ScanRules()).max_length,
        )
        scans[key] = scan_windows(
            counts,
            seed=seed_for(base_seed, analysis, key),
            phi=noise.phi,
            rules=rules,
        )
    return scans


def _check(rules: ScanRules, phi: float) -> None:
    """Refuse rules that make no sense."""
    confidence_of(rules.confidence)
    if not phi >= 1.0 or not np.isfinite(phi):
        raise refuse("phi must be a number of at least 1", phi)
    if rules.max_length < 1:
        raise refuse("max_length must be at least one month", rules.max_length)
    if not 0.0 < rules.max_share <= 1.0:
        raise refuse("max_share must lie above 0 and up to 1", rules.max_share)
    if min(rules.draws, rules.more_draws) < 19:
        raise refuse("draws must be at least 19", min(rules.draws, rules.more_draws))


def _why_not(counts: ProductionCounts, rules: ScanRules) -> str:
    """Return why nothing can be said; empty where something can."""
    total, months = counts.observed.sum(), int(counts.produced.sum())
    if total < rules.least_failures:
        word = "failure" if total == 1 else "failures"
        return f"{total:g} {word}, {rules.least_failures} needed"
    if months < 2:
        return "one month of production, nothing to set it against"
    return ""
