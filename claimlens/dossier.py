"""From a warehouse to the dossier of one component: counted, drawn, written out."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import date

from claimlens.analysis.question import Question
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.handover import ReportTables, workbook_bytes
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
        One self-contained HTML page.
    workbook : bytes or None
        Its tables; None where they are not wanted.
    """

    component: str
    as_of: date
    page: str
    workbook: bytes | None


def dossier_inputs(
    reading: Reading,
    settings: Settings,
    question: Question,
    *,
    component: str,
    internal: bool = False,
) -> ComponentInputs:
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
    internal : bool, default False
        Keep texts, serials and names as they are.

    Returns
    -------
    ComponentInputs

    Raises
    ------
    InputError
        If there is no such component.
    """
    # what only this report needs takes long to load
    from claimlens.analysis.component import component_inputs, fleet_of
    from claimlens.analysis.component_private import for_others

    only = replace(question, wanted={"component": (component,)})
    with reading(only) as (_, scope):
        [name] = scope.wanted["component"]
    with reading(question) as (session, scope):
        fleet = fleet_of(session, settings, scope, name)
    with reading(only) as (session, scope):
        inputs = component_inputs(
            session, settings, scope, fleet, version=__version__, internal=internal
        )
    return inputs if internal else for_others(inputs)


def component_report(
    reading: Reading,
    settings: Settings,
    question: Question,
    *,
    component: str,
    internal: bool = False,
    with_workbook: bool = True,
) -> Dossier:
    """Count, estimate, draw and render the dossier of one component.

    Parameters
    ----------
    reading, settings, question, component, internal
        As for `dossier_inputs`.
    with_workbook : bool, default True
        Whether its tables are wanted as a workbook.

    Returns
    -------
    Dossier
        The page, and the workbook that goes beside it.
    """
    # drawing takes long to load, and nothing but a page draws
    from claimlens.charts import component as charts_of
    from claimlens.charts.embed import library_bundle
    from claimlens.report.component import render_component

    inputs = dossier_inputs(
        reading, settings, question, component=component, internal=internal
    )
    return Dossier(
        component=inputs.component,
        as_of=inputs.meta.as_of,
        page=render_component(
            inputs, charts_of.build(inputs), library=library_bundle()
        ),
        workbook=workbook_bytes(_tables_of(inputs)) if with_workbook else None,
    )


def _tables_of(inputs: ComponentInputs) -> ReportTables:
    # the words of the page come with what renders it
    from claimlens.report.component_data import component_tables

    return component_tables(inputs)
