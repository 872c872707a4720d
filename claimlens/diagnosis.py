"""What a workspace answers about faults: what they are, and what is rising."""

from __future__ import annotations

from dataclasses import replace
from typing import Unpack

import pandas as pd

from claimlens.analysis.causes import Kind, causes
from claimlens.analysis.question import Asked, ask
from claimlens.answers import Answers

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
