"""What was done to parts, and what came of it: lists, loan parts, vain repairs."""

from __future__ import annotations

from itertools import accumulate, pairwise

from claimlens.classify.chunks import DONE, Chunk, tried
from claimlens.classify.mentions import DENIERS

__all__ = ["spread"]

_OUTCOMES = frozenset({"fixed", "remains"})
_LISTED = ("soft", "and")
# What is said of a part that was unplugged for a trial.
_TAKEN_OFF = frozenset({"loose/unseated", "misadjusted"})
# A complaint, a repair and the complaint again.
_FEWEST = 3
# How many chunks back the outcome of a repair is heard.
_REACH = 6


def spread(chunks: list[Chunk]) -> None:
    """Let chunks without words of their own share those of their neighbours.

    Parameters
    ----------
    chunks : list of Chunk
        All of a text, in order; changed in place.
    """
    for chunk in chunks:
        if "swap" in chunk.flags and chunk.asides:
            _name_swapped(chunk)
    _spread_lists(chunks)
    _spread_outcomes(chunks)
    _hear_again(chunks)
    _clear_vain(chunks)


def _name_swapped(chunk: Chunk) -> None:
    """Speak of the part that was swapped, though a preposition leads to it.

    "Battery charged with the charger of the shop": the charger is on trial.
    """
    swap = chunk.flags["swap"]
    for aside in chunk.asides:
        touched = any(
            aside.end == head.at or head.end == aside.at for head in chunk.heads
        )
        if not touched and (aside.end == swap.at or aside.at == swap.end):
            chunk.asides.remove(aside)
            chunk.heads.append(aside)
            chunk.heads.sort(key=lambda mark: mark.at)
            return


def _spread_lists(chunks: list[Chunk]) -> None:
    """Let "battery, charger and display are fine" hold for all three."""
    for i in range(len(chunks) - 2, -1, -1):
        this, after = chunks[i], chunks[i + 1]
        if not (after.heads and after.opened_by in (*_LISTED, "then")):
            continue
        listed = after.opened_by in _LISTED
        if listed and _shares(this, after):
            this.says = list(after.says)
            this.flags = dict(after.flags)
            this.side = after.side
    for this, after in pairwise(chunks):
        if not (after.heads and after.opened_by in (*_LISTED, "then")):
            continue
        done = {"action", "swap"}.intersection(this.flags)
        if done and not (after.says or after.flags):
            # "replaced the display, then the harness"
            after.flags = {
                flag: mark
                for flag, mark in this.flags.items()
                if after.opened_by in _LISTED or flag in done
            }


def _shares(this: Chunk, after: Chunk) -> bool:
    """Tell whether a part without words of its own belongs to the next one's."""
    if not this.heads or this.says or this.cleared or this.flags:
        return False
    if this.unread > 2:
        # something is said of it that no phrase knows
        return False
    told = bool(after.says) or not DONE.isdisjoint(after.flags)
    return told and this.side in (0, after.side)


def _spread_outcomes(chunks: list[Chunk]) -> None:
    """Join "with another display" or "new display" to what came of it."""
    for this, after in pairwise(chunks):
        well = after.well and _is_outcome(after)
        outcome = well or not _OUTCOMES.isdisjoint(after.flags)
        done = not {"swap", "action"}.isdisjoint(this.flags)
        if not (done and this.heads and not this.says):
            continue
        if not outcome or after.heads:
            continue
        if "swap" in this.flags:
            this.says = list(after.says)
        elif well and "remains" not in after.flags:
            this.flags.setdefault("fixed", after.says[0].mark)
        for flag in ("fixed", "remains"):
            if flag in after.flags:
                this.flags.setdefault(flag, after.flags[flag])


def _in_vain(chunk: Chunk, outcome: Chunk) -> bool:
    """Tell whether a part was repaired, unplugged or only blamed, to no avail."""
    if tried(chunk) or _unplugged(chunk, outcome):
        return True
    # "they said it came from the software, no change"
    near = chunk is not outcome and chunk.sentence == outcome.sentence
    return near and chunk.side == 1 and not chunk.bad


def _denies_blame(chunk: Chunk) -> bool:
    """Tell whether "not the cause" is said of the part before it."""
    mark = chunk.flags["remains"]
    denies = mark.entry.text.split(" ", 1)[0] in DENIERS
    return denies and not chunk.bad and chunk.heads[-1].at < mark.at


def _unplugged(chunk: Chunk, outcome: Chunk) -> bool:
    """Tell whether a part was taken off to see: "motor off, fuse still blows"."""
    return chunk is not outcome and _taken_off(chunk)


def _taken_off(chunk: Chunk) -> bool:
    """Tell whether all that is said of a part is that it was taken off."""
    modes = {mode for said in chunk.bad for _, mode, _ in said.mark.entry.modes}
    return bool(modes) and modes <= _TAKEN_OFF


def _is_outcome(chunk: Chunk) -> bool:
    """Tell "replaced, works" from "replaced. No trace of heat"."""
    if chunk.opened_by != "hard":
        return True
    return any(said.mark.entry.group in ("good", "does") for said in chunk.says)


def _hear_again(chunks: list[Chunk]) -> None:
    """Read a complaint that is made again after a repair as a vain repair.

    "Brake rubs, rotor trued and pads replaced, still rubs."
    """
    if len(chunks) < _FEWEST:
        return
    first: dict[str, int] = {}
    # how many chunks before each one tell of a part that was tried; what is marked
    # below holds no part, so the counts stay true
    tries = [0, *accumulate(int(_is_try(chunk)) for chunk in chunks)]
    for i, chunk in enumerate(chunks):
        for said in chunk.bad:
            word = said.mark.entry.text
            if chunk.heads:
                first.setdefault(word, i)
                continue
            before = [at for told, at in first.items() if _is_same(told, word)]
            since = before[0] if before else i
            first.setdefault(word, i)
            if since == i:
                continue
            if tries[i] > tries[since + 1]:
                chunk.flags["remains"] = said.mark
                chunk.says = []
                break


def _is_try(chunk: Chunk) -> bool:
    """Tell whether something was done to a part, or it was taken off to see."""
    return bool(chunk.heads) and (tried(chunk) or _taken_off(chunk))


def _is_same(told: str, word: str) -> bool:
    """Tell whether a complaint was made before: "alarm goes off", "goes off"."""
    return told == word or told.endswith(" " + word)


def _clear_vain(chunks: list[Chunk]) -> None:
    """Clear what was replaced to no avail ("replaced X, no change")."""
    for i, chunk in enumerate(chunks):
        if "remains" not in chunk.flags:
            continue
        if chunk.heads and not tried(chunk) and _denies_blame(chunk):
            chunk.cleared += chunk.heads
            chunk.heads = []
            continue
        reached = False
        for earlier in reversed(chunks[max(0, i - _REACH) : i + 1]):
            if earlier.heads and _in_vain(earlier, chunk):
                earlier.cleared += earlier.heads
                earlier.heads = []
                reached = True
                continue
            other = earlier is not chunk and (earlier.heads or earlier.signed)
            if reached or other or chunk.sentence - earlier.sentence > 1:
                break
