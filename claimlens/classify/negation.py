"""Negation: what a "not", "no" or "without" takes back, before or behind it."""

from __future__ import annotations

from claimlens.classify.chunks import Chunk, Said
from claimlens.classify.reading import Mark, Reading

__all__ = ["PARTS", "SAYS", "Denials"]

_NEGATION_REACH = 5
# How far behind what it denies a negation may stand: "lädt seit gestern nicht".
_BACK_REACH = 5
SAYS = frozenset({"sign", "mode", "fault", "good", "work"})
PARTS = frozenset({"part", "lead", "joint"})
_IS = frozenset({"es", "era", "eran", "fue", "son"})
_PLAIN_NO = frozenset({"nicht", "niet"})


class Denials:
    """What is denied in the chunk that is being filled.

    Parameters
    ----------
    reading : Reading
        Marks of one text.

    Attributes
    ----------
    chunks : list of Chunk
        Those begun so far; the last one is being filled.
    denied, deny_again : Mark or None
        A negation that waits for what it denies, and one that has found it.
    before : Mark or None
        The mark before.
    ahead : str or None
        Group of the next mark.
    done : Mark or None
        What a sound part does, told but not denied.
    delivered : Chunk or None
        The last one that tells of a delivery.
    """

    def __init__(self, reading: Reading) -> None:
        self.reading = reading
        assert reading.lexicon is not None  # marks come from a lexicon
        self.lexicon = reading.lexicon
        self.language = reading.lexicon.language
        self.chunks: list[Chunk] = [Chunk(0, "hard")]
        self.denied: Mark | None = None
        self.deny_again: Mark | None = None
        self.before: Mark | None = None
        self.ahead: str | None = None
        self.done: Mark | None = None
        self.delivered: Chunk | None = None

    def _deny(self, mark: Mark, group: str) -> None:
        if group == "not" and self.language.denies_back and self._denies_back(mark):
            return
        if self.denied is None or self.denied.end != mark.at:
            self.denied = mark

    def _denies_back(self, mark: Mark) -> bool:
        """Deny what was said just before: "Display geht nicht", "klemmt nicht".

        What follows can be denied as well ("ist fest nicht lose"), so that a
        fault is taken back only where nothing is said after it.
        """
        says = self.chunks[-1].says
        if self.done is not None:
            says.append(Said(self.done))
            self.done = None
            return True
        if not says or self._holds_denial(says[-1].mark, mark):
            return False
        mark_said, bad = says[-1]
        gap = mark.at - mark_said.end
        good = mark_said.entry.group == "good"
        if good and not bad and gap <= _BACK_REACH:
            says[-1] = Said(mark_said)
            return True
        if not good and bad and gap == 0 and self.ahead not in SAYS | PARTS:
            says[-1] = Said(mark_said, bad=False)
            return True
        return False

    def _holds_denial(self, said: Mark, denial: Mark) -> bool:
        """Tell whether a phrase of part and fault denies by itself.

        "Bremsen schleifen nicht" takes a fault back, "Klingel geht nicht" is one.
        """
        if said.entry.group != "sign":
            return False
        if self.reading.words(denial) not in _PLAIN_NO:
            return True
        tree, resolve = self.lexicon.tree, self.lexicon.resolve
        nodes = [tree.get(resolve(word)) for word in said.entry.text.split()]
        groups = {n.entry.group for n in nodes if n is not None and n.entry is not None}
        return not groups.isdisjoint({"not", "without", "does", "good"})

    def _supplied(self, mark: Mark, group: str) -> None:
        self.delivered = self.chunks[-1]
        if "unsaid" in self.chunks[-1].flags:
            # "no key in the box" is missing, not dead
            self.chunks[-1].says.append(Said(mark))

    def _join(self, mark: Mark, group: str) -> None:
        self.denied = self.denied or self.deny_again

    def _moved(self, denied: Mark, mark: Mark) -> Mark:
        return Mark(denied.entry, mark.at, mark.end, denied.first, denied.last)

    def _denies(self, mark: Mark) -> bool:
        return self.denied is not None and mark.at - self.denied.end < _NEGATION_REACH

    def _lent(self) -> bool:
        """Tell whether a part was swapped in this chunk or the one before."""
        return any("swap" in chunk.flags for chunk in self.chunks[-2:])

    def _is_not_it(self, denied: Mark) -> bool:
        """Tell "de accu is het niet" from "de accu niet"."""
        tokens = self.reading.tokens
        before, after = denied.first - 1, denied.last + 1
        if after < len(tokens) and tokens[after] in _IS:
            # "de la batería no es"
            return True
        return before >= 0 and tokens[before] in self.language.it

    def _denied_part(self, denied: Mark, mark: Mark, chunk: Chunk) -> None:
        """Read "no horn" as a dead horn and "not the horn" as a sound one."""
        if denied.entry.group == "without":
            if denied.end - denied.at > 1 or self.delivered is chunk:
                # "the battery came without its key"
                chunk.asides += chunk.heads
                chunk.heads = []
            chunk.heads.append(mark)
            chunk.says.append(Said(denied))
        elif self._tells_absence(denied) and not chunk.side:
            chunk.heads.append(mark)
            chunk.flags["unsaid"] = denied
        else:
            chunk.cleared.append(mark)
            self.deny_again = denied
        self.denied = None

    def _tells_absence(self, denied: Mark) -> bool:
        """Tell "no horn" from "not the horn"."""
        absent = self.language.absent
        words = self.reading.words(denied)
        if words in absent:
            return True
        after = denied.last + 1
        tokens = self.reading.tokens
        return after < len(tokens) and f"{words} {tokens[after]}" in absent

    def _does(self, mark: Mark, group: str) -> None:
        """Keep what a sound part does: it tells only where it is denied."""
        if self._denies(mark):
            self.chunks[-1].says.append(Said(mark))
            self.denied = None
        else:
            self.done = mark
