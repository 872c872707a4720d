"""Numbers as text in the language in force: rates, counts, ages, money, dates.

Rounding is half to even and happens here only; limits are rounded outward, so
that a printed interval never claims more than the one behind it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from math import isfinite
from typing import Literal

import pandas as pd

from claimlens.language import N_, _, day_text, figures, month_text, per_cent

__all__ = [
    "MISSING",
    "PER_CENT",
    "PER_MILLION",
    "PER_THOUSAND",
    "Bound",
    "RateUnit",
    "amount",
    "cents",
    "count",
    "day",
    "decimal_text",
    "interval",
    "month_name",
    "p_value",
    "rate",
    "rate_unit",
    "ratio",
    "telling_unit",
]

Bound = Literal["", "lower", "upper"]

#: Stands where a figure can't be estimated; the reason stands beside it.
MISSING = "–"

_ROUNDING = {"": ROUND_HALF_EVEN, "lower": ROUND_FLOOR, "upper": ROUND_CEILING}


@dataclass(frozen=True, slots=True)
class RateUnit:
    """The unit in which one table prints its rates.

    Parameters
    ----------
    word : str
        Its name in English.
    factor : int
        Rate 0 to 1 times this is the printed figure.
    decimals : int or None
        Decimals; None for two significant digits.
    """

    word: str
    factor: int
    decimals: int | None

    @property
    def name(self) -> str:
        """Its name, as in a column heading."""
        return _(self.word)

    @property
    def suffix(self) -> str:
        """What stands behind a figure in a sentence."""
        if self.factor == 100:
            return per_cent()
        if self.factor == 1_000:
            return f" {self.name}"
        return "\N{NO-BREAK SPACE}ppm"


PER_CENT = RateUnit(N_("per cent"), 100, 1)
PER_THOUSAND = RateUnit(N_("per thousand"), 1_000, 1)
PER_MILLION = RateUnit(N_("parts per million"), 1_000_000, None)


def rate_unit(rates: Iterable[float | None]) -> RateUnit:
    """Choose the one unit for all the rates of a table.

    Parameters
    ----------
    rates : iterable of float or None
        Rates from 0 to 1; None and NaN are passed over.

    Returns
    -------
    RateUnit
        Per cent where the largest is at least 1 %, per thousand from 0.1 %,
        else parts per million; a step finer where the smallest rate above
        zero would print as 0.0.
    """
    known = [rate for rate in rates if rate is not None and _known(rate) and rate > 0]
    if not known:
        return PER_CENT
    if max(known) >= 0.01:
        return PER_CENT if min(known) >= 0.0005 else PER_THOUSAND
    if max(known) >= 0.001:
        return PER_THOUSAND if min(known) >= 0.00005 else PER_MILLION
    return PER_MILLION


def telling_unit(lower: float, upper: float) -> RateUnit:
    """Choose the coarsest unit in which a gap between two limits can be read.

    Parameters
    ----------
    lower, upper : float
        A lower limit and the upper limit below it, 0 to 1: printed outward,
        they must not seem to overlap.
    """
    first = rate_unit([lower, upper])
    for unit in (PER_CENT, PER_THOUSAND):
        if unit.factor >= first.factor:
            floor = _rounded(_decimal(lower) * unit.factor, 1, "lower")
            ceiling = _rounded(_decimal(upper) * unit.factor, 1, "upper")
            if floor >= ceiling:
                return unit
    return PER_MILLION if first is PER_MILLION else PER_THOUSAND


def rate(value: float | None, unit: RateUnit, bound: Bound = "") -> str:
    """Print a rate without its unit; a limit is rounded outward.

    Parameters
    ----------
    value : float or None
        0 to 1.
    unit : RateUnit
        The unit of the table or sentence.
    bound : str
        ``lower`` rounds down, ``upper`` up, empty to the nearest.
    """
    if not _known(value):
        return MISSING
    scaled = _decimal(float(value or 0)) * unit.factor
    decimals = unit.decimals if unit.decimals is not None else _digits(scaled, 2)
    printed = _rounded(scaled, decimals, bound)
    # rounding outward must not leave the range of a share
    return figures(f"{min(printed, Decimal(unit.factor)):,}")


def interval(lower: float | None, upper: float | None, unit: RateUnit) -> str:
    """Print an interval as ``1.3–2.5``, limits outward; open sides in words."""
    if not _known(lower) and not _known(upper):
        return MISSING
    if not _known(upper):
        low = rate(lower, unit, "lower")
        return _("from {low}, no upper limit").format(low=low)
    if not _known(lower):
        return _("up to {high}").format(high=rate(upper, unit, "upper"))
    return f"{rate(lower, unit, 'lower')}–{rate(upper, unit, 'upper')}"


def decimal_text(value: float | None, decimals: int = 1, bound: Bound = "") -> str:
    """Print a number with fixed decimals, such as an age in months."""
    if not _known(value):
        return MISSING
    return figures(f"{_rounded(_decimal(float(value or 0)), decimals, bound):,}")


def count(value: float | None) -> str:
    """Print a whole count with thousands separators."""
    return decimal_text(value, 0)


def ratio(value: float | None, bound: Bound = "") -> str:
    """Print a ratio or a shape with two significant digits."""
    if not _known(value):
        return MISSING
    number = _decimal(float(value or 0))
    return figures(f"{_rounded(number, max(_digits(number, 2), 0), bound):,}")


def p_value(value: float | None) -> str:
    """Print a p-value: ``0.03``, ``0.004``, ``< 0.001``."""
    if not _known(value):
        return MISSING
    number = float(value or 0)
    if number < 0.001:
        return figures("< 0.001")
    return decimal_text(number, 3 if number < 0.01 else 2)


def amount(value: float | None, currency: str | None = None) -> str:
    """Print money in whole units of its currency."""
    text = count(value)
    return text if currency is None or text == MISSING else f"{text}\u00a0{currency}"


def cents(value: Decimal) -> str:
    """Print money to the cent."""
    return figures(f"{value:,.2f}").replace("-", "\N{MINUS SIGN}")


def day(value: date) -> str:
    """Print a date as ``31 March 2026``."""
    return day_text(value)


def month_name(value: date) -> str:
    """Print a month as ``March 2026``."""
    return month_text(value)


def _known(value: float | None) -> bool:
    """Tell a figure from None, NaN and infinity."""
    return value is not None and not pd.isna(value) and isfinite(float(value))


def _decimal(value: float) -> Decimal:
    """Return the number a reader would write; binary noise must not round up."""
    return Decimal(f"{value:.12g}")


def _digits(value: Decimal, significant: int) -> int:
    """Return the decimals that leave so many significant digits."""
    return significant - 1 - value.adjusted() if value else 0


def _rounded(value: Decimal, decimals: int, bound: Bound) -> Decimal:
    """Round to decimals, negative ones to tens and hundreds."""
    step = Decimal(1).scaleb(-decimals)
    result = value.quantize(step, rounding=_ROUNDING[bound])
    # a quantum above one leaves an exponent that prints as 1.2E+3
    return result.quantize(Decimal(1)) if decimals < 0 else result + Decimal(0)
