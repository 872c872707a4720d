"""Words by which exports say that there is no value."""

from __future__ import annotations

from functools import cache, lru_cache

from claimlens.ingest.date_shapes import date_words
from claimlens.ingest.skips import fold

__all__ = ["is_null_word"]


@cache
def _nothing() -> frozenset[str]:
    return frozenset(date_words()["nothing"]["words"])


@cache
def _no_dates() -> frozenset[str]:
    return frozenset(date_words()["nothing"]["dates"])


@lru_cache(maxsize=65_536)
def is_null_word(text: str) -> bool:
    """Tell whether a text says that there is no value.

    Parameters
    ----------
    text : str
        A cell.

    Returns
    -------
    bool
        True for blanks, dashes, ``n/a``, ``unbekannt``, ``0000-00-00``.
    """
    plain = text.strip()
    if plain[:10] in _no_dates() and not plain[10:11].isdigit():
        return True
    if plain in _no_dates():
        return True
    return (
        len(plain) <= 24
        and not any(map(str.isdigit, plain))
        and (fold(plain) in _nothing())
    )
