"""Which sections of the month have no news, and fold away on a screen.

A section stays open where it holds what must be decided or what changed, and where
it shows how the month went. Reference that reads the same month after month folds
into one sentence. Nothing is lost: paper shows every section open.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta

import pandas as pd

from claimlens.analysis.comparisons import high_build_runs, high_model_years
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report.rising_sentences import standing
from claimlens.report.to_come_sentences import missed_sentence
from claimlens.report.view import SectionView

__all__ = ["folded"]

# above it, looking at every component makes a window likely by chance
_LEVEL = 0.05
# a change is watched for so long
_WATCHED = timedelta(days=730)
_LONGEST = 160

_HasNews = Callable[[MonthlyInputs], bool]


def folded(
    inputs: MonthlyInputs, sections: Sequence[SectionView]
) -> tuple[SectionView, ...]:
    """Fold the sections without news into one sentence each.

    Parameters
    ----------
    inputs : MonthlyInputs
        What the sections were made from.
    sections : sequence of SectionView
        All of the page, in their order.
    """
    return tuple(
        replace(section, fold=_sentence(section))
        if section.id in _NEWS and not _NEWS[section.id](inputs) and not section.banner
        else section
        for section in sections
    )


def _sentence(section: SectionView) -> str:
    """Return what stands for a folded section: its first finding, else its silence."""
    is_bare = not (section.figure or section.tables or section.listing)
    if is_bare:
        return section.empty or section.heading
    told = section.lead or (section.figure.findings if section.figure else ())
    first = told[0] if told else ""
    if first and len(first) <= _LONGEST:
        return f"No news. {first}"
    return "No news this month; the figures are here."


def _never(_: MonthlyInputs) -> bool:
    return False


def _rising(inputs: MonthlyInputs) -> bool:
    return inputs.rising.judged_on is None or not standing(inputs).empty


def _windows(inputs: MonthlyInputs) -> bool:
    return bool((inputs.rising.windows["adjusted_p"] <= _LEVEL).any())


def _changes(inputs: MonthlyInputs) -> bool:
    frame = inputs.rising.design_changes
    young = frame["starts_on"] >= pd.Timestamp(inputs.meta.as_of - _WATCHED)
    asks = frame["verdict"].isin(["worse", "unchanged"])
    return bool((young | asks).any())


def _words(inputs: MonthlyInputs) -> bool:
    return not inputs.rising.rising_words.empty


def _answers(inputs: MonthlyInputs) -> bool:
    return bool(inputs.answers.overdue)


def _tested(inputs: MonthlyInputs) -> bool:
    return bool(missed_sentence(inputs))


def _ranking(inputs: MonthlyInputs) -> bool:
    return bool(inputs.changes.new_in_top_five)


def _model_years(inputs: MonthlyInputs) -> bool:
    return bool(high_model_years(inputs.rates_by_model_year))


def _build_months(inputs: MonthlyInputs) -> bool:
    return bool(high_build_runs(inputs))


def _account(inputs: MonthlyInputs) -> bool:
    return bool(inputs.quality.rejects)


_NEWS: Mapping[str, _HasNews] = {
    "rising": _rising,
    "windows": _windows,
    "engineering-changes": _changes,
    "words": _words,
    "supplier-answers": _answers,
    "forecast-tested": _tested,
    "ranking": _ranking,
    "model-years": _model_years,
    "ages": _never,
    "build-months": _build_months,
    "curves": _never,
    "life": _never,
    "before-delivery": _never,
    "account": _account,
}
