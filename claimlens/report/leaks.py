"""The second look at a finished report: nothing personal may be left in it."""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterable, Iterator
from html.parser import HTMLParser

from claimlens.errors import ReportError
from claimlens.handover import ReportTables
from claimlens.redact import Redactor

__all__ = ["own_words", "refuse_leaks", "texts_of_page"]

_TEXT_KINDS = frozenset({"text", "key", "note"})
# where a page holds words that a person can read
_READ_ALOUD = frozenset({"alt", "aria-label", "content", "title"})
_NAMED = 3


class _Texts(HTMLParser):
    """Collects what a reader of a page can see or hear, and its charts' data."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._in = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        if tag == "script":
            is_data = told.get("type") == "application/json"
            self._in = "data" if is_data else "script"
        elif tag == "style":
            self._in = "script"
        self.found += [value for name, value in attrs if name in _READ_ALOUD and value]

    def handle_endtag(self, tag: str) -> None:
        if tag in ("script", "style"):
            self._in = ""

    def handle_data(self, data: str) -> None:
        if self._in == "data":
            self.found += _strings(json.loads(data))
        elif not self._in and data.strip():
            self.found.append(data)


def _strings(node: object) -> Iterator[str]:
    """Walk JSON and yield every text in it."""
    if isinstance(node, str):
        yield node
    elif isinstance(node, dict):
        for value in node.values():
            yield from _strings(value)
    elif isinstance(node, list):
        for value in node:
            yield from _strings(value)


def texts_of_page(page: str) -> list[str]:
    """Return every text of a page that holds a letter.

    Parameters
    ----------
    page : str
        HTML.

    Returns
    -------
    list of str
        Texts between tags, those read aloud, and those of the charts' data; figures
        alone are left out.
    """
    parser = _Texts()
    parser.feed(page)
    parser.close()
    # charts come twice, and cells of a table are alike
    return [
        text
        for text in dict.fromkeys(parser.found)
        if any(character.isalpha() for character in text)
    ]


def own_words(texts: Iterable[str]) -> frozenset[str]:
    """Return the words that a report says by itself, whatever the data are.

    Somebody may be called like a word of the definitions, as the interval after
    Wilson is: that word is no leak.

    Parameters
    ----------
    texts : iterable of str
        Such as the definitions.
    """
    return frozenset(word for text in texts for word in _words(text))


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W\d_]+", text.casefold())


def refuse_leaks(
    page: str,
    tables: ReportTables | None,
    redactor: Redactor,
    ours: Collection[str] = (),
) -> None:
    """Look through a finished page and its tables once more.

    Parameters
    ----------
    page : str
        HTML.
    tables : ReportTables or None
        What the workbook is made from.
    redactor : Redactor
        The one that took out what was found at first: it knows that too.
    ours : collection of str
        Words that the report says by itself, from `own_words`.

    Raises
    ------
    ReportError
        If something that tells of a person or of another company is left.
    """
    found = _found_in("page", texts_of_page(page), redactor, ours)
    for sheet in tables.sheets if tables else ():
        for name in sheet.frame.columns:
            if sheet.kinds[str(name)] in _TEXT_KINDS:
                cells = [each for each in sheet.frame[name] if isinstance(each, str)]
                place = f"table {sheet.id}, column {name}"
                found += _found_in(place, list(dict.fromkeys(cells)), redactor, ours)
    if found:
        more = len(found) - _NAMED
        raise ReportError(
            f"{len(found)} pieces that look personal are left in the report: "
            f"{', '.join(found[:_NAMED])}{f', and {more} more' if more > 0 else ''}. "
            "Nothing was written.",
            source="report",
            remedy="have the texts corrected; or, where they are harmless, list the "
            "words in claimlens.toml: [redaction] keep = [...]",
        )


def _found_in(
    place: str, texts: list[str], redactor: Redactor, ours: Collection[str]
) -> list[str]:
    """Return what is left, by kind and place; the piece itself stays unsaid."""
    return [
        f"{removal.kind} ({place})"
        for text in texts
        for removal in redactor.scan(text)
        if _words(removal.text) == [] or not set(_words(removal.text)) <= set(ours)
    ]
