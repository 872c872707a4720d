"""Take what is erased out of the tables of a warehouse."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import date

import pandas as pd

from claimlens.db import Session
from claimlens.ingest.erased import (
    TEXTS,
    Erased,
    digest_of,
    is_telling,
)

__all__ = [
    "MASKED_KINDS",
    "TARGET_COLUMNS",
    "erase_rows",
    "follow_units",
    "patterns_of",
]

MASKED_KINDS = (
    "units",
    "claims",
    "claim_parts",
    "findings",
    "changes",
    "unit_changes",
    "responses",
    "fitted_parts",
    "labels",
)
"""Kinds of rows that may tell of a person's unit or claim."""

TARGET_COLUMNS = ("kind", "plain", "stand_in", "is_whole")
_KEY_COLUMNS = ("erasure", "salt", "kind", "digest", "stand_in")
_AT_ONCE = 400
_READ_BEFORE = "read before the text was erased"


def erase_rows(
    session: Session, targets: pd.DataFrame, erased: Erased
) -> dict[str, int]:
    """Mask rows of all tables, and fold the current rows of their keys again.

    Parameters
    ----------
    session : Session
        Open for writing. Its file is written anew when it is swapped in.
    targets : pandas.DataFrame
        ``kind, plain`` (as the tables compare it), ``stand_in``, and ``is_whole``:
        whether all that tells of the person goes, or the texts alone.
    erased : Erased
        That knows the targets already.

    Returns
    -------
    dict of str to int
        Rows touched by table.
    """
    session.run("staging/fold_macros")
    session.run("staging/erasing")
    session.append("erasing", targets[list(TARGET_COLUMNS)])
    whole = targets[targets["is_whole"]]
    patterns = list(patterns_of(whole["plain"].tolist()))
    touched = {}
    for kind in MASKED_KINDS:
        session.put("mentioned", _mentioned(session, kind, patterns, erased))
        session.run(f"staging/mask_{kind}")
        touched[f"{kind}_versions"] = session.count("masked")
        session.run("staging/mask_touched")
        session.delete_places(f"{kind}_versions", "masked")
        session.copy_rows("masked_versions", f"{kind}_versions")
        session.delete_keys(f"{kind}_current", "former_keys")
        session.run(
            f"staging/fold_{kind}", {"as_known": date.max, "only_touched": True}
        )
        touched[f"{kind}_current"] = session.count("folded")
        session.copy_rows("folded", f"{kind}_current")
    session.run("staging/erase_answers", {"evidence": _READ_BEFORE})
    rest = _rest(session, patterns, erased)
    session.put("rewritten", rest)
    session.run("staging/mask_rest")
    for held_in, rows in rest.groupby("held_in"):
        touched[str(held_in)] = len(rows)
    session.changed = True
    session.compact = True
    return {name: count for name, count in touched.items() if count}


def patterns_of(identifiers: Sequence[str]) -> Iterator[str]:
    """Yield what finds texts in which an identifier may stand.

    Parameters
    ----------
    identifiers : sequence of str
        Those that can be told from other words are looked for, some hundreds at once.
    """
    telling = sorted({text for text in identifiers if is_telling(text)})
    for start in range(0, len(telling), _AT_ONCE):
        some = telling[start : start + _AT_ONCE]
        yield "(?i)(?:" + "|".join(re.escape(text) for text in some) + ")"


def _mentioned(
    session: Session, kind: str, patterns: Sequence[str], erased: Erased
) -> pd.DataFrame:
    """Return the texts of a kind that name something erased, masked."""
    columns = [*TEXTS.get(kind, ()), "extra"]
    found = [
        session.frame(f"staging/mention_{kind}", {"pattern": pattern})
        for pattern in patterns
    ]
    frame = (
        pd.concat(found, ignore_index=True).drop_duplicates("place")
        if found
        else pd.DataFrame({"place": pd.array([], dtype="int64")})
    )
    for name in columns:
        told = frame[name].tolist() if name in frame else []
        frame[name] = pd.array(
            [erased.masked(text) if isinstance(text, str) else None for text in told],
            dtype="str",
        )
    return frame[["place", *columns]]


def _rest(session: Session, patterns: Sequence[str], erased: Erased) -> pd.DataFrame:
    """Return the other texts that name something erased, masked."""
    found = [
        session.frame("staging/mention_rest", {"pattern": pattern})
        for pattern in patterns
    ]
    if not found:
        return pd.DataFrame(
            {
                "held_in": pd.array([], dtype="str"),
                "place": pd.array([], dtype="int64"),
                "text": pd.array([], dtype="str"),
            }
        )
    frame = pd.concat(found, ignore_index=True).drop_duplicates(["held_in", "place"])
    masked = [erased.masked(text) for text in frame["text"]]
    changed = [
        new != old for new, old in zip(masked, frame["text"].tolist(), strict=True)
    ]
    frame["text"] = pd.array(masked, dtype="str")
    return frame[pd.Series(changed, index=frame.index, dtype=bool)]


def follow_units(session: Session, erased: Erased) -> None:
    """Erase what other tables hold of claims whose unit proved to be erased.

    Parameters
    ----------
    session : Session
        After a load.
    erased : Erased
        With the claims found in it.
    """
    salt = erased.newest_salt
    if salt is None or not erased.found:
        return
    keys = [
        ("", salt, kind, digest_of(salt, kind, claim), stand_in)
        for claim, stand_in in sorted(erased.found.items())
        for kind in erased.kinds_of(claim)
    ]
    session.append("erased_keys", pd.DataFrame(keys, columns=list(_KEY_COLUMNS)))
    targets = pd.DataFrame(
        {
            "kind": "claim",
            "plain": list(erased.found),
            "stand_in": list(erased.found.values()),
            "is_whole": True,
        }
    )
    erase_rows(session, targets, erased)
