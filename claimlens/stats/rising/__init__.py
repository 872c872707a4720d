"""Faults that rise among recent build months, told from counts by month."""

from __future__ import annotations

from claimlens.stats.rising.ages import AgeBand, excess_ages
from claimlens.stats.rising.counts import FailureTable, UnitTable, Views
from claimlens.stats.rising.course import BuildRun, RunCourse, courses_of
from claimlens.stats.rising.faults import rising_faults
from claimlens.stats.rising.first_year import first_year_expected
from claimlens.stats.rising.levels import false_signals, smallest_multiple
from claimlens.stats.rising.month import Month
from claimlens.stats.rising.scan import log_likelihood_ratio

__all__ = [
    "AgeBand",
    "BuildRun",
    "FailureTable",
    "Month",
    "RunCourse",
    "UnitTable",
    "Views",
    "courses_of",
    "excess_ages",
    "false_signals",
    "first_year_expected",
    "log_likelihood_ratio",
    "rising_faults",
    "smallest_multiple",
]
