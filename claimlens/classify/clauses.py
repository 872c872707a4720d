"""From marks to chunks: which words speak of which part, and negation."""

from __future__ import annotations

from dataclasses import dataclass, field

from claimlens.classify.reading import Mark, Reading

__all__ = ["Chunk", "Said", "chunks_of"]

_NEGATION_REACH = 5
_SAYS = frozenset({"sign", "mode", "fault", "good", "work"})
_FLAGS = frozenset(
    {"past", "action", "want", "doubt", "show", "check", "fixed", "remains"}
)


@dataclass(slots=True)
class Said:
    """Something said of a part: a fault, or that it is well."""

    mark: Mark
    negated: bool

    @property
    def bad(self) -> bool:
        """Tell whether it speaks of a fault."""
        return (self.mark.entry.group == "good") == self.negated


@dataclass(slots=True)
class Chunk:
    """The stretch between two commas, conjunctions or full stops.

    Attributes
    ----------
    sentence : int
        Number of the sentence in the text.
    opened_by : str
        Group of the mark before it: hard, soft, and, break, then.
    heads : list of Mark
        Parts that it speaks of.
    asides : list of Mark
        Parts that only tell where ("noise from the motor at the wheel").
    cleared : list of Mark
        Parts that it rules out ("not the controller").
    says : list of Said
        What it says of its heads.
    flags : dict of str to Mark
        Other things it holds: past, action, want, doubt, show, check, fixed,
        remains, whole, when, unknown negation.
    side : int
        1 where it names a cause, -1 where it names what that cause did.
    """

    sentence: int
    opened_by: str
    heads: list[Mark] = field(default_factory=list)
    asides: list[Mark] = field(default_factory=list)
    cleared: list[Mark] = field(default_factory=list)
    says: list[Said] = field(default_factory=list)
    flags: dict[str, Mark] = field(default_factory=dict)
    side: int = 0

    @property
    def bad(self) -> list[Said]:
        """What it says of a fault."""
        return [said for said in self.says if said.bad]

    @property
    def well(self) -> bool:
        """Whether it says that all is well, and nothing else."""
        return bool(self.says) and not self.bad


class _Builder:
    """Walks over the marks of one text and fills the chunks."""

    def __init__(self, reading: Reading, head: str) -> None:
        self.reading = reading
        self.head_last = head == "last"
        self.chunks: list[Chunk] = [Chunk(0, "hard")]
        self.denied: Mark | None = None
        self.deny_again: Mark | None = None
        self.before: Mark | None = None
        self.placed: str | None = None

    def run(self) -> list[Chunk]:
        for mark in self.reading.marks:
            self._take(mark)
            self.before = mark
        self._close()
        return [c for c in self.chunks if c.heads or c.asides or c.cleared
                or c.says or c.flags or c.side]  # fmt: skip

    def _take(self, mark: Mark) -> None:
        group = mark.entry.group
        if group in ("hard", "soft", "and", "break", "then"):
            self._close()
            self._open(group)
        elif group == "not":
            if self.denied is not None and self.denied.end == mark.at:
                return
            self.denied = mark
        elif group == "part":
            self._part(mark)
        elif group in _SAYS:
            self._said(mark)
        elif group in ("cause", "effect"):
            self._turn(mark, group)
        elif group in ("place", "when"):
            self.placed = group
            if group == "when":
                self.chunks[-1].flags.setdefault("when", mark)
        elif group == "join":
            self.denied = self.denied or self.deny_again
        elif group in _FLAGS or group == "whole":
            if group in ("doubt", "show") and self._denies(mark):
                self.denied = None
            self.chunks[-1].flags.setdefault(group, mark)
            if group == "action":
                self._negated_action(mark)

    def _negated_action(self, mark: Mark) -> None:
        if self._denies(mark):
            del self.chunks[-1].flags["action"]
            self.denied = None

    def _open(self, group: str) -> None:
        last = self.chunks[-1]
        sentence = last.sentence + (group in ("hard", "break"))
        chunk = Chunk(sentence, group)
        if group in ("soft", "and") and last.side:
            chunk.side = last.side
        if group not in ("soft", "and"):
            self.deny_again = None
        self.placed = self.placed if group == "and" and not last.says else None
        self.chunks.append(chunk)

    def _close(self) -> None:
        """End a chunk; a negation left over negates the part before it."""
        chunk = self.chunks[-1]
        if self.denied is not None and not chunk.says and chunk.heads:
            if self.denied.at > chunk.heads[-1].at:
                chunk.flags["unsaid"] = self.denied
        self.denied = None

    def _denies(self, mark: Mark) -> bool:
        return self.denied is not None and mark.at - self.denied.end < _NEGATION_REACH

    def _part(self, mark: Mark) -> None:
        chunk = self.chunks[-1]
        if self.denied is not None and self.denied.end == mark.at:
            self._denied_part(mark, chunk)
            return
        before = self.before
        if (
            before is not None
            and before.entry.group == "part"
            and before.last + 1 == mark.first
            and before in chunk.heads
        ):
            # "motor connector": the other one only says which
            if self.head_last:
                chunk.heads[chunk.heads.index(before)] = mark
                chunk.asides.append(before)
            else:
                chunk.asides.append(mark)
            return
        if self.placed and chunk.heads and not chunk.cleared:
            chunk.asides.append(mark)
        elif self.placed == "and" or (self.placed == "when" and chunk.says):
            chunk.asides.append(mark)
        else:
            chunk.heads.append(mark)

    def _denied_part(self, mark: Mark, chunk: Chunk) -> None:
        """Read "no horn" as a dead horn and "not the horn" as a sound one."""
        assert self.denied is not None  # the caller has looked
        word = self.reading.words(self.denied)
        if word == "no" and not chunk.side:
            chunk.heads.append(mark)
            chunk.flags["unsaid"] = self.denied
        else:
            chunk.cleared.append(mark)
            self.deny_again = self.denied
        self.denied = None

    def _said(self, mark: Mark) -> None:
        chunk = self.chunks[-1]
        negated = self._denies(mark)
        chunk.says.append(Said(mark, negated))
        if mark.entry.group == "sign" and not negated:
            chunk.heads = [
                head for head in chunk.heads
                if not (self.before is head and head.last + 1 == mark.first)
            ]  # fmt: skip
        if negated:
            self.deny_again = self.denied
            self.denied = None

    def _turn(self, mark: Mark, group: str) -> None:
        """Split at a word such as "due to": cause on one side, effect before."""
        denied = self._denies(mark)
        here = self.chunks[-1].sentence
        if not denied:
            earlier = -1 if group == "cause" else 1
            for chunk in self.chunks:
                if chunk.sentence == here and chunk.side == 0:
                    chunk.side = earlier
        kept = self.denied
        self.chunks.append(Chunk(here, group))
        self.placed = None
        if denied:
            # "not due to the battery": what follows is ruled out
            assert kept is not None
            self.denied = Mark(kept.entry, mark.at, mark.end, kept.first, kept.last)
        else:
            self.chunks[-1].side = 1 if group == "cause" else -1
            self.denied = None


def chunks_of(reading: Reading, head: str) -> list[Chunk]:
    """Cut a reading into chunks.

    Parameters
    ----------
    reading : Reading
        Marks of one text.
    head : str
        ``"last"`` or ``"first"``: where the head of a compound stands.

    Returns
    -------
    list of Chunk
        Those that say anything, in order.
    """
    return _Builder(reading, head).run()
