"""A workspace folder opened: one method a question."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from functools import cached_property
from pathlib import Path

import pandas as pd

from claimlens import pipeline
from claimlens.analysis.evidence import explain_claim, terms_of
from claimlens.analysis.life import life
from claimlens.analysis.question import Day, Question, Wanted, as_day, ask
from claimlens.analysis.rates import predelivery, rates
from claimlens.analysis.scope import Scope, open_known, prepare
from claimlens.classify.terms import Terms
from claimlens.db import Session, read_warehouse, write_warehouse
from claimlens.handover import write_text
from claimlens.settings import (
    Settings,
)
from claimlens.version import __version__

__all__ = ["Workspace"]

WAREHOUSE_FILE = "warehouse.duckdb"


class Workspace:
    """A folder with settings, an inbox, a warehouse and an out tray.

    Parameters
    ----------
    folder : Path
        Holds ``claimlens.toml``.
    settings : Settings
        Read from it.
    """

    def __init__(self, folder: Path, settings: Settings) -> None:
        self.folder = folder
        self.settings = settings

    @property
    def warehouse(self) -> Path:
        """Return the path of the warehouse file."""
        return self.folder / WAREHOUSE_FILE

    @property
    def inbox(self) -> Path:
        """Return the folder that ``run`` loads from."""
        return self.folder / "inbox"

    @property
    def out(self) -> Path:
        """Return the folder that ``run`` writes to."""
        return self.folder / "out"

    @cached_property
    def _terms(self) -> Terms:
        return terms_of(self.settings, self.folder)

    @property
    def _limits(self) -> dict[str, str]:
        engine = self.settings.engine
        limits = {"memory_limit": engine.memory_limit, "threads": engine.threads}
        return {key: str(value) for key, value in limits.items() if value is not None}

    @contextmanager
    def _reading(self, question: Question) -> Iterator[tuple[Session, Scope]]:
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            yield session, prepare(session, self.settings, self._terms, question)

    def load(
        self,
        paths: Iterable[str | Path] | None = None,
        *,
        known_on: Day = None,
        wait: float = 0.0,
    ) -> pipeline.Loaded:
        """Load exports; the inbox where no path is given.

        Parameters
        ----------
        paths : iterable of str or Path, optional
            Files, folders, patterns.
        known_on : date, optional
            By when the facts were known; by default each file's newest date.
        wait : float, default 0
            Seconds to wait for another writer.

        Returns
        -------
        pipeline.Loaded
            Row accounts and skipped files.
        """
        with write_warehouse(self.warehouse, wait=wait, limits=self._limits) as session:
            return pipeline.load(
                session,
                self.settings,
                self._terms,
                [self.inbox] if paths is None else paths,
                known_on=as_day(known_on),
            )

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
            rejected, flagged, skipped_lines, batch``, one row per file and kind.
        """
        given = [paths] if isinstance(paths, str | Path) else paths
        loaded = self.load(given, known_on=known_on, wait=wait)
        return loaded.frame()

    def rejects(self) -> pd.DataFrame:
        """Return every rejected row: file, row, column_name, value, reason."""
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            return session.frame("marts/rejects")

    def flags(self) -> pd.DataFrame:
        """Return what is implausible: claim_no, serial, column_name, value, reason."""
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            return session.frame("marts/flags")

    def classify(
        self,
        *,
        as_of: Day = None,
        as_known: Day = None,
        model: Wanted = None,
        model_year: Wanted = None,
        component: Wanted = None,
        supplier: Wanted = None,
        region: Wanted = None,
    ) -> pd.DataFrame:
        """Return component and failure mode of each claim, with evidence.

        Parameters
        ----------
        as_of : date, optional
            Cut-off; by default every claim in the warehouse is listed.
        as_known : date, optional
            Only what was known by then.
        model, model_year, component, supplier, region : value or sequence, optional
            Only these.

        Returns
        -------
        pandas.DataFrame
            One row a claim: ``claim_no, component, failure_mode,
            other_components, safety, source, confidence, evidence``.
        """
        question = ask(
            date.max if as_of is None else as_of,
            as_known,
            model=model,
            model_year=model_year,
            component=component,
            supplier=supplier,
            region=region,
        )
        with self._reading(question) as (session, _):
            return session.frame("marts/classifications")

    def explain(self, claim_no: str) -> str:
        """Return in words what decided a claim and what was outvoted.

        Parameters
        ----------
        claim_no : str
            The claim.

        Returns
        -------
        str
            Several lines.
        """
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            open_known(session, None)
            return explain_claim(session, self.settings, self._terms, claim_no)

    def rates(
        self,
        *,
        by: str | Sequence[str] = ("component",),
        at: float | Sequence[float] | None = None,
        as_of: Day = None,
        as_known: Day = None,
        model: Wanted = None,
        model_year: Wanted = None,
        component: Wanted = None,
        supplier: Wanted = None,
        region: Wanted = None,
    ) -> pd.DataFrame:
        """Return the share of units failed by fixed months in service.

        Parameters
        ----------
        by : str or sequence of str, default ("component",)
            Grouping.
        at : float or sequence of float, optional
            Months in service; by default those of the settings.
        as_of, as_known : date, optional
            Cut-off and known-by date.
        model, model_year, component, supplier, region : value or sequence, optional
            Only these.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.rates.rates`.
        """
        months = self.settings.rates.at_months if at is None else at
        ages = [months] if isinstance(months, int | float) else list(months)
        question = ask(
            as_of,
            as_known,
            model=model,
            model_year=model_year,
            component=component,
            supplier=supplier,
            region=region,
        )
        with self._reading(question) as (session, scope):
            return rates(session, self.settings, scope, by=_names(by), at=ages)

    def predelivery(
        self,
        *,
        as_of: Day = None,
        as_known: Day = None,
        model: Wanted = None,
        model_year: Wanted = None,
        component: Wanted = None,
        supplier: Wanted = None,
        region: Wanted = None,
    ) -> pd.DataFrame:
        """Return claims before or at delivery per thousand units shipped."""
        question = ask(
            as_of,
            as_known,
            model=model,
            model_year=model_year,
            component=component,
            supplier=supplier,
            region=region,
        )
        with self._reading(question) as (session, scope):
            return predelivery(session, self.settings, scope)

    def report_monthly(
        self,
        path: str | Path | None = None,
        *,
        as_of: Day = None,
        as_known: Day = None,
        overwrite: bool = False,
    ) -> Path:
        """Write the monthly report.

        Parameters
        ----------
        path : str or Path, optional
            Target; by default ``out/monthly-YYYY-MM-DD.html`` of the cut-off
            (with the known-by date behind it), replacing its earlier version.
        as_of, as_known : date, optional
            Cut-off and known-by date.
        overwrite : bool, default False
            Whether a named target may be replaced.

        Returns
        -------
        Path
            The file written.
        """
        with self._reading(ask(as_of, as_known)) as (session, scope):
            page = pipeline.monthly_page(
                session, self.settings, scope, version=__version__
            )
        if path is not None:
            target = Path(path)
            write_text(page, target, overwrite=overwrite)
            return target
        known = f"-known-{scope.as_known}" if scope.as_known else ""
        target = self.out / f"monthly-{scope.as_of}{known}.html"
        self.out.mkdir(exist_ok=True)
        write_text(page, target, overwrite=True)
        return target

    def run(
        self,
        *,
        as_of: Day = None,
        wait: float = 0.0,
        on_loaded: Callable[[pipeline.Loaded], None] | None = None,
    ) -> pipeline.RunOutcome:
        """Load the inbox and write the monthly report; safe to repeat.

        Parameters
        ----------
        as_of : date, optional
            Cut-off of the report.
        wait : float, default 0
            Seconds to wait for another writer.
        on_loaded : callable, optional
            Called with the accounts before the report is tried.

        Returns
        -------
        pipeline.RunOutcome
            Row accounts, skipped files and the path of the report.
        """
        loaded = self.load(wait=wait)
        if on_loaded is not None:
            on_loaded(loaded)
        return pipeline.RunOutcome(
            loaded=loaded, report=self.report_monthly(as_of=as_of)
        )

    def life(
        self,
        *,
        by: str | Sequence[str] = ("component",),
        as_of: Day = None,
        as_known: Day = None,
        model: Wanted = None,
        model_year: Wanted = None,
        component: Wanted = None,
        supplier: Wanted = None,
        region: Wanted = None,
        min_failures: int | None = None,
    ) -> pd.DataFrame:
        """Return Weibull lives with likelihood-ratio limits and a pattern word.

        Parameters
        ----------
        by : str or sequence of str, default ("component",)
            Grouping.
        as_of, as_known : date, optional
            Cut-off and known-by date.
        model, model_year, component, supplier, region : value or sequence, optional
            Only these.
        min_failures : int, optional
            Failures that a fit needs; by default that of the settings.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.life.life`.
        """
        question = ask(
            as_of,
            as_known,
            model=model,
            model_year=model_year,
            component=component,
            supplier=supplier,
            region=region,
        )
        with self._reading(question) as (session, scope):
            return life(
                session,
                self.settings,
                scope,
                by=_names(by),
                min_failures=min_failures,
            )


def _names(by: str | Sequence[str]) -> tuple[str, ...]:
    """Return a grouping given as one comma list or as a sequence."""
    if isinstance(by, str):
        return tuple(name.strip() for name in by.split(",") if name.strip())
    return tuple(by)
