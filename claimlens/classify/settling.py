"""What the votes of one text mean for each other, once all of them are known."""

from __future__ import annotations

from claimlens.classify.chunks import Chunk
from claimlens.classify.taxonomy import Taxonomy
from claimlens.classify.votes import PLAIN, SOUND, TextVotes, Vote

__all__ = ["settle"]

# How firmly the only part of a complaint speaks, though nothing is said of it.
_ONLY = 0.5


def settle(result: TextVotes, chunks: list[Chunk], taxonomy: Taxonomy) -> None:
    """Weigh the votes of a text against each other, in place.

    Parameters
    ----------
    result : TextVotes
        All votes of the text.
    chunks : list of Chunk
        What they were read from.
    taxonomy : Taxonomy
        For what can be the cause of what.
    """
    _clear_sound(result)
    _settle(result)
    _correct(result, chunks)
    _weigh_effects(result, taxonomy)
    _believe_the_only_one(result, chunks)


def _clear_sound(result: TextVotes) -> None:
    """Rule out what tested well where something else is at fault.

    "Controller dead; battery and motor tested ok" is no claim of which
    nothing was found.
    """
    guilty = any(
        v.role in ("fault", "cause") and v.weight >= SOUND for v in result.votes
    )
    sound = [vote for vote in result.votes if vote.role == "sound"]
    if not guilty or not sound:
        return
    names = {vote.component for vote in sound}
    if names >= {v.component for v in result.votes if v.role in ("fault", "cause")}:
        return
    heard = {mark for vote in sound for mark in vote.said}
    result.verdicts = [v for v in result.verdicts if v[1] not in heard]
    result.votes = [
        vote._replace(role="cleared", weight=0.0, modes=())
        if vote.role == "sound"
        else vote
        for vote in result.votes
    ]


def _settle(result: TextVotes) -> None:
    """Let the rest of the text say which part an everyday word means.

    "Speedo at zero, sensor dead": here the sensor is the speed sensor.
    """
    votes = result.votes
    firm = {v.component for v in votes if len(v.mark.entry.parts) == 1}
    settled: list[Vote] = []
    for vote in votes:
        names = {name for name, _ in vote.mark.entry.parts}
        named = names & firm
        if len(names) < 2 or len(named) != 1 or not vote.shared:
            settled.append(vote)
        elif vote.component in named:
            weight = min(1.0, vote.weight * len(names))
            settled.append(vote._replace(weight=weight, shared=False))
    result.votes = settled


def _correct(result: TextVotes, chunks: list[Chunk]) -> None:
    """Believe the one part that is left where another was ruled out.

    "It's not the saddle, it's the crank" says no more of the crank.
    """
    votes = result.votes
    if not any(chunk.cleared for chunk in chunks):
        return
    out = {vote.component for vote in votes if vote.role == "cleared"}
    left = {v.component for v in votes if v.weight > 0.0 and v.role != "aside"}
    left -= out
    if len(left) == 1:
        result.votes = [
            vote._replace(role="fault", weight=PLAIN)
            if vote.role == "mention" and vote.component in left
            else vote
            for vote in votes
        ]


def _believe_the_only_one(result: TextVotes, chunks: list[Chunk]) -> None:
    """Take the only part that a complaint names as what it is about.

    "Battery takes charge to 60 percent, then stops": no word of a fault
    that the terms know, yet there is nothing else that it could mean.
    """
    votes = result.votes
    named = {vote.component for vote in votes if vote.role != "aside"}
    if len(named) != 1 or any("ask" in chunk.flags for chunk in chunks):
        return
    result.votes = [
        vote._replace(weight=_ONLY)
        if vote.role == "mention" and 0.0 < vote.weight < _ONLY and _is_plain(vote)
        else vote
        for vote in votes
    ]


def _is_plain(vote: Vote) -> bool:
    """Tell whether the word means nothing but that part ("contact" can)."""
    return all(weight >= 1.0 for _, weight in vote.mark.entry.parts)


def _weigh_effects(result: TextVotes, taxonomy: Taxonomy) -> None:
    """Let a damaged carrier of power explain a dead device beside it.

    "Display dead, harness chafed": nobody wrote "because", but a harness
    that is cut is the cause of a display that is dead.
    """
    kinds = taxonomy.modes
    faults = [v for v in result.votes if v.role in ("fault", "cause")]
    for i, vote in enumerate(result.votes):
        if vote.role != "fault" or any(
            kinds[m].kind != "symptom" for m, _ in vote.modes
        ):
            continue
        own = taxonomy.components[vote.component]
        for cause in faults:
            other = taxonomy.components[cause.component]
            if (
                other.name != own.name
                and other.carries_power
                and other.group in (own.group, "fitting")
                and any(kinds[m].kind == "cause" for m, _ in cause.modes)
            ):
                result.votes[i] = vote._replace(
                    role="effect", weight=vote.weight * 0.35
                )
                break
