"""From marks to chunks: which words speak of which part."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import zip_longest

from claimlens.classify.chunks import FLAGS, Chunk, Said, narrows, tried
from claimlens.classify.entries import Entry
from claimlens.classify.mentions import accused
from claimlens.classify.negation import PARTS, SAYS, Denials
from claimlens.classify.reading import Mark, Reading
from claimlens.classify.terms import Terms

__all__ = ["chunks_of"]

_BREAKS = frozenset({"hard", "soft", "and", "break", "then", "though"})
_TURNS = frozenset({"cause", "effect", "found"})
_PLACES = frozenset({"place", "near", "between", "when"})
_NO = frozenset({"no", "nope", "nein", "nö", "non", "nee", "neen"})
# Words that draw a conclusion, where others tell what a cause did.
_CONCLUDING = frozenset(
    {
        "so", "therefore", "thus", "hence", "also", "daher", "deshalb", "folglich",
        "donc", "alors", "dus", "daarom", "así que", "asi que", "por tanto",
        "por lo tanto", "entonces", "luego",
    }
)  # fmt: skip
# Words that open a clause of their own, with or without a comma.
_PARTING = frozenset({"waardoor", "zodat", "zodoende", "sodass", "so dass", "wodurch"})
_CLAUSE_END = frozenset({None, "hard", "soft"})
# Flags that hold behind a cause or effect as well.
_KEPT = frozenset({"past", "action", "doubt", "ask"})


@cache
def _as_mode(entry: Entry) -> Entry:
    """Return what a phrase of part and fault says of any part."""
    modes = tuple((None, mode, weight) for _, mode, weight in entry.modes)
    return Entry(entry.text, "mode", modes=modes)


class _Builder(Denials):
    """Walks over the marks of one text and fills the chunks."""

    def __init__(self, reading: Reading, terms: Terms) -> None:
        super().__init__(reading)
        self.head_last = self.language.head == "last"
        self.components = terms.taxonomy.components
        self.opened = self.next_at = 0
        self.placed: str | None = None
        self.circumstance = False
        self.verb_second = self.language.compounds
        self.fronted: Mark | None = None

    def run(self) -> list[Chunk]:
        marks = self.reading.marks
        for mark, after in zip_longest(marks, marks[1:]):
            self.ahead = None if after is None else after.entry.group
            self.next_at = self.reading.length if after is None else after.at
            self._take(mark)
            self.before = mark
        self._end(None)
        self._close()
        return [chunk for chunk in self.chunks if not chunk.empty]

    def _take(self, mark: Mark) -> None:
        group = mark.entry.group
        act = _ACTS.get(group)
        if act is not None:
            act(self, mark, group)

    def _break(self, mark: Mark, group: str) -> None:
        if group == "then" and self.language.denies_back and not self._opens(mark):
            # "geht jetzt nicht" is one clause
            return
        if group == "break" and self.language.denies_back and self._inside(mark):
            # "dreht aber nicht" as well
            return
        self._end(mark)
        self._close()
        self._open(group)
        self.opened = mark.end

    def _end(self, mark: Mark | None) -> None:
        """Note what stands between the last phrase of a chunk and its end."""
        before, chunk = self.before, self.chunks[-1]
        if before is None:
            return
        if mark is not None and chunk.heads and self._answered(mark):
            chunk.flags.setdefault("doubt", mark)
        end = self.reading.length if mark is None else mark.at
        alone = before.at == self.opened and before.end == end
        if alone and before.entry.group == "not" and any(map(tried, self.chunks[-3:])):
            # "controller replaced, nothing"
            chunk.flags["remains"] = before
            self.denied = None
        if mark is None or self.reading.tokens[mark.first] != ":":
            parts = sum(part.end - part.at for part in (*chunk.heads, *chunk.asides))
            chunk.unread = end - self.opened - parts

    def _answered(self, mark: Mark) -> bool:
        """Tell whether a question is answered by no: "wheel bent? No, it runs true"."""
        tokens = self.reading.tokens
        after = mark.first + 1
        asked = tokens[mark.first] == "?" and after < len(tokens)
        return asked and tokens[after] in _NO

    def _inside(self, mark: Mark) -> bool:
        """Tell whether a "but" stands behind the verb of its own clause."""
        before = self.before
        if before is None or before.end != mark.at or self.ahead in PARTS:
            return False
        if self.ahead in SAYS and before in self.chunks[-1].heads:
            # "der Motor ist aber gesund"
            return not self.chunks[-1].says
        return before.entry.group in ("does", "good", "mode")

    def _opens(self, mark: Mark) -> bool:
        """Tell whether a mark is the first word of its clause."""
        before = self.before
        if before is None:
            return mark.at == 0
        return before.end == mark.at and before.entry.group in _BREAKS

    def _place(self, mark: Mark, group: str) -> None:
        self.placed = group
        if group == "when":
            self.chunks[-1].flags.setdefault("when", mark)
            self.circumstance = bool(self.chunks[-1].bad)
        if self.denied is not None and self.denied.end == mark.at:
            # "not from the saddle": the negation passes on to the part
            self.denied = self._moved(self.denied, mark)

    def _flag(self, mark: Mark, group: str) -> None:
        denied = self._denies(mark)
        if denied and group in ("doubt", "show", "action"):
            self.denied = None
        if not (denied and group == "action"):
            self.chunks[-1].flags.setdefault(group, mark)

    def _open(self, group: str) -> None:
        last = self.chunks[-1]
        chunk = Chunk(last.sentence + (group in ("hard", "break", "though")), group)
        chunk.conceded = group == "though" or (group == "and" and last.conceded)
        if group in ("soft", "and") and last.side:
            chunk.side = last.side
        if group not in ("soft", "and"):
            self.deny_again = None
        listed = group == "and" and bool(last.asides)
        listed = listed and (self.placed == "between" or not last.says)
        self.placed = "near" if listed else None
        self.circumstance = False
        self.chunks.append(chunk)

    def _close(self) -> None:
        """End a chunk; a negation left over negates the part before it."""
        chunk = self.chunks[-1]
        if self.done is not None and not chunk.says and self._lent():
            # "with another motor it runs"
            chunk.says.append(Said(self.done, bad=False))
        left_over = self.denied is not None and not chunk.says and chunk.heads
        if left_over and self.denied and self.denied.at > chunk.heads[-1].at:
            if self._is_not_it(self.denied):
                chunk.cleared += chunk.heads
                chunk.heads = []
            else:
                chunk.flags["unsaid"] = self.denied
        self.denied = self.done = self.fronted = None

    def _part(self, mark: Mark, group: str) -> None:
        chunk = self.chunks[-1]
        if self.denied is not None and self.denied.end == mark.at:
            self._denied_part(self.denied, mark, chunk)
            return
        if self._compound(mark, chunk):
            return
        if self.placed == "when" and self.circumstance:
            # "flickers as soon as the motor runs": the motor is no fault
            chunk.asides.append(mark)
            return
        if self._placed_part(mark, chunk):
            chunk.asides.append(mark)
        else:
            self._replace_fronted(mark, chunk)
            chunk.heads.append(mark)
            if accused(self.reading.tokens, mark, self.language.code):
                chunk.flags.setdefault("accused", mark)
            if self.placed == "place" and chunk.bad:
                chunk.located.append(mark)
        if self.verb_second and self.placed != "between":
            # a preposition holds for the part that follows it, and no further
            self.fronted = mark if self.placed and not chunk.says else None
            self.placed = None

    def _replace_fronted(self, mark: Mark, chunk: Chunk) -> None:
        """Set aside a part behind a preposition that only opened the clause.

        "In de motor zijn de lagers versleten": the bearings are worn.
        """
        fronted = self.fronted
        if fronted is None or self.placed or chunk.says or fronted not in chunk.heads:
            return
        if self._own_lead(mark, fronted) or self._own_lead(fronted, mark):
            return
        chunk.heads.remove(fronted)
        chunk.asides.append(fronted)
        self.fronted = None

    def _compound(self, mark: Mark, chunk: Chunk) -> bool:
        """Settle "motor connector": the other part only says which one."""
        before = self.before
        if before is None or before not in chunk.heads:
            return False
        if mark.first - before.last not in (0, 1):
            # 0 in a word that was taken apart
            return False
        if self.head_last and not self._own_lead(mark, before):
            chunk.heads[chunk.heads.index(before)] = mark
            chunk.asides.append(before)
        else:
            chunk.asides.append(mark)
        return True

    def _own_lead(self, lead: Mark, device: Mark) -> bool:
        """Tell whether a lead or weld counts with the part it belongs to."""
        if lead.entry.group == "joint":
            return device.entry.group != "joint"
        return lead.entry.group == "lead" and any(
            self.components[name].own_lead for name, _ in device.entry.parts
        )

    def _placed_part(self, mark: Mark, chunk: Chunk) -> bool:
        """Tell whether a part after a preposition only says where."""
        if self.placed is None or chunk.cleared:
            return False
        signed = chunk.signed
        if not chunk.heads:
            return signed or self.placed in ("near", "between")
        head = chunk.heads[-1]
        if self._own_lead(head, mark) or narrows(head, mark):
            # "the cable of the charger", "the lead of the speed sensor"
            chunk.asides.append(chunk.heads.pop())
            return False
        return True

    def _said(self, mark: Mark, group: str) -> None:
        chunk = self.chunks[-1]
        if self.placed == "when" and self.circumstance:
            # "squeals when it is wet": the wet is no fault
            return
        # "no smoke, fire or injury" denies all three
        negated = self._denies(mark) or (
            self.ahead == "join" and self.deny_again is not None
        )
        if mark.entry.group == "sign" and self._said_of_other(mark, chunk):
            mark = mark._replace(entry=_as_mode(mark.entry))
        chunk.says.append(Said(mark, (mark.entry.group == "good") == negated))
        if self._ends_in_place(mark):
            self.placed = "place"
        if negated:
            self.deny_again = self.denied or self.deny_again
            self.denied = None
        elif mark.entry.group == "sign" and chunk.heads:
            last = chunk.heads[-1]
            if last is self.before and mark.first - last.last in (0, 1):
                chunk.heads.pop()

    def _said_of_other(self, mark: Mark, chunk: Chunk) -> bool:
        """Tell whether a word that can stand for a part is said of another one.

        "Flat" alone is a tyre's, "battery flat" is not.
        """
        if mark.end - mark.at > 1 or not chunk.heads:
            return False
        last = chunk.heads[-1]
        known = self.components
        # a wheel that is punctured has a flat tyre
        own = {known[name].group for name, _ in mark.entry.parts}
        others = {known[name].group for name, _ in last.entry.parts}
        return last is self.before and own.isdisjoint(others)

    def _ends_in_place(self, mark: Mark) -> bool:
        """Tell whether a phrase ends as "come off" does: where, comes next."""
        if mark.entry.group != "mode" or mark.end - mark.at < 2:
            return False
        node = self.lexicon.tree.get(
            self.lexicon.resolve(self.reading.tokens[mark.last])
        )
        return (
            node is not None
            and node.entry is not None
            and (node.entry.group in ("place", "near"))
        )

    def _finds(self, here: Chunk) -> bool:
        """Tell whether the clause of a finding names what was found."""
        return bool(here.heads) and bool(here.bad or self.ahead in SAYS)

    def _names_nothing(self, here: Chunk) -> bool:
        """Tell whether a finding ends a clause without a part: "no nail found"."""
        silent = not (here.heads or here.bad)
        return silent and self.ahead in (None, "hard", "soft")

    def _turn(self, mark: Mark, group: str) -> None:
        """Split at a word such as "due to": cause on one side, effect before."""
        here = self.chunks[-1]
        kept = self.denied
        if group == "found" and self._names_nothing(here):
            return
        if self._denies(mark) and kept is not None:
            # "not due to the battery": what follows is ruled out
            self.chunks.append(Chunk(here.sentence, group))
            self.placed = None
            self.denied = self._moved(kept, mark)
            return
        if group == "found" and (here.signed or self._finds(here)):
            # "loose plug found at the lamp", "loom found chafed"
            here.side, self.placed = 1, "near"
            return
        if self._looks_back(mark, group, here):
            return
        earlier = 1 if group == "effect" else -1
        self._side(here, earlier)
        turned = Chunk(here.sentence, group, side=-earlier)
        # "replaced last summer because of a spoke": all of it is history
        turned.flags |= {f: m for f, m in here.flags.items() if f in _KEPT}
        self.chunks.append(turned)
        self.opened = mark.end
        self.placed = self.denied = self.done = None

    def _side(self, here: Chunk, side: int) -> None:
        """Give all chunks of a sentence that have none yet a side."""
        for chunk in self.chunks:
            if chunk.sentence == here.sentence and chunk.side == 0:
                chunk.side = side

    def _looks_back(self, mark: Mark, group: str, here: Chunk) -> bool:
        """Settle words of cause and effect that do not part what surrounds them."""
        words = self.reading.words(mark)
        if group == "effect":
            inside = self.verb_second and here.heads and not self._opens(mark)
            if inside and words not in _PARTING:
                # "display valt daardoor uit": the cause was told before
                here.side = here.side or -1
                self._side(here, 1)
                return True
            told = any(c.bad for c in self.chunks if c.sentence == here.sentence)
            if words in _CONCLUDING and not told:
                # "12 V at its end, so the bulb is dead" draws a conclusion
                self._close()
                self._open(group)
                return True
        blamed = here.heads and "action" not in here.flags
        ends = self.ahead in _CLAUSE_END and self.next_at == mark.end
        if group == "cause" and ends and blamed:
            # "the plug was to blame": what was told is the cause
            here.side = here.side or 1
            self._side(here, -1)
            return True
        return False


_ACTS: dict[str, Callable[[_Builder, Mark, str], None]] = {
    "join": _Builder._join,
    "does": _Builder._does,
    "supplied": _Builder._supplied,
    **dict.fromkeys(_BREAKS, _Builder._break),
    **dict.fromkeys(PARTS, _Builder._part),
    **dict.fromkeys(SAYS, _Builder._said),
    **dict.fromkeys(_PLACES, _Builder._place),
    **dict.fromkeys(FLAGS, _Builder._flag),
    **dict.fromkeys(_TURNS, _Builder._turn),
    **dict.fromkeys(("not", "without"), _Builder._deny),
}


def chunks_of(reading: Reading, terms: Terms) -> list[Chunk]:
    """Cut a reading into chunks.

    Parameters
    ----------
    reading : Reading
        Marks of one text.
    terms : Terms
        The terms that made them.

    Returns
    -------
    list of Chunk
        Those that say anything, in order.
    """
    return _Builder(reading, terms).run()
