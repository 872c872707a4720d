"""What arrived, as a run sees it: the warehouse's view, and this call's files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

import pandas as pd

from claimlens.analysis.arrivals import arrivals
from claimlens.analysis.file_shapes import name_shape
from claimlens.analysis.question import Question
from claimlens.analysis.scope import cut_off, open_known
from claimlens.db import Session
from claimlens.errors import ClaimlensError, EmptyFileError, InputError
from claimlens.ingest.store import ALWAYS
from claimlens.monthly_inputs import Arrivals, Finding
from claimlens.results import RowAccount
from claimlens.settings import Settings

__all__ = ["judge_arrivals"]

Named = Sequence[tuple[str, ClaimlensError]]


def judge_arrivals(
    session: Session,
    settings: Settings,
    question: Question,
    *,
    newest_batch: int,
    accounts: Sequence[RowAccount],
    skipped: Named,
    refused: Named,
) -> Arrivals:
    """Judge what arrived when the files of a run were looked at.

    Parameters
    ----------
    session : Session
        Of the load, its files in.
    settings : Settings
        The workspace's.
    question : Question
        Cut-off of the report to come.
    newest_batch : int
        Of the warehouse before the load.
    accounts : sequence of RowAccount
        Of the files that could be read.
    skipped : sequence of (str, ClaimlensError)
        Files of no kind that is known, and why.
    refused : sequence of (str, ClaimlensError)
        Files of ours that cannot be used.

    Returns
    -------
    Arrivals
        With the files that the warehouse does not hold.
    """
    batches = session.frame("marts/arrived", {"as_known": date.max})
    told = arrivals(
        session,
        settings,
        as_of=_as_of(session, question, batches),
        as_known=question.as_known,
    )
    known = {(finding.amiss, finding.file) for finding in told.findings}
    more = [
        *_refused(refused),
        *_skipped(skipped, batches),
        *(f for f in _empty(accounts) if (f.amiss, f.file) not in known),
        *_repeats(accounts, batches),
        *_nothing_new(accounts, newest_batch, refused),
    ]
    findings = sorted((*told.findings, *more), key=lambda finding: not finding.is_grave)
    return Arrivals(findings=tuple(findings), sources=told.sources)


def _as_of(session: Session, question: Question, batches: pd.DataFrame) -> date:
    """Return the cut-off of the report, or the newest date where there is none."""
    open_known(session, question.as_known)
    try:
        return cut_off(session, question)[0]
    except InputError:
        days = [day.date() for day in batches["known_on"]]
        return max((day for day in days if day != ALWAYS), default=ALWAYS)


def _refused(refused: Named) -> Iterator[Finding]:
    for file, error in refused:
        where = f" (column {error.column})" if error.column else ""
        text = f"the file cannot be used{where}: {error.problem}".rstrip(".")
        yield Finding(
            amiss="unreadable",
            source="inbox",
            file=file,
            text=text,
            short=f"the file cannot be used{where}",
            is_grave=True,
        )


def _skipped(skipped: Named, batches: pd.DataFrame) -> Iterator[Finding]:
    """Tell of skipped files that look like one that was loaded before."""
    shapes = {name_shape(file) for file in batches["file"]}
    for file, error in skipped:
        is_empty = isinstance(error, EmptyFileError)
        if is_empty or name_shape(file) in shapes:
            what = (
                "the file is empty"
                if is_empty
                else "skipped, though files of such a name were loaded before"
            )
            yield Finding(
                amiss="empty" if is_empty else "unreadable",
                source="inbox",
                file=file,
                text=what if is_empty else f"{what}: {error.problem}".rstrip("."),
                short=what,
                is_grave=True,
            )


def _empty(accounts: Sequence[RowAccount]) -> Iterator[Finding]:
    for account in accounts:
        if not account.rows_read:
            text = "the file has no row"
            yield _note("empty", account.file, text, is_grave=True)


def _repeats(
    accounts: Sequence[RowAccount], batches: pd.DataFrame
) -> Iterator[Finding]:
    """Tell of files that are, byte for byte, one that was loaded under another name."""
    names = dict(zip(batches["batch"], batches["file"], strict=True))
    for account in accounts:
        first = names.get(account.batch) if account.batch is not None else None
        if first is not None and first != account.file and account.rows_read:
            text = f"the same bytes as {first}, which was loaded before; nothing is new"
            yield _note("nothing new", account.file, text)


def _nothing_new(
    accounts: Sequence[RowAccount], newest_batch: int, refused: Named
) -> Iterator[Finding]:
    if refused or any(
        account.batch is not None and account.batch > newest_batch
        for account in accounts
    ):
        return
    text = "no file is new since the last run" if accounts else "there is no file"
    yield _note("nothing new", "", text)


def _note(amiss: str, file: str, text: str, *, is_grave: bool = False) -> Finding:
    return Finding(
        amiss=amiss,  # type: ignore[arg-type]  # one of ours, written out above
        source="inbox",
        file=file,
        text=text,
        short=text,
        is_grave=is_grave,
    )
