"""Keep what a load brought: versions, current rows, rejects and the batch."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pandas as pd

from claimlens.db import Session
from claimlens.results import Reject, RowAccount

__all__ = ["ALWAYS", "Arrival", "store", "store_nothing"]

ALWAYS = date(1, 1, 1)
"""Known-on date of facts that carry no date: known since ever."""

_COUNTED = ("rows_read", "inserted", "updated", "unchanged", "superseded")


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """What a load brings beside its staged rows.

    Parameters
    ----------
    file : str
        Name of the file.
    kind : str
        Canonical table.
    sha256 : str
        Of its bytes.
    source : str
        Name of its source; empty where it has none.
    columns : tuple of str
        Canonical fields that it has.
    rows_read, skipped_lines : int
        Its rows, and its lines that are no rows.
    rejected : tuple of Reject
        Rows that could not even be staged.
    note : str
        What else is to be told of it.
    """

    file: str
    kind: str
    sha256: str
    source: str
    columns: tuple[str, ...]
    rows_read: int
    skipped_lines: int = 0
    rejected: tuple[Reject, ...] = ()
    note: str = ""


def store(
    session: Session, arrival: Arrival, known: date, *, keeps_repeats: bool = True
) -> RowAccount:
    """Append what is new, fold the touched keys, and count what became of rows.

    Parameters
    ----------
    session : Session
        Open for writing, with ``staged`` and ``kept``.
    arrival : Arrival
        What they came from.
    known : date
        By when the facts were known.
    keeps_repeats : bool, default True
        Whether a file of other bytes that says nothing new is a batch all the
        same; otherwise it leaves no trace.

    Returns
    -------
    RowAccount
        ``flagged`` is still 0: flags are judged once all files are in.
    """
    kind = arrival.kind
    batches = session.frame(
        "staging/find_batch",
        {"sha256": arrival.sha256, "kind": kind, "source": arrival.source},
    ).iloc[0]
    batch: int | None = int(batches["next_batch"])
    session.alias("known_versions", f"{kind}_versions")
    session.alias("known_rows", f"{kind}_current")
    is_known_file = not pd.isna(batches["batch"])
    session.run(
        "staging/new_versions",
        {"known_on": known, "batch": batch, "is_known_file": is_known_file},
    )
    has_news = session.count("new_versions") > 0
    is_repeat = not has_news and (is_known_file or not keeps_repeats)
    if is_repeat:
        batch = int(batches["batch"]) if is_known_file else None
    else:
        # the fold reads which columns a batch had, so its row comes first
        session.append(
            "batches", _batch_row(arrival, int(batches["next_batch"]), known)
        )
        session.copy_rows("new_versions", f"{kind}_versions")
    session.run(f"staging/fold_{kind}", {"as_known": date.max, "only_touched": True})
    account = _account(session, arrival, batch, known)
    if not is_repeat:
        session.run("staging/close_batch", _account_parameters(account))
        _store_rejects(session, arrival.rejected, int(batches["next_batch"]))
        session.delete_keys(f"{kind}_current", "folded")
        session.copy_rows("folded", f"{kind}_current")
        session.changed = True
    return account


def store_nothing(session: Session, arrival: Arrival) -> RowAccount:
    """Remember a file that had no row at all.

    Parameters
    ----------
    session : Session
        Open for writing.
    arrival : Arrival
        What is known of it.

    Returns
    -------
    RowAccount
        All zero. An empty file is the same bytes each time, so its name tells
        whether it came before.
    """
    batches = session.frame("marts/arrived", {"as_known": date.max})
    same = batches[
        (batches["file"] == arrival.file)
        & (batches["source"] == arrival.source)
        & (batches["kind"] == arrival.kind)
    ]
    # only where it is the newest of that name: a later, full one makes it news again
    is_known = len(same) > 0 and not same["rows_read"].iloc[-1]
    batch = int(same["batch"].iloc[-1]) if is_known else None
    if batch is None:
        newest = int(session.frame("marts/newest_batch").iloc[0, 0])
        batch = newest + 1
        session.append("batches", _batch_row(arrival, batch, ALWAYS))
        session.changed = True
    return RowAccount(
        file=arrival.file,
        kind=arrival.kind,
        rows_read=0,
        inserted=0,
        updated=0,
        unchanged=0,
        superseded=0,
        rejected=0,
        flagged=0,
        skipped_lines=0,
        batch=batch,
        note=arrival.note,
    )


def _account(
    session: Session, arrival: Arrival, batch: int | None, known: date
) -> RowAccount:
    """Return what became of the rows."""
    counts = session.frame("staging/account").iloc[0]
    return RowAccount(
        file=arrival.file,
        kind=arrival.kind,
        rows_read=arrival.rows_read,
        inserted=int(counts["inserted"]),
        updated=int(counts["updated"]),
        unchanged=int(counts["unchanged"]),
        superseded=int(counts["superseded"]),
        rejected=int(counts["rejected"]) + len(arrival.rejected),
        flagged=0,
        skipped_lines=arrival.skipped_lines,
        batch=batch,
        known_on=None if known == ALWAYS else known,
        note=arrival.note,
    )


def _batch_row(arrival: Arrival, batch: int, known: date) -> pd.DataFrame:
    """Return the row of a new batch, its account still empty."""
    row: dict[str, list[object]] = {
        "batch": [batch],
        "file": [arrival.file],
        "kind": [arrival.kind],
        "sha256": [arrival.sha256],
        "source": [arrival.source],
        "known_on": [known],
        "columns": [list(arrival.columns)],
    }
    row.update({name: [0] for name in (*_COUNTED, "rejected", "skipped_lines")})
    return pd.DataFrame(row)


def _account_parameters(account: RowAccount) -> dict[str, object]:
    names = (*_COUNTED, "rejected", "skipped_lines", "batch")
    return {name: getattr(account, name) for name in names}


def _store_rejects(session: Session, rejected: tuple[Reject, ...], batch: int) -> None:
    if rejected:
        session.append(
            "rejected_rows",
            pd.DataFrame(
                {
                    "batch": batch,
                    "source_row": [reject.row for reject in rejected],
                    "column_name": pd.array(
                        [reject.column_name for reject in rejected], dtype="str"
                    ),
                    "value": pd.array(
                        [reject.value for reject in rejected], dtype="str"
                    ),
                    "reason": [reject.reason for reject in rejected],
                }
            ),
        )
    session.run("staging/store_rejects", {"batch": batch})
