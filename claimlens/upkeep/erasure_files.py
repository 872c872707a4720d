"""Find the files of a workspace that show something erased, and what to do there."""

from __future__ import annotations

import hashlib
import html
import os
import re
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from email import message_from_bytes
from email.message import Message
from pathlib import Path

from claimlens.db.parquet import parquet_rows
from claimlens.errors import ClaimlensError
from claimlens.ingest.mapping import block_of, sources_for
from claimlens.ingest.records import open_records
from claimlens.ingest.rewriting import rewritten
from claimlens.ingest.rewritten import Rewritten
from claimlens.ingest.source import SourceBlock
from claimlens.ingest.traces import Traces
from claimlens.settings import Settings
from claimlens.tables import kind_from_headers
from claimlens.upkeep.manifest import MANIFEST, WAREHOUSE, entry_of

__all__ = [
    "FileWork",
    "digest_of_bytes",
    "files_of",
    "folders_of",
    "is_backup",
    "is_warehouse",
    "plan_files",
    "show_text",
]

# what the erasure sees to by other means, or what holds no data
_NOT_LOOKED_AT = ("cache", "model")
_OWN = re.compile(
    r"warehouse\.duckdb(?:\.(?:wal|lock|holder))?|run\.(?:lock|holder)|.*\.draft"
)
# where the engine writes its mark into a file of its own
_MARK, _AT = b"DUCK", 8
_MADE_HERE = (
    ".html", ".xlsx", ".csv", ".json", ".jsonl", ".parquet", ".txt", ".eml", ".tsv",
    ".svg", ".png",
)  # fmt: skip
_COPIES = (".wal", ".tar", ".tgz", ".7z")
# rows of these tell of the maker's own things, even where they name a unit
_OF_THE_MAKER = {"changes", "parts", "shipments"}
_ESCAPED = re.compile(r"\\u([0-9a-fA-F]{4})")


@dataclass(frozen=True, slots=True, kw_only=True)
class FileWork:
    """What is to be done with one file.

    Parameters
    ----------
    path : Path
        The file.
    what : str
        ``rewrite``, ``remove``, or ``left`` where a person has to see to it.
    rows : int
        Rows that go, or places masked.
    contents : bytes or None
        What it will hold, where it is rewritten.
    note : str
        What to do about it, or how it is made again.
    make : callable or None
        Writes what it will hold to a path, where that is too much for the memory.
    """

    path: Path
    what: str
    rows: int = 1
    contents: bytes | None = None
    note: str = ""
    make: Callable[[Path], None] | None = None


def digest_of_bytes(path: Path) -> str:
    """Return the SHA-256 of a file, by which a load knows its bytes again."""
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def plan_files(folder: Path, settings: Settings, traces: Traces) -> list[FileWork]:
    """Look through all files of a workspace.

    Parameters
    ----------
    folder : Path
        The workspace.
    settings : Settings
        How its exports are read.
    traces : Traces
        What to look for.

    Returns
    -------
    list of FileWork
        Files that show something erased, by name.
    """
    found = []
    for path in files_of(folder):
        place = path.relative_to(folder).parts
        try:
            work = _work_on(path, place, settings, traces)
        except OSError as error:
            told = error.strerror or str(error)
            note = f"it cannot be read ({told}): free it, then erase again"
            work = FileWork(path=path, what="left", note=note)
        if work is not None:
            found.append(work)
    return found


def is_warehouse(path: Path) -> bool:
    """Tell a file of the engine by its first bytes, whatever its name."""
    with path.open("rb") as handle:
        return handle.read(_AT + len(_MARK))[_AT:] == _MARK


def is_backup(path: Path) -> bool:
    """Tell whether a file is a backup that claimlens wrote."""
    if not zipfile.is_zipfile(path):
        return False
    with zipfile.ZipFile(path) as archive:
        return {MANIFEST, entry_of(WAREHOUSE)} <= set(archive.namelist())


def files_of(folder: Path) -> Iterator[Path]:
    """Yield the files of a workspace, in the order of their names.

    Links, locks, drafts and the warehouse itself are left out.

    Parameters
    ----------
    folder : Path
        The workspace.
    """
    for root, folders, names in os.walk(folder):
        here = Path(root)
        is_top = here == folder
        folders[:] = sorted(
            name
            for name in folders
            if not name.endswith(".draft") and not (is_top and name in _NOT_LOOKED_AT)
        )
        for name in sorted(names):
            is_own = (is_top or name.endswith((".lock", ".holder", ".draft"))) and (
                _OWN.fullmatch(name)
            )
            if not is_own and not (here / name).is_symlink():
                yield here / name


def folders_of(folder: Path) -> Iterator[Path]:
    """Yield a workspace and all folders in it."""
    for root, _, _ in os.walk(folder):
        yield Path(root)


