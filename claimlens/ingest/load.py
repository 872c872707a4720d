"""Load one file into the warehouse: stage, type, reject, version, account."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import pandas as pd

from claimlens.currencies import CURRENCIES
from claimlens.db import Session
from claimlens.errors import SourceError
from claimlens.ingest import dates, numbers
from claimlens.ingest.erased import Erased
from claimlens.ingest.mapping import ColumnMap, block_of, map_columns, raw_frame
from claimlens.ingest.paths import Stamp, check_is_file, stamp
from claimlens.ingest.readings import Texts, newest_date, read_texts, read_words
from claimlens.ingest.records import Records, open_records
from claimlens.ingest.store import ALWAYS, Arrival, store, store_nothing
from claimlens.results import RowAccount
from claimlens.settings import LimitSettings, SourceSettings
from claimlens.tables import Table

__all__ = ["ALWAYS", "count_flags", "load_file", "load_nothing", "prepare_session"]

_TYPED = ("date", "timestamp", "integer", "number", "money")
# of a text that is no code: enough to find it in the file
_SHOWN_LETTERS = 40
_MONEY_FIRST = ("cost_total", "amount_approved", "amount_requested")


def prepare_session(session: Session) -> None:
    """Make the temporary tables that the loads of one call share.

    Parameters
    ----------
    session : Session
        Open for writing.
    """
    session.run("staging/fold_macros")
    session.run("staging/kept_keys")


@dataclass(frozen=True, slots=True)
class _Load:
    """What is known of the file while it is loaded."""

    path: Path
    source: SourceSettings | None
    columns: ColumnMap
    records: Records
    present: tuple[str, ...]
    erased: Erased

    @property
    def table(self) -> Table:
        return self.columns.table

    @property
    def source_name(self) -> str:
        return self.source.name if self.source is not None else ""


def load_file(
    session: Session,
    path: Path,
    source: SourceSettings | None,
    *,
    account_no: int,
    known_on: date | None = None,
    limits: LimitSettings | None = None,
    erased: Erased | None = None,
) -> RowAccount:
    """Load one file as one kind.

    Parameters
    ----------
    session : Session
        Open for writing and prepared by ``prepare_session``.
    path : Path
        The file.
    source : SourceSettings or None
        How it is written; None for a file with canonical headers.
    account_no : int
        Number of this account within the call.
    known_on : date, optional
        By when the file's facts were known; by default its newest date.
    limits : LimitSettings, optional
        What a file may be at most.
    erased : Erased, optional
        What was erased: rows of it come in under stand-ins, without texts.

    Returns
    -------
    RowAccount
        ``flagged`` is still 0: flags are judged once all files are in.

    Raises
    ------
    SourceError, MappingError
        If the file cannot be used, or changed while it was read; the session's
        transaction takes it back.
    """
    check_is_file(path)
    before = stamp(path)
    records = open_records(
        path, source=block_of(source, path, limits or LimitSettings())
    )
    columns = map_columns(records.headers, source, path)
    with session.transaction():
        texts, has_currency, masked = _fill_raw(
            session, records, columns, source, erased or Erased()
        )
        present = tuple(columns.present)
        if has_currency and "currency" not in present:
            present += ("currency",)
        load = _Load(path, source, columns, records, present, erased or Erased())
        readings = _put_readings(session, texts, load)
        known = known_on or _known_on(readings, load.table) or ALWAYS
        session.run(
            f"staging/stg_{load.table.name}",
            {"known_on": known, "columns": ",".join(present)},
        )
        _mask_values(session, load.erased, masked)
        session.run("staging/keep_latest")
        session.run(
            "staging/remember_kept",
            {"account_no": account_no, "kind": load.table.name},
        )
        arrival = _arrival(load)
        _check_unchanged(path, before)
        account = store(session, arrival, known)
        return replace(account, erased=len(masked))


def _check_unchanged(path: Path, before: Stamp) -> None:
    """Refuse a file that somebody was still writing."""
    try:
        is_same = stamp(path) == before
    except OSError:
        is_same = False
    if not is_same:
        raise SourceError(
            "The file changed while it was read.",
            source=str(path),
            remedy="wait until whoever writes it is done, then load it again",
        )


def load_nothing(session: Session, path: Path, source: SourceSettings) -> RowAccount:
    """Account for a file of a source that holds nothing at all.

    Parameters
    ----------
    session : Session
        Open for writing.
    path : Path
        The file.
    source : SourceSettings
        Whose export it was to be.

    Returns
    -------
    RowAccount
        No row; the arrival itself is remembered.
    """
    with session.transaction():
        return store_nothing(
            session,
            Arrival(
                file=path.name,
                kind=source.kind,
                sha256=_sha256(path),
                source=source.name,
                columns=(),
                rows_read=0,
                note="the file is empty",
            ),
        )


def _mask_values(session: Session, erased: Erased, masked: list[int]) -> None:
    """Drop the unreadable values of rows that tell of something erased."""
    if not erased:
        return
    told = session.frame("staging/staged_values")
    named = [
        int(row)
        for row, value in zip(told["source_row"], told["value"], strict=True)
        if isinstance(value, str) and erased.names_one(value)
    ]
    rows = sorted({*masked, *named})
    if rows:
        session.put("masked_rows", pd.DataFrame({"source_row": rows}))
        session.run("staging/mask_staged")


def _arrival(load: _Load) -> Arrival:
    """Return what the file brought, for the warehouse."""
    return Arrival(
        file=load.path.name,
        kind=load.table.name,
        sha256=_sha256(load.path),
        source=load.source_name,
        columns=load.present,
        rows_read=load.records.rows_read,
        skipped_lines=load.records.skipped_lines,
        rejected=load.erased.mask_rejects(load.records.rejected),
        note="; ".join(
            f"no column {header!r}, which the settings read as {field}"
            for header, field in load.columns.absent
        ),
    )


def _fill_raw(
    session: Session,
    records: Records,
    columns: ColumnMap,
    source: SourceSettings | None,
    erased: Erased,
) -> tuple[Texts, bool, list[int]]:
    """Move the file into its raw table.

    Return the distinct texts of typed columns, whether currencies are told, and the
    rows that belong to something erased.
    """
    session.run("staging/raw_tables")
    table = columns.table
    read = [
        field.name
        for field in table.fields
        if field.type in _TYPED or field.allowed or field.name == "currency"
    ]
    keys = [field.name for field in table.fields if field.type == "key"]
    texts: Texts = {name: set() for name in read}
    masked: list[int] = []
    for chunk in records.chunks():
        frame = raw_frame(chunk, columns, source)
        for name in (*keys, *read):
            if name in frame:
                _drop_null_words(frame, name)
        masked += erased.mask_chunk(frame, table)
        _fill_currency(frame, table, source)
        for name in read:
            if name in frame:
                texts[name].update(frame[name].dropna().unique())
        session.append(f"raw_{table.name}", frame)
    has_currency = bool(texts.get("currency"))
    return {name: found for name, found in texts.items() if found}, has_currency, masked


def _drop_null_words(frame: pd.DataFrame, name: str) -> None:
    """Turn words such as 'n/a' into nulls."""
    empty = [text for text in frame[name].dropna().unique() if dates.is_null_word(text)]
    if empty:
        frame[name] = frame[name].mask(frame[name].isin(empty))


def _fill_currency(
    frame: pd.DataFrame, table: Table, source: SourceSettings | None
) -> None:
    """Fill the currency from signs inside the amounts, then from the source."""
    money = [f.name for f in table.fields if f.type == "money" and f.name in frame]
    if not money or "currency" not in table.field_names:
        return
    currency = (
        frame["currency"]
        if "currency" in frame
        else pd.Series(None, index=frame.index, dtype="str")
    )
    for name in sorted(money, key=lambda n: (n not in _MONEY_FIRST, n)):
        if not currency.isna().any():
            break
        signs = {
            text: numbers.currency_of(text) for text in frame[name].dropna().unique()
        }
        if any(signs.values()):
            currency = currency.fillna(frame[name].map(signs).astype("str"))
    if source is not None and source.currency:
        currency = currency.fillna(source.currency)
    frame["currency"] = currency


def _put_readings(session: Session, texts: Texts, load: _Load) -> pd.DataFrame:
    """Read all distinct texts and hand them to the session."""
    session.run("staging/readings")
    table = load.table
    typed = {name: found for name, found in texts.items() if _is_typed(table, name)}
    readings = read_texts(
        typed,
        table,
        load.source,
        load.path,
        date_epoch=load.records.date_epoch,
    )
    session.append("readings", readings)
    codes = [(text, _code(text)) for text in sorted(texts.get("currency", ()))]
    known = [(text, code) for text, code in codes if code is not None]
    if codes and not known:
        told = [text[:_SHOWN_LETTERS] for text, _ in codes[:5]]
        raise SourceError(
            f"No currency of this file is a code of ISO 4217: it says "
            f"{', '.join(map(repr, told))}.",
            source=str(load.path),
            column="currency",
            remedy="translate it in the [[source]] of claimlens.toml, such as: "
            f'[source.values.currency] "{told[0]}" = "EUR"',
        )
    words = read_words(texts, table, known)
    if len(words):
        session.append("words", words)
    return readings


def _is_typed(table: Table, name: str) -> bool:
    return table.field(name).type in _TYPED


def _code(text: str) -> str | None:
    """Return the ISO 4217 code that a text means."""
    code = text.strip().upper()
    return code if code in CURRENCIES else numbers.currency_of(text)


def _known_on(readings: pd.DataFrame, table: Table) -> date | None:
    """Return the newest date among the columns that tell when a file was known."""
    told = readings[readings["column_name"].isin(table.known_by)]["day"].dropna()
    return newest_date(moment.date() for moment in told)


def _sha256(path: Path) -> str:
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def count_flags(session: Session, accounts: list[RowAccount]) -> list[RowAccount]:
    """Return the accounts with their flagged rows counted.

    Parameters
    ----------
    session : Session
        The one that loaded the files.
    accounts : list of RowAccount
        In the order of their ``account_no``.

    Returns
    -------
    list of RowAccount
        The same, with ``flagged`` filled.
    """
    counts = session.frame("staging/flagged_counts")
    flagged = dict(
        zip(counts["account_no"].tolist(), counts["n_flagged"].tolist(), strict=True)
    )
    return [
        replace(account, flagged=int(flagged.get(number, 0)))
        for number, account in enumerate(accounts)
    ]
