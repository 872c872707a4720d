"""How often claims come: a rate by age, production and season, and what follows."""

from __future__ import annotations

from claimlens.stats.intensity.design import Design, Effect
from claimlens.stats.intensity.fitting import Fit, fit_rates

__all__ = ["Design", "Effect", "Fit", "fit_rates"]
