"""The order of steps: load files, judge flags, read claims."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
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
from claimlens.errors import ClaimlensError, MappingError, SourceError
from claimlens.ingest.load import count_flags, load_file, prepare_session
from claimlens.ingest.mapping import sources_for
from claimlens.ingest.paths import NamedFile, expand
from claimlens.results import RowAccount
from claimlens.settings import Settings
from claimlens.tables import TABLES

__all__ = [
    "ACCOUNT_COLUMNS",
    "Loaded",
    "RunOutcome",
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
class RunOutcome:
    """What the scheduled job did.

    Parameters
    ----------
    loaded : Loaded
        Row accounts and skipped files.
    report : Path
        The monthly report.
    alarms : tuple of Alarm
        What a person must look at at once and no earlier run told, newest first.
    """

    loaded: Loaded
    report: Path
    alarms: tuple[Alarm, ...]


def load(
    session: Session,
    settings: Settings,
    terms: Terms,
    paths: Iterable[str | Path],
    *,
    known_on: date | None = None,
    learned: Learned | None = None,
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
    accounts: list[RowAccount] = []
    skipped: list[tuple[str, str]] = []
    for named in expand(paths):
        try:
            _load_kinds(session, settings, named, accounts, known_on)
        except (SourceError, MappingError) as error:
            path, is_named = named
            if is_named or sources_for(path, settings) or not _is_foreign(error):
                raise
            skipped.append((path.name, error.problem))
    counted = count_flags(session, accounts)
    read_again(session, settings, terms, learned)
    return Loaded(accounts=tuple(counted), skipped=tuple(skipped))


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
    accounts: list[RowAccount],
    known_on: date | None,
) -> None:
    """Load one file once for each source that takes it."""
    path, _ = named
    for source in sources_for(path, settings) or (None,):
        accounts.append(
            load_file(
                session,
                path,
                source,
                account_no=len(accounts),
                known_on=known_on,
            )
        )
