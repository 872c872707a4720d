"""Shapes that must not stand in a finished text, looked for on their own."""

from __future__ import annotations

import re
from collections.abc import Iterator

from claimlens.redact.checks import is_card, is_iban
from claimlens.redact.kinds import Span

__all__ = ["shapes"]

_MAIL = re.compile(r"[^\s@<>\[\]()]{1,64}@[^\s@<>\[\](),;]{1,120}\.[^\W\d_]{2,24}")
_GROUPED = re.compile(
    r"(?<![^\W_])(?:\+[0-9]|\(?0[0-9])[0-9 ()/.-]{6,22}[0-9](?![^\W_])"
)
_DATE_LIKE = re.compile(
    r"(?:0[1-9]|[12][0-9]|3[01])[./-](?:0[1-9]|1[0-2])[./-](?:[0-9]{4}|[0-9]{2})"
    r"|0[0-9]{2,4}-[0-9]{2,4}-[0-9]{2,4}|0[.][0-9]+"
)
_ACCOUNT = re.compile(
    r"(?<![^\W_])[A-Za-z]{2}[0-9]{2}(?:[ -]?[A-Za-z0-9]){11,30}(?![^\W_])"
)
_CARD = re.compile(r"(?<![\w-])[2-6][0-9]{3}(?:[ -]?[0-9]){8,15}(?![\w-])")
_STREET = re.compile(
    r"(?i)(?<![^\W_])(?:[^\W\d_]{3,30}(?:stra(?:ß|ss)e|straat|gracht|gasse)|(?:rue|avenue|calle)"
    r"[ ][^\W\d_][^\n,]{2,40}?)[ ,]{1,2}[0-9]{1,4}(?![^\W_])"
)


def shapes(text: str) -> Iterator[Span]:
    """Find mail, telephone, bank and card numbers and streets by plain shapes.

    Parameters
    ----------
    text : str
        In ordinary characters.

    Yields
    ------
    Span
        Each find.
    """
    yield from (Span(*m.span(), "mail") for m in _MAIL.finditer(text))
    for match in _GROUPED.finditer(text):
        digits = sum(c.isdigit() for c in match.group())
        if 9 <= digits <= 15 and not _DATE_LIKE.match(match.group()):
            yield Span(*match.span(), "telephone")
    for match in _ACCOUNT.finditer(text):
        if is_iban(match.group()):
            yield Span(*match.span(), "payment")
    for match in _CARD.finditer(text):
        if is_card(match.group()):
            yield Span(*match.span(), "payment")
    yield from (Span(*m.span(), "address") for m in _STREET.finditer(text))
