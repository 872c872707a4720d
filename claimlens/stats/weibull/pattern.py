"""The word for how a fault depends on age, and when it may be said."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from claimlens.errors import InputError

__all__ = ["Pattern", "PatternWord", "pattern"]

PatternWord = Literal["early-life", "random", "wear-out", "undecided"]

MIN_FAILURES = 5
TESTED_FROM = 10
RANDOM_WITHIN = (0.7, 1.4)
"""An interval must lie within these before a fault is called random."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """A pattern word with the reason for it.

    Parameters
    ----------
    word : str
        One of early-life, random, wear-out and undecided.
    reason : str
        In words, for the reader of a report.
    """

    word: PatternWord
    reason: str


def pattern(
    shape_interval: tuple[float, float],
    r: float,
    fit_p: float | None = None,
    stratified_interval: tuple[float, float] | None = None,
) -> Pattern:
    """Return the word that the data allow, and why.

    Parameters
    ----------
    shape_interval : pair of float
        Limits of the shape over all units.
    r : float
        Failures.
    fit_p : float, optional
        P-value of the test whether a Weibull life follows the data; needed
        from 10 failures on.
    stratified_interval : pair of float, optional
        Limits of a shape common to the build quarters.

    Returns
    -------
    Pattern
        ``undecided`` wherever a condition is not met; a lack of data is never
        called random.

    Raises
    ------
    InputError
        If the limits are out of order.
    """
    low, high = (float(end) for end in shape_interval)
    if low > high:
        raise InputError(
            f"shape_interval must be (lower, upper); got ({low:g}, {high:g})."
        )
    if r < MIN_FAILURES:
        return Pattern("undecided", f"{r:g} failures, {MIN_FAILURES} needed")
    if np.isnan(low) or np.isnan(high):
        return Pattern("undecided", "the shape cannot be estimated")
    word = _side(low, high)
    if word == "random" and not RANDOM_WITHIN[0] <= low <= high <= RANDOM_WITHIN[1]:
        return Pattern(
            "undecided", f"the shape may be anything from {low:.2f} to {high:.2f}"
        )
    doubt = _doubt_fit(r, fit_p) or _doubt_strata(
        word, (low, high), stratified_interval
    )
    if doubt:
        return Pattern("undecided", doubt)
    return Pattern(word, f"shape {low:.2f} to {high:.2f}, also by build quarter")


def _side(low: float, high: float) -> PatternWord:
    """Return on which side of 1 an interval lies; random if it holds 1."""
    if high < 1.0:
        return "early-life"
    return "wear-out" if low > 1.0 else "random"


def _doubt_fit(r: float, fit_p: float | None) -> str:
    """Return why the fit does not carry a word; empty if it does."""
    if r < TESTED_FROM:
        return ""
    if fit_p is None or np.isnan(fit_p):
        return "the fit was not tested"
    if fit_p < 0.05:
        return "Weibull does not follow these data: read the Kaplan-Meier curve"
    return ""


def _doubt_strata(
    word: PatternWord,
    pooled: tuple[float, float],
    stratified: tuple[float, float] | None,
) -> str:
    """Return why the build quarters do not bear the word out; empty if they do."""
    if stratified is None or np.isnan(stratified[0]) or np.isnan(stratified[1]):
        return "no fit by build quarter to bear it out"
    low, high = (float(end) for end in stratified)
    if _side(low, high) == word:
        return ""
    if low <= pooled[0] and pooled[1] <= high:
        return "within build quarters the data are too thin to bear it out"
    return "young or bad batches, not age: see windows"
