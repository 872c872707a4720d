"""From chunks to votes: what one text says for which component."""

from __future__ import annotations

from claimlens.classify.chunks import Chunk, Said, says_of
from claimlens.classify.clauses import chunks_of
from claimlens.classify.entries import Votes
from claimlens.classify.mentions import refer_back
from claimlens.classify.reading import Mark, Reading
from claimlens.classify.settling import settle
from claimlens.classify.taxonomy import NO_FAULT_MODE
from claimlens.classify.terms import Terms
from claimlens.classify.trials import spread
from claimlens.classify.votes import (
    EFFECT,
    PLAIN,
    SOUND,
    TextVotes,
    Vote,
    modes_said,
    narrowed,
)

__all__ = ["vote"]

# How firmly each role speaks, as measured on the development texts.
_CAUSE, _CURE, _ACCUSED, _FAULT, _DEED = 1.0, 0.9, 0.86, 0.85, 0.8
_BARE, _HEADING, _ASIDE = 0.3, 0.6, 0.15
_HEADING_WORDS = 6
# By the side of a cause word, and whether the part was only bought there.
_ON_SIDE = {
    (1, False): (_CAUSE, "cause"),
    (1, True): (_DEED, "deed"),
    (-1, False): (EFFECT, "effect"),
}
_DOUBT, _ASKED = 0.75, 0.4
_CARRIED, _CARRIED_FAR = 0.9, 0.8
_NEAR = 0.68
_PAST = 0.7
_LOCATED = 0.93
# Phrases whose subject is the part that was renewed.
_CURES = frozenset(
    {
        "cured", "cured it", "solved", "solved it", "fixed it", "sorted it", "trick",
        "did the trick", "behoben", "gelöst", "résolu", "opgelost", "verholpen",
        "solucionado", "resuelto", "lo arregló", "lo solucionó",
    }
)  # fmt: skip
# Words after which the same part can be well no longer.
_TURNS = ("then", "break", "though")
# A fall can be the misuse or its outcome: such words are no verdict by themselves.
_HINT = 0.5


