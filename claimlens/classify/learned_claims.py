"""From frames of claims to what the learned model sees of each."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

import pandas as pd

from claimlens.classify.evidence import TEXT_FIELDS
from claimlens.classify.learned_features import Cues, cues_of
from claimlens.classify.reading import read
from claimlens.classify.spelling import plain
from claimlens.classify.taxonomy import UNCLASSIFIED, Taxonomy
from claimlens.classify.terms import Terms

__all__ = ["NewestLabel", "leaning", "newest_labels", "see_claims", "text_columns"]

text_columns = tuple(column for column, _ in TEXT_FIELDS)
_LEANS = re.compile(r"^too weak: .* for ([^;]+?)(?:; danger: .*)?$", re.DOTALL)
# Facts stand beside rows of length 1, and are to whisper, not to shout.
_WHISPER, _READ = 0.3, 0.2


@dataclass(frozen=True, slots=True)
class NewestLabel:
    """The label of a claim that counts.

    Parameters
    ----------
    component : str
        ``unclassified`` where the reviewer could not tell.
    failure_mode : str or None
        None where the reviewer said none.
    """

    component: str
    failure_mode: str | None


def _cell(value: object) -> str | None:
    return value if isinstance(value, str) and value.strip() else None


def _rows(frame: pd.DataFrame, *columns: str) -> Iterator[tuple[object, ...]]:
    """Yield columns row by row; a missing one reads as empty."""
    count = len(frame)
    listed = [
        frame[name].tolist() if name in frame.columns else [None] * count
        for name in columns
    ]
    yield from zip(*listed, strict=True)


def newest_labels(labels: pd.DataFrame, taxonomy: Taxonomy) -> dict[str, NewestLabel]:
    """Return the newest label of each claim, in the words of the taxonomy.

    Parameters
    ----------
    labels : DataFrame
        claim_no, component, failure_mode, reviewer, reviewed_on.
    taxonomy : Taxonomy
        Labels with a component that it lacks are passed over, ``unclassified``
        apart.

    Returns
    -------
    dict of str to NewestLabel
        By claim number; of labels of one day that of the last reviewer by name.
    """
    columns = ("claim_no", "component", "failure_mode", "reviewer", "reviewed_on")
    best: dict[str, tuple[str, str, str, str]] = {}
    for claim_no, component, mode, reviewer, reviewed_on in _rows(labels, *columns):
        name = taxonomy.component_for(component)
        if name is None:
            if plain(str(component or "")) != UNCLASSIFIED:
                continue
            name = UNCLASSIFIED
        day = "" if pd.isna(reviewed_on) else str(reviewed_on)[:10]
        row = (day, _cell(reviewer) or "", name, taxonomy.mode_for(mode) or "")
        key = str(claim_no)
        if key not in best or row > best[key]:
            best[key] = row
    return {
        key: NewestLabel(component, mode or None)
        for key, (_, _, component, mode) in best.items()
    }


def leaning(evidence: str) -> str | None:
    """Return the component that terms lean to where their evidence is too weak.

    Parameters
    ----------
    evidence : str
        Of an unclassified claim, as ``classify`` words it.

    Returns
    -------
    str or None
    """
    found = _LEANS.match(evidence)
    return found.group(1) if found else None


def _part_facts(
    parts: pd.DataFrame, taxonomy: Taxonomy, hidden: Collection[str]
) -> dict[str, list[str]]:
    """Return what the parts of each claim tell.

    A part that names its component tells it, unless that is the very answer that
    is to be learned; of any other the number itself may tell.
    """
    found: dict[str, list[str]] = {}
    columns = ("claim_no", "part_no", "component")
    for claim_no, part_no, component in _rows(parts, *columns):
        key = str(claim_no)
        name = taxonomy.component_for(component)
        if name is not None and key in hidden:
            continue
        fact = f"part of {name}" if name else f"part number {_cell(part_no) or ''}"
        found.setdefault(key, []).append(fact)
    return found


def _unit_facts(units: pd.DataFrame) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for claim_no, model, year in _rows(units, "claim_no", "model", "model_year"):
        own = []
        if _cell(model):
            own.append(f"model {model}")
        if not pd.isna(year):
            own.append(f"model year {int(year)}")  # type: ignore[call-overload]  # any cell
        found[str(claim_no)] = own
    return found


def see_claims(
    texts: pd.DataFrame,
    parts: pd.DataFrame,
    units: pd.DataFrame,
    told: pd.DataFrame,
    terms: Terms,
    *,
    hidden: Collection[str] = (),
    components: Mapping[str, str] | None = None,
) -> list[Cues]:
    """Return what the model sees of each claim.

    Parameters
    ----------
    texts : DataFrame
        claim_no and the text columns.
    parts : DataFrame
        claim_no, part_no, component.
    units : DataFrame
        claim_no, model, model_year; at most one row a claim.
    told : DataFrame
        What the terms say of the same claims in the same order, as
        ``classify`` returns it.
    terms : Terms
        For the language and the taxonomy.
    hidden : collection of str
        Claims whose parts are the answer and are not shown.
    components : mapping of str to str, optional
        By claim: the component whose failure mode is asked for.

    Returns
    -------
    list of Cues
        One a row of ``texts``.
    """
    part_facts = _part_facts(parts, terms.taxonomy, hidden)
    unit_facts = _unit_facts(units)
    said = _rows(told, "component", "confidence", "safety", "evidence")
    seen = []
    for row, (component, confidence, safety, evidence) in zip(
        _rows(texts, "claim_no", *text_columns), said, strict=True
    ):
        key = str(row[0])
        own_texts = [_cell(text) for text in row[1:]]
        facts = [*part_facts.get(key, ()), *unit_facts.get(key, ())]
        if safety == "yes":
            facts.append("danger read")
        if components is not None and key in components:
            facts.append(f"component {components[key]}")
        worth = dict.fromkeys(facts, _WHISPER)
        worth.update(dict.fromkeys(_read_facts(own_texts, terms), _READ))
        lean = leaning(str(evidence)) if component == UNCLASSIFIED else None
        if lean is not None:
            worth[f"terms lean to {lean}"] = float(confidence)  # type: ignore[arg-type]  # a float column
        seen.append(cues_of(own_texts, worth.items()))
    return seen


def _read_facts(texts: list[str | None], terms: Terms) -> Iterator[str]:
    """Yield the language of each text, and what its phrases stand for.

    "leaks", "undicht" and "fuit" are one fact: what was corrected in one language
    helps in the others.
    """
    for text in texts:
        if not text:
            continue
        reading = read(text, terms)[0]
        if reading.lexicon is not None:
            yield f"language {reading.lexicon.language.code}"
        for mark in reading.marks:
            entry = mark.entry
            yield from (f"reads {entry.group} {name}" for name, _ in entry.parts)
            yield from (f"reads {entry.group} {mode}" for _, mode, _ in entry.modes)
