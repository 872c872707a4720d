"""The reader's language: messages of the catalogue, numbers and dates as in CLDR.

The language in force is a context variable, set once around a report, so that a
sentence needs no argument for it. English is what the source says; the other
languages stand in ``claimlens/locale/*.po``.
"""

from __future__ import annotations

import gettext as standard
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from functools import lru_cache
from importlib.resources import files
from io import BytesIO
from typing import Literal, get_args

from babel import Locale
from babel.dates import format_date, get_month_names
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import get_decimal_symbol, get_group_symbol

__all__ = [
    "LANGUAGES",
    "N_",
    "SOURCE",
    "Language",
    "_",
    "catalogue",
    "day_text",
    "figures",
    "language",
    "month_text",
    "month_word",
    "ngettext",
    "per_cent",
    "speaking",
    "vega_locale",
]

#: Languages of a report.
Language = Literal["en", "de", "fr"]
LANGUAGES: tuple[Language, ...] = get_args(Language)
#: The language of the source.
SOURCE: Language = "en"

_CURRENT: ContextVar[Language] = ContextVar("language", default=SOURCE)
_NO_BREAK = "\N{NO-BREAK SPACE}"
# before signs, in French typography
_NARROW = "\N{NARROW NO-BREAK SPACE}"


def language() -> Language:
    """Return the language in force."""
    return _CURRENT.get()


@contextmanager
def speaking(chosen: Language) -> Iterator[None]:
    """Put a language in force for the time of one report.

    Parameters
    ----------
    chosen : {"en", "de", "fr"}
        The reader's language.
    """
    token = _CURRENT.set(chosen)
    try:
        yield
    finally:
        _CURRENT.reset(token)


def catalogue(chosen: Language) -> str:
    """Return the shipped catalogue of a language, as text in the form of gettext."""
    path = files("claimlens").joinpath("locale", f"{chosen}.po")
    return path.read_text(encoding="utf-8")


@lru_cache(maxsize=len(LANGUAGES))
def _translations(chosen: Language) -> standard.NullTranslations:
    """Return the messages of a language, compiled when first asked for."""
    if chosen == SOURCE:
        return standard.NullTranslations()
    compiled = BytesIO()
    read = read_po(BytesIO(catalogue(chosen).encode("utf-8")), locale=chosen)
    write_mo(compiled, read)
    compiled.seek(0)
    return standard.GNUTranslations(compiled)


def _(message: str) -> str:
    """Return a message in the language in force.

    Parameters
    ----------
    message : str
        As the source has it; what varies stands as ``{name}`` and is filled in
        afterwards, by ``format``.

    Returns
    -------
    str
        The message itself where the catalogue has none.
    """
    return _translations(language()).gettext(message) if message else ""


def ngettext(one: str, many: str, number: float) -> str:
    """Return a message for one thing or for many, in the language in force.

    Parameters
    ----------
    one, many : str
        Both forms of the source.
    number : float
        How many there are.
    """
    return _translations(language()).ngettext(one, many, int(number))


def N_(message: str) -> str:  # noqa: N802 - the name under which extractors look
    """Mark a message that is said later."""
    return message


def figures(text: str) -> str:
    """Return a figure as printed in English with the separators of the language.

    Parameters
    ----------
    text : str
        Such as ``1,234.5``.
    """
    chosen = language()
    if chosen == SOURCE:
        return text
    group, decimal = get_group_symbol(chosen), get_decimal_symbol(chosen)
    return text.translate({ord(","): group, ord("."): decimal})


def per_cent() -> str:
    """Return the sign behind a share, with the space that belongs before it."""
    narrow = language() == "fr"
    return f"{_NARROW if narrow else _NO_BREAK}%"


def day_text(value: date) -> str:
    """Return a date in words, as a reader of the language writes it."""
    chosen = language()
    if chosen == "fr" and value.day == 1:
        return f"1er {month_text(value)}".replace(" ", _NO_BREAK)
    text = format_date(value, format="long", locale=Locale(chosen))
    if chosen == SOURCE:
        text = format_date(value, format="d MMMM y", locale=Locale(chosen))
    return text.replace(" ", _NO_BREAK)


def month_text(value: date) -> str:
    """Return a month with its year in words."""
    text = format_date(value, format="MMMM y", locale=Locale(language()))
    return text.replace(" ", _NO_BREAK)


def month_word(number: int) -> str:
    """Return a month of the year as it stands within a date."""
    return str(get_month_names("wide", "format", Locale(language()))[number])


def vega_locale() -> dict[str, dict[str, object]] | None:
    """Return numbers and months for drawings; None for those of the source.

    Returns
    -------
    dict or None
        ``number`` and ``time`` as the drawing library wants them.
    """
    chosen = language()
    if chosen == SOURCE:
        return None
    locale = Locale(chosen)
    months = get_month_names("wide", "stand-alone", locale)
    short = get_month_names("abbreviated", "stand-alone", locale)
    days, brief = (
        [locale.days["stand-alone"][width][n] for n in (6, *range(6))]
        for width in ("wide", "abbreviated")
    )
    return {
        "number": {
            "decimal": get_decimal_symbol(chosen),
            "thousands": get_group_symbol(chosen),
            "grouping": [3],
            "currency": ["", ""],
            "percent": per_cent(),
        },
        "time": {
            "dateTime": "%A, %e. %B %Y, %X" if chosen == "de" else "%A %e %B %Y à %X",
            "date": "%d.%m.%Y" if chosen == "de" else "%d/%m/%Y",
            "time": "%H:%M:%S",
            "periods": ["AM", "PM"],
            "days": days,
            "shortDays": brief,
            "months": [months[n] for n in range(1, 13)],
            "shortMonths": [short[n] for n in range(1, 13)],
        },
    }
