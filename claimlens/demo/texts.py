"""Write the claims' texts: what the owner tells and what the workshop notes.

The owner tells the symptom, not always well; the technician names the cause.
Every text agrees with the claim's true component and failure mode.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from claimlens.demo.claims import REFUSED, Facts
from claimlens.demo.draws import Draws, Floats, Texts
from claimlens.demo.phrases import Phrases, load_phrases
from claimlens.demo.truth import Truth

__all__ = ["make_notes", "make_texts"]

# draws a claim: which phrase, which manners, where the slip of the pen is
CHOICES = 14
VAGUE_SHARE = 0.07
NO_NOTE_SHARE = 0.06
SECTIONS = {
    "no fault found": "no fault",
    "misuse": "misuse",
    "transport damage": "transport",
}


@dataclass(frozen=True, slots=True)
class _Claim:
    component: str
    mode: str
    origin: str
    phrases: Phrases
    modes: tuple[str, ...]


def make_texts(truth: Truth, facts: Facts, seed: int) -> tuple[Texts, Texts, Texts]:
    """Return narrative, technician's note and resolution of each claim.

    Parameters
    ----------
    truth : Truth
        For the failure modes that a component knows.
    facts : Facts
        What each claim is, values of shape ``(n,)``.
    seed : int
        Seed of the world.

    Returns
    -------
    tuple of ndarray of object, shape (n,)
        None where the text does not exist: no note before the decision, no
        resolution before the closing.
    """
    draws = Draws(seed, "texts").uniform(len(facts.component), CHOICES)
    modes = {c.name: tuple(c.modes) for c in truth.components}
    size = len(facts.component)
    narrative = np.full(size, None, dtype=object)
    note = np.full(size, None, dtype=object)
    resolution = np.full(size, None, dtype=object)
    for i in range(size):
        component = facts.component[i]
        claim = _Claim(
            component,
            facts.mode[i],
            facts.origin[i],
            load_phrases(facts.language[i]),
            modes[component],
        )
        narrative[i] = _narrative(claim, draws[i])
        if facts.decided[i]:
            note[i] = _note(claim, draws[i])
        if facts.closed[i]:
            resolution[i] = _resolution(claim, draws[i])
    return narrative, note, resolution


def make_notes(findings: pd.DataFrame, languages: Texts, seed: int) -> Texts:
    """Return the inspector's note on each returned part, shape ``(n,)``."""
    draws = Draws(seed, "inspection notes").uniform(len(findings), CHOICES)
    notes = np.full(len(findings), None, dtype=object)
    columns = ("finding", "component", "failure_mode")
    rows = zip(*(findings[name] for name in columns), languages, strict=True)
    for i, (finding, component, mode, language) in enumerate(rows):
        claim = _Claim(component, mode, finding, load_phrases(language), (mode,))
        notes[i] = _note(claim, np.minimum(draws[i], 0.93))
    return notes


def _one(options: list[str], draw: float) -> str:
    return options[int(draw * len(options))]


def _symptom_mode(claim: _Claim, draw: float) -> str:
    """Return the mode the owner describes where there was no real fault."""
    if claim.mode in claim.modes:
        return claim.mode
    return claim.modes[int(draw * len(claim.modes))]


def _narrative(claim: _Claim, draws: Floats) -> str:
    phrases = claim.phrases
    name = phrases.names[claim.component]
    if claim.origin == "transport damage":
        body = _one(phrases.general["transport owner"], draws[0])
    elif draws[1] < VAGUE_SHARE:
        body = _one(phrases.general["vague"], draws[0])
    else:
        mode = _symptom_mode(claim, draws[2])
        body = _one(phrases.of("o", claim.component, mode), draws[0])
    text = body.replace("{n}", name)
    if draws[3] < 0.4:
        text = f"{_one(phrases.general['opener'], draws[4])} {text}"
    if draws[12] < 0.3:
        aside = _one(phrases.general["aside"], draws[12] / 0.3)
        text = _joined(text, aside.replace("{km}", str(int(40 + 9000 * draws[13]))))
    if draws[5] < 0.35:
        text = _joined(text, _one(phrases.general["closer"], draws[6]))
    if draws[7] < 0.12:
        text = text.lower()
    if draws[8] < 0.10:
        text = _slip(text, draws[9])
    return text[0].upper() + text[1:] if draws[7] > 0.2 else text


def _joined(text: str, more: str) -> str:
    stop = "" if text[-1] in ".!?" else "."
    return f"{text}{stop} {more}"


def _slip(text: str, draw: float) -> str:
    """Return the text with two neighbouring letters of a long word swapped."""
    words = text.split(" ")
    long = [i for i, word in enumerate(words) if len(word) > 5 and word.isalpha()]
    if not long:
        return text
    where = long[int(draw * len(long))]
    word = words[where]
    at = 1 + int(draw * 1000) % (len(word) - 3)
    words[where] = word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    return " ".join(words)


def _note(claim: _Claim, draws: Floats) -> str | None:
    """Return the technician's note; some workshops write none."""
    phrases = claim.phrases
    section = SECTIONS.get(claim.origin)
    if section is not None:
        text = _one(phrases.general[section], draws[10])
    elif claim.origin == "cancelled" or draws[11] > 1 - NO_NOTE_SHARE:
        return None
    else:
        text = _one(phrases.of("t", claim.component, claim.mode), draws[10])
    text = text.replace("{n}", phrases.names[claim.component])
    return text[0].upper() + text[1:]


def _resolution(claim: _Claim, draws: Floats) -> str | None:
    phrases = claim.phrases
    if claim.origin == "cancelled":
        return None
    if claim.origin in REFUSED:
        section = "resolution refused"
    elif claim.origin == "no fault found":
        section = "resolution no fault"
    elif claim.component == "firmware":
        section = "resolution firmware"
    else:
        section = "resolution"
    text = _one(phrases.general[section], draws[6])
    text = text.replace("{n}", phrases.names[claim.component])
    return text[0].upper() + text[1:]
