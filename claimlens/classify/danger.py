"""Danger: what a person must see at once, whatever the claim turns out to be.

The rules prefer a false alarm to a miss. claimlens informs the decision of a
qualified person; it never makes a safety or legal decision, and reporting
duties to authorities are set by local law.
"""

from __future__ import annotations

from functools import lru_cache

from claimlens.classify.reading import Mark, Reading
from claimlens.classify.taxonomy import read_rows, shipped

__all__ = ["danger_pairs", "dangers_in"]

_REACH = 5


@lru_cache(maxsize=1)
def danger_pairs() -> frozenset[tuple[str, str]]:
    """Return the pairs of component and failure mode that are dangerous."""
    required = ("component", "failure_mode")
    rows = read_rows(
        shipped("danger_rules.csv"), source="danger_rules.csv", required=required
    )
    return frozenset((row["component"], row["failure_mode"]) for _, row in rows)


def dangers_in(reading: Reading) -> list[Mark]:
    """Return the dangers that a text tells of and does not deny.

    Parameters
    ----------
    reading : Reading
        Marks of one text.

    Returns
    -------
    list of Mark
        In the order of the text; "no smoke" and "nobody was hurt" are not in
        it, "maybe smoke" is.
    """
    if not reading.dangers:
        return []
    lexicon = reading.lexicon
    back = lexicon is not None and lexicon.language.denies_back
    return [
        mark
        for mark in reading.dangers
        if mark.entry.group == "danger"
        and not _denied(mark, reading.marks)
        and not (back and _denied_after(mark, reading.marks))
    ]


def _denied_after(danger: Mark, marks: list[Mark]) -> bool:
    """Tell whether a negation follows at once: "brennt nicht"."""
    return any(m.at == danger.end and m.entry.group == "not" for m in marks)


def _denied(danger: Mark, marks: list[Mark]) -> bool:
    """Tell whether a negation before the danger reaches it.

    A comma ends its reach, but for lists closed by "or": "no smoke, fire or
    injury" denies all three.
    """
    listed = any(m.entry.group == "join" and m.at == danger.end for m in marks)
    for mark in reversed(marks):
        if mark.at >= danger.at:
            continue
        group = mark.entry.group
        if group in ("hard", "break", "then", "though", "cause", "effect"):
            return False
        if group == "join":
            listed = True
        elif group in ("soft", "and") and not listed:
            return False
        elif group in ("not", "without"):
            return listed or danger.at - mark.end < _REACH
    return False
