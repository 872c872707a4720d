"""Care of a workspace: what must hold in its warehouse, copies kept and put back."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from claimlens.answers import Answers
from claimlens.upkeep.backing_up import Backup, back_up
from claimlens.upkeep.checking import check_warehouse
from claimlens.upkeep.checks import checks_frame
from claimlens.upkeep.restoring import Restored, restore

__all__ = ["Upkeep"]


class Upkeep(Answers):
    """What keeps a workspace sound.

    Parameters
    ----------
    folder : Path
        Holds the warehouse.
    settings : Settings
        Rules and limits.
    """

    def check(self) -> pd.DataFrame:
        """Say what must hold in the warehouse, and whether it does.

        Returns
        -------
        pandas.DataFrame
            ``identity, meaning, compared, found, expected, state, breaking``, one
            row a statement; ``state`` is ``held``, ``broken`` or ``not judged``,
            ``breaking`` the first keys that break it.
        """
        deciding = (self.settings, self._terms, self._learned)
        return checks_frame(
            check_warehouse(self.warehouse, deciding, limits=self._limits)
        )

    def backup(
        self,
        path: str | Path,
        *,
        with_inbox: bool = False,
        overwrite: bool = False,
        wait: float = 0.0,
    ) -> Backup:
        """Write warehouse, settings, terms and learned model into one file.

        Parameters
        ----------
        path : str or Path
            The file, a zip archive with digests of all it holds. It tells of people:
            only its owner may read it.
        with_inbox : bool, default False
            Whether the files of the inbox go along.
        overwrite : bool, default False
            Whether a file that is there may be replaced.
        wait : float, default 0
            Seconds to wait for another writer.

        Returns
        -------
        Backup
            What it holds.
        """
        return back_up(
            self.folder,
            self.settings,
            Path(path),
            with_inbox=with_inbox,
            overwrite=overwrite,
            wait=wait,
            limits=self._limits,
        )

    def restore(
        self, path: str | Path, *, discard: bool = False, wait: float = 0.0
    ) -> Restored:
        """Put this workspace back from a backup; open it anew afterwards.

        Parameters
        ----------
        path : str or Path
            Written by `backup`; all of it is checked before anything is replaced.
        discard : bool, default False
            Whether what is replaced goes for good; otherwise it is kept in a folder
            ``before-restore-N``.
        wait : float, default 0
            Seconds to wait for a run or another writer.

        Returns
        -------
        Restored
            What was done.
        """
        return restore(
            Path(path), self.folder, replace=True, discard=discard, wait=wait
        )
