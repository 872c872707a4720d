"""Put files in their new state after the warehouse, also when a kill came between."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from claimlens.errors import ClaimlensError
from claimlens.handover import draft_beside, write_text
from claimlens.upkeep.erasure_files import FileWork, digest_of_bytes

__all__ = ["Journal", "Placed", "note_work", "read_journal"]

_JOURNAL = "erasing.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """What became of one file.

    Parameters
    ----------
    path : str
        Relative to the workspace.
    what : str
        ``rewritten``, ``removed`` or ``left``.
    rows : int
        Rows that went.
    note : str
        What to do about it.
    """

    path: str
    what: str
    rows: int
    note: str = ""


@dataclass(slots=True, kw_only=True)
class Journal:
    """The files that an erasure will change once the warehouse is in its place.

    Parameters
    ----------
    folder : Path
        The workspace.
    erasure : str
        Name of the erasure, empty where the warehouse stays as it is.
    steps : list of dict
        ``path``, ``draft`` (None: remove the file), ``rows``, ``note``, and the
        digests ``before`` and ``after``.
    proof : dict
        What is to be written into the log at the end.
    """

    folder: Path
    erasure: str
    steps: list[dict[str, str | int | None]] = field(default_factory=list)
    proof: dict[str, object] = field(default_factory=dict)

    @property
    def path(self) -> Path:
        """Return where it is kept until all is done."""
        return self.folder / "log" / _JOURNAL

    def keep(self) -> None:
        """Write it down before anything is changed."""
        told = {"erasure": self.erasure, "steps": self.steps, "proof": self.proof}
        self.path.parent.mkdir(mode=0o700, exist_ok=True)
        text = json.dumps(told, ensure_ascii=False, indent=1) + "\n"
        write_text(text, self.path, overwrite=True)

    def finish(self) -> list[Placed]:
        """Put every file in its new state; leave the journal if one cannot be."""
        placed = [self._place(step) for step in self.steps]
        self.path.unlink(missing_ok=True)
        return placed

    def give_up(self) -> None:
        """Throw the drafts away: the warehouse did not change."""
        for step in self.steps:
            if step["draft"] is not None:
                (self.folder / str(step["draft"])).unlink(missing_ok=True)
        self.path.unlink(missing_ok=True)

    def _place(self, step: dict[str, str | int | None]) -> Placed:
        path, rows = self.folder / str(step["path"]), int(step["rows"] or 0)
        told = Placed(
            path=str(step["path"]), what="", rows=rows, note=str(step["note"])
        )
        draft = None if step["draft"] is None else self.folder / str(step["draft"])
        try:
            if draft is None:
                path.unlink(missing_ok=True)
                return Placed(path=told.path, what="removed", rows=rows, note=told.note)
            if draft.exists():
                # somebody may have written it again since it was looked at
                if path.exists() and digest_of_bytes(path) != step["before"]:
                    raise OSError("it changed while it was read")
                draft.replace(path)
            elif digest_of_bytes(path) != step["after"]:
                raise OSError("what it was to hold is gone")
            return Placed(path=told.path, what="rewritten", rows=rows, note=told.note)
        except OSError as error:
            if draft is not None:
                draft.unlink(missing_ok=True)
            why = error.strerror or str(error)
            note = f"it could not be changed ({why}): free it, then erase again"
            return Placed(path=told.path, what="left", rows=rows, note=note)


def note_work(
    folder: Path, erasure: str, works: Sequence[FileWork]
) -> tuple[Journal, list[Placed]]:
    """Write the drafts of all files and note what is to be done.

    Parameters
    ----------
    folder : Path
        The workspace.
    erasure : str
        Name of the erasure.
    works : sequence of FileWork
        Of `claimlens.upkeep.erasure_files.plan_files`.

    Returns
    -------
    journal : Journal
        Not yet kept.
    left : list of Placed
        Files that a person has to see to.
    """
    journal = Journal(folder=folder, erasure=erasure)
    left = []
    for work in works:
        place = work.path.relative_to(folder).as_posix()
        if work.what == "left":
            left.append(Placed(path=place, what="left", rows=work.rows, note=work.note))
            continue
        step: dict[str, str | int | None] = {
            "path": place,
            "draft": None,
            "rows": work.rows,
            "note": work.note,
            "before": None,
            "after": None,
        }
        if work.contents is not None or work.make is not None:
            draft = draft_beside(work.path)
            try:
                step["before"] = digest_of_bytes(work.path)
                if work.make is not None:
                    work.make(draft)
                else:
                    draft.write_bytes(work.contents or b"")
                draft.chmod(work.path.stat().st_mode & 0o777)
                step["after"] = digest_of_bytes(draft)
            except (OSError, ClaimlensError) as error:
                draft.unlink(missing_ok=True)
                why = getattr(error, "strerror", None) or str(error).rstrip(".")
                note = f"it cannot be written ({why}): free it, then erase again"
                left.append(Placed(path=place, what="left", rows=work.rows, note=note))
                continue
            step["draft"] = draft.relative_to(folder).as_posix()
        journal.steps.append(step)
    return journal, left


def read_journal(folder: Path) -> Journal | None:
    """Return the journal that a killed erasure left; None where there is none.

    Parameters
    ----------
    folder : Path
        The workspace.
    """
    journal = Journal(folder=folder, erasure="")
    try:
        told = json.loads(journal.path.read_text(encoding="utf-8"))
        journal.erasure = str(told["erasure"])
        journal.steps = list(told["steps"])
        journal.proof = dict(told["proof"])
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError):
        # cut short while it was written: nothing had been changed by then
        return Journal(folder=folder, erasure="")
    return journal
