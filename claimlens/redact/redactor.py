"""The first pass over a text, and the second look at a finished one."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator
from itertools import islice

from claimlens.redact.addresses import address_spans
from claimlens.redact.business import Names, form_spans
from claimlens.redact.kinds import KINDS, Known, Redacted, Removal, Span
from claimlens.redact.labelled import labelled_spans
from claimlens.redact.numbers import (
    amount_spans,
    number_spans,
    phone_spans,
    plate_spans,
)
from claimlens.redact.people import person_spans
from claimlens.redact.plain import folded, plain, squeezed
from claimlens.redact.second import shapes
from claimlens.redact.technical import technical_spans
from claimlens.redact.words import words

__all__ = ["Redactor"]

_PLACED = re.compile("|".join(re.escape(word) for word in KINDS.values()))
_MARK = "…"
_PASSES = 12
# Kinds that a string of the trade does not protect from.
_OVER = frozenset({"mail", "web", "payment", "birth", "business", "serial"})


class Redactor:
    """Takes personal data out of texts, and remembers what it took.

    Parameters
    ----------
    known : Known
        What the workspace knows.

    Examples
    --------
    >>> Redactor(Known()).redact("Regards, Tom Baker").text
    'Regards, [name]'
    """

    def __init__(self, known: Known) -> None:
        self._known = known
        self._lists = words()
        self._names = Names(known.names, self._lists)
        self._keep = Names(known.keep)
        self._kept = frozenset(squeezed(text)[0] for text in known.keep)
        self._serials = Names(known.serials)
        self._removed: dict[str, Removal] = {}
        self._gone: Names | None = None

    def redact(self, text: str) -> Redacted:
        """Take personal data out of a text.

        Parameters
        ----------
        text : str
            As its author wrote it, in any of the five languages.

        Returns
        -------
        Redacted
            The text with a short word in brackets in each removed piece's place.
        """
        removed: list[tuple[int, Removal]] = []
        for _ in range(_PASSES):
            pieces = self._pieces(text)
            if not pieces:
                break
            parts: list[str] = []
            at = 0
            for start, end, removal, put in pieces:
                parts += [text[at:start], put]
                at = end
                removed.append((start, removal))
            text = "".join(parts) + text[at:]
        found = tuple(removal for _, removal in sorted(removed, key=lambda r: r[0]))
        self._remember(found)
        return Redacted(text, found)

    def sweep(self, text: str) -> Redacted:
        """Take out of a redacted text whatever `scan` would find in it.

        Who is named with a title in one text stands without one in the next.

        Parameters
        ----------
        text : str
            What `redact` returned, after all texts have passed it.

        Returns
        -------
        Redacted
            The text without them, and what was taken.
        """
        view = plain(text)
        parts: list[str] = []
        removed: list[Removal] = []
        at = 0
        for span in self._left(view.text):
            start, end = view.back(span.start, span.end)
            if start < at:
                continue
            whole = view.text[span.start : span.end]
            put = self.serial(whole) if span.kind == "serial" else KINDS[span.kind]
            parts += [text[at:start], put]
            removed.append(Removal(span.kind, text[start:end]))
            at = end
        return Redacted("".join(parts) + text[at:], tuple(removed))

    def serial(self, serial: str) -> str:
        """Return a serial number as the settings let it be shown.

        Parameters
        ----------
        serial : str
            A unit's serial number.

        Returns
        -------
        str
            The whole number, or its last characters after an ellipsis.
        """
        keeps = self._known.serial_keeps
        if keeps is None or len(serial) <= keeps:
            return serial
        return _MARK + (serial[-keeps:] if keeps else "")

    def scan(self, text: str) -> tuple[Removal, ...]:
        """Look once more at a finished text, by rules of its own.

        Parameters
        ----------
        text : str
            A text that is about to leave the company.

        Returns
        -------
        tuple of Removal
            What still looks personal: shapes of mail, telephone, bank account,
            card and address, known names, and anything that this redactor removed
            from some text and that still stands here as a whole word.
        """
        seen = plain(text).text
        return tuple(
            Removal(span.kind, seen[span.start : span.end]) for span in self._left(seen)
        )

    def _left(self, seen: str) -> list[Span]:
        """Return what still looks personal in a text, in its order."""
        kept = [*self._keep.spans(seen), *(m.span() for m in _PLACED.finditer(seen))]
        found = list(shapes(seen))
        found += [Span(*span, "business") for span in self._names.spans(seen)]
        found += self._whole_serials(seen)
        found += self._again(seen)
        held = _Pieces(kept)
        return [span for span in sorted(found) if not held.hold(span)]

    def _whole_serials(self, seen: str) -> Iterator[Span]:
        """Find the serials that are to be shortened and stand whole."""
        if self._known.serial_keeps is None:
            return
        for start, end in self._serials.spans(seen):
            if self.serial(seen[start:end]) != seen[start:end]:
                yield Span(start, end, "serial")

    def _again(self, seen: str) -> Iterator[Span]:
        """Find what was removed before."""
        if self._gone is None:
            self._gone = Names(removal.text for removal in self._removed.values())
        for start, end in self._gone.spans(seen):
            bare, _ = squeezed(seen[start:end])
            if bare in self._removed:
                yield Span(start, end, self._removed[bare].kind)

    def _remember(self, removed: Iterable[Removal]) -> None:
        """Note what was removed, for the second look."""
        for removal in removed:
            for part in (removal.text, *re.findall(r"[^\W\d_]{3,}", removal.text)):
                whole = part == removal.text
                bare, _ = squeezed(part)
                telling = removal.kind in ("person", "business") or whole
                if len(bare) < 4 or bare in self._kept or not telling:
                    continue
                # a word that was taken for a name once is a word elsewhere
                single = removal.kind == "person" and " " not in part
                if (single or not whole) and self._lists.listed(folded(part)):
                    continue
                if removal.kind == "amount" or folded(part) in self._lists.trade:
                    continue
                self._removed.setdefault(bare, Removal(removal.kind, part))
                self._gone = None

    def _pieces(self, text: str) -> list[tuple[int, int, Removal, str]]:
        """Return what is to be taken out of a text, in its order."""
        view = plain(text)
        seen = view.text
        placed = [m.span() for m in _PLACED.finditer(seen)]
        kept = list(self._keep.spans(seen))
        spans = self._settle(seen, placed, kept)
        settled = [*placed, *kept, *((s.start, s.end) for s in spans)]
        settled += [s for s in technical_spans(seen) if _digits(seen[slice(*s)])]
        hard = _Pieces([*placed, *kept])
        people = person_spans(seen, settled, self._lists)
        spans += [span for span in people if not hard.touch(span)]
        found = []
        for span in _merged(seen, spans):
            start, end = view.back(span.start, span.end)
            whole = seen[span.start : span.end]
            put = self.serial(whole) if span.kind == "serial" else KINDS[span.kind]
            found.append((start, end, Removal(span.kind, text[start:end]), put))
        return found

    def _settle(
        self, seen: str, placed: list[tuple[int, int]], kept: list[tuple[int, int]]
    ) -> list[Span]:
        """Find everything but names of persons."""
        technical = _Pieces(technical_spans(seen))
        spans = [Span(*span, "business") for span in self._names.spans(seen)]
        spans += form_spans(seen)
        spans += self._whole_serials(seen)
        spans += number_spans(seen)
        labelled = list(labelled_spans(seen))
        phones = list(phone_spans(seen))
        spans += [s for s, sure in phones if sure]
        spans += [s for s, named in labelled if named]
        weak = [s for s, sure in phones if not sure]
        measured = _Pieces(technical_spans(seen, measured=True))
        spans += [s for s, named in labelled if not named and not measured.cover(s)]
        plates = list(plate_spans(seen))
        spans += [s for s, sure in plates if sure]
        weak += [s for s, sure in plates if not sure]
        weak += [*amount_spans(seen), *address_spans(seen, self._lists)]
        spans += [s for s in weak if s.kind == "amount" or not technical.cover(s)]
        hard, held, put = _Pieces([*placed, *kept]), _Pieces(kept), _Pieces(placed)
        return [s for s in spans if not held.hold(s) and not put.touch(s)
                and (s.kind in _OVER or not hard.touch(s))]  # fmt: skip


def _digits(text: str) -> bool:
    return any(c.isdigit() for c in text)


class _Pieces:
    """Pieces of a text, asked for those near a place."""

    def __init__(self, pieces: Iterable[tuple[int, int]]) -> None:
        self._sorted = sorted(pieces)
        self._longest = max((end - start for start, end in self._sorted), default=0)

    def _near(self, span: Span) -> Iterator[tuple[int, int]]:
        first = bisect_left(self._sorted, (span.start - self._longest, 0))
        for piece in islice(self._sorted, first, None):
            if piece[0] >= span.end:
                return
            yield piece

    def hold(self, span: Span) -> bool:
        """Tell whether a piece covers the span."""
        return any(s <= span.start and span.end <= e for s, e in self._near(span))

    def touch(self, span: Span) -> bool:
        """Tell whether a piece meets the span."""
        return any(e > span.start for _, e in self._near(span))

    def cover(self, span: Span) -> bool:
        """Tell whether a piece covers most of the span."""
        most = 0.6 * (span.end - span.start)
        return any(
            min(e, span.end) - max(s, span.start) > most for s, e in self._near(span)
        )


def _merged(text: str, spans: list[Span]) -> list[Span]:
    """Join pieces that overlap, or that are of one kind and only parted by a comma."""
    found: list[Span] = []
    for span in sorted(spans, key=lambda s: (s.start, -s.end)):
        last = found[-1] if found else None
        if last is None or span.start > last.end:
            close = last is not None and last.kind == span.kind and (
                re.fullmatch(r"[ ,]{1,2}", text[last.end : span.start]) is not None
                and span.kind == "address"
            )  # fmt: skip
            if close and last is not None:
                found[-1] = Span(last.start, span.end, last.kind)
            else:
                found.append(span)
        elif span.end > last.end:
            found[-1] = Span(last.start, span.end, last.kind)
    return found
