"""Weibull lives from counts by age."""

from __future__ import annotations

from claimlens.stats.weibull.fitting import WeibullFit, fit

__all__ = ["WeibullFit", "fit"]
