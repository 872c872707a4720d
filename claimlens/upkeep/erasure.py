"""Erase what a warehouse holds of a person, and prove it without naming anybody."""

from __future__ import annotations

import json
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

import pandas as pd

from claimlens.analysis.kept_readings import KEPT_COLUMNS
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.ingest.erased import (
    MASK,
    Erased,
    ErasedKind,
    as_compared,
    digest_of,
    is_telling,
    stand_in_of,
)
from claimlens.ingest.erasing import (
    MASKED_KINDS,
    TARGET_COLUMNS,
    erase_rows,
    patterns_of,
)

__all__ = [
    "Done",
    "Named",
    "Plan",
    "erase_from",
    "make_plan",
    "name_known",
    "plan_for",
    "plan_for_held",
]

_COUNTED = (
    *(f"{kind}_{state}" for kind in MASKED_KINDS for state in ("versions", "current")),
    "rejected_rows",
    "review_samples",
    "review_repeats",
    "signal_acknowledgements",
    "alarms_told",
    "batches",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """Whose data are to be erased.

    Parameters
    ----------
    serials, claims : tuple of str
        As somebody gave them.
    """

    serials: tuple[str, ...] = ()
    claims: tuple[str, ...] = ()

    def pairs(self) -> list[tuple[ErasedKind, str]]:
        """Return kind and identifier of each."""
        found: list[tuple[ErasedKind, str]] = []
        found += [("serial", text) for text in self.serials]
        found += [("claim", text) for text in self.claims]
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What an erasure takes out of the tables.

    Parameters
    ----------
    what : str
        ``serial``, ``claim``, both, or why else something goes.
    salt : str
        Under which it will be known again.
    targets : pandas.DataFrame
        See `claimlens.ingest.erasing.erase_rows`.
    texts : tuple of str
        What was written of them.
    again : tuple of (str, str)
        What was named and is erased already: kind and identifier.
    rejected : mapping of str to frozenset of int
        Rejected rows that name them, by the SHA-256 of their file.
    """

    what: str
    salt: str
    targets: pd.DataFrame
    texts: tuple[str, ...] = ()
    again: tuple[tuple[ErasedKind, str], ...] = ()
    rejected: Mapping[str, frozenset[int]] = field(default_factory=dict)

    @property
    def claims(self) -> list[str]:
        """Return the numbers of the claims."""
        is_claim = self.targets["kind"] == "claim"
        return [str(text) for text in self.targets.loc[is_claim, "plain"]]

    def identifiers(self) -> frozenset[str]:
        """Return every identifier that goes, in capitals."""
        return frozenset(str(text).upper() for text in self.targets["plain"])

    def keys(self) -> pd.DataFrame:
        """Return the digests by which the erased are known again."""
        rows = [
            (self.salt, kind, digest_of(self.salt, kind, plain), stand_in)
            for own, plain, stand_in, is_whole in self.targets.itertuples(index=False)
            if is_whole and own != "part serial"
            for kind in ((own, "mention") if is_telling(plain) else (own,))
        ]
        columns = ["salt", "kind", "digest", "stand_in"]
        return pd.DataFrame(rows, columns=columns, dtype="str")


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What an erasure did to the warehouse.

    Parameters
    ----------
    erasure : str
        Its name: drawn by chance.
    erased_at : str
        By the clock.
    touched : dict of str to int
        Rows by table.
    proof : dict
        Machine-readable, without personal data.
    """

    erasure: str
    erased_at: str
    touched: dict[str, int] = field(default_factory=dict)
    proof: dict[str, object] = field(default_factory=dict)


def name_known(session: Session, named: Named, erased: Erased) -> Plan:
    """Find what somebody named, and what belongs to it.

    Parameters
    ----------
    session : Session
        On the warehouse.
    named : Named
        Serials and claims.
    erased : Erased
        What was erased before.

    Returns
    -------
    Plan
        Without texts.

    Raises
    ------
    InputError
        If nothing is named, or the warehouse knows it neither as held nor as
        erased.
    """
    pairs = named.pairs()
    if not pairs:
        raise InputError(
            "Nobody is named whose data are to be erased.",
            remedy="give --serial SERIAL or --claim CLAIM_NO, or --past-retention",
        )
    for kind, text in pairs:
        if not text.strip() or text.strip().upper().startswith(f"{MASK}-"):
            raise InputError(
                f"{text!r} is no {_called(kind)} that can be erased.",
                remedy="name the serial or claim number as the exports write it; "
                f"what starts with {MASK}- was erased already",
            )
    asked = [(kind, as_compared(kind, text)) for kind, text in pairs]
    session.run("intermediate/identifiers")
    session.put("named", pd.DataFrame(asked, columns=["kind", "plain"], dtype="str"))
    found = session.frame("marts/identifiers_named")
    held, again = [], []
    for kind, text in dict.fromkeys(asked):
        same = found[(found["kind"] == kind) & (found["given"] == text)]
        exact = same[same["plain"] == text]
        chosen = exact if len(exact) else same
        if len(chosen) == 1:
            held.append((kind, str(chosen["plain"].iloc[0])))
        elif erased.stand_in(kind, text) is not None:
            again.append((kind, text))
        else:
            raise _unknown(session, kind, text)
    salt = erased.newest_salt or secrets.token_hex(32)
    return Plan(
        what=" and ".join(dict.fromkeys(kind for kind, _ in pairs)),
        salt=salt,
        targets=_targets(session, held, salt, erased),
        again=tuple(again),
    )


def plan_for_held(session: Session, erased: Erased) -> Plan:
    """Find what a warehouse holds although it was erased elsewhere.

    Parameters
    ----------
    session : Session
        On an older state of the warehouse.
    erased : Erased
        What was erased, there and since.

    Returns
    -------
    Plan
        Without texts.
    """
    session.run("intermediate/identifiers")
    held: list[tuple[ErasedKind, str]] = [
        (kind, str(plain))
        for kind, plain in session.frame("marts/identifiers_held").itertuples(
            index=False
        )
        if erased.stand_in(kind, plain) is not None
    ]
    return plan_for(session, held, erased, what="what was erased before")


def plan_for(
    session: Session,
    held: Sequence[tuple[str, str]],
    erased: Erased,
    *,
    what: str,
) -> Plan:
    """Return a plan for units and claims that a warehouse is known to hold.

    Parameters
    ----------
    session : Session
        On the warehouse.
    held : sequence of (str, str)
        Kind and identifier of each, as the tables compare them.
    erased : Erased
        What was erased before.
    what : str
        What they are, for the proof.

    Returns
    -------
    Plan
        Without texts.
    """
    salt = erased.newest_salt or secrets.token_hex(32)
    targets = _targets(session, held, salt, erased)
    return Plan(what=what, salt=salt, targets=targets)


def _called(kind: str) -> str:
    return "claim number" if kind == "claim" else "serial"


def _unknown(session: Session, kind: str, text: str) -> InputError:
    """Return the error for what the warehouse does not hold."""
    near = session.frame("marts/identifiers_near", {"kind": kind, "plain": text})
    likest = [repr(str(plain)) for plain in near["plain"]]
    hint = f"did you mean {' or '.join(likest)}?" if likest else "check the number"
    return InputError(
        f"The warehouse holds no {_called(kind)} {text!r}, and knows none that was "
        "erased; nothing was changed.",
        remedy=hint,
    )


def _targets(
    session: Session, held: Sequence[tuple[str, str]], salt: str, erased: Erased
) -> pd.DataFrame:
    """Return all identifiers that belong to those held, with their stand-ins."""
    session.put("named", pd.DataFrame(held, columns=["kind", "plain"], dtype="str"))
    found = session.frame("marts/erase_targets")
    found["stand_in"] = pd.array(
        [
            erased.stand_in(kind, plain) or stand_in_of(salt, kind, plain)
            for kind, plain in zip(found["kind"], found["plain"], strict=True)
        ],
        dtype="str",
    )
    found["is_whole"] = True
    return found[list(TARGET_COLUMNS)]


def make_plan(session: Session, plan: Plan) -> Plan:
    """Return a plan with what was written of those who are to be erased.

    Parameters
    ----------
    session : Session
        On the warehouse, before anything was changed.
    plan : Plan
        Of `name_known`.
    """
    session.put("leaving", plan.targets)
    texts = session.frame("marts/erase_texts")["text"].tolist()
    rejected: dict[str, set[int]] = {}
    for pattern in patterns_of(sorted(plan.identifiers())):
        found = session.frame("marts/rejects_naming", {"pattern": pattern})
        for sha256, row in zip(found["sha256"], found["source_row"], strict=True):
            rejected.setdefault(str(sha256), set()).add(int(row))
    return replace(
        plan,
        texts=tuple(str(text) for text in texts),
        rejected={sha256: frozenset(rows) for sha256, rows in rejected.items()},
    )


def erase_from(
    session: Session,
    plan: Plan,
    erased: Erased,
    *,
    readings: pd.DataFrame,
    reason: str,
) -> Done:
    """Take everything of a plan out of the tables, and remember that it was done.

    Parameters
    ----------
    session : Session
        Open for writing.
    plan : Plan
        What goes.
    erased : Erased
        What was erased before.
    readings : pandas.DataFrame
        How the claims were read, of
        `claimlens.analysis.kept_readings.readings_to_keep`.
    reason : str
        Why, in the words of whoever asks; must name nobody.

    Returns
    -------
    Done
        With the proof, which holds no personal data.
    """
    before = {name: session.count(name) for name in _COUNTED}
    keys = erased.unknown(plan.keys())
    known = erased.with_keys(keys)
    reason = known.masked(reason)
    session.run("staging/erasing")
    touched = erase_rows(session, plan.targets, known) if len(plan.targets) else {}
    after = {name: session.count(name) for name in _COUNTED}
    done = Done(
        erasure=secrets.token_hex(8),
        erased_at=datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        touched=touched,
    )
    proof: dict[str, object] = {
        "erasure": done.erasure,
        "at": done.erased_at,
        "what": plan.what,
        "reason": reason,
        "digests": sorted(keys.loc[keys["kind"] != "mention", "digest"]),
        "rows_touched": touched,
        "rows_before": before,
        "rows_after": after,
    }
    session.put("keys_made", keys)
    session.put("readings_made", readings[list(KEPT_COLUMNS)])
    session.run(
        "staging/keep_erasure",
        {
            "erasure": done.erasure,
            "salt": plan.salt,
            "erased_at": done.erased_at,
            "what": plan.what,
            "reason": reason,
            "proof": json.dumps(proof, ensure_ascii=False),
        },
    )
    return replace(done, proof=proof)
