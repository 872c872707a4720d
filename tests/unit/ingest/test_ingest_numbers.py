"""Amounts as exports write them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from claimlens.ingest import numbers


@pytest.mark.parametrize(
    ("text", "decimal", "value"),
    [
        ("1.234,56", ",", "1234.56"),
        ("1,234.56", ".", "1234.56"),
        ("1 234,56 €", ",", "1234.56"),
        ("1\u202f234,56", ",", "1234.56"),
        ("1\u00a0234,56", ",", "1234.56"),
        ("CHF 1'234.50", ".", "1234.50"),
        ("1’234.50", ".", "1234.50"),
        ("$1,234", ".", "1234"),
        ("1,234", ",", "1.234"),
        ("12.50", ",", "12.50"),
        ("12,50-", ",", "-12.50"),
        ("(12.50)", ".", "-12.50"),
        ("−3,00", ",", "-3.00"),
        ("- € 12,00", ",", "-12.00"),
        ("EUR -12,00", ",", "-12.00"),
        ("12.–", ".", "12"),
        ("0,125", ",", "0.125"),
        ("1.234.567", ",", "1234567"),
        ("5 km", ".", "5"),
        ("1e3", ".", "1000"),
    ],
)
def test_amounts_are_read_exactly(text: str, decimal: str, value: str) -> None:
    assert numbers.parse([text], decimal)[text] == Decimal(value)


@pytest.mark.parametrize("text", ["", "abc", "SN-12", "12/3", "1 of 2", "2024-03-15"])
def test_what_is_no_number_is_none(text: str) -> None:
    assert numbers.parse([text], ".")[text] is None


def test_a_lone_thousand_does_not_tell_its_sign() -> None:
    reading = numbers.detect_decimal(["1.234", "2.500"])
    assert reading.ambiguous
    assert numbers.parse(["1.234"], None) == {"1.234": None}


@pytest.mark.parametrize(
    ("values", "sign"),
    [
        (["1.234", "12,5"], ","),
        (["1,234", "12.50"], "."),
        (["1.234.567"], ","),
        (["0.125"], "."),
        (["1'234.50"], "."),
        (["12", "13"], None),
    ],
)
def test_one_telling_value_decides_the_decimal_sign(
    values: list[str], sign: str | None
) -> None:
    reading = numbers.detect_decimal(values)
    assert reading.sign == sign
    assert not reading.ambiguous


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("€ 12,50", "EUR"),
        ("CHF 1'234.50", "CHF"),
        ("£80", "GBP"),
        ("$5", "USD"),
        ("12 Euro", "EUR"),
        ("Fr. 12.-", "CHF"),
        ("12.50", None),
        ("12 pcs", None),
    ],
)
def test_the_currency_inside_an_amount_is_found(text: str, code: str | None) -> None:
    assert numbers.currency_of(text) == code
