"""Texts of owners that show what a fault looks like from outside."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from claimlens.classify.reading import tokens_of
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.report_inputs.component import Example

__all__ = ["LONGEST", "examples_of", "shown_part"]

LONGEST = 600
"""Characters of a text that are shown."""

#: Texts that are shown, and the most that one failure mode can have.
_TEXTS = 6
_LANGUAGES = {
    "en": "English",
    "de": "German",
    "fr": "French",
    "nl": "Dutch",
    "es": "Spanish",
}


def examples_of(session: Session, component: str, terms: Terms) -> tuple[Example, ...]:
    """Choose the newest text of each leading failure mode, then further ones.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    component : str
        Its name in the taxonomy.
    terms : Terms
        Tell the language.

    Returns
    -------
    tuple of Example
        Six at most, as they were written, and longer than what is shown: what is
        taken out of a text is looked for before it is cut.
    """
    rows = session.frame(
        "marts/component_narratives", {"component": component, "newest": _TEXTS}
    )
    return tuple(_example(row, terms) for row in rows.head(_TEXTS).to_dict("records"))


def _example(row: Mapping[Hashable, Any], terms: Terms) -> Example:
    text = "".join(
        sign for sign in row["narrative"] if sign.isprintable() or sign in "\n\t"
    ).strip()
    if row["n_characters"] > len(row["narrative"]):
        # a word that the end of the text was cut through may be half a name
        text = text.rsplit(None, 1)[0]
    [language] = terms.languages_of(tokens_of(text))[:1] or [""]
    return Example(
        claim_no=row["claim_no"],
        reported_on=row["reported_on"].date(),
        failure_mode=_text(row["failure_mode"]),
        model=_text(row["model"]),
        language=_LANGUAGES.get(language, ""),
        text=text,
        is_cut=bool(row["n_characters"] > len(row["narrative"])),
    )


def _text(value: object) -> str:
    return "" if pd.isna(value) else str(value)


def shown_part(text: str) -> tuple[str, bool]:
    """Return as much of a text as is shown, and whether it goes on.

    Parameters
    ----------
    text : str
        Whole.
    """
    if len(text) <= LONGEST:
        return text, False
    head = text[: LONGEST + 1]
    # not within a word, unless it has no end
    cut = head.rsplit(None, 1)[0] if any(sign.isspace() for sign in head) else head
    return cut[:LONGEST].rstrip(), True