class _Voter:
    """Turns the chunks of one text into votes."""

    def __init__(self, reading: Reading, chunks: list[Chunk], terms: Terms) -> None:
        self.reading = reading
        self.chunks = chunks
        self.taxonomy = terms.taxonomy
        assert reading.lexicon is not None  # votes come from a lexicon
        self.language = reading.lexicon.language
        self.meanings = reading.lexicon.meanings
        self.result = TextVotes()
        self.subject: Chunk | None = None

    def run(self) -> TextVotes:
        refer_back(self.chunks, self.reading, self.language)
        spread(self.chunks)
        for chunk in self.chunks:
            chunk.settled = chunk.bad
        for number, chunk in enumerate(self.chunks):
            self._verdicts(number, chunk)
            self._chunk(number, chunk)
            if chunk.heads or chunk.flags.get("whole") or chunk.signed:
                self.subject = chunk
        settle(self.result, self.chunks, self.taxonomy)
        return self.result

    def _verdicts(self, number: int, chunk: Chunk) -> None:
        for said in chunk.bad:
            for _, mode, weight in said.mark.entry.modes:
                if self.taxonomy.modes[mode].kind == "verdict" and weight > _HINT:
                    self.result.verdicts.append((mode, said.mark))

    def _chunk(self, number: int, chunk: Chunk) -> None:
        for mark in chunk.cleared:
            self._add(mark, [], (0.0, "cleared"), number)
        for said in chunk.bad:
            if said.mark.entry.group == "sign":
                self._sign(said, chunk, number)
        for mark in chunk.asides:
            self._add(mark, [], (_ASIDE, "aside"), number)
        heads, factor = self._heads(chunk)
        if not heads and chunk.asides and chunk.bad and not chunk.signed:
            # "mist under the display glass": there is nothing else it could be
            heads, factor = chunk.asides, _NEAR
        if not heads and "check" not in chunk.flags:
            self.result.loose += [
                said for said in chunk.bad if said.mark.entry.group != "sign"
            ]
        for mark in heads:
            bad = _said_of(chunk.bad, mark)
            weight, role = self._role(chunk, bad, mark)
            if factor < 1.0 and role == "mention":
                continue
            located = mark in chunk.located
            if located and chunk.heads:
                weight *= _LOCATED
            worth = (weight * factor, role)
            self._add(mark, bad, worth, number, factor=factor, located=located)

    def _sign(self, said: Said, chunk: Chunk, number: int) -> None:
        parts = said.mark.entry.parts
        side = {1: 1.1, 0: 1.0, -1: EFFECT}[chunk.side]
        role = {1: "cause", 0: "fault", -1: "effect"}[chunk.side]
        if "doubt" in chunk.flags:
            side *= _DOUBT
        for component, weight in parts:
            modes = self._modes(chunk.bad, component)
            self.result.votes.append(
                Vote(
                    component,
                    min(1.0, weight * side),
                    role,
                    said.mark,
                    (said.mark,),
                    modes,
                    number,
                )
            )

    def _heads(self, chunk: Chunk) -> tuple[list[Mark], float]:
        """Return the parts a chunk speaks of: its own, or the last named."""
        if chunk.heads:
            if "show" not in chunk.flags:
                return chunk.heads, 1.0
            return [h for h in chunk.heads if not self._only_shows(h, chunk)], 1.0
        before = self.subject
        if before is None or not self._goes_on(before, chunk):
            return [], 1.0
        near = chunk.opened_by in _TURNS or before.sentence == chunk.sentence
        factor = _CARRIED if near else _CARRIED_FAR
        renewed = {"past", "action"} <= before.flags.keys() and not before.bad
        others = any(c.heads and c is not before for c in self.chunks)
        if renewed and others and before.sentence != chunk.sentence:
            # "controller replaced in March. Today it smelt burnt"
            factor *= _PAST
        return before.heads, factor * (0.7 if "when" in before.flags else 1.0)

    def _goes_on(self, before: Chunk, chunk: Chunk) -> bool:
        """Tell whether a chunk without a part still speaks of the last one."""
        if chunk.signed or not (chunk.says or "action" in chunk.flags):
            return False
        if "whole" in chunk.flags and not self._controls(before, chunk):
            return False
        if before.well and chunk.opened_by not in _TURNS:
            return False
        # "replaced the motor, works again" does not clear the motor
        return not chunk.well or not (
            before.bad or any("action" in other.flags for other in self.chunks)
        )

    def _controls(self, before: Chunk, chunk: Chunk) -> bool:
        """Tell whether "I turn the throttle and the trike stays" is meant."""
        return chunk.opened_by in ("and", "soft") and any(
            self.taxonomy.components[name].control
            for head in before.heads
            for name, _ in head.entry.parts
        )

    def _only_shows(self, mark: Mark, chunk: Chunk) -> bool:
        """Tell whether a display only shows the fault of something else."""
        names = {component for component, _ in mark.entry.parts}
        if "display" not in names:
            return False
        others = len(chunk.heads) > 1
        return others or all(s.mark.entry.group == "fault" for s in chunk.bad)

    def _role(self, chunk: Chunk, bad: list[Said], mark: Mark) -> tuple[float, str]:
        flags = chunk.flags
        if "swap" in flags and _swapped(mark, chunk):
            # what works with another part had a faulty one
            if "remains" not in flags and ("fixed" in flags or chunk.well):
                return _CAUSE, "cause"
            told = bad or "remains" in flags
            return (0.0, "cleared") if told else (0.0, "history")
        told = bad or "unsaid" in flags
        if chunk.conceded and mark in chunk.heads:
            # "although the battery is new", "although the battery is empty"
            renewed = "action" in flags and not told
            return (0.0, "cleared") if renewed else (EFFECT, "mention")
        if "past" in flags and ("action" in flags or not told):
            return 0.0, "history"
        if chunk.well and "fixed" not in flags and "action" not in flags:
            return 0.0, "cleared"
        weight, role = self._plain_role(chunk, bad, mark)
        if "doubt" in flags:
            weight *= _DOUBT
        if "ask" in flags:
            weight *= _ASKED
        return weight, role

    def _plain_role(
        self, chunk: Chunk, bad: list[Said], mark: Mark
    ) -> tuple[float, str]:
        """Return weight and role, doubt and history left aside."""
        flags = chunk.flags
        told = bad or "unsaid" in flags
        if chunk.side and not _tested_fine(bad):
            # "since it is old, I bought a new battery"
            bought = "action" in flags and not told
            return _ON_SIDE[chunk.side, chunk.side == 1 and bought]
        if told:
            return self._faulted(bad, mark)
        if "accused" in flags or _cured(mark, chunk):
            return (PLAIN, "fault") if "doubt" in flags else (_ACCUSED, "cause")
        if "action" in flags or "want" in flags:
            cured = "action" in flags and "fixed" in flags
            return (_CURE, "cause") if cured else (_DEED, "deed")
        heading = self.reading.length <= _HEADING_WORDS
        if "check" in flags:
            return 0.0, "mention"
        return (_HEADING if heading else _BARE), "mention"

    def _faulted(self, bad: list[Said], mark: Mark) -> tuple[float, str]:
        """Return weight and role where something bad is said."""
        if bad and all(
            mode == NO_FAULT_MODE for s in bad for _, mode, _ in s.mark.entry.modes
        ):
            generic = any(s.mark.entry.group != "mode" for s in bad)
            return (PLAIN, "fault") if generic else (SOUND, "sound")
        if bad and all(said.mark.entry.group == "work" for said in bad):
            return PLAIN, "deed"
        kinds = self.taxonomy.modes
        firm = any(_is_verdict(said) for said in bad) or any(
            kinds[mode].kind == "cause"
            for said in bad
            for component, _ in mark.entry.parts
            for mode, _ in said.mark.entry.modes_for(component)
        )
        return (_FAULT if firm else PLAIN), "fault"

    def _add(
        self,
        mark: Mark,
        bad: list[Said],
        worth: tuple[float, str],
        number: int,
        *,
        factor: float = 1.0,
        located: bool = False,
    ) -> None:
        """Add a vote for each component that a part can mean."""
        weight, role = worth
        meant = narrowed(mark, bad)
        for component, share in meant:
            modes = self._modes(bad, component) if weight else ()
            if factor != 1.0:
                modes = tuple((mode, w * factor) for mode, w in modes)
            self.result.votes.append(
                Vote(
                    component,
                    weight * share,
                    role,
                    mark,
                    tuple([said.mark for said in bad]),
                    modes,
                    number,
                    len(meant) > 1,
                    located,
                )
            )

    def _modes(self, bad: list[Said], component: str) -> Votes:
        """Return what is said of a component, looked up where it was said before."""
        if not bad:
            return ()
        key: tuple[str | int, ...] = (component, *[id(s.mark.entry) for s in bad])
        found = self.meanings.get(key)
        if found is None:
            found = tuple(modes_said(bad, component, self.taxonomy).items())
            self.meanings[key] = found
        return found


