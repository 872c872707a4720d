"""Faults that rise among recent build months, told from counts by month."""

from __future__ import annotations

from claimlens.stats.rising.counts import FailureTable, UnitTable, Views
from claimlens.stats.rising.faults import Month, rising_faults
from claimlens.stats.rising.levels import false_signals, smallest_multiple
from claimlens.stats.rising.scan import log_likelihood_ratio

__all__ = [
    "FailureTable",
    "Month",
    "UnitTable",
    "Views",
    "false_signals",
    "log_likelihood_ratio",
    "rising_faults",
    "smallest_multiple",
]
