"""Decisions on claims, the same evidence weighed once.

What is decided depends on what was read in the texts, not on how it was worded;
only the account of it quotes. So the claim is weighed with a stand-in for each word,
and a claim with the same evidence gets the same decision with its own words.
"""

from __future__ import annotations

import re
from functools import lru_cache

from claimlens.classify.evidence import TEXT_FIELDS, Source, TextSays, said_in
from claimlens.classify.reading import Reading
from claimlens.classify.recalling import found_in
from claimlens.classify.sentences import Extract, extracts_of, make_room
from claimlens.classify.terms import Terms
from claimlens.classify.weighing import Case, Decision, TextReader, weigh

__all__ = ["Decider"]

# The word of a reading is two halves of a surrogate, which no text can hold: the
# first counts the readings of the claim, the second the words of the reading.
_FIRST, _SECOND, _MOST = 0xD800, 0xDC00, 0x400
_STAND_IN = re.compile("([\ud800-\udbff])([\udc00-\udfff])")
_KEPT = 150_000
_NOTHING = TextSays()


@lru_cache(maxsize=_MOST)
def _stand_ins(number: int) -> list[str]:
    """Return what stands for the words of one reading of a claim."""
    return [chr(_FIRST + number) + chr(_SECOND + word) for word in range(_MOST)]


class Decider:
    """Decides claims as ``weigh`` does, and remembers what it decided.

    Parameters
    ----------
    terms : Terms
        Compiled terms; they keep the decisions.
    threshold : float
        Least confidence that decides, 0 to 1.
    """

    def __init__(self, terms: Terms, threshold: float) -> None:
        self._terms = terms
        self._threshold = threshold

    def __call__(self, case: Case) -> Decision:
        """Decide one claim.

        Parameters
        ----------
        case : Case
            Its texts, parts, findings and labels.

        Returns
        -------
        Decision
            Without the pieces of evidence and the scores of the modes.
        """
        terms = self._terms
        texts = [extracts_of(text, terms) if text else [] for text in case.texts]
        extracts = [extract for text in texts for extract in text]
        if any(extract.n_tokens > _MOST for extract in extracts):
            return weigh(case, terms, TextReader(terms), threshold=self._threshold)
        said = tuple([tuple([(e.stretches, e.length) for e in t]) for t in texts])
        key = (self._threshold, said, case.parts, case.findings, case.labels)
        known = terms.decisions.get(key)
        if known is None:
            make_room(terms.decisions, _KEPT)
            known = terms.decisions[key] = self._weighed(case, texts)
        return _in_words(known, extracts)

    def _weighed(self, case: Case, texts: list[list[Extract]]) -> Decision:
        """Weigh a claim, with stand-ins for the words of its texts."""
        says: dict[Source, TextSays] = {}
        count = 0
        for (_, source), text in zip(TEXT_FIELDS, texts, strict=True):
            if text:
                readings = [
                    Reading(e.lexicon, _stand_ins(count + i), found_in(e, self._terms))
                    for i, e in enumerate(text)
                ]
                says[source] = said_in(tuple(readings), source, self._terms)
                count += len(text)
        decision = weigh(
            case,
            self._terms,
            lambda _, source: says.get(source, _NOTHING),
            threshold=self._threshold,
        )
        decision.pieces, decision.mode_scores = [], {}
        return decision


def _in_words(known: Decision, extracts: list[Extract]) -> Decision:
    """Return a decision with the words of a claim for their stand-ins."""

    def word(match: re.Match[str]) -> str:
        extract = extracts[ord(match[1]) - _FIRST]
        return extract.word(ord(match[2]) - _SECOND)

    return Decision(
        known.component,
        known.failure_mode,
        known.others,
        tuple([_STAND_IN.sub(word, danger) for danger in known.dangers]),
        known.source,
        known.confidence,
        _STAND_IN.sub(word, known.evidence),
        _STAND_IN.sub(word, known.against) if known.against else "",
    )