def _swapped(mark: Mark, chunk: Chunk) -> bool:
    """Tell whether "another" is said of this part: the one next to it.

    "Motor dead with another battery", "battery charged with the charger of the
    shop", "the other one charges this battery".
    """
    swap = chunk.flags["swap"]
    behind = [head for head in chunk.heads if head.at >= swap.end]
    if behind and not any(swap.at < s.mark.at < behind[0].at for s in chunk.says):
        return mark.at >= behind[0].at
    if any(head.end == swap.at for head in chunk.heads):
        return mark.end == swap.at
    return not behind


def _cured(mark: Mark, chunk: Chunk) -> bool:
    """Tell whether a part is what cured it: "new sensor cured it"."""
    fixed = chunk.flags.get("fixed")
    return fixed is not None and mark.at < fixed.at and fixed.entry.text in _CURES


def _tested_fine(bad: list[Said]) -> bool:
    """Tell whether all that is said is that nothing was found."""
    modes = [mode for said in bad for _, mode, _ in said.mark.entry.modes]
    return bool(modes) and all(mode == NO_FAULT_MODE for mode in modes)


def _is_verdict(said: Said) -> bool:
    """Tell whether a word finds the part itself at fault: "faulty", "dead"."""
    entry = said.mark.entry
    return (entry.fault and not entry.denies) or entry.group == "fault"


def _said_of(bad: list[Said], mark: Mark) -> list[Said]:
    """Return what can be said of a part."""
    if not bad:
        return bad
    parts = mark.entry.parts
    if len(parts) == 1:
        return says_of(bad, parts[0][0])
    return [s for s in bad if any(says_of([s], name) for name, _ in parts)]


def vote(reading: Reading, terms: Terms) -> TextVotes:
    """Return what one text says for which component.

    Parameters
    ----------
    reading : Reading
        Marks of the text.
    terms : Terms
        The terms that made them.

    Returns
    -------
    TextVotes
        Votes with role and weight; ``no fault found`` and the like apart.
    """
    known = reading.found.votes
    if known is not None:
        return known
    result = _vote(reading, terms)
    reading.found.votes = result
    return result


def _vote(reading: Reading, terms: Terms) -> TextVotes:
    chunks = chunks_of(reading, terms)
    result = _Voter(reading, chunks, terms).run()
    bad_parts = {v.component for v in result.votes if v.role in ("fault", "cause")}
    if bad_parts and result.verdicts:
        result.verdicts = [
            (mode, mark)
            for mode, mark in result.verdicts
            if mode != NO_FAULT_MODE or not _found_later(result, mark)
        ]
    return result


def _found_later(result: TextVotes, mark: Mark) -> bool:
    """Tell whether a fault is named after the one that was not found.

    A complaint before "no fault found" is what was looked for; a fault after
    it is another one, or an owner who disagrees.
    """
    return any(
        vote.role in ("fault", "cause")
        and vote.weight >= PLAIN
        and vote.mark.at > mark.at
        and any(mode != NO_FAULT_MODE for mode, _ in vote.modes)
        for vote in result.votes
    )
