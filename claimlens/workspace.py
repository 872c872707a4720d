"""A workspace folder opened: one method a question."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pandas as pd

from claimlens import pipeline
from claimlens.analysis.acknowledging import (
    acknowledgement_of,
    keep_acknowledgement,
)
from claimlens.analysis.evidence import read_claims
from claimlens.analysis.learning import forget_model, keep_model, model_table
from claimlens.analysis.question import Day, as_day, ask
from claimlens.analysis.scope import open_known
from claimlens.analysis.terms_health import terms_health
from claimlens.db import read_warehouse, write_warehouse
from claimlens.keeping import Upkeep
from claimlens.reviews import Reviews
from claimlens.scheduled import Scheduled

__all__ = ["Workspace"]


class Workspace(Scheduled, Reviews, Upkeep):
    """A folder with settings, an inbox, a warehouse and an out tray.

    Parameters
    ----------
    folder : Path
        Holds ``claimlens.toml``.
    settings : Settings
        Read from it.
    """

    def ingest(
        self,
        paths: str | Path | Iterable[str | Path] | None = None,
        *,
        known_on: Day = None,
        wait: float = 0.0,
    ) -> pd.DataFrame:
        """Load exports and return the row accounts.

        Parameters
        ----------
        paths : str, Path or iterable of them, optional
            Files, folders, patterns; the inbox where none is given.
        known_on : date, optional
            By when the facts were known; by default each file's newest date.
        wait : float, default 0
            Seconds to wait for another writer.

        Returns
        -------
        pandas.DataFrame
            ``file, kind, rows_read, inserted, updated, unchanged, superseded,
            rejected, flagged, skipped_lines, batch, erased``, one row per file and
            kind. ``erased`` counts the rows that came in under a stand-in, without
            texts; each is in one of the other counts as well.
        """
        given = [paths] if isinstance(paths, str | Path) else paths
        loaded = self.load(given, known_on=known_on, wait=wait)
        return loaded.frame()

    def learn(
        self, *, as_of: Day = None, as_known: Day = None, wait: float = 0.0
    ) -> pd.DataFrame:
        """Train a model on reviewed labels, and use it where it beats the terms.

        Parameters
        ----------
        as_of, as_known : date, optional
            Cut-off and known-by date of what it may learn from.
        wait : float, default 0
            Seconds to wait for another writer.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.learning.model_table`.
        """
        question = ask(as_of=as_of, as_known=as_known)
        with write_warehouse(self.warehouse, wait=wait, limits=self._limits) as session:
            with read_warehouse(self.warehouse, limits=self._limits) as known:
                learned = pipeline.teach(known, self.settings, self._terms, question)
            self._learned = keep_model(learned, self.folder)
            pipeline.read_again(session, self.settings, self._terms, self._learned)
        return model_table(learned)

    def forget(self, *, wait: float = 0.0) -> bool:
        """Take the learned model out of use; tell whether there was one.

        Parameters
        ----------
        wait : float, default 0
            Seconds to wait for another writer.
        """
        with write_warehouse(self.warehouse, wait=wait, limits=self._limits) as session:
            had_one = forget_model(self.folder)
            self._learned = None
            pipeline.read_again(session, self.settings, self._terms, None)
        return had_one

    def terms(self) -> pd.DataFrame:
        """Return what is wrong with the terms that read the texts.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.classify.terms_check.check_terms`; without a warehouse
            no term is tried on claims.
        """
        deciding = (self.settings, self._terms)
        if not self.warehouse.exists():
            return terms_health(None, *deciding, self.folder)
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            open_known(session, None)
            read_claims(session, *deciding, learned=self._learned)
            return terms_health(session, *deciding, self.folder)

    def rejects(self) -> pd.DataFrame:
        """Return every rejected row: file, row, column_name, value, reason."""
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            return session.frame("marts/rejects")

    def flags(self) -> pd.DataFrame:
        """Return what is implausible: claim_no, serial, column_name, value, reason."""
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            return session.frame("marts/flags")

    def acknowledge(
        self,
        component: str,
        *,
        by: str,
        reason: str,
        model: str | None = None,
        until: Day = None,
        as_of: Day = None,
        wait: float = 0.0,
    ) -> pd.DataFrame:
        """Remember that a person knows of a signal, and why it need not speak.

        Parameters
        ----------
        component : str
            Of the signal.
        by, reason : str
            Who says so, and why.
        model : str, optional
            Of a signal of one model; all models by default.
        until : date or str, optional
            Day up to which it holds; without one it holds until the signal grows or
            moves to other production.
        as_of : date or str, optional
            Cut-off at which the signal was seen; by default that of `signals`.
        wait : float, default 0
            Seconds to wait for another writer.

        Returns
        -------
        pandas.DataFrame
            The signal as it stands from now on.

        Raises
        ------
        InputError
            If no such signal stands, or a name or a reason is empty.
        """
        standing = self.signals(as_of=as_of)
        row = acknowledgement_of(
            standing, component, model=model, by=by, reason=reason, until=as_day(until)
        )
        with write_warehouse(self.warehouse, wait=wait, limits=self._limits) as session:
            keep_acknowledgement(session, row)
        after = self.signals(as_of=as_of)
        same = after["component"] == row["component"].iloc[0]
        same &= after["model"].fillna("") == row["model"].iloc[0]
        return after[same].reset_index(drop=True)
