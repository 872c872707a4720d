"""What arrived: is each source's newest file there, whole, and as it used to be?

Judged on what the files say themselves: the dates in them (by when they were
known), their rows, columns and words; never on a clock or on when they were loaded.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import pandas as pd

from claimlens.analysis.arrival_sizes import sizes, usual_size
from claimlens.analysis.file_shapes import name_shape
from claimlens.analysis.months import first_of, month_no
from claimlens.db import Session
from claimlens.ingest.store import ALWAYS
from claimlens.monthly_inputs import Arrivals, Finding
from claimlens.settings import Settings, SourceSettings

__all__ = ["arrivals"]

_MONTHS_OF = {"month": 1, "quarter": 3}
_A_WEEK = 7
# files that tell a rhythm or a habit of columns by themselves; a rule of ours
_ENOUGH_GAPS = 4
_LATE_FACTOR = 1.5
_MOST_WORDS = 5
_LONGEST_WORD = 30

#: State of a source, by what is amiss with it.
EXPECTED, LOOK, MISSING = "as expected", "look", "missing"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Source:
    """The files of one source, oldest first."""

    name: str
    kind: str
    told: SourceSettings | None
    files: pd.DataFrame
    words: pd.DataFrame


def arrivals(
    session: Session, settings: Settings, *, as_of: date, as_known: date | None
) -> Arrivals:
    """Judge what arrived for a cut-off.

    Parameters
    ----------
    session : Session
        On the warehouse.
    settings : Settings
        Sources with their rhythm and usual size.
    as_of : date
        Cut-off. Files known within a month before or after it are judged against
        the earlier files of their source; of a source whose files carry no date,
        the newest.
    as_known : date or None
        Only files known by then are looked at.

    Returns
    -------
    Arrivals
        Where the settings state no rhythm or size, the earlier files tell it, and
        the sentence says so.
    """
    batches = session.frame("marts/arrived", {"as_known": as_known or date.max})
    words = session.frame("marts/unread_words")
    findings: list[Finding] = []
    rows = []
    for source in _sources(batches, words, settings):
        own = [*_missing(source, as_of)]
        for place in _judged(source.files, as_of):
            own += _file_findings(source, place)
        findings += own
        rows.append(_row(source, own))
    grave_first = sorted(findings, key=lambda finding: not finding.is_grave)
    columns = (
        *("source", "kind", "files", "newest_file", "known_on", "rows"),
        *("usual_rows", "usual_from", "every", "state"),
    )
    return Arrivals(
        findings=tuple(grave_first), sources=pd.DataFrame(rows, columns=columns)
    )


def _sources(
    batches: pd.DataFrame, words: pd.DataFrame, settings: Settings
) -> Iterator[_Source]:
    """Return the sources of the settings, then files that needed none."""
    for told in settings.source:
        own = batches[(batches["source"] == told.name) & (batches["kind"] == told.kind)]
        if len(own) or told.every is not None:
            yield _Source(
                name=told.name,
                kind=told.kind,
                told=told,
                files=_in_order(own),
                words=words,
            )
    named = {told.name for told in settings.source}
    rest = batches[~batches["source"].isin(named)]
    keys = rest["file"].map(name_shape)
    for (kind, shape), own in rest.groupby(["kind", keys], sort=True):
        yield _Source(
            name=str(shape),
            kind=str(kind),
            told=None,
            files=_in_order(own),
            words=words,
        )


def _in_order(own: pd.DataFrame) -> pd.DataFrame:
    """Put files in the order of what they know; one without a date stays in place."""
    files = own.sort_values("batch", kind="stable")
    days = pd.Series([day.date() for day in files["known_on"]], index=files.index)
    is_dated = days != ALWAYS
    placed = days.where(is_dated, ALWAYS).cummax() if len(days) else days
    order = days.where(is_dated, placed)
    return (
        files.assign(day=days, is_dated=is_dated, order=order)
        .sort_values(["order", "batch"], kind="stable")
        .reset_index(drop=True)
    )


def _judged(files: pd.DataFrame, as_of: date) -> list[int]:
    """Return the places of the files that were to bring the month of the cut-off."""
    first, last = _months_away(as_of, -1), _months_away(as_of, 1)
    newest = files["batch"].max() if len(files) else None
    return [
        place
        for place, (day, is_dated, batch) in enumerate(
            zip(files["day"], files["is_dated"], files["batch"], strict=True)
        )
        if (first < day <= last if is_dated else batch == newest)
    ]


def _months_away(day: date, months: int) -> date:
    """Move a day by months; a month-end stays one."""
    is_end = (day + timedelta(days=1)).day == 1
    start = first_of(month_no(day) + months)
    end = first_of(month_no(day) + months + 1) - timedelta(days=1)
    return end if is_end else min(end, start.replace(day=min(day.day, end.day)))


def _every_words(every: str | int) -> str:
    return f"every {every}" if isinstance(every, str) else f"every {every} days"


def _missing(source: _Source, as_of: date) -> Iterator[Finding]:
    """Tell whether the newest file is older than the rhythm allows."""
    dated = sorted({*source.files.loc[source.files["is_dated"], "day"]})
    newest = dated[-1] if dated else None
    every = source.told.every if source.told is not None else None
    if every is not None:
        if newest is None and len(source.files):
            text = (
                f"one file {_every_words(every)} is expected, but its files carry no "
                "date to tell it by"
            )
            yield _finding(source, "", "rhythm unknown", text, is_grave=False)
        elif newest is None:
            text = f"no file has come yet; one {_every_words(every)} is expected"
            yield _finding(source, "", "missing", text)
        elif newest <= _due_after(as_of, every):
            text = (
                f"nothing newer than {newest} has come; one file "
                f"{_every_words(every)} is expected"
            )
            yield _finding(source, "", "missing", text)
        return
    gaps = [(b - a).days for a, b in pairwise(dated)][-12:]
    if len(gaps) < _ENOUGH_GAPS or newest is None:
        return
    usual = sorted(gaps)[len(gaps) // 2]
    if (as_of - newest).days > max(_LATE_FACTOR * usual, *gaps):
        text = (
            f"nothing newer than {newest} has come; its {len(dated)} files so far "
            f"came about every {usual} days (the settings state no rhythm)"
        )
        yield _finding(source, "", "missing", text)


def _due_after(as_of: date, every: str | int) -> date:
    """Return the day that the newest file must be later than."""
    if isinstance(every, int):
        return as_of - timedelta(days=every)
    if every in _MONTHS_OF:
        return _months_away(as_of, -_MONTHS_OF[every])
    return as_of - timedelta(days=_A_WEEK)


def _file_findings(source: _Source, place: int) -> Iterator[Finding]:
    """Hold one file against the earlier ones of its source."""
    file = source.files.iloc[place]
    earlier = source.files.iloc[:place]
    name = str(file["file"])
    if not file["rows_read"]:
        yield _finding(source, name, "empty", "the file has no row")
        return
    if file["rejected"] == file["rows_read"]:
        text = f"none of its {file['rows_read']:,} rows could be read"
        yield _finding(source, name, "unreadable", text)
        return
    for is_small, text in sizes(file, earlier, source.told):
        kind = "small" if is_small else "large"
        yield _finding(source, name, kind, text, is_grave=is_small)
    yield from _lost_columns(source, file, earlier)
    yield from _unread(source, file, earlier)
    if not file["inserted"] and not file["updated"]:
        text = "every row was known before: is it the file of an earlier month?"
        yield _finding(source, name, "nothing new", text, is_grave=False)


def _lost_columns(
    source: _Source, file: pd.Series, earlier: pd.DataFrame
) -> Iterator[Finding]:
    here = set(str(file["columns"]).split(","))
    told = source.told.columns if source.told is not None else {}
    lost = {field: header for header, field in told.items() if field not in here}
    for field, header in lost.items():
        text = f"no column {header!r}, which the settings read as {field}"
        yield _finding(source, str(file["file"]), "column", text)
    with_rows = earlier[earlier["rows_read"] > 0]
    before = str(with_rows["columns"].iloc[-1]) if len(with_rows) else ""
    gone = [
        field for field in before.split(",") if field and field not in {*here, *lost}
    ]
    if gone:
        text = f"no {', '.join(gone)}, which its earlier files had"
        yield _finding(source, str(file["file"]), "column", text)


def _unread(
    source: _Source, file: pd.Series, earlier: pd.DataFrame
) -> Iterator[Finding]:
    """Tell which words of short lists nothing translates."""
    own = source.words[source.words["batch"] == file["batch"]]
    seen = source.words[source.words["batch"].isin(earlier["batch"])]
    for column, rows in own.groupby("column_name", sort=True):
        known = set(seen.loc[seen["column_name"] == column, "word"])
        new = rows[~rows["word"].isin(known)]
        told = new if len(new) else rows
        words = [str(word) for word in told["word"]]
        shown = [
            f"{word!r} ({n:,} row{'s' if n > 1 else ''})"
            for word, n in zip(words, told["n_rows"], strict=True)
            if len(word) <= _LONGEST_WORD
        ][:_MOST_WORDS]
        more = len(words) - len(shown)
        listed = ", ".join([*shown, *([f"{more:,} more"] if more else [])])
        what = "new" if len(new) else "still unknown"
        counted = (
            f"{len(words):,} {what} word{'s' if len(words) > 1 else ''} in "
            f"{column}, {int(told['n_rows'].sum()):,} rows"
        )
        yield Finding(
            amiss="currency" if column == "currency" else "word",
            source=source.name,
            file=str(file["file"]),
            text=f"{what} in {column}, and nothing translates it: {listed}",
            short=f"{counted}; nothing translates it",
            is_grave=bool(len(new)),
        )


def _finding(
    source: _Source, file: str, amiss: str, text: str, *, is_grave: bool = True
) -> Finding:
    return Finding(
        amiss=amiss,  # type: ignore[arg-type]  # one of ours, written out above
        source=source.name,
        file=file,
        text=text,
        short=text,
        is_grave=is_grave,
    )


def _row(source: _Source, own: Sequence[Finding]) -> dict[str, object]:
    """Return the row of a source in the table."""
    files = source.files
    newest = files.iloc[-1] if len(files) else None
    usual, basis = (
        usual_size(files.iloc[:-1], source.told, str(newest["file"]))
        if newest is not None
        else (None, "")
    )
    dated = files.loc[files["is_dated"], "day"] if len(files) else []
    every = source.told.every if source.told is not None else None
    state = EXPECTED
    if any(finding.is_grave for finding in own):
        state = LOOK
    if any(finding.amiss == "missing" for finding in own):
        state = MISSING
    return {
        "source": source.name,
        "kind": source.kind,
        "files": len(files),
        "newest_file": "" if newest is None else str(newest["file"]),
        "known_on": max(dated) if len(dated) else None,
        "rows": None if newest is None else int(newest["rows_read"]),
        "usual_rows": usual,
        "usual_from": basis,
        "every": "" if every is None else _every_words(every),
        "state": state,
    }
