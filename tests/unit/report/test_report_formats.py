"""Numbers as text: units, rounding half to even, limits outward."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from claimlens.report import formats
from claimlens.report.formats import PER_CENT, PER_MILLION, PER_THOUSAND, RateUnit

UNITS = st.sampled_from([PER_CENT, PER_THOUSAND, PER_MILLION])
SHARES = st.floats(0, 1, allow_subnormal=False)


def read_back(text: str, unit: RateUnit) -> Decimal:
    """Turn a printed rate into a share again."""
    return Decimal(text.replace(",", "")) / unit.factor


@pytest.mark.parametrize(
    ("rates", "unit"),
    [
        ([0.018, 0.2], PER_CENT),
        ([0.018, 0.0003], PER_THOUSAND),
        ([0.004, 0.001], PER_THOUSAND),
        ([0.004, 0.00002], PER_MILLION),
        ([0.0009], PER_MILLION),
        ([0.0, None, float("nan")], PER_CENT),
        ([], PER_CENT),
    ],
)
def test_a_table_has_one_unit_that_shows_its_smallest_rate(
    rates: list[float | None], unit: RateUnit
) -> None:
    assert formats.rate_unit(rates) is unit


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.01825, PER_CENT, "1.8"),
        (0.0125, PER_CENT, "1.2"),  # half to even
        (0.0135, PER_CENT, "1.4"),
        (0.0184, PER_THOUSAND, "18.4"),
        (0.000123, PER_MILLION, "120"),
        (0.00000123, PER_MILLION, "1.2"),
        (0.0, PER_CENT, "0.0"),
        (1.0, PER_CENT, "100.0"),
        (None, PER_CENT, formats.MISSING),
        (float("nan"), PER_CENT, formats.MISSING),
    ],
)
def test_a_rate_is_rounded_half_to_even(
    value: float | None, unit: RateUnit, text: str
) -> None:
    assert formats.rate(value, unit) == text


@given(share=SHARES, unit=UNITS)
def test_printed_limits_never_claim_more_than_the_limits_behind_them(
    share: float, unit: RateUnit
) -> None:
    # the twelve digits that are read of a float allow for binary noise
    noise = Decimal("1e-11")
    lower = read_back(formats.rate(share, unit, "lower"), unit)
    upper = read_back(formats.rate(share, unit, "upper"), unit)
    assert lower <= Decimal(share) * (1 + noise)
    assert upper >= Decimal(share) * (1 - noise)
    assert 0 <= lower <= upper <= 1


@given(share=SHARES, unit=UNITS)
def test_a_printed_rate_lies_within_its_printed_interval(
    share: float, unit: RateUnit
) -> None:
    point = read_back(formats.rate(share, unit), unit)
    lower = read_back(formats.rate(share, unit, "lower"), unit)
    upper = read_back(formats.rate(share, unit, "upper"), unit)
    assert lower <= point <= upper


def test_a_limit_on_the_grid_is_not_pushed_off_it_by_binary_noise() -> None:
    assert 0.1 + 0.2 != 0.3
    assert formats.rate(0.1 + 0.2, PER_CENT, "upper") == "30.0"
    assert formats.rate(0.07, PER_CENT, "lower") == "7.0"


@pytest.mark.parametrize(
    ("lower", "upper", "text"),
    [
        (0.0131, 0.0249, "1.3–2.5"),
        (0.0131, None, "from 1.3, no upper limit"),
        (None, 0.0249, "up to 2.5"),
        (None, None, formats.MISSING),
    ],
)
def test_an_open_interval_is_put_in_words(
    lower: float | None, upper: float | None, text: str
) -> None:
    assert formats.interval(lower, upper, PER_CENT) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.03, "0.03"), (0.0004, "< 0.001"), (0.0042, "0.004"), (0.5, "0.50")],
)
def test_a_p_value_is_never_printed_as_zero(value: float, text: str) -> None:
    assert formats.p_value(value) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(1.234, "1.2"), (0.05678, "0.057"), (123.4, "123"), (0, "0"), (9.96, "10.0")],
)
def test_a_ratio_has_two_significant_digits(value: float, text: str) -> None:
    assert formats.ratio(value) == text


def test_counts_money_and_dates_are_written_for_readers() -> None:
    assert formats.count(12345) == "12,345"
    assert formats.amount(31480.5, "EUR") == "31,480\u00a0EUR"
    assert formats.amount(None, "EUR") == formats.MISSING
    assert formats.day(date(2026, 3, 31)) == "31\u00a0March\u00a02026"
    assert formats.month_name(date(2025, 12, 1)) == "December\u00a02025"


@pytest.mark.parametrize(
    ("lower", "upper", "unit"),
    [
        (0.0311, 0.0249, PER_CENT),
        (0.0158, 0.0151, PER_THOUSAND),  # per cent: from 1.5, up to 1.6
        (0.0084, 0.0081, PER_THOUSAND),
        (0.0005, 0.0003, PER_MILLION),
    ],
)
def test_limits_that_keep_apart_do_not_seem_to_overlap_in_print(
    lower: float, upper: float, unit: RateUnit
) -> None:
    assert formats.telling_unit(lower, upper) is unit
    floor = Decimal(formats.rate(lower, unit, "lower").replace(",", ""))
    ceiling = Decimal(formats.rate(upper, unit, "upper").replace(",", ""))
    assert floor >= ceiling