def _work_on(
    path: Path, place: tuple[str, ...], settings: Settings, traces: Traces
) -> FileWork | None:
    """Return what is to be done with a file; None where it shows nothing."""
    if _is_older_state(path):
        return None
    if place[0] == "out":
        return _report(path, traces)
    if place[0] == "log":
        return _log(path, traces)
    if path.suffix.lower() in _COPIES:
        note = "a copy, which may hold what was erased: remove it"
        return FileWork(path=path, what="left", note=note)
    if path.suffix.lower() in (".toml", ".md"):
        shown = traces.shown_by(show_text(path))
        note = "take the identifier out of it by hand"
        return FileWork(path=path, what="left", note=note) if shown else None
    return _export(path, settings, traces)


def _is_older_state(path: Path) -> bool:
    """Tell what `claimlens.upkeep.erasure_copies` sees to."""
    folder = path.parent
    is_model = folder.name == "model" and (folder.parent / WAREHOUSE).exists()
    return is_model or is_warehouse(path) or is_backup(path)


def _report(path: Path, traces: Traces) -> FileWork | None:
    """Remove what was made here and shows something erased."""
    if not traces.shown_by(f"{path.name} {show_text(path)}"):
        return None
    if path.suffix.lower() not in _MADE_HERE:
        note = "it was not made here: remove it, or take the person out of it"
        return FileWork(path=path, what="left", note=note)
    return FileWork(path=path, what="remove", note=_again(path.name))


def _again(name: str) -> str:
    """Say how a report is made again."""
    found = re.match(r"monthly-(\d{4}-\d{2}-\d{2})", name)
    if found:
        return f"made again by: claimlens report monthly --as-of {found.group(1)}"
    if name.startswith("summary."):
        return "made again by the next run"
    return "made again by the command that made it"


def _log(path: Path, traces: Traces) -> FileWork | None:
    """Mask identifiers in a log, line by line."""
    before = path.read_text(encoding="utf-8", errors="surrogateescape")
    lines = before.splitlines(keepends=True)
    after = [traces.masked(line) for line in lines]
    n_rows = sum(new != old for new, old in zip(after, lines, strict=True))
    if not n_rows:
        return None
    contents = "".join(after).encode("utf-8", "surrogateescape")
    return FileWork(path=path, what="rewrite", rows=n_rows, contents=contents)


def _export(path: Path, settings: Settings, traces: Traces) -> FileWork | None:
    """Rewrite an export, or a workbook that was handed out for review."""
    sources = sources_for(path, settings)
    block = block_of(sources[0] if sources else None, path, settings.limits)
    kinds: set[str] = {one.kind for one in sources} or {_kind_of(path, block)}
    made = rewritten(path, block, traces, masks_only=kinds <= _OF_THE_MAKER)
    return _file_work(path, made, traces)


def _kind_of(path: Path, block: SourceBlock) -> str:
    """Return the kind of a file with canonical headers; empty for any other."""
    try:
        return kind_from_headers(open_records(path, source=block).headers) or ""
    except ClaimlensError:
        return ""


def _file_work(path: Path, made: Rewritten, traces: Traces) -> FileWork | None:
    if made.why:
        return FileWork(path=path, what="left", rows=made.rows, note=made.why)
    name = traces.masked(path.name)
    if made.contents is None:
        if name == path.name:
            return None
        note = "its name tells what was erased: rename or remove it"
        return FileWork(path=path, what="left", note=note)
    return FileWork(
        path=path,
        what="rewrite",
        rows=made.rows,
        contents=made.contents,
        note=made.note,
    )


def show_text(path: Path) -> str:
    """Return what a reader of a file sees, as far as it is text.

    Parameters
    ----------
    path : Path
        A page, table, message, workbook or any other file.
    """
    suffix = path.suffix.lower()
    if suffix == ".eml":
        return _message_text(message_from_bytes(path.read_bytes()))
    if suffix == ".parquet":
        try:
            frame = parquet_rows(path)
        except ClaimlensError:
            return ""
        return "\n".join(
            " ".join(map(str, row)) for row in frame.fillna("").to_numpy().tolist()
        )
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as archive:
            parts = [archive.read(name) for name in archive.namelist()]
        return "\n".join(_plain(part) for part in parts)
    return _plain(path.read_bytes())


def _plain(raw: bytes) -> str:
    """Return bytes as text, entities and escapes resolved."""
    text = raw.decode("utf-8", "replace")
    if "\\u" in text:
        text = _ESCAPED.sub(lambda match: chr(int(match.group(1), 16)), text)
    return html.unescape(re.sub(r"<[^<>]*>", " ", text)) + "\n" + html.unescape(text)


def _message_text(message: Message) -> str:
    """Return head and decoded parts of a mail."""
    told = [f"{name}: {value}" for name, value in message.items()]
    for part in message.walk():
        payload = part.get_payload(decode=True)
        if isinstance(payload, bytes):
            told.append(_plain(payload))
    return "\n".join(told)
