"""What a workspace answers: one method a question."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Unpack

import pandas as pd

from claimlens.analysis.carriers import put_carriers
from claimlens.analysis.compare import compare, keep_asked, widened
from claimlens.analysis.distance import life_by_distance, measured_by_distance
from claimlens.analysis.evidence import explain_claim, terms_of
from claimlens.analysis.late import Report, delay_shares, late_months
from claimlens.analysis.late_counts import checked_groups
from claimlens.analysis.late_reports import count_now, plan_earlier, read_earlier
from claimlens.analysis.learning import model_of
from claimlens.analysis.life import KnownShape, life
from claimlens.analysis.quality import quality, whole_classes
from claimlens.analysis.question import Asked, Question, ask
from claimlens.analysis.rates import predelivery, rates
from claimlens.analysis.repeat_units import repeat_units
from claimlens.analysis.repeats import repeats
from claimlens.analysis.scope import Scope, open_known, prepare
from claimlens.analysis.tally import tally
from claimlens.classify.learned import Learned
from claimlens.classify.terms import Terms
from claimlens.db import Session, read_warehouse
from claimlens.settings import Settings

__all__ = ["Answers", "names_of"]

WAREHOUSE_FILE = "warehouse.duckdb"


class Answers:
    """The questions that can be put to a warehouse; nothing here writes to it.

    Parameters
    ----------
    folder : Path
        Holds the warehouse.
    settings : Settings
        Rules and limits.
    """

    def __init__(self, folder: Path, settings: Settings) -> None:
        self.folder = folder
        self.settings = settings

    @property
    def warehouse(self) -> Path:
        """Return the path of the warehouse file."""
        return self.folder / WAREHOUSE_FILE

    @cached_property
    def _terms(self) -> Terms:
        return terms_of(self.settings, self.folder)

    @cached_property
    def _learned(self) -> Learned | None:
        return model_of(self.folder)

    @property
    def _limits(self) -> dict[str, str]:
        engine = self.settings.engine
        limits = {"memory_limit": engine.memory_limit, "threads": engine.threads}
        return {key: str(value) for key, value in limits.items() if value is not None}

    @contextmanager
    def _reading(self, question: Question) -> Iterator[tuple[Session, Scope]]:
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            deciding = (self._terms, question, self._learned)
            yield session, prepare(session, self.settings, *deciding)

    def classify(
        self,
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return component and failure mode of each claim, with evidence.

        Parameters
        ----------
        **asked
            Cut-off (by default none: every claim is listed), known-by date and
            filters: see `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            One row a claim: ``claim_no, component, failure_mode,
            other_components, safety, source, confidence, evidence``.
        """
        question = ask(**asked)
        if question.as_of is None:
            question = replace(question, as_of=date.max)
        with self._reading(question) as (session, scope):
            put_carriers(session, scope.as_of)
            return session.frame("marts/classifications")

    def quality(self, **asked: Unpack[Asked]) -> pd.DataFrame:
        """Return how often the classification is wrong, and where it drifts.

        See `claimlens.analysis.quality.quality`.
        """
        with self._reading(whole_classes(ask(**asked))) as (session, scope):
            return quality(session, self.settings, scope, self._terms)

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
            return explain_claim(
                session, self.settings, self._terms, claim_no, self._learned
            )

    def rates(
        self,
        *,
        by: str | Sequence[str] = ("component",),
        at: float | Sequence[float] | None = None,
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return the share of units failed by fixed months in service.

        Parameters
        ----------
        by : str or sequence of str, default ("component",)
            Grouping.
        at : float or sequence of float, optional
            Months in service; by default those of the settings.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.rates.rates`.
        """
        months = self.settings.rates.at_months if at is None else at
        ages = [months] if isinstance(months, int | float) else list(months)
        question = ask(**asked)
        with self._reading(question) as (session, scope):
            return rates(session, self.settings, scope, by=names_of(by), at=ages)

    def predelivery(
        self,
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return claims before or at delivery per thousand units shipped."""
        question = ask(**asked)
        with self._reading(question) as (session, scope):
            return predelivery(session, self.settings, scope)

    def tally(
        self,
        *,
        by: str | Sequence[str] = ("component",),
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return counts of claims by any of their columns; nothing is divided.

        Parameters
        ----------
        by : str or sequence of str, default ("component",)
            Fields of the claims, or columns that came in with them.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.tally.tally`.
        """
        with self._reading(ask(**asked)) as (session, scope):
            return tally(session, scope, by=names_of(by))

    def life(
        self,
        *,
        by: str | Sequence[str] = ("component",),
        min_failures: int | None = None,
        known_shape: KnownShape = None,
        at: float | Sequence[float] | None = None,
        mean_unbiased: bool = False,
        prone: bool = False,
        against: str = "age",
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return Weibull lives with their limits and a pattern word.

        Parameters
        ----------
        by : str or sequence of str, default ("component",)
            Grouping.
        min_failures : int, optional
            Failures that a fit needs; by default that of the settings.
        known_shape : float or "component", optional
            Hold the shape at a value, or at that of the same component in all
            other segments; limits are then exact for any number of failures.
        at : float or sequence of float, optional
            Months in service: adds the share failed by then, with its limits.
        mean_unbiased : bool, default False
            Adds the shape times (r - 1) / r.
        prone : bool, default False
            Adds the share of the units that can fail at all.
        against : {"age", "distance"}, default "age"
            What the life is measured in. Against distance none of the options
            above but ``by`` has a meaning.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.life.life`, or
            `claimlens.analysis.distance.life_by_distance`.

        Raises
        ------
        InputError
            If ``against`` is neither, or an option does not go with distance.
        """
        by_distance = measured_by_distance(
            against,
            min_failures=min_failures,
            known_shape=known_shape,
            at=at,
            mean_unbiased=mean_unbiased or None,
            prone=prone or None,
        )
        ages = [at] if isinstance(at, int | float) else at
        question = ask(**asked)
        with self._reading(question) as (session, scope):
            if by_distance:
                return life_by_distance(session, self.settings, scope, by=names_of(by))
            return life(
                session,
                self.settings,
                scope,
                by=names_of(by),
                min_failures=min_failures,
                known_shape=known_shape,
                at=ages,
                mean_unbiased=mean_unbiased,
                prone=prone,
            )

    def repeats(
        self,
        *,
        by: str | Sequence[str] = ("component",),
        at: float | Sequence[float] = (12, 24),
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return events and cost per unit, repeat repairs and first-time fix.

        Parameters
        ----------
        by : str or sequence of str, default ("component",)
            Grouping.
        at : float or sequence of float, default (12, 24)
            Months in service.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.repeats.repeats`.
        """
        ages = [at] if isinstance(at, int | float) else list(at)
        question = ask(**asked)
        with self._reading(question) as (session, scope):
            return repeats(session, self.settings, scope, by=names_of(by), at=ages)

    def repeat_units(self, *, least: int = 3, **asked: Unpack[Asked]) -> pd.DataFrame:
        """Return the units that came back again and again for one component.

        Parameters
        ----------
        least : int, default 3
            Events of one component from which on a unit is listed.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.repeat_units.repeat_units`.
        """
        question = ask(**asked)
        with self._reading(question) as (session, scope):
            return repeat_units(session, self.settings, scope, least=least)

    def lag(
        self,
        *,
        by: str | Sequence[str] = (),
        delays: bool = False,
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return claims by month of failure, completed for reports still to come.

        Parameters
        ----------
        by : str or sequence of str, optional
            Grouping; one row a month where none is given.
        delays : bool, default False
            Return the share reported by months of delay instead.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.late.late_months`, or
            `claimlens.analysis.late.delay_shares`.
        """
        question = ask(**asked)
        groups = checked_groups(names_of(by))
        earlier = () if delays else self._earlier(question, groups)
        with self._reading(question) as (session, scope):
            now = count_now(session, scope, groups)
        if delays:
            return delay_shares(now, self.settings, scope)
        return late_months(now, earlier, self.settings, scope)

    def _earlier(
        self, question: Question, by: tuple[str, ...] = (), *, own_month: bool = False
    ) -> tuple[Report, ...]:
        """Return what the reports before the one asked for showed."""
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            planned = plan_earlier(session, question)
        return read_earlier(
            self._reading,
            question,
            planned,
            by,
            settings=self.settings if own_month else None,
        )

    def compare(
        self,
        *,
        by: str | Sequence[str] = ("component", "model"),
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return each segment against all the others at equal ages, ranked.

        Parameters
        ----------
        by : str or sequence of str, default ("component", "model")
            Grouping; with a component or failure mode in it, each of them is a table
            of its own.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`. A filter on what is compared keeps
            some rows; their figures stay those against all the others.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.compare.compare`.
        """
        groups = names_of(by)
        question, rows = widened(ask(**asked), groups)
        with self._reading(question) as (session, scope):
            result = compare(session, self.settings, scope, by=groups)
        return keep_asked(result, rows)


def names_of(by: str | Sequence[str]) -> tuple[str, ...]:
    """Return a grouping given as one comma list or as a sequence."""
    if isinstance(by, str):
        return tuple(name.strip() for name in by.split(",") if name.strip())
    return tuple(by)
