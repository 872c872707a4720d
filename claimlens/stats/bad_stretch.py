"""The bad stretch of production that may have led to a change.

References
----------
.. [1] Kulldorff (1997), Commun. Stat. Theory Methods 26, 1481-1496.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.production_counts import ProductionCounts
from claimlens.stats.windows import ScanRules, scan_windows

__all__ = ["bad_stretch"]


def bad_stretch(
    counts: ProductionCounts,
    *,
    seed: int,
    level: float = 0.2,
    rules: ScanRules | None = None,
) -> NDArray[np.bool_]:
    """Return the months that a change is to be judged without.

    Nobody writes down what a change was made for. It follows a bad stretch, and what
    comes after a bad stretch is mostly better by itself. A window that chance would
    give in one production of five is taken for the stretch: with a stricter level too
    many of them stay in, with a looser one too many of the failures are lost by which
    a true improvement is shown. Where a signal is known to have led to the change,
    leave its window out as well.

    Parameters
    ----------
    counts : ProductionCounts
        Months of production up to the change, no later one: a change that helped
        makes all months before it look bad.
    seed : int
        Seed of the draws.
    level : float, default 0.2
        p-value up to which the first window is left out; further ones as the rules
        say.
    rules : ScanRules, optional
        The defaults where left out.

    Returns
    -------
    ndarray of bool, shape (B,)
        True for months to leave out; none where there is too little to tell.

    Raises
    ------
    InputError
        If a rule makes no sense.
    """
    chosen = np.zeros(counts.observed.size, dtype=bool)
    for window in scan_windows(counts, seed=seed, rules=rules).windows:
        if window.p_value <= level:
            chosen[min(window.start, window.best_start) : window.stop] = True
            chosen[window.best_start : window.best_stop] = True
    return chosen
