"""Votes of a text put together from those of its sentences."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from claimlens.classify.chunks import Chunk, Said
from claimlens.classify.reading import Found, Mark, Reading
from claimlens.classify.sentences import SLOT, Extract, Stretch
from claimlens.classify.terms import Terms
from claimlens.classify.votes import TextVotes
from claimlens.classify.voting import HEADING_WORDS, Voter

__all__ = ["found_in"]

# Flags of clauses by which ``Voter.spread_between`` changes other clauses.
_SPREADS = frozenset({"action", "swap", "remains"})


@dataclass(slots=True)
class _Shared(Chunk):
    """A clause that many texts have at the same place; none may change it.

    Attributes
    ----------
    has_sign : bool
        Whether it is ``signed``.
    is_alone : bool
        Whether it says the same whatever stands before it.
    memory : dict of bool to TextVotes
        What it says by itself, in a longer text and in a heading.
    """

    has_sign: bool = False
    is_alone: bool = False
    memory: dict[bool, TextVotes] = field(default_factory=dict)

    @property
    def signed(self) -> bool:
        """Whether it holds a phrase that tells part and fault at once."""
        return self.has_sign


class _Placed(NamedTuple):
    """A sentence further on in a text."""

    marks: list[Mark]
    dangers: list[Mark]
    chunks: list[_Shared]
    spreads: bool


def _moved(marks: list[Mark], by: int) -> list[Mark]:
    return [Mark(e, at + by, end + by, f + by, to + by) for e, at, end, f, to in marks]


def _moved_chunk(chunk: Chunk, order: int, by: int) -> _Shared:
    """Return a clause as it stands further on in a text."""
    marks = _moved([said.mark for said in chunk.says], by)
    says = zip(marks, chunk.says, strict=True)
    flags = _moved(list(chunk.flags.values()), by)
    moved = _Shared(
        chunk.sentence + by,
        chunk.opened_by,
        heads=_moved(chunk.heads, by),
        asides=_moved(chunk.asides, by),
        cleared=_moved(chunk.cleared, by),
        says=[Said(mark, said.bad) for mark, said in says],
        flags=dict(zip(chunk.flags, flags, strict=True)),
        side=chunk.side,
        located=_moved(chunk.located, by),
        order=order + by,
    )
    moved.settled = moved.bad
    moved.has_sign = chunk.signed
    of_the_last = bool(chunk.says) or "action" in chunk.flags
    moved.is_alone = bool(chunk.heads) or not of_the_last or chunk.signed
    return moved


def _placed(stretch: Stretch, slot: int) -> _Placed:
    """Return a sentence as it stands in a text, worked out once for each slot."""
    known = stretch.placed.get(slot)
    if not isinstance(known, _Placed):
        by = slot * SLOT
        known = _Placed(
            _moved(stretch.marks, by),
            _moved(stretch.dangers, by),
            [_moved_chunk(c, order, by) for order, c in enumerate(stretch.chunks)],
            any(not _SPREADS.isdisjoint(chunk.flags) for chunk in stretch.chunks),
        )
        stretch.placed[slot] = known
    return known


def _own(chunk: Chunk) -> Chunk:
    """Return a clause that may be changed."""
    return Chunk(
        chunk.sentence,
        chunk.opened_by,
        list(chunk.heads),
        list(chunk.asides),
        list(chunk.cleared),
        list(chunk.says),
        dict(chunk.flags),
        chunk.side,
        None,
        list(chunk.located),
        chunk.order,
    )


class _Recaller(Voter):
    """Counts votes, and remembers what shared clauses say by themselves."""

    def tell(self, chunk: Chunk) -> None:
        """Add what one clause says."""
        if not isinstance(chunk, _Shared) or self._leans(chunk):
            super().tell(chunk)
            return
        heading = self.reading.length <= HEADING_WORDS
        own = chunk.memory.get(heading)
        if own is None:
            whole, self.result = self.result, TextVotes()
            super().tell(chunk)
            own, self.result = self.result, whole
            chunk.memory[heading] = own
        self.result.votes += own.votes
        self.result.verdicts += own.verdicts
        self.result.loose += own.loose

    def _leans(self, chunk: _Shared) -> bool:
        """Tell whether a clause speaks of what was named before it."""
        if chunk.is_alone or self.subject is None:
            return False
        return self.goes_on(self.subject, chunk)


def found_in(extract: Extract, terms: Terms) -> Found:
    """Put together what the sentences of a text say.

    Parameters
    ----------
    extract : Extract
        Its sentences that count.
    terms : Terms
        The terms that read them.

    Returns
    -------
    Found
        With the votes; the places of the marks are those in the extract.
    """
    found = Found([], [], extract.length)
    chunks: list[Chunk] = []
    slot, spreads = 0, False
    for stretch in extract.stretches:
        placed = _placed(stretch, slot)
        found.marks += placed.marks
        found.dangers += placed.dangers
        chunks += placed.chunks
        spreads = spreads or placed.spreads
        slot += stretch.slots
    if extract.lexicon is not None:
        if spreads:
            chunks = [_own(chunk) for chunk in chunks]
        voter = _Recaller(Reading(extract.lexicon, [], found), chunks, terms)
        if spreads:
            voter.spread_between()
        found.votes = voter.count()
    return found
