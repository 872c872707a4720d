"""The order of steps: load files, judge flags, read claims."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, field
from datetime import date
from pathlib import Path

import pandas as pd

from claimlens.analysis.alarms import Alarm
from claimlens.analysis.evidence import read_claims
from claimlens.analysis.learning import train
from claimlens.analysis.question import Question
from claimlens.analysis.scope import cut_off, open_known
from claimlens.classify.learned import Learned
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.errors import (
    ClaimlensError,
    EmptyFileError,
    MappingError,
    SourceError,
)
from claimlens.ingest.erased import Erased, read_erased
from claimlens.ingest.erasing import follow_units
from claimlens.ingest.load import (
    count_flags,
    load_file,
    load_nothing,
    prepare_session,
)
from claimlens.ingest.mapping import sources_for
from claimlens.ingest.paths import NamedFile, check_inside, expand
from claimlens.monthly_inputs import Arrivals
from claimlens.results import RowAccount
from claimlens.settings import Settings
from claimlens.tables import TABLES

__all__ = [
    "ACCOUNT_COLUMNS",
    "Loaded",
    "RunOutcome",
    "Seen",
    "load",
    "read_again",
    "teach",
]

ACCOUNT_COLUMNS = (
    "file",
    "kind",
    "rows_read",
    "inserted",
    "updated",
    "unchanged",
    "superseded",
    "rejected",
    "flagged",
    "skipped_lines",
    "batch",
    "erased",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """What a load did.

    Parameters
    ----------
    accounts : tuple of RowAccount
        One per file and kind.
    skipped : tuple of (str, str)
        Files of a folder that are of no kind we know, and why.
    """

    accounts: tuple[RowAccount, ...]
    skipped: tuple[tuple[str, str], ...]

    def frame(self) -> pd.DataFrame:
        """Return the accounts with their documented columns, one row each."""
        rows = [asdict(account) for account in self.accounts]
        return pd.DataFrame(rows, columns=list(ACCOUNT_COLUMNS))


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What a load has seen of its files so far.

    Parameters
    ----------
    newest_batch : int
        Of the warehouse before it.
    accounts : list of RowAccount
        Flags not counted yet.
    skipped : list of (str, ClaimlensError)
        Files that are of no kind we know, and why.
    refused : list of (str, ClaimlensError)
        Files of ours that cannot be used: nothing of the load will be kept.
    erased : Erased
        What was erased from the warehouse before.
    """

    newest_batch: int
    accounts: list[RowAccount] = field(default_factory=list)
    skipped: list[tuple[str, ClaimlensError]] = field(default_factory=list)
    refused: list[tuple[str, ClaimlensError]] = field(default_factory=list)
    erased: Erased = field(default_factory=Erased)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOutcome:
    """What the scheduled job did.

    Parameters
    ----------
    loaded : Loaded
        Row accounts and skipped files.
    arrivals : Arrivals
        What arrived, and what is amiss with it.
    report : Path
        The monthly report; its workbook has the same name with ``.xlsx``.
    summary : Path
        The summary as text; as a message it has the same name with ``.eml``.
    removed : tuple of str
        Names of older reports that had to go.
    alarms : tuple of Alarm
        What a person must look at at once and no earlier run told, newest first.
    exit_code : int
        3 where an alarm is new and the run was asked to fail on it, else 0.
    expired : int
        Claims that lost texts and numbers because their time was over.
    """

    loaded: Loaded
    arrivals: Arrivals
    report: Path
    summary: Path
    removed: tuple[str, ...]
    alarms: tuple[Alarm, ...]
    exit_code: int
    expired: int = 0


