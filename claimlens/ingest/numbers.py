"""Read amounts with any decimal sign, thousands separator and currency."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from functools import lru_cache
from typing import Literal

from claimlens.currencies import CURRENCIES

__all__ = [
    "DecimalEvidence",
    "DecimalReading",
    "currency_of",
    "detect_decimal",
    "parse",
]

DecimalSign = Literal[",", "."]

_BLANKS = re.compile(r"[\s\u00a0\u202f\u2007\u2009\u200a]+")
_APOSTROPHES = "'’`´ʼ"
_SIGNS = {"€": "EUR", "£": "GBP", "₤": "GBP", "¥": "JPY", "₹": "INR", "zł": "PLN"}
_DOLLARS = {
    "US$": "USD",
    "$US": "USD",
    "$": "USD",
    "C$": "CAD",
    "CA$": "CAD",
    "A$": "AUD",
    "AU$": "AUD",
}
_WORDS = {
    "euro": "EUR",
    "euros": "EUR",
    "eur": "EUR",
    "sfr": "CHF",
    "fr": "CHF",
    "franken": "CHF",
    "pound": "GBP",
    "pounds": "GBP",
    "dollar": "USD",
    "dollars": "USD",
    "us dollar": "USD",
}
# Codes that are no word of the six languages, so that case may be ignored.
_COMMON = frozenset(
    ("EUR", "CHF", "GBP", "USD", "CAD", "AUD", "NZD", "SEK", "NOK", "DKK", "PLN", "CZK")
)
_CODE = re.compile(r"(?<![A-Za-z])([A-Za-z]{2,7})\.?(?![A-Za-z])")
_DIRT = 0.02
_DIGIT = re.compile(r"\d")
_PLAIN = re.compile(r"[\d.,' -]+")
_FIGURE = re.compile(r"\d[\d.,'’`´ʼ]*")
_GROUPED = {
    ",": re.compile(r"\d{1,3}(?:,\d{3})+|\d{1,3}(?:,\d{2})*,\d{3}"),
    ".": re.compile(r"\d{1,3}(?:\.\d{3})+"),
}


@dataclass(frozen=True, slots=True)
class DecimalReading:
    """Which sign marks the decimals of a column.

    Parameters
    ----------
    sign : {',', '.'} or None
        None where no value tells.
    ambiguous : bool
        Some values hold a sign that could mark decimals or thousands, and no
        value decides.
    why : str
        The reason.
    currencies : tuple of str
        Codes found inside the values, commonest first.
    """

    sign: DecimalSign | None
    ambiguous: bool
    why: str
    currencies: tuple[str, ...] = ()


@dataclass(slots=True)
class DecimalEvidence:
    """Gathers what the values of a column say of their decimal sign.

    In a workbook (``from_cells``) a number cell always shows a decimal point,
    so that only the cells of text speak: any decimal comma among them does.
    """

    from_cells: bool = False
    votes: Counter[str] = field(default_factory=Counter)
    currencies: Counter[str] = field(default_factory=Counter)
    example: dict[str, str] = field(default_factory=dict)
    numbers: int = 0
    others: int = 0

    def add(self, texts: Iterable[str]) -> None:
        """Take distinct values."""
        for text in texts:
            figure = _figure(text) if _DIGIT.search(text) else None
            if figure is None:
                self.others += 1
                continue
            self.numbers += 1
            vote = _vote(figure)
            if vote:
                self.votes[vote] += 1
                self.example.setdefault(vote, text)
            code = None if _PLAIN.fullmatch(text) else currency_of(text)
            if code:
                self.currencies[code] += 1

    def reading(self) -> DecimalReading:
        """Judge what was gathered."""
        codes = tuple(code for code, _ in self.currencies.most_common())
        comma, point = self.votes[","], self.votes["."]
        if comma or point:
            needed = _DIRT * point if self.from_cells else point
            sign: DecimalSign = "," if comma and comma >= needed else "."
            name = "comma" if sign == "," else "point"
            fewer = comma + point - self.votes[sign]
            also = f", {fewer} the other way round" if fewer else ""
            return DecimalReading(
                sign,
                False,
                f"{self.votes[sign]} values such as {self.example[sign]!r} have a "
                f"decimal {name}{also}",
                codes,
            )
        if self.votes["?"]:
            return DecimalReading(
                None,
                True,
                f"values such as {self.example['?']!r} may hold decimals or thousands",
                codes,
            )
        return DecimalReading(None, False, "every value is a whole number", codes)


def _figure(text: str) -> str | None:
    """Return the digits and separators of an amount, else None."""
    squeezed = _BLANKS.sub("", text)
    found = _FIGURE.findall(squeezed)
    if len(found) != 1:
        return None
    rest = squeezed.replace(found[0], "", 1)
    letters = sum(map(str.isalpha, rest))
    if letters > 7 or any(map(str.isdigit, rest)) or re.search(r"[/:_]", rest):
        return None
    if re.search(r"[^\W\d_][-−]\d", squeezed) and currency_of(text) is None:
        return None  # SN-12 is a name
    figure = str(found[0])
    if figure[-1] in ".," and rest[-1:] in ("-", "–", "−"):
        return figure + "00"  # 12,- is 12,00
    return figure.rstrip(".,")


def _vote(figure: str) -> str | None:
    """Return the decimal sign that a figure proves, ``?`` if it may be either."""
    plain = figure
    for mark in _APOSTROPHES:
        plain = plain.replace(mark, "")
    apostrophes = plain != figure
    comma, point = plain.rfind(","), plain.rfind(".")
    if comma < 0 and point < 0:
        return None
    if comma >= 0 and point >= 0:
        return "," if comma > point else "."
    mark = "," if comma >= 0 else "."
    if plain.count(mark) > 1:
        return "." if mark == "," else ","
    after = len(plain) - plain.rfind(mark) - 1
    before = plain.rfind(mark)
    if after != 3 or before > 3 or plain[0] == "0" or apostrophes:
        return mark
    return "?"


def detect_decimal(values: Collection[str]) -> DecimalReading:
    """Find which sign marks the decimals of a column.

    Parameters
    ----------
    values : collection of str
        Distinct values.

    Returns
    -------
    DecimalReading
        The sign and the reason; a lone ``1.234`` decides nothing.
    """
    evidence = DecimalEvidence()
    evidence.add(values)
    return evidence.reading()


@lru_cache(maxsize=65_536)
def currency_of(text: str) -> str | None:
    """Return the currency that a text names, by code, sign or word.

    Parameters
    ----------
    text : str
        A cell or a header, such as ``€ 12,50``, ``CHF 1'234.50``,
        ``Betrag (EUR)``.

    Returns
    -------
    str or None
        Code of ISO 4217; a bare ``$`` is taken for USD. None without one.
    """
    for sign in sorted(_DOLLARS, key=len, reverse=True):
        if sign in text:
            return _DOLLARS[sign]
    for sign, code in _SIGNS.items():
        if sign in text:
            return code
    for word in _CODE.findall(text):
        if word in CURRENCIES:
            return str(word)
        known = _WORDS.get(word.lower()) or (
            word.upper() if word.upper() in _COMMON else None
        )
        if known:
            return known
    bare = text.strip().upper()
    return bare if bare in CURRENCIES else None


def parse(texts: Collection[str], decimal: str | None) -> dict[str, Decimal | None]:
    """Read texts as numbers.

    Parameters
    ----------
    texts : collection of str
        Distinct texts.
    decimal : {',', '.'} or None
        The column's decimal sign. A text whose form allows one reading only
        (``12.50`` in a column of decimal commas) is read by its form. With
        None, a text that could be read both ways is not read.

    Returns
    -------
    dict of str to Decimal or None
        None for a text that is no number.
    """
    return {text: _number(text, decimal) for text in texts}


def _number(text: str, decimal: str | None) -> Decimal | None:
    """Read one text."""
    plain = text.strip()
    if re.fullmatch(r"[+-]?\d+(?:\.\d+)?[eE][+-]?\d+", plain):
        return Decimal(plain)
    figure = _figure(plain)
    if figure is None:
        return None
    sign = _vote(figure)
    if sign == "?":
        sign = decimal
        if sign is None:
            return None
    for mark in _APOSTROPHES:
        figure = figure.replace(mark, "")
    if sign == ",":
        figure = figure.replace(".", "").replace(",", ".")
    elif sign == ".":
        figure = figure.replace(",", "")
    try:
        number = Decimal(figure)
    except InvalidOperation:
        return None
    return -number if _is_negative(plain) else number


def _is_negative(text: str) -> bool:
    """Tell a negative number: sign before or after it, or in parentheses."""
    squeezed = _BLANKS.sub("", text)
    if re.search(r"\(.*\d.*\)", squeezed):
        return True
    head = re.split(r"\d", squeezed, maxsplit=1)[0]
    tail = re.split(r"\d", squeezed[::-1], maxsplit=1)[0]
    minus = "-−–"
    return any(mark in head for mark in minus) or bool(
        re.match(rf"[^\d]*[{minus}]", tail) and not re.search(r"[.,][-–]", squeezed)
    )
