"""Characters that hide, turn or forge a text, made visible wherever text is shown.

What is kept (warehouse, CSV, JSON, Parquet) stays as it came; what a person looks at
(terminal, page, drawing, workbook, summary) passes through ``visible``.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable

__all__ = ["HIDDEN", "visible"]

#: What has no shape of its own, for the brackets of a pattern: controls but tab and
#: line feed, Unicode's Default_Ignorable_Code_Point (DerivedCoreProperties.txt of
#: Unicode 14.0), separators of lines and paragraphs, annotation marks, the blank
#: Braille cell, halves of characters and what is no character.
HIDDEN = (
    "\x00-\x08\x0b-\x1f\x7f-\x9f\xad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f"
    "\u200b-\u200f\u2028-\u202e\u2060-\u206f\u2800\u3164\ud800-\udfff\ufdd0-\ufdef"
    "\ufe00-\ufe0f\ufeff\uffa0\ufff0-\ufffb\ufffe\uffff\U0001bca0-\U0001bca3"
    "\U0001d173-\U0001d17a\U000e0000-\U000e0fff"
)
_MARK = re.compile(f"[{HIDDEN}]")
_JOINERS = frozenset("\u200c\u200d")
_LOOKS = frozenset("\ufe0e\ufe0f")
_KEYCAP = "\u20e3"
_VIRAMA = 9  # its combining class

#: Letters that look like a Latin one (Unicode Technical Standard 39 lists such pairs;
#: these are from memory, those that a reader takes for the Latin letter at a glance).
_LATIN = dict(
    zip(
        "АВЕЅІЈКМНОРСТХУаеіјорсухѕһԁԛԝӏΑΒΕΖΗΙΚΜΝΟΡΤΥΧοινρ",
        "ABESIJKMHOPCTXYaeijopcyxshdqwlABEZHIKMNOPTYXoivp",
        strict=True,
    )
)
_FOREIGN = re.compile(f"[{''.join(_LATIN)}]")
_COPIED = frozenset(_LATIN.values())
_NUMBER = r"⟨U\+[0-9A-F]{4,6}⟩"
# a hidden character does not part a word
_WORD = re.compile(rf"(?:[^\W_]|{_NUMBER})+")
_PIECE = re.compile(rf"{_NUMBER}|.")


def visible(text: str, *, one_line: bool = False) -> str:
    """Return a text in which nothing is hidden and no word mixes look-alikes.

    Parameters
    ----------
    text : str
        Any text that came from data.
    one_line : bool, default False
        Whether line feeds are shown as ↵, so that a cell cannot pass for a row.

    Returns
    -------
    str
        Controls, marks that turn the direction of text, and characters without a
        shape as ``⟨U+202E⟩``. Joiners stay where a script or an emoji needs them
        (after a letter without case, a virama or a symbol: simpler than Unicode
        Standard Annex 31, section 2.3). In a word of Latin and Cyrillic or Greek
        letters, those of the script that is rarer in it and that pass for one of the
        other are followed by their number: ``А⟨U+0410⟩B-12``. ``kΩ`` and ``µF`` stay.
    """
    if text.isascii() and text.isprintable():
        return text
    shown = text.replace("\r\n", "\n")
    if one_line:
        shown = shown.replace("\n", "↵")
    shown = _MARK.sub(_named, shown)
    return _WORD.sub(_unmixed, shown) if _FOREIGN.search(shown) else shown


def _named(match: re.Match[str]) -> str:
    """Return a hidden character by its number, or as it is where it is needed."""
    character, text, at = match.group(), match.string, match.start()
    before, after = text[at - 1 : at], text[at + 1 : at + 2]
    if before and character in _JOINERS and _takes_joiner(before):
        return character
    if before and character in _LOOKS:
        is_shape = unicodedata.category(before) in ("So", "Sm")
        if is_shape or after == _KEYCAP:
            return character
    return _number(character)


def _takes_joiner(before: str) -> bool:
    """Tell whether a joiner may stand after a character."""
    if before in _LOOKS:
        return True
    kind = unicodedata.category(before)
    is_needed = kind in ("Lo", "So", "Sk") or unicodedata.combining(before) == _VIRAMA
    return is_needed and not _MARK.match(before)


def _number(character: str) -> str:
    return f"⟨U+{ord(character):04X}⟩"


def _unmixed(match: re.Match[str]) -> str:
    """Return a word with the look-alikes of its rarer script numbered."""
    word = match.group()
    if word.isascii() or not _FOREIGN.search(word):
        return word
    pieces = _PIECE.findall(word)
    scripts = [_script(piece) for piece in pieces if len(piece) == 1]
    latin, other = scripts.count("LATIN"), scripts.count("OTHER")
    if not latin or not other:
        return word
    is_odd: Callable[[str], bool] = (
        _LATIN.__contains__ if other <= latin else _COPIED.__contains__
    )
    return "".join(
        # what was numbered before is not numbered again
        piece + _number(piece)
        if len(piece) == 1 and is_odd(piece) and _number(piece) != after
        else piece
        for piece, after in zip(pieces, [*pieces[1:], ""], strict=True)
    )


def _script(letter: str) -> str:
    """Return LATIN, OTHER for Cyrillic and Greek, or nothing."""
    name = unicodedata.name(letter, "").partition(" ")[0]
    return {"LATIN": "LATIN", "CYRILLIC": "OTHER", "GREEK": "OTHER"}.get(name, "")