def load(
    session: Session,
    settings: Settings,
    terms: Terms,
    paths: Iterable[str | Path],
    *,
    known_on: date | None = None,
    learned: Learned | None = None,
    on_seen: Callable[[Session, Seen], None] | None = None,
) -> Loaded:
    """Load files, judge the flags, and read the claims that changed.

    Parameters
    ----------
    session : Session
        Open for writing.
    settings : Settings
        The workspace's.
    terms : Terms
        What classifies.
    paths : iterable of str or Path
        Files, folders, patterns.
    known_on : date, optional
        By when the facts were known; by default each file's newest date.
    learned : Learned, optional
        Answers what the terms leave open.
    on_seen : callable, optional
        Called when every file was looked at, before the first refusal is raised and
        before any claim is read.

    Returns
    -------
    Loaded
        The accounts, flags counted.

    Raises
    ------
    ClaimlensError
        If a file cannot be used; nothing of the call is kept.
    """
    prepare_session(session)
    seen = Seen(
        newest_batch=int(session.frame("marts/newest_batch").iloc[0, 0]),
        erased=read_erased(session),
    )
    for named in expand(paths):
        path, folder = named
        try:
            _load_kinds(session, settings, named, seen, known_on)
        except (SourceError, MappingError) as error:
            if folder is None or sources_for(path, settings) or not _is_foreign(error):
                if on_seen is None:
                    raise
                seen.refused.append((path.name, error))
            else:
                seen.skipped.append((path.name, error))
    if on_seen is not None:
        on_seen(session, seen)
    if seen.refused:
        raise _all_refused(seen.refused)
    follow_units(session, seen.erased)
    counted = count_flags(session, seen.accounts)
    skipped = tuple((name, error.problem) for name, error in seen.skipped)
    read_again(session, settings, terms, learned)
    return Loaded(accounts=tuple(counted), skipped=skipped)


def _all_refused(refused: list[tuple[str, ClaimlensError]]) -> ClaimlensError:
    """Return the first refusal; it names the other files that were refused."""
    first = refused[0][1]
    others = [name for name, _ in refused[1:]]
    if others:
        first.add_note(f"also refused: {', '.join(others)}")
        first.remedy = f"{first.remedy or ''} (also refused: {', '.join(others)})"
    return first


def read_again(
    session: Session, settings: Settings, terms: Terms, learned: Learned | None
) -> None:
    """Read the claims whose evidence, terms or model changed, and keep the answers.

    Parameters
    ----------
    session : Session
        Open for writing.
    settings : Settings
        The workspace's.
    terms : Terms
        What classifies.
    learned : Learned or None
        Answers what the terms leave open.
    """
    open_known(session, None)
    if read_claims(session, settings, terms, learned=learned) or session.changed:
        session.run("staging/store_classifications")
        session.changed = True


def teach(
    session: Session, settings: Settings, terms: Terms, question: Question
) -> Learned:
    """Train the learned model on what is known and reported by a cut-off.

    Parameters
    ----------
    session : Session
        On the warehouse.
    settings : Settings
        The workspace's.
    terms : Terms
        What the model is to complete.
    question : Question
        Cut-off and known-by date.

    Returns
    -------
    Learned
        With its trial; not yet kept.
    """
    open_known(session, question.as_known)
    as_of, _ = cut_off(session, question)
    read_claims(session, settings, terms, as_of=as_of)
    return train(session, settings, terms, as_of=as_of)


def _is_foreign(error: ClaimlensError) -> bool:
    """Tell a file that is of no kind we know from a file of ours that is broken.

    A file of ours is broken in a column of ours: two are called ``serial``, no
    currency is one, a date order is open.
    """
    return not any(error.column in table.field_names for table in TABLES.values())


def _load_kinds(
    session: Session,
    settings: Settings,
    named: NamedFile,
    seen: Seen,
    known_on: date | None,
) -> None:
    """Load one file once for each source that takes it."""
    path, folder = named
    check_inside(path, folder)
    for source in sources_for(path, settings) or (None,):
        try:
            account = load_file(
                session,
                path,
                source,
                account_no=len(seen.accounts),
                known_on=known_on,
                limits=settings.limits,
                erased=seen.erased,
            )
        except EmptyFileError:
            # an empty export must not keep the other files of an inbox waiting
            if folder is None or source is None:
                raise
            account = load_nothing(session, path, source)
        seen.accounts.append(account)
