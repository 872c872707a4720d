"""From chunks to votes: what one text says for which component."""

from __future__ import annotations

from itertools import pairwise

from claimlens.classify.chunks import Chunk, Said, says_of
from claimlens.classify.clauses import chunks_of
from claimlens.classify.entries import Votes
from claimlens.classify.reading import Mark, Reading
from claimlens.classify.settling import settle
from claimlens.classify.taxonomy import NO_FAULT_MODE
from claimlens.classify.terms import Terms
from claimlens.classify.votes import PLAIN, SOUND, TextVotes, Vote, modes_said, narrowed

__all__ = ["vote"]

# How firmly each role speaks, as measured on the development texts.
_CAUSE, _CURE, _FAULT, _DEED = 1.0, 0.9, 0.85, 0.8
_EFFECT, _BARE, _HEADING, _ASIDE = 0.25, 0.3, 0.6, 0.15
_HEADING_WORDS = 6
_DOUBT, _ASKED = 0.75, 0.4
_CARRIED, _CARRIED_FAR = 0.9, 0.8
_NEAR = 0.68
_LOCATED = 0.93
# Flags that hold for a list: "battery and controller replaced".
_DONE = frozenset({"action", "check", "swap"})
# Words after which the same part can be well no longer.
_TURNS = ("then", "break")
# A fall can be the misuse or its outcome: such words are no verdict by themselves.
_HINT = 0.5


class _Voter:
    """Turns the chunks of one text into votes."""

    def __init__(self, reading: Reading, chunks: list[Chunk], terms: Terms) -> None:
        self.reading = reading
        self.chunks = chunks
        self.taxonomy = terms.taxonomy
        assert reading.lexicon is not None  # votes come from a lexicon
        self.meanings = reading.lexicon.meanings
        self.result = TextVotes()
        self.subject: Chunk | None = None

    def run(self) -> TextVotes:
        self._spread_lists()
        self._spread_swaps()
        self._spread_history()
        for chunk in self.chunks:
            chunk.settled = chunk.bad
        for number, chunk in enumerate(self.chunks):
            self._verdicts(number, chunk)
            self._chunk(number, chunk)
            if chunk.heads or chunk.flags.get("whole") or chunk.signed:
                self.subject = chunk
        settle(self.result, self.chunks, self.taxonomy)
        return self.result

    def _spread_lists(self) -> None:
        """Let "battery, charger and display are fine" hold for all three."""
        for i in range(len(self.chunks) - 2, -1, -1):
            this, after = self.chunks[i], self.chunks[i + 1]
            if (
                after.opened_by in ("soft", "and")
                and this.heads
                and this.side in (0, after.side)
                and not (this.says or this.cleared)
                and not this.flags
                and after.heads
                and (after.says or not _DONE.isdisjoint(after.flags))
            ):
                this.says = list(after.says)
                this.flags = dict(after.flags)
                this.side = after.side
            if (
                after.opened_by in ("soft", "and")
                and "action" in this.flags
                and after.heads
                and not (after.says or after.flags)
            ):
                after.flags = dict(this.flags)

    def _spread_swaps(self) -> None:
        """Join "with another display" or "new display" to what came of it."""
        for this, after in pairwise(self.chunks):
            outcome = after.well or not {"fixed", "remains"}.isdisjoint(after.flags)
            done = not {"swap", "action"}.isdisjoint(this.flags)
            if not (done and this.heads and not this.says):
                continue
            if not outcome or after.heads:
                continue
            if "swap" in this.flags:
                this.says = list(after.says)
            elif after.well and "remains" not in after.flags:
                this.flags.setdefault("fixed", after.says[0].mark)
            for flag in ("fixed", "remains"):
                if flag in after.flags:
                    this.flags.setdefault(flag, after.flags[flag])

    def _spread_history(self) -> None:
        """Clear what was replaced to no avail ("replaced X, no change")."""
        for i, chunk in enumerate(self.chunks):
            if "remains" not in chunk.flags:
                continue
            for earlier in reversed(self.chunks[max(0, i - 3) : i + 1]):
                if earlier.heads and _tried(earlier):
                    earlier.cleared += earlier.heads
                    earlier.heads = []
                    if earlier.opened_by not in ("and", "soft"):
                        break

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
        if not heads:
            self.result.loose += [
                said for said in chunk.bad if said.mark.entry.group != "sign"
            ]
        for mark in heads:
            bad = _said_of(chunk.bad, mark)
            weight, role = self._role(chunk, bad)
            if factor < 1.0 and role == "mention":
                continue
            if mark in chunk.located and chunk.heads:
                weight *= _LOCATED
            self._add(mark, bad, (weight * factor, role), number, factor)

    def _sign(self, said: Said, chunk: Chunk, number: int) -> None:
        parts = said.mark.entry.parts
        side = {1: 1.1, 0: 1.0, -1: _EFFECT}[chunk.side]
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
        repaired = any("action" in other.flags for other in self.chunks)
        return not (chunk.well and (before.bad or repaired))

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

    def _role(self, chunk: Chunk, bad: list[Said]) -> tuple[float, str]:
        flags = chunk.flags
        if "swap" in flags:
            # what works with another part had a faulty one
            works = "fixed" in flags or chunk.well
            return (_CAUSE, "cause") if works else (0.0, "cleared")
        told = bad or "unsaid" in flags
        if "past" in flags and ("action" in flags or not told):
            return 0.0, "history"
        if chunk.well and "fixed" not in flags and "action" not in flags:
            return 0.0, "cleared"
        weight, role = self._plain_role(chunk, bad)
        if "doubt" in flags:
            weight *= _DOUBT
        if "ask" in flags:
            weight *= _ASKED
        return weight, role

    def _plain_role(self, chunk: Chunk, bad: list[Said]) -> tuple[float, str]:
        """Return weight and role, doubt and history left aside."""
        flags = chunk.flags
        if chunk.side:
            return (_CAUSE, "cause") if chunk.side == 1 else (_EFFECT, "effect")
        if bad or "unsaid" in flags:
            return self._faulted(bad)
        if "action" in flags and "fixed" in flags:
            return _CURE, "cause"
        if "action" in flags or "want" in flags:
            return _DEED, "deed"
        heading = self.reading.length <= _HEADING_WORDS
        if "check" in flags:
            return 0.0, "mention"
        return (_HEADING if heading else _BARE), "mention"

    def _faulted(self, bad: list[Said]) -> tuple[float, str]:
        """Return weight and role where something bad is said."""
        if bad and all(
            mode == NO_FAULT_MODE for s in bad for _, mode, _ in s.mark.entry.modes
        ):
            generic = any(s.mark.entry.group != "mode" for s in bad)
            return (PLAIN, "fault") if generic else (SOUND, "sound")
        if bad and all(said.mark.entry.group == "work" for said in bad):
            return PLAIN, "deed"
        kinds = self.taxonomy.modes
        modes = (mode for said in bad for _, mode, _ in said.mark.entry.modes)
        firm = any(kinds[mode].kind == "cause" for mode in modes)
        return (_FAULT if firm else PLAIN), "fault"

    def _add(
        self,
        mark: Mark,
        bad: list[Said],
        worth: tuple[float, str],
        number: int,
        factor: float = 1.0,
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


def _tried(chunk: Chunk) -> bool:
    """Tell whether a chunk tells of something that was done to its part."""
    if not {"action", "check", "swap"}.isdisjoint(chunk.flags):
        return True
    return bool(chunk.bad) and all(s.mark.entry.group == "work" for s in chunk.bad)


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
    chunks = reading.found.chunks or chunks_of(reading, terms)
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
