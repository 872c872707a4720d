"""Care of a workspace: what must hold, copies kept, reports made once more."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from claimlens import dossier
from claimlens.analysis.question import Question
from claimlens.analysis.report_meta import batch_words, known_batches
from claimlens.db import read_warehouse
from claimlens.monthly_inputs import MadeBy
from claimlens.pack import supplier_pack
from claimlens.reports import Reports
from claimlens.upkeep.backing_up import Backup, back_up
from claimlens.upkeep.checking import check_warehouse
from claimlens.upkeep.checks import checks_frame
from claimlens.upkeep.restoring import Restored, restore
from claimlens.upkeep.verifying import Loaded, Verified, compare, read_report

__all__ = ["Upkeep"]


class Upkeep(Reports):
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

    def verify(self, path: str | Path) -> Verified:
        """Make a report again and say whether the warehouse still gives it.

        Parameters
        ----------
        path : str or Path
            The page of a monthly, component or supplier report.

        Returns
        -------
        Verified
            What made the page, then and now; ``is_same`` where every byte is.

        Raises
        ------
        InputError
            If the file is no report that says what made it.
        """
        page, made = read_report(Path(path))
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            batches = known_batches(session, made.as_known)
        loaded = [
            Loaded(file, words, day.date())
            for file, words, day in zip(
                batches["file"], batch_words(batches), batches["known_on"], strict=True
            )
        ]
        return compare(Path(path), page, made, remake=self._remake, loaded=loaded)

    def _remake(self, made: MadeBy) -> str:
        """Return the page that answers the question of another one."""
        question = Question(as_of=made.as_of, as_known=made.as_known)
        if made.report == "monthly":
            report, _ = self._make_report(
                question, workbook=False, language=made.language, like=made
            )
            return report.page
        if made.report == "component":
            return dossier.component_report(
                self._reading,
                self.settings,
                question,
                component=made.subject,
                terms=self._terms,
                internal=made.internal,
                with_workbook=False,
            ).page
        with self._reading(question) as (session, scope):
            return supplier_pack(
                session,
                self.settings,
                scope,
                name=made.subject,
                terms=self._terms,
                with_workbook=False,
            ).page
