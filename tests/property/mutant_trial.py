"""Load one mutant as a run would, and hold what became of it against the count."""

from __future__ import annotations

import random
import signal
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import duckdb
from mutant_counts import Count, count
from mutant_maker import Mutant
from mutant_seeds import HEADER

from claimlens.db.schema import ensure_schema
from claimlens.db.session import Session
from claimlens.errors import ClaimlensError
from claimlens.ingest.load import load_file, prepare_session
from claimlens.ingest.mapping import map_columns
from claimlens.ingest.records import Records, open_records
from claimlens.ingest.source import SourceBlock

__all__ = ["Desk", "Verdict"]

SECONDS = 10
#: Share of the mutants that go into the warehouse as well: most of the time goes there.
LOADED = 0.3
_FILLED = ("claims_current", "claims_versions", "batches", "rejected_rows")


class HungError(Exception):
    """A mutant took longer than it may."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What became of a mutant.

    Parameters
    ----------
    outcome : str
        loaded, refused, lost, account, doubled, cells, message, hung or traceback.
    told : str
        The message, or what is wrong.
    is_counted : bool
        Whether an independent count was there to be held against.
    """

    outcome: str
    told: str = ""
    is_counted: bool = False


@contextmanager
def _watched() -> Iterator[None]:
    def ring(*_: object) -> None:
        raise HungError

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


class Desk:
    """An empty warehouse in memory that mutants are loaded into, one after another.

    Parameters
    ----------
    folder : Path
        Where the files are written.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._connection: duckdb.DuckDBPyConnection | None = None

    def _empty(self) -> duckdb.DuckDBPyConnection:
        """Return a connection on a warehouse without rows."""
        if self._connection is None:
            self._connection = duckdb.connect(":memory:", config={"threads": 1})
            # planning takes most of the time of so small a load
            self._connection.execute("pragma disable_optimizer")
            ensure_schema(self._connection, "memory")
            prepare_session(Session(self._connection))
        for table in _FILLED:
            self._connection.execute(f"delete from {table}")
        return self._connection

    def trial(self, mutant: Mutant) -> Verdict:
        """Load a mutant.

        Parameters
        ----------
        mutant : Mutant
            What to load.

        Returns
        -------
        Verdict
            ``loaded`` and ``refused`` are good, the others are faults.
        """
        path = self._folder / mutant.seed.file
        path.write_bytes(mutant.contents)
        try:
            with _watched():
                return self._read(path, mutant)
        except ClaimlensError as error:
            return _refused(error, path)
        except HungError:
            self._connection = None
            return Verdict("hung")
        except Exception as error:  # noqa: BLE001 - any but ours is what is looked for
            self._connection = None
            return Verdict("traceback", f"{type(error).__name__}: {error}"[:300])

    def _read(self, path: Path, mutant: Mutant) -> Verdict:
        """Read a mutant, and hold its rows against the independent count."""
        records = open_records(path, source=SourceBlock(name="mutant"))
        map_columns(records.headers, None, path)
        rows = list(_rows(records))
        places = [place for place, _ in rows] + [one.row for one in records.rejected]
        if records.rows_read != len(places):
            return Verdict("account", f"{records.rows_read} read, {len(places)} places")
        if mutant.seed.form == "text" and len(set(places)) != len(places):
            return Verdict("doubled", f"{len(places) - len(set(places))} rows")
        if any(not one.reason or one.row < 1 for one in records.rejected):
            return Verdict("account", "a reject without place or reason")
        is_loaded = random.Random(mutant.number).random() < LOADED
        fault = self._load(path, records.rows_read) if is_loaded else None
        return fault or _compared(records, [cells for _, cells in rows], count(mutant))

    def _load(self, path: Path, rows_read: int) -> Verdict | None:
        """Load a mutant into the warehouse; return what is wrong with its account."""
        connection = self._empty()
        session = Session(connection)
        account = load_file(session, path, None, account_no=0)
        parts = (
            account.inserted + account.updated + account.unchanged,
            account.superseded,
            account.rejected,
        )
        if account.rows_read != sum(parts) or account.rows_read != rows_read:
            return Verdict("account", f"{rows_read} read, {account.rows_read}, {parts}")
        current = session.count("claims_current")
        rejected = session.count("rejected_rows")
        nameless = connection.execute(
            "select count(*) from rejected_rows where source_row is null "
            "or source_row < 1 or reason is null or reason = '' "
            "or (column_name is null and reason like '% is %' "
            "and reason not like '%field%' and reason not like '%JSON%')"
        ).fetchall()[0][0]
        if current != account.inserted:
            return Verdict("doubled", f"{current} held, {account.inserted} inserted")
        if rejected != account.rejected or nameless:
            return Verdict("account", f"{rejected} rejects, {nameless} without place")
        return None


def _refused(error: ClaimlensError, path: Path) -> Verdict:
    """Judge the message of a refusal."""
    told = str(error)
    if path.name not in told or not error.remedy or len(told) > 2_000:
        return Verdict("message", told[:300])
    return Verdict("refused", error.problem[:200])


def _compared(
    records: Records, rows: list[tuple[str, ...]], told: Count | None
) -> Verdict:
    """Hold the rows of a file against the independent count."""
    if told is None:
        return Verdict("loaded")
    missing = told.records - records.rows_read
    if not 0 <= missing <= min(told.unsure, records.skipped_lines):
        found = f"{records.rows_read} read, {records.skipped_lines} skipped"
        return Verdict("lost", f"{told.records} records, {found}", is_counted=True)
    if told.rows is not None and records.headers == HEADER:
        missing = Counter(told.rows) - Counter(rows)
        if missing:
            return Verdict("cells", f"{list(missing)[:1]} not among the rows"[:300])
    return Verdict("loaded", is_counted=True)


def _rows(records: Records) -> Iterator[tuple[int, tuple[str, ...]]]:
    for chunk in records.chunks():
        columns = (chunk.values[name] for name in records.headers)
        for place, cells in zip(chunk.rows, zip(*columns, strict=True), strict=True):
            yield place, tuple(cell or "" for cell in cells)
