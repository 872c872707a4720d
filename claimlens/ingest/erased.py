"""Know again what was erased: salted digests of identifiers, and their stand-ins.

A later export may still hold a person whose data were erased. Rows of hers come in
under stand-ins, without texts, so that counts stay as they are and nothing comes back.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import Literal

import pandas as pd

from claimlens.db import Session
from claimlens.results import Reject
from claimlens.tables import Table

__all__ = [
    "MASK",
    "TEXTS",
    "Erased",
    "ErasedKind",
    "as_compared",
    "digest_of",
    "is_telling",
    "read_erased",
    "stand_in_of",
]

ErasedKind = Literal["serial", "claim", "part serial", "mention"]

MASK = "ERASED"
"""What stands in a text where it named something erased."""

_DIGEST_BYTES, _STAND_IN_BYTES = 16, 8
_LEAST_TELLING = 4
_TOKEN = re.compile(r"[^\W_]+(?:[-_./#:][^\W_]+)*")
_PIECE = re.compile(r"[^\W_]+")
_MOST_PIECES = 8
_MOST_SEEN = 500_000
# what a person may have written, in any kind; the rest of a row is kept for the counts
TEXTS = {
    "claims": ("decision_reason", "narrative", "technician_note", "resolution"),
    "findings": ("note",),
    "responses": ("answer",),
    "changes": ("description",),
}


def as_compared(kind: ErasedKind, text: str) -> str:
    """Return an identifier as the warehouse compares it.

    Parameters
    ----------
    kind : str
        Serials are compared without regard to case, claim numbers as they stand.
    text : str
        As written.
    """
    plain = text.strip()
    return plain.upper() if kind in ("serial", "mention") else plain


def _keyed(salt: str, purpose: str, text: str, size: int) -> str:
    """Return a digest that nobody can make or try without the salt."""
    return hashlib.blake2b(
        f"{purpose}\x1f{text}".encode("utf-8", "surrogatepass"),
        key=bytes.fromhex(salt),
        digest_size=size,
    ).hexdigest()


def digest_of(salt: str, kind: ErasedKind, text: str) -> str:
    """Return the salted digest of an identifier.

    Parameters
    ----------
    salt : str
        Hexadecimal, kept in the warehouse.
    kind : str
        What it identifies.
    text : str
        As written.
    """
    return _keyed(salt, f"digest {kind}", as_compared(kind, text), _DIGEST_BYTES)


def stand_in_of(salt: str, kind: ErasedKind, text: str) -> str:
    """Return what stands in the place of an erased identifier; always the same.

    Parameters
    ----------
    salt : str
        Hexadecimal, kept in the warehouse.
    kind : str
        What it identifies.
    text : str
        As written.
    """
    told = _keyed(salt, f"stand-in {kind}", as_compared(kind, text), _STAND_IN_BYTES)
    return f"{MASK}-{told.upper()}"


def is_telling(text: str) -> bool:
    """Tell whether an identifier can be told from ordinary words and numbers.

    Parameters
    ----------
    text : str
        An identifier: one of five signs and more with a digit, or of four with
        letters too, is looked for inside texts; a shorter one is not.
    """
    plain = text.strip()
    digits = sum(letter.isdigit() for letter in plain)
    letters = sum(letter.isalpha() for letter in plain)
    enough = len(plain) > _LEAST_TELLING
    return digits > 0 and (enough or (len(plain) == _LEAST_TELLING and letters > 0))


@dataclass(slots=True)
class _Known:
    """Digests under one salt, and what stands for them."""

    salt: str
    keys: dict[tuple[str, str], str] = field(default_factory=dict)


@dataclass
class Erased:
    """What was erased from a warehouse, as far as it may be known.

    Parameters
    ----------
    known : tuple of _Known
        One a salt.
    found : dict
        Claims met in this load that belong to an erased unit: stand-in by number.
    """

    known: tuple[_Known, ...] = ()
    found: dict[str, str] = field(default_factory=dict)
    _seen: dict[tuple[str, str], str | None] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return any(one.keys for one in self.known)

    @cached_property
    def newest_salt(self) -> str | None:
        """Return the salt of the newest erasure."""
        return self.known[-1].salt if self.known else None

    def stand_in(self, kind: ErasedKind, text: str | None) -> str | None:
        """Return the stand-in of an erased identifier, None for any other."""
        if text is None:
            return None
        if kind == "claim" and text in self.found:
            return self.found[text]
        key = (kind, text)
        if key not in self._seen:
            if len(self._seen) > _MOST_SEEN:
                self._seen.clear()
            self._seen[key] = self._look_up(kind, text)
        return self._seen[key]

    def _look_up(self, kind: ErasedKind, text: str) -> str | None:
        for one in self.known:
            found = one.keys.get((kind, digest_of(one.salt, kind, text)))
            if found is not None:
                return found
        return None

    def with_keys(self, keys: pd.DataFrame) -> Erased:
        """Return the same with further keys.

        Parameters
        ----------
        keys : pandas.DataFrame
            ``salt, kind, digest, stand_in``.
        """
        return _gathered(
            [
                *(
                    (one.salt, kind, digest, stand_in)
                    for one in self.known
                    for (kind, digest), stand_in in one.keys.items()
                ),
                *_rows_of(keys),
            ]
        )

    def unknown(self, keys: pd.DataFrame) -> pd.DataFrame:
        """Return those of some keys that are not known yet.

        Parameters
        ----------
        keys : pandas.DataFrame
            ``salt, kind, digest, stand_in``.
        """
        held = {
            (one.salt, kind, digest) for one in self.known for kind, digest in one.keys
        }
        is_new = [row[:3] not in held for row in _rows_of(keys)]
        return keys[pd.Series(is_new, index=keys.index, dtype=bool)]

    def kinds_of(self, claim: str) -> tuple[ErasedKind, ...]:
        """Return the kinds under which an erased claim is to be known again."""
        return ("claim", "mention") if is_telling(claim) else ("claim",)

    def masked(self, text: str, *, standing: bool = False) -> str:
        """Return a text with every erased identifier in it masked.

        Parameters
        ----------
        text : str
            Any text.
        standing : bool, default False
            Put the stand-in there, not the same mask for all.
        """
        if not any(letter.isdigit() for letter in text):
            return text
        return _TOKEN.sub(partial(self._masked_token, standing=standing), text)

    def names_one(self, text: str) -> bool:
        """Tell whether a text holds an erased identifier."""
        return self.masked(text) != text

    def _masked_token(self, match: re.Match[str], *, standing: bool) -> str:
        token = match.group()
        if not any(letter.isdigit() for letter in token):
            return token
        pieces = [(p.start(), p.end()) for p in _PIECE.finditer(token)]
        n = len(pieces)
        if n > _MOST_PIECES:
            pieces, n = pieces[:_MOST_PIECES], _MOST_PIECES
        for length in range(n, 0, -1):
            for first in range(n - length + 1):
                start, end = pieces[first][0], pieces[first + length - 1][1]
                part = token[start:end]
                found = self.stand_in("mention", part) if is_telling(part) else None
                if found is not None:
                    return (
                        self.masked(token[:start], standing=standing)
                        + (found if standing else MASK)
                        + self.masked(token[end:], standing=standing)
                    )
        return token

    def mask_chunk(self, frame: pd.DataFrame, table: Table) -> list[int]:
        """Take what was erased out of a chunk of a file, in place.

        Parameters
        ----------
        frame : pandas.DataFrame
            Canonical columns as text, and ``source_row``.
        table : Table
            Its kind.

        Returns
        -------
        list of int
            Rows of the file that belong to something erased.
        """
        if not self:
            return []
        units = self._replace(frame, "serial", "serial")
        claims = self._replace_claims(frame, units)
        self._replace(frame, "effective_serial", "serial")
        erased = units | claims
        if "component_serial" in frame and units.any():
            frame.loc[units, "component_serial"] = [
                self._part_serial(text) for text in frame.loc[units, "component_serial"]
            ]
        for name in (*TEXTS.get(table.name, ()), "extra"):
            if name in frame:
                self._drop_text(frame, name, erased, table)
        rows: list[int] = frame.loc[erased, "source_row"].tolist()
        return rows

    def _part_serial(self, text: str | None) -> str | None:
        if text is None or self.newest_salt is None or not isinstance(text, str):
            return None
        # under the salt by which the first erasure made it
        return stand_in_of(self.known[0].salt, "part serial", text)

    def _replace(
        self, frame: pd.DataFrame, name: str, kind: ErasedKind
    ) -> pd.Series[bool]:
        """Put stand-ins into a column; tell where."""
        hit = pd.Series(False, index=frame.index)
        if name not in frame:
            return hit
        stand_ins = {
            text: found
            for text in frame[name].dropna().unique()
            if (found := self.stand_in(kind, text)) is not None
        }
        if stand_ins:
            hit = frame[name].isin(list(stand_ins))
            frame.loc[hit, name] = frame.loc[hit, name].map(stand_ins)
        return hit

    def _replace_claims(
        self, frame: pd.DataFrame, units: pd.Series[bool]
    ) -> pd.Series[bool]:
        """Put stand-ins for claims; a claim of an erased unit is erased as well."""
        if "claim_no" not in frame:
            return pd.Series(False, index=frame.index)
        salt = self.newest_salt
        for text in frame.loc[units, "claim_no"].dropna().unique():
            if self.stand_in("claim", text) is None and salt is not None:
                self.found[text] = stand_in_of(salt, "claim", text)
        return self._replace(frame, "claim_no", "claim")

    def _drop_text(
        self,
        frame: pd.DataFrame,
        name: str,
        erased: pd.Series[bool],
        table: Table,
    ) -> None:
        """Drop the texts of erased rows, and mask identifiers in all others."""
        if erased.any():
            frame[name] = frame[name].where(~erased, _what_stays(frame, name, table))
        told = frame[name].dropna()
        texts = {
            text: masked
            for text in told[~erased.loc[told.index]].unique()
            if (masked := self.masked(text)) != text
        }
        if texts:
            frame[name] = frame[name].replace(texts)

    def mask_rejects(self, rejected: Iterable[Reject]) -> tuple[Reject, ...]:
        """Return rejects without the lines that name something erased."""
        return tuple(
            Reject(one.row, one.column_name, None, one.reason)
            if self and one.value is not None and self.names_one(one.value)
            else one
            for one in rejected
        )


def _what_stays(frame: pd.DataFrame, name: str, table: Table) -> pd.Series[str]:
    """Return what stays of the texts of erased rows: a reviewer's word on danger."""
    kept: list[str | None] = [None] * len(frame)
    if table.name == "labels" and name == "extra":
        kept = [_safety_of(text) for text in frame[name]]
    return pd.Series(pd.array(kept, dtype="str"), index=frame.index)


