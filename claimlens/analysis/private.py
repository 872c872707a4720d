"""What a workspace knows of persons and partners, for taking it out of texts."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable

from claimlens.db import Session
from claimlens.redact import Known, Redactor
from claimlens.settings import Settings

__all__ = ["redactor_of"]

# headers of columns that were kept as they came and hold data of a person; common
# practice, no source
_PERSONAL = re.compile(
    r"name|kunde|customer|client|owner|halter|besitzer|contact|kontakt|adress|address"
    r"|stra(ss|ß)e|street|rue\b|calle|straat|phone|telef|\btel\b|handy|mobil|gsm|mail"
    r"|\bplz\b|postal|postcode|\bzip\b|city|\bort\b|town|ville|ciudad|stad\b|plaats"
    r"|iban|konto|account|cuenta|compte|birth|geburt|naissance|sachbearbeiter|agent"
    r"|bearbeiter|technician|techniker|technicien|tecnico|monteur|contacto|klant"
    r"|propri[eé]taire|inhaber",
    re.IGNORECASE,
)
_KEPT = ("part", "claim", "model", "change", "question")
_REMOVED = ("dealer", "supplier")


def redactor_of(
    session: Session,
    settings: Settings,
    *,
    allowed: Collection[str] = (),
    words: Iterable[str] = (),
) -> Redactor:
    """Return what takes personal data out of the texts of this workspace.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables.
    settings : Settings
        ``[redaction]``.
    allowed : collection of str
        Names of partners that may stay: those of the reader.
    words : iterable of str
        Further words that may stay, such as components.

    Returns
    -------
    Redactor
    """
    known = session.frame("marts/names_known")
    by_kind = {str(kind): rows["name"].tolist() for kind, rows in known.groupby("kind")}
    ours = settings.workspace.name
    partners = [
        name
        for kind in _REMOVED
        for name in by_kind.get(kind, ())
        if name not in allowed and name.casefold() not in ours.casefold()
    ]
    persons = [*by_kind.get("reviewer", ()), *_told_of_persons(session)]
    return Redactor(
        Known(
            names=tuple(
                dict.fromkeys([*partners, *persons, *settings.redaction.names])
            ),
            keep=frozenset(
                [
                    *(name for kind in _KEPT for name in by_kind.get(kind, ())),
                    *allowed,
                    *words,
                    *settings.redaction.keep,
                ]
            ),
            serials=frozenset(by_kind.get("serial", ())),
            serial_keeps=settings.redaction.serial_characters,
        )
    )


def _told_of_persons(session: Session) -> list[str]:
    """Return what columns of claims that were kept as they came tell of persons.

    A single word alone is left to the lists of names: ``Klein`` is one, and a word.
    """
    kept = session.frame("marts/kept_values")
    return [
        str(told)
        for name, told in zip(kept["column_name"], kept["told"], strict=True)
        if _PERSONAL.search(name) and re.search(r"[\s\d@]", str(told))
    ]
