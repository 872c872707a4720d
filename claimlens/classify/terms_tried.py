"""The terms tried on claims whose component is established without their texts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

import pandas as pd

from claimlens.classify.evidence import TEXT_FIELDS
from claimlens.classify.reading import read
from claimlens.classify.taxonomy import NO_FAULT, UNCLASSIFIED
from claimlens.classify.terms import Terms
from claimlens.classify.voting import vote

__all__ = ["Tried", "tried_on"]

# What rules a component out, tells of an earlier repair, or is explained by a cause
# that the text names, speaks for none.
_SILENT = frozenset({"cleared", "history", "aside", "effect"})


@dataclass(slots=True)
class Tried:
    """What one phrase did in the texts.

    Parameters
    ----------
    language : str
        Code of the language that the texts were read in.
    key : tuple of str
        Stems of the phrase.
    fired, right : int
        Claims in which it spoke for a component, and those in which one of these
        had failed.
    others : Counter of str
        Components that had failed in the rest.
    """

    language: str
    key: tuple[str, ...]
    fired: int = 0
    right: int = 0
    others: Counter[str] = field(default_factory=Counter)

    @property
    def instead(self) -> str:
        """Return the component that failed most often in its place."""
        ranked = sorted(self.others.items(), key=lambda item: (-item[1], item[0]))
        return ranked[0][0] if ranked else ""


def tried_on(claims: pd.DataFrame, terms: Terms) -> list[Tried]:
    """Read the texts of claims and set what each term said against the truth.

    Parameters
    ----------
    claims : DataFrame
        component, other_components, narrative, technician_note, resolution;
        claims without a component, or without a fault, are passed over.
    terms : Terms
        What reads.

    Returns
    -------
    list of Tried
        Terms that spoke at least once, each counted once a claim.
    """
    found: dict[tuple[str, str], Tried] = {}
    columns = ["component", "other_components", *(name for name, _ in TEXT_FIELDS)]
    for component, others, *texts in claims[columns].itertuples(index=False, name=None):
        if component in (UNCLASSIFIED, NO_FAULT):
            continue
        failed = {component, *(str(others).split("; ") if others else ())}
        for (language, phrase), named in _spoken(texts, terms).items():
            term = found.get((language, phrase))
            if term is None:
                key = tuple(terms.lexicon(language).words_of(phrase))
                term = found[language, phrase] = Tried(language, key)
            term.fired += 1
            if named & failed:
                term.right += 1
            else:
                term.others[component] += 1
    return list(found.values())


def _spoken(texts: list[object], terms: Terms) -> dict[tuple[str, str], set[str]]:
    """Return the phrases that spoke in a claim, with the components they named."""
    said: dict[tuple[str, str], set[str]] = {}
    for language, phrase, component in _votes(texts, terms):
        said.setdefault((language, phrase), set()).add(component)
    return said


def _votes(texts: list[object], terms: Terms) -> Iterator[tuple[str, str, str]]:
    for text in texts:
        if not isinstance(text, str) or not text.strip():
            continue
        reading = read(text, terms)[0]
        if reading.lexicon is None or not reading.marks:
            continue
        code = reading.lexicon.language.code
        for one in vote(reading, terms).votes:
            if one.weight > 0 and one.role not in _SILENT:
                yield code, one.mark.entry.text, one.component
