"""Weibull lives from counts by age."""

from __future__ import annotations

from claimlens.stats.weibull.coarse import Merging, merge_cells
from claimlens.stats.weibull.fitting import fit
from claimlens.stats.weibull.goodness import FitTest, fit_test
from claimlens.stats.weibull.limited import LimitedShare, limited_share
from claimlens.stats.weibull.pattern import Pattern, PatternWord, pattern
from claimlens.stats.weibull.result import WeibullFit
from claimlens.stats.weibull.strata import CommonShape, common_shape

__all__ = [
    "CommonShape",
    "FitTest",
    "LimitedShare",
    "Merging",
    "Pattern",
    "PatternWord",
    "WeibullFit",
    "common_shape",
    "fit",
    "fit_test",
    "limited_share",
    "merge_cells",
    "pattern",
]
