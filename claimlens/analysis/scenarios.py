"""What would come if the cover were longer, a change undone, sales otherwise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from claimlens.analysis.change import find_change
from claimlens.analysis.cover import watch_until
from claimlens.analysis.cover_terms import put_cover
from claimlens.analysis.forecast_counts import Ahead, horizon_of, units_ahead
from claimlens.analysis.planned_sales import with_sales
from claimlens.classify.taxonomy import Taxonomy
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.ingest.short_lists import ListRow
from claimlens.settings import Settings

__all__ = ["AS_IT_IS", "Scenario", "in_scenario", "with_cover", "without_changes"]

_LONGEST = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """What is otherwise in the months to come.

    Parameters
    ----------
    sales : list of ListRow, optional
        Planned sales: see `claimlens.analysis.planned_sales.read_sales`.
    coverage : int, optional
        Months that every cover lasts.
    without : tuple of str
        Numbers of engineering changes taken as not made.
    """

    sales: list[ListRow] | None = None
    coverage: int | None = None
    without: tuple[str, ...] = ()


AS_IT_IS = Scenario()
"""Nothing is otherwise."""


def in_scenario(
    session: Session,
    settings: Settings,
    taxonomy: Taxonomy,
    ahead: Ahead,
    scenario: Scenario,
) -> Ahead:
    """Put a scenario in force for the months to come.

    Parameters
    ----------
    session, settings, taxonomy, ahead
        As for `with_cover`.
    scenario : Scenario
        What is otherwise.

    Returns
    -------
    Ahead

    Raises
    ------
    InputError
        If there is no such change or model, or no such cover.
    """
    if scenario.coverage is not None:
        ahead = with_cover(session, settings, taxonomy, ahead, months=scenario.coverage)
    if scenario.without:
        ahead = without_changes(session, ahead, scenario.without)
    if scenario.sales:
        ahead = with_sales(ahead, scenario.sales)
    return ahead


def without_changes(session: Session, ahead: Ahead, numbers: Sequence[str]) -> Ahead:
    """Take engineering changes as not made in the months to come.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables and ``component_words``.
    ahead : Ahead
        From `count_ahead`.
    numbers : sequence of str
        Their numbers; capitals do not matter.

    Returns
    -------
    Ahead

    Raises
    ------
    InputError
        See `claimlens.analysis.change.find_change`.
    """
    undone = tuple(find_change(session, number)[0].change_no for number in numbers)
    return replace(ahead, undone=undone)


def with_cover(
    session: Session,
    settings: Settings,
    taxonomy: Taxonomy,
    ahead: Ahead,
    *,
    months: int,
) -> Ahead:
    """Put another cover in force for the months to come.

    Every cover is as long as asked for from the cut-off on, also that of units whose
    own has ended; what the past tells stays as it was. Limits by distance, laws and
    what repairs add stay too; what is never covered stays so.

    Parameters
    ----------
    session : Session
        With the tables of `count_ahead`; ``int_cover`` and ``int_watch`` are made
        anew.
    settings : Settings
        The cover as it is.
    taxonomy : Taxonomy
        The components that terms name.
    ahead : Ahead
        From `count_ahead`.
    months : int
        Months of cover, 1 to 120.

    Returns
    -------
    Ahead

    Raises
    ------
    InputError
        If the months are out of range.
    """
    if not 1 <= months <= _LONGEST:
        raise InputError(
            f"A cover lasts 1 to {_LONGEST} months; got {months}.",
            remedy="use --coverage with such a number",
        )
    cover = settings.coverage
    terms = tuple(
        term.model_copy(update={"months": months}) if term.months else term
        for term in cover.terms
    )
    longer = settings.model_copy(
        update={
            "coverage": cover.model_copy(
                update={"months": months if cover.months else 0, "terms": terms}
            )
        }
    )
    put_cover(session, longer, taxonomy)
    session.run("intermediate/int_cover")
    watch_until(session, longer, horizon_of(ahead.as_of, ahead.months))
    return replace(ahead, later=units_ahead(session, ahead.unit_keys))
