"""Find older states of a workspace that lie in it, and erase from them too."""

from __future__ import annotations

import os
import shutil
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from claimlens.db import read_warehouse
from claimlens.errors import ClaimlensError
from claimlens.handover import private_draft
from claimlens.settings import SETTINGS_FILE, read_settings
from claimlens.upkeep.backing_up import back_up, own_files
from claimlens.upkeep.erasing_again import Remembered, erase_folder
from claimlens.upkeep.erasure_files import (
    FileWork,
    files_of,
    is_backup,
    is_warehouse,
)
from claimlens.upkeep.manifest import WAREHOUSE, entry_of
from claimlens.upkeep.unpacking import open_backup, unpack

__all__ = ["Copies"]

_AGAIN = "an older state of the workspace: erased there as well"
# the backup that is written again takes a folder of drafts too
_OLDER = ".older"
_MODEL = "trained from texts that went: claimlens learn trains anew"
_BY_HAND = "remove it, or restore from it with claimlens, which erases again"


@dataclass(frozen=True, slots=True, kw_only=True)
class Copies:
    """The older states in a workspace: backups, and what a restore kept.

    Parameters
    ----------
    folder : Path
        The workspace.
    known : Remembered
        What was erased, with what is being erased now.
    limits : mapping
        Of the engine.
    """

    folder: Path
    known: Remembered
    limits: Mapping[str, str] = field(default_factory=dict)

    def plan(self) -> list[FileWork]:
        """Return what is to be done with those that do not know every erasure."""
        found: list[FileWork] = []
        for path in files_of(self.folder):
            try:
                found += self._work_on(path)
            except (ClaimlensError, OSError, zipfile.BadZipFile) as error:
                told = str(error).rstrip(".")
                note = f"an older state that cannot be read ({told}): {_BY_HAND}"
                found.append(FileWork(path=path, what="left", note=note))
        return found

    def _work_on(self, path: Path) -> Iterator[FileWork]:
        if is_backup(path):
            with private_draft(path, _OLDER) as private:
                with zipfile.ZipFile(path) as archive:
                    entry = archive.open(entry_of(WAREHOUSE))
                    with entry, (private / WAREHOUSE).open("wb") as copy:
                        shutil.copyfileobj(entry, copy)
                is_new = self._knows_less(private / WAREHOUSE)
            if is_new:
                make = partial(self._backup_again, path)
                yield FileWork(path=path, what="rewrite", make=make, note=_AGAIN)
        elif is_warehouse(path) and self._knows_less(path):
            make = partial(self._warehouse_again, path)
            yield FileWork(path=path, what="rewrite", make=make, note=_AGAIN)
            for own in sorted((path.parent / "model").glob("*")):
                if path.parent != self.folder:
                    yield FileWork(path=own, what="remove", note=_MODEL)

    def _knows_less(self, warehouse: Path) -> bool:
        """Tell whether a warehouse lacks some erasure."""
        with read_warehouse(warehouse, limits=self.limits) as session:
            held = set(session.frame("marts/erasures_told")["erasure"])
        return not set(self.known.erasures["erasure"]) <= held

    def _warehouse_again(self, path: Path, draft: Path) -> None:
        """Write a warehouse of an older state without what was erased."""
        own = path.parent
        settings_in = own if (own / SETTINGS_FILE).exists() else self.folder
        with private_draft(draft, _OLDER) as private:
            settings = read_settings(settings_in / SETTINGS_FILE)
            for name in (SETTINGS_FILE, *own_files(settings)):
                if (settings_in / name).is_file() and not Path(name).is_absolute():
                    (private / name).parent.mkdir(parents=True, exist_ok=True)
                    shutil.copyfile(settings_in / name, private / name)
            if (settings_in / "model").is_dir():
                shutil.copytree(settings_in / "model", private / "model")
            shutil.copyfile(path, private / WAREHOUSE)
            log = path.with_name(f"{path.name}.wal")
            if log.exists():
                shutil.copyfile(log, private / f"{WAREHOUSE}.wal")
            erase_folder(self.known, private, settings, limits=self.limits)
            os.replace(private / WAREHOUSE, draft)

    def _backup_again(self, path: Path, draft: Path) -> None:
        """Write a backup again from its own contents without what was erased."""
        with (
            private_draft(draft, _OLDER) as private,
            open_backup(path) as (archive, manifest),
        ):
            unpack(archive, manifest.members, private, path)
            settings = read_settings(private / SETTINGS_FILE)
            erase_folder(self.known, private, settings, limits=self.limits)
            with_inbox = any(name.startswith("inbox/") for name in manifest.members)
            back_up(private, settings, draft, with_inbox=with_inbox, limits=self.limits)
