"""Take answers back: judge all, keep all, read the claims again."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pandas as pd

from claimlens.analysis.evidence import read_claims
from claimlens.analysis.label_map import orphans_among, read_label_map
from claimlens.analysis.scope import open_known
from claimlens.classify.learned import Learned
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.ingest.readings import read_texts
from claimlens.ingest.store import Arrival, store
from claimlens.results import RowAccount
from claimlens.review.agreement import DoubleReviews, compare_reviewers
from claimlens.review.checking import Answer, Known, judge
from claimlens.review.returned import Row, faults_error, read_returned
from claimlens.settings import Settings
from claimlens.tables import TABLES

__all__ = ["Applied", "apply_review", "held_labels"]

_COLUMNS = ("claim_no", "component", "failure_mode", "reviewer", "reviewed_on")
_SOURCE = "review"


@dataclass(frozen=True, slots=True, kw_only=True)
class Applied:
    """What a workbook that came back has changed.

    Parameters
    ----------
    file : str
        Its name.
    answers, inserted, updated, unchanged : int
        Answers in it; of these new, changed by the same reviewer, and held
        already.
    older : int
        Answers that a later one of the same reviewer stands against; they are
        kept and do not count.
    read_again : int
        Claims classified again.
    notes : tuple of str
        What is accepted and yet worth a look.
    double : DoubleReviews
        Where reviewers differ, over the whole warehouse.
    """

    file: str
    answers: int
    inserted: int
    updated: int
    unchanged: int
    older: int
    read_again: int
    notes: tuple[str, ...]
    double: DoubleReviews

    def text(self) -> str:
        """Return what was changed, in a few lines."""
        said = f"{self.answers} answer{'' if self.answers == 1 else 's'}"
        if self.inserted or self.updated:
            head = (
                f"{self.file}: {said}, {self.inserted} new, {self.updated} changed by "
                f"the same reviewer, {self.unchanged} held already; "
                f"{self.read_again} claim{'' if self.read_again == 1 else 's'} "
                "classified again"
            )
        elif self.answers:
            head = f"{self.file}: {said}, all held already; nothing changed"
        else:
            head = f"{self.file}: no row has a component; nothing changed"
        lines = [head]
        if self.older:
            of = "answer has" if self.older == 1 else "answers have"
            lines.append(
                f"{self.older} {of} a later one of the same reviewer, which stands"
            )
        n = len(self.double.conflicts)
        tail = self.double.text()
        if n:
            claims = "claim" if n == 1 else "claims"
            tail += f"  different answers on {n} {claims}; the newest counts:\n"
        return "\n".join([*lines, *self.notes]) + "\n" + tail


def apply_review(
    session: Session,
    settings: Settings,
    terms: Terms,
    *,
    path: Path,
    folder: Path,
    reviewer: str | None,
    reviewed_on: date | None,
    learned: Learned | None = None,
) -> Applied:
    """Take the answers of a workbook into the labels, all or none.

    Parameters
    ----------
    session : Session
        Open for writing.
    settings : Settings
        The workspace's.
    terms : Terms
        What classifies, with the taxonomy in force.
    path : Path
        The workbook.
    folder : Path
        The workspace, for its label map.
    reviewer : str or None
        Who answered, where a row does not tell.
    reviewed_on : date or None
        When, where a row does not tell.
    learned : Learned, optional
        Answers what the terms leave open.

    Returns
    -------
    Applied
        Each answer is a label known on the day it was given.

    Raises
    ------
    SourceError
        If the file is no such workbook, or any answer is not right; the message
        lists all of them with sheet, row and cell.
    """
    has_defaults = reviewer is not None and reviewed_on is not None
    rows = read_returned(path, has_defaults=has_defaults)
    open_known(session, None)
    known = _known(session, settings, terms, folder, rows)
    answers, faults, notes = judge(
        rows, known, reviewer=reviewer, reviewed_on=reviewed_on
    )
    if faults:
        raise faults_error(
            faults,
            path,
            "mend these cells in the workbook, save it, and apply it again",
        )
    with session.transaction():
        accounts = _keep(session, answers, path)
    read_again = 0
    if session.changed:
        read_again = read_claims(session, settings, terms, learned=learned)
        session.run("staging/store_classifications")
    held = held_labels(session)
    orphans = orphans_among(held, terms.taxonomy)
    if len(orphans):
        n = orphans["claim_no"].nunique()
        notes.append(
            f"labels of {n} claim{'' if n == 1 else 's'} name what is not in the "
            "taxonomy: claimlens review orphans lists them"
        )
    return Applied(
        file=path.name,
        answers=len(answers),
        inserted=sum(account.inserted for account in accounts),
        updated=sum(account.updated for account in accounts),
        unchanged=sum(account.unchanged for account in accounts),
        older=_older(answers, held),
        read_again=read_again,
        notes=tuple(notes),
        double=compare_reviewers(held, terms.taxonomy),
    )


def held_labels(session: Session) -> pd.DataFrame:
    """Return the newest answer of each reviewer on each claim.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables.

    Returns
    -------
    DataFrame
        ``claim_no, reviewer, reviewed_on, component, failure_mode``.
    """
    return session.frame("marts/labels_held")


def _known(
    session: Session, settings: Settings, terms: Terms, folder: Path, rows: list[Row]
) -> Known:
    """Return what the answers are judged against."""
    asked = sorted({row["claim_no"].text for row in rows} - {""})
    session.put("review_asked", pd.DataFrame({"claim_no": asked}, dtype="str"))
    there = session.frame("marts/review_facts")
    newest = session.frame("marts/newest_report").iloc[0]["newest_on"]
    own = settings.classify.label_map
    return Known(
        taxonomy=terms.taxonomy,
        reported_on={
            str(claim_no): day.date()
            for claim_no, day in zip(
                there["claim_no"], there["reported_on"], strict=True
            )
        },
        newest=date.max if pd.isna(newest) else newest.date(),
        reviewers=tuple(held_labels(session)["reviewer"]),
        renamed=read_label_map(folder / own, terms.taxonomy) if own else ({}, {}),
        handed_out=_handed_out(session, rows),
    )


def _handed_out(session: Session, rows: list[Row]) -> dict[str, tuple[str, ...]]:
    """Return the claims of the samples that the rows name."""
    asked = {}
    for sample in sorted({row["sample"].text for row in rows} - {""}):
        parts = [
            session.frame(f"marts/{query}", {"sample": sample})["claim_no"]
            for query in ("review_sample", "review_repeat")
        ]
        asked[sample] = tuple(str(one) for part in parts for one in part)
    return asked


def _keep(session: Session, answers: Sequence[Answer], path: Path) -> list[RowAccount]:
    """Put the answers into the labels, each day's known on that day."""
    sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
    session.run("staging/fold_macros")
    accounts = []
    for day in sorted({answer.reviewed_on for answer in answers}):
        some = [answer for answer in answers if answer.reviewed_on == day]
        session.run("staging/raw_tables")
        session.append("raw_labels", _raw(some))
        session.run("staging/readings")
        texts = {"reviewed_on": {day.isoformat()}}
        session.append(
            "readings",
            read_texts(texts, TABLES["labels"], None, path, date_epoch=None),
        )
        session.run(
            "staging/stg_labels", {"known_on": day, "columns": ",".join(_COLUMNS)}
        )
        session.run("staging/keep_latest")
        arrival = Arrival(
            file=path.name,
            kind="labels",
            sha256=sha256,
            source=_SOURCE,
            columns=_COLUMNS,
            rows_read=len(some),
        )
        accounts.append(store(session, arrival, day, keeps_repeats=False))
    return accounts


