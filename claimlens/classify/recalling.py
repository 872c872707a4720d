"""What a text says, put together from what was found in its sentences."""

from __future__ import annotations

from dataclasses import replace

from claimlens.classify.chunks import Chunk, Said
from claimlens.classify.reading import Found, Mark, Reading
from claimlens.classify.sentences import Extract
from claimlens.classify.terms import Terms
from claimlens.classify.voting import vote

__all__ = ["found_in"]


def _moved(marks: list[Mark], at: int, first: int) -> list[Mark]:
    return [
        Mark(entry, begin + at, end + at, token + first, last + first)
        for entry, begin, end, token, last in marks
    ]


def _moved_chunk(chunk: Chunk, sentence: int, at: int, first: int) -> Chunk:
    """Return a clause as it stands further on in a text, free to be changed."""
    said = _moved([said.mark for said in chunk.says], at, first)
    flags = _moved(list(chunk.flags.values()), at, first)
    return replace(
        chunk,
        sentence=chunk.sentence + sentence,
        heads=_moved(chunk.heads, at, first),
        asides=_moved(chunk.asides, at, first),
        cleared=_moved(chunk.cleared, at, first),
        says=[Said(mark, old.bad) for mark, old in zip(said, chunk.says, strict=True)],
        flags=dict(zip(chunk.flags, flags, strict=True)),
        located=_moved(chunk.located, at, first),
    )


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
    found = Found([], [], extract.length, chunks=[])
    chunks: list[Chunk] = []
    at = first = sentence = 0
    for stretch in extract.stretches:
        found.marks += _moved(stretch.marks, at, first)
        found.dangers += _moved(stretch.dangers, at, first)
        chunks += [_moved_chunk(c, sentence, at, first) for c in stretch.chunks]
        at += stretch.length
        first += stretch.count
        if chunks:
            sentence = chunks[-1].sentence + 1
    if extract.lexicon is not None and found.marks:
        found.chunks = chunks
        vote(Reading(extract.lexicon, extract.tokens, found), terms)
    return found
