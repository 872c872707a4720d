"""What a workspace answers about faults: what they are, and what is rising."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Unpack

import pandas as pd

from claimlens import handover
from claimlens.analysis.causes import Kind, causes
from claimlens.analysis.odd_claims import odd_claims
from claimlens.analysis.one_unit import prepare_unit
from claimlens.analysis.question import Asked, Day, ask
from claimlens.analysis.unit import KNOWN_FAULT_COLUMNS, unit_answer
from claimlens.analysis.unit_parts import Record
from claimlens.analysis.words import words
from claimlens.answers import Answers
from claimlens.db import read_warehouse
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
        with self._reading(replace(question, wanted=wanted)) as (session, scope):
            return causes(
                session, self.settings, scope, self._terms, text=symptom, kind=kind
            )

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
        known = pd.DataFrame(columns=list(KNOWN_FAULT_COLUMNS))
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
