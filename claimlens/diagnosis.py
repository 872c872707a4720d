"""What a workspace answers about faults: what they are, and what is rising."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from typing import Unpack

import pandas as pd

from claimlens import handover
from claimlens.analysis.causes import Kind, causes, put_cause_claims
from claimlens.analysis.change import change
from claimlens.analysis.known_faults import known_faults
from claimlens.analysis.odd_claims import odd_claims
from claimlens.analysis.one_unit import prepare_unit
from claimlens.analysis.production import Grain, count_production
from claimlens.analysis.question import Asked, Day, Question, as_day, ask
from claimlens.analysis.scope import cut_off, open_known
from claimlens.analysis.signals import signals
from claimlens.analysis.unit import unit_answer
from claimlens.analysis.unit_parts import Record
from claimlens.analysis.windows import unit_list, windows
from claimlens.analysis.words import words
from claimlens.answers import Answers, names_of
from claimlens.db import Session, keep_rows, read_warehouse
from claimlens.errors import InputError
from claimlens.kept import cause_claims_file, keep, kept_key, read_kept
from claimlens.stats.unit_months import DAYS_PER_MONTH

__all__ = ["Diagnosis"]


class Diagnosis(Answers):
    """The questions of somebody who has one fault or one unit before them."""

    def causes(
        self,
        symptom: str,
        *,
        generation: str | None = None,
        age: float | None = None,
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return what claims with a symptom turned out to be.

        Parameters
        ----------
        symptom : str
            What the owner sees, in a few words.
        generation : str, optional
            Generation of the unit.
        age : float, optional
            Months in service of the unit.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`. Shares of the models asked for lean
            on those of all models.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.causes.causes`.
        """
        question = ask(**asked)
        wanted = dict(question.wanted)
        models = wanted.pop("model", ())
        kind = Kind(models=models, generation=generation, age_months=age)
        question = replace(question, wanted=wanted)
        with self._cause_claims(question) as (session, as_of):
            return causes(session, self._terms, text=symptom, kind=kind, as_of=as_of)

    @contextmanager
    def _cause_claims(self, question: Question) -> Iterator[tuple[Session, date]]:
        """Open the warehouse with ``int_cause_claims``, kept from the last time.

        They take long to make and are the same whatever symptom is asked for. Only
        those of the usual cut-off, without filters, are kept.
        """
        file = cause_claims_file(self.folder)
        # told before the file is opened: a newer one must not pass for this
        state = kept_key(self.warehouse, self.settings, self._terms.digest, Question())
        is_usual = False
        if not question.wanted and question.as_known is None:
            with read_warehouse(self.warehouse, limits=self._limits, kept=file) as rows:
                open_known(rows, None)
                as_of, _ = cut_off(rows, question)
                is_usual = as_of == cut_off(rows, Question())[0]
                if is_usual and rows.show_kept("int_cause_claims", f"{state}/{as_of}"):
                    yield rows, as_of
                    return
        with self._reading(question) as (session, scope):
            put_cause_claims(session, self.settings, scope.as_of)
            if is_usual:
                found = session.frame("marts/cause_claims")
                keep_rows(file, f"{state}/{scope.as_of}", found)
            yield session, scope.as_of

    def signals(self, **asked: Unpack[Asked]) -> pd.DataFrame:
        """Return the faults that rise beyond chance among recent production.

        Parameters
        ----------
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.signals.signals`.
        """
        with self._reading(ask(**asked)) as (session, scope):
            told = session.frame("marts/acknowledgements")
            return signals(session, self.settings, scope, told)

    def windows(
        self,
        *,
        by: str | Sequence[str] = ("component",),
        grain: Grain = "month",
        **asked: Unpack[Asked],
    ) -> pd.DataFrame:
        """Return production windows with an elevated rate, most unlikely first.

        Parameters
        ----------
        by : str or sequence of str, default ("component",)
            ``component``, or ``component,model`` to look in every model by itself.
        grain : {"month", "week", "day", "lot"}, default "month"
            What windows are made of.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.windows.windows`.
        """
        names = names_of(by)
        if set(names) not in ({"component"}, {"component", "model"}):
            raise InputError(
                f"Windows are looked for by component; got {', '.join(names)}.",
                remedy="use --by component or --by component,model; filters narrow it",
            )
        with self._reading(ask(**asked)) as (session, scope):
            return windows(
                session,
                self.settings,
                scope,
                by_model="model" in names,
                grain=grain,
            )

    def window_units(
        self,
        component: str,
        from_date: Day,
        to_date: Day,
        *,
        model: str | None = None,
        as_of: Day = None,
        as_known: Day = None,
    ) -> pd.DataFrame:
        """Return every unit built in a window: failed, not yet failed, and where.

        Parameters
        ----------
        component : str
            Whose first failures count.
        from_date, to_date : date or str
            Build dates; the second is not inside.
        model : str, optional
            Of this model only.
        as_of, as_known : date or str, optional
            Cut-off and known-by date.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.windows.unit_list`.
        """
        first, last = as_day(from_date), as_day(to_date)
        if first is None or last is None:
            raise InputError(
                "A window has a first build date and one after its last.",
                remedy="give both, as YYYY-MM-DD",
            )
        question = ask(as_of=as_of, as_known=as_known, component=component)
        with self._reading(question) as (session, scope):
            [known] = scope.wanted["component"]
            count_production(session, self.settings, scope)
            return unit_list(
                session,
                self.settings,
                scope,
                component=known,
                from_date=first,
                to_date=last,
                model=model,
            )

    def change(self, change_no: str, **asked: Unpack[Asked]) -> pd.DataFrame:
        """Return whether an engineering change helped.

        Parameters
        ----------
        change_no : str
            Which change.
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.change.change`.
        """
        with self._reading(ask(**asked)) as (session, scope):
            return change(session, self.settings, scope, change_no)

    def words(self, **asked: Unpack[Asked]) -> pd.DataFrame:
        """Return the words whose share of the owners' texts grew beyond chance.

        Parameters
        ----------
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.words.words`.
        """
        with self._reading(ask(**asked)) as (session, scope):
            return words(session, scope, self._terms)

    def odd_claims(self, **asked: Unpack[Asked]) -> pd.DataFrame:
        """Return claims and dealers that are worth a question.

        Parameters
        ----------
        **asked
            Cut-off, known-by date and filters: see
            `claimlens.analysis.question.Asked`.

        Returns
        -------
        pandas.DataFrame
            See `claimlens.analysis.odd_claims.odd_claims`.
        """
        with self._reading(ask(**asked)) as (session, scope):
            return odd_claims(session, self.settings, scope)

    def unit(
        self,
        serial: str,
        *,
        symptom: str | None = None,
        as_of: Day = None,
        as_known: Day = None,
    ) -> Record:
        """Return everything that is known of one unit.

        Parameters
        ----------
        serial : str
            The unit.
        symptom : str, optional
            What its owner sees: adds ``checks``, what to look at first in a unit of
            this model, generation and age.
        as_of, as_known : date or str, optional
            Cut-off and known-by date.

        Returns
        -------
        dict
            See `claimlens.analysis.unit.unit_answer`.
        """
        question = ask(as_of=as_of, as_known=as_known)
        known = self._known_faults(question)
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            card = prepare_unit(
                session,
                self.settings,
                serial,
                terms=self._terms,
                question=question,
                learned=self._learned,
            )
            answer = unit_answer(session, self.settings, card, known)
        if symptom is not None:
            answer["checks"] = self._checks(symptom, answer, question.as_known)
        return answer

    def _known_faults(self, question: Question) -> pd.DataFrame:
        """Return rising faults and production windows, kept from the last time.

        They are those of the whole fleet, and take long to tell; as long as the
        warehouse and the settings are the same, so are they.
        """
        key = kept_key(self.warehouse, self.settings, self._terms.digest, question)
        kept = read_kept(self.folder, key)
        if kept is None:
            with self._reading(question) as (session, scope):
                kept = known_faults(session, self.settings, scope)
            keep(self.folder, key, kept)
        return kept

    def _checks(
        self, symptom: str, unit: Record, as_known: date | None
    ) -> list[dict[str, object]]:
        """Return what the symptom turned out to be in units like this one."""
        as_of, first = unit["as_of"], unit["in_service_date"]
        age = None
        if isinstance(as_of, date) and isinstance(first, date) and first <= as_of:
            age = (as_of - first).days / DAYS_PER_MONTH
        model, generation = unit["model"], unit["generation"]
        found = self.causes(
            symptom,
            generation=None if generation is None else str(generation),
            age=age,
            model=None if model is None else str(model),
            as_of=as_of if isinstance(as_of, date) else None,
            as_known=as_known,
        )
        return [dict(row) for row in handover.records(found)]