def _raw(answers: Sequence[Answer]) -> pd.DataFrame:
    """Return answers as rows of a file of labels."""
    extras = [
        {
            name: told
            for name, told in (
                ("sample", answer.sample),
                ("safety", answer.dangerous),
                ("remark", answer.remark),
            )
            if told
        }
        for answer in answers
    ]
    columns: dict[str, list[str | None]] = {
        "claim_no": [answer.claim_no for answer in answers],
        "component": [answer.component for answer in answers],
        "failure_mode": [answer.failure_mode for answer in answers],
        "reviewer": [answer.reviewer for answer in answers],
        "reviewed_on": [answer.reviewed_on.isoformat() for answer in answers],
        "extra": [json.dumps(extra, ensure_ascii=False) for extra in extras],
    }
    frame = pd.DataFrame(columns, dtype="str")
    frame.insert(0, "source_row", [answer.row for answer in answers])
    return frame


def _older(answers: Sequence[Answer], held: pd.DataFrame) -> int:
    """Return how many answers a later one of the same reviewer stands against."""
    columns = [held[name] for name in ("claim_no", "reviewer", "component")]
    modes = held["failure_mode"]
    standing = {
        (claim_no, reviewer): (component, _text(mode))
        for claim_no, reviewer, component, mode in zip(*columns, modes, strict=True)
    }
    return sum(
        standing[answer.claim_no, answer.reviewer]
        != (answer.component, answer.failure_mode)
        for answer in answers
    )


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None
