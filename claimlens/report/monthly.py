"""The monthly report: its sections in order, from inputs and charts to one page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from claimlens.analysis.cautions import caution_lines
from claimlens.language import _, ngettext
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import findings, formats, monthly_sections, monthly_tables
from claimlens.report.decisions import danger, decisions
from claimlens.report.definitions import definitions
from claimlens.report.folding import folded
from claimlens.report.made import made
from claimlens.report.provenance import provenance
from claimlens.report.render import render_page
from claimlens.report.safety_section import safety_sentence, safety_table
from claimlens.report.view import DecisionView, SectionView, TableView
from claimlens.results import ChartHtml

__all__ = ["MonthlyView", "render_monthly", "view"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthlyView:
    """Everything that the template of the month prints, as text."""

    title: str
    workspace: str
    month: str
    cut_off: str
    known: str
    danger: DecisionView | None
    safety_sentence: str
    safety: TableView | None
    cautions: tuple[tuple[str, str], ...]
    decisions: tuple[DecisionView, ...]
    smaller: tuple[DecisionView, ...]
    smaller_said: str
    changes: tuple[str, ...]
    changes_table: TableView
    sections: tuple[SectionView, ...]
    definitions: tuple[tuple[str, str], ...]
    classes: TableView
    inputs_table: TableView
    provenance: tuple[tuple[str, str], ...]


def render_monthly(
    inputs: MonthlyInputs, charts: Mapping[str, ChartHtml], *, library: str = ""
) -> str:
    """Render the monthly report as one self-contained page.

    Parameters
    ----------
    inputs : MonthlyInputs
        Frames and scalars.
    charts : mapping of str to ChartHtml
        From ``claimlens.charts.monthly.build``; a missing chart leaves a
        sentence in its place.
    library : str, optional
        From ``claimlens.charts.embed.library_bundle``. Without it the charts
        stay static pictures and no script is on the page.

    Returns
    -------
    str
        HTML, the same bytes for the same inputs.
    """
    return render_page(
        "monthly.html.j2",
        {"view": view(inputs, charts)},
        made=made(inputs.meta),
        charts=[*charts.values()],
        library=library,
    )


def view(inputs: MonthlyInputs, charts: Mapping[str, ChartHtml]) -> MonthlyView:
    """Turn inputs and charts into the texts of the page."""
    meta = inputs.meta
    month = formats.month_name(inputs.changes.this_month.month)
    claims = inputs.changes.safety_claims
    sections = folded(inputs, monthly_sections.sections(inputs, charts))
    found = decisions(inputs)
    now, later = (_linked(part, sections) for part in (found.now, found.later))
    return MonthlyView(
        title=_("Warranty claims, {month}: {workspace}").format(
            month=month, workspace=meta.workspace
        ),
        workspace=meta.workspace,
        month=month,
        cut_off=formats.day(meta.as_of),
        known=(
            _("known by {day}").format(day=formats.day(meta.as_known))
            if meta.as_known
            else _("all that was loaded")
        ),
        danger=danger(inputs),
        safety_sentence=safety_sentence(claims, month),
        safety=safety_table(inputs) if claims else None,
        cautions=tuple((_(head), _(text)) for head, text in caution_lines(claims)),
        decisions=now,
        smaller=later,
        smaller_said=_smaller(later),
        changes=findings.changes(inputs),
        changes_table=monthly_tables.changes(inputs),
        sections=sections,
        definitions=definitions(meta),
        classes=monthly_tables.classes(inputs),
        inputs_table=monthly_tables.inputs_read(inputs),
        provenance=provenance(inputs.meta),
    )


def _linked(
    found: Sequence[DecisionView], sections: Sequence[SectionView]
) -> tuple[DecisionView, ...]:
    """Name the section that tells more by its heading; none where there is none."""
    headings = {section.id: section.heading for section in sections}
    return tuple(
        replace(
            item,
            where=item.where if item.where in headings else "",
            where_text=headings.get(item.where, ""),
        )
        for item in found
    )


def _smaller(later: Sequence[DecisionView]) -> str:
    """Say how many matters can wait."""
    if not later:
        return ""
    return ngettext(
        "{number} smaller matter that can wait, and keeping house",
        "{number} smaller matters that can wait, and keeping house",
        len(later),
    ).format(number=formats.count(len(later)))
