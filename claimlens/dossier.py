"""From a warehouse to the dossier of one component: counted, drawn, written out."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import date

from claimlens.analysis.question import Question
from claimlens.analysis.scope import Scope
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.handover import ReportTables, figures_digest, workbook_bytes
from claimlens.redact import Redactor
from claimlens.report_inputs.component import ComponentInputs
from claimlens.settings import Settings
from claimlens.version import __version__

__all__ = ["Dossier", "Reading", "component_report", "dossier_inputs"]

Reading = Callable[[Question], AbstractContextManager[tuple[Session, Scope]]]
"""Opens the warehouse for a question; one session at a time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dossier:
    """The dossier of one component as it leaves.

    Parameters
    ----------
    component : str
        As the taxonomy calls it.
    as_of : date
        Cut-off in force.
    page : str
        One self-contained HTML page; empty where it is not wanted.
    tables : ReportTables
        What it tells, as raw data.
    workbook : bytes or None
        Its tables; None where they are not wanted.
    """

    component: str
    as_of: date
    page: str
    tables: ReportTables
    workbook: bytes | None


def dossier_inputs(
    reading: Reading,
    settings: Settings,
    question: Question,
    *,
    component: str,
    terms: Terms,
    internal: bool = False,
) -> tuple[ComponentInputs, Redactor | None]:
    """Count and estimate what the dossier of a component tells.

    Parameters
    ----------
    reading : callable
        Opens a session for a question.
    settings : Settings
        The workspace's.
    question : Question
        Cut-off and known-by date.
    component : str
        As given; any spelling that the taxonomy knows.
    terms : Terms
        For the names of components and the languages.
    internal : bool, default False
        Keep texts, serials and names as they are.

    Returns
    -------
    inputs : ComponentInputs
    redactor : Redactor or None
        What took personal data out, for a second look; None where nothing did.

    Raises
    ------
    InputError
        If there is no such component.
    """
    # what only this report needs takes long to load
    from claimlens.analysis.component import component_inputs, fleet_of
    from claimlens.analysis.component_private import for_others, for_us
    from claimlens.analysis.private import redactor_of

    only = replace(question, wanted={"component": (component,)})
    with reading(only) as (_, scope):
        [name] = scope.wanted["component"]
    with reading(question) as (session, scope):
        fleet = fleet_of(session, settings, scope, name)
    with reading(only) as (session, scope):
        inputs = component_inputs(
            session,
            settings,
            scope,
            fleet,
            terms=terms,
            version=__version__,
            internal=internal,
        )
        if internal:
            return for_us(inputs), None
        kept = [*terms.taxonomy.components, *terms.taxonomy.modes]
        redactor = redactor_of(session, settings, words=kept)
    return for_others(inputs, redactor), redactor


def component_report(
    reading: Reading,
    settings: Settings,
    question: Question,
    *,
    component: str,
    terms: Terms,
    internal: bool = False,
    with_page: bool = True,
    with_workbook: bool = True,
) -> Dossier:
    """Count, estimate, draw and render the dossier of one component.

    Parameters
    ----------
    reading, settings, question, component, terms, internal
        As for `dossier_inputs`.
    with_page, with_workbook : bool, default True
        What is wanted beside the tables.

    Returns
    -------
    Dossier
        The page, and the workbook that goes beside it.

    Raises
    ------
    InputError
        If there is no such component.
    ReportError
        If something personal is left in a page that may leave the company.
    """
    # what only this report needs takes long to load
    from claimlens.report.component import fixed_texts, render_component
    from claimlens.report.component_data import component_tables
    from claimlens.report.leaks import own_words, refuse_leaks

    inputs, redactor = dossier_inputs(
        reading,
        settings,
        question,
        component=component,
        terms=terms,
        internal=internal,
    )
    tables = component_tables(inputs)
    page = ""
    if with_page:
        figures = figures_digest(tables)
        inputs = replace(inputs, meta=replace(inputs.meta, figures=figures))
        from claimlens.charts import component as charts_of
        from claimlens.charts.embed import library_bundle

        page = render_component(
            inputs, charts_of.build(inputs), library=library_bundle()
        )
    if redactor is not None:
        refuse_leaks(page, tables, redactor, own_words(fixed_texts(inputs)))
    return Dossier(
        component=inputs.component,
        as_of=inputs.meta.as_of,
        page=page,
        tables=tables,
        workbook=workbook_bytes(tables) if with_workbook else None,
    )