def _safety_of(text: object) -> str | None:
    said = json.loads(text).get("safety") if isinstance(text, str) else None
    if said is None:
        return None
    # as the engine writes it, so that digests agree
    return json.dumps({"safety": said}, ensure_ascii=False, separators=(",", ":"))


def read_erased(session: Session) -> Erased:
    """Return what was erased from a warehouse.

    Parameters
    ----------
    session : Session
        On the warehouse.
    """
    return _gathered(_rows_of(session.frame("marts/erased_keys")))


_KeyRow = tuple[str, str, str, str]


def _rows_of(keys: pd.DataFrame) -> list[_KeyRow]:
    """Return salt, kind, digest and stand-in of each key."""
    columns = [keys[name] for name in ("salt", "kind", "digest", "stand_in")]
    return [
        (str(salt), str(kind), str(digest), str(stand_in))
        for salt, kind, digest, stand_in in zip(*columns, strict=True)
    ]


def _gathered(rows: Iterable[_KeyRow]) -> Erased:
    """Return keys by their salt."""
    by_salt: dict[str, _Known] = {}
    for salt, kind, digest, stand_in in rows:
        by_salt.setdefault(salt, _Known(salt)).keys[(kind, digest)] = stand_in
    return Erased(tuple(by_salt.values()))
