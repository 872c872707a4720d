"""The dossier of one component: what stands first, then its sections."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping

from claimlens.analysis.cautions import REMINDER, caution_lines, cautions_of
from claimlens.report import formats
from claimlens.report.component_action import action_sections
from claimlens.report.component_money import money_sections
from claimlens.report.component_points import points
from claimlens.report.component_rates import rate_sections
from claimlens.report.component_repairs import repair_sections
from claimlens.report.component_told import (
    danger_section,
    example_section,
    mode_section,
    told_section,
)
from claimlens.report.component_words import named
from claimlens.report.definitions import definitions
from claimlens.report.document import DocumentView, render_document
from claimlens.report.findings import opened
from claimlens.report.made import made
from claimlens.report.provenance import provenance
from claimlens.report.view import SectionView, TableView, text_columns
from claimlens.report.waiting import ROLES
from claimlens.report_inputs.component import ComponentInputs
from claimlens.results import ChartHtml

__all__ = ["component_view", "fixed_texts", "render_component"]

_OUTSIDE = (
    "Names are removed and texts redacted by rules, which can miss something: read it "
    "before you send it."
)
_INSIDE = "Internal: not to leave the company. Texts and serials stand as they are."


def render_component(
    inputs: ComponentInputs, charts: Mapping[str, ChartHtml], *, library: str = ""
) -> str:
    """Render the dossier of a component as one self-contained page.

    Parameters
    ----------
    inputs : ComponentInputs
        Frames and scalars.
    charts : mapping of str to ChartHtml
        From ``claimlens.charts.component.build``.
    library : str, optional
        Drawing libraries; without them the charts stay static pictures.

    Returns
    -------
    str
        HTML, the same bytes for the same inputs.
    """
    return render_document(
        component_view(inputs, charts),
        charts,
        made=made(
            inputs.meta,
            report="component",
            subject=inputs.component,
            internal=inputs.internal,
        ),
        library=library,
    )


def fixed_texts(inputs: ComponentInputs) -> Iterator[str]:
    """Yield the texts of the page that hold nothing of the claims.

    Parameters
    ----------
    inputs : ComponentInputs
        For the dates in them.
    """
    view = component_view(inputs, {})
    for pairs in (view.definitions, view.cautions):
        for term, meaning in pairs:
            yield term
            yield meaning
    for section in view.sections:
        yield section.heading
        yield from section.reading
    yield from (view.points_heading, view.notice, view.closing)
    # who acts, and the words beside it
    yield from ("how sure, cost, to do", *inputs.meta.roles.values(), *ROLES)


def component_view(
    inputs: ComponentInputs, charts: Mapping[str, ChartHtml]
) -> DocumentView:
    """Turn inputs and charts into the texts of the page."""
    meta, name = inputs.meta, opened(named(inputs.component))
    known = (
        f"known by {formats.day(meta.as_known)}"
        if meta.as_known
        else "all that was loaded"
    )
    return DocumentView(
        title=f"{name}: dossier of a fault, {meta.workspace}",
        workspace=meta.workspace,
        heading=name,
        basis=(
            f"Dossier of one component. Cut-off {formats.day(meta.as_of)}, {known}."
        ),
        notice=_INSIDE if inputs.internal else _OUTSIDE,
        points_heading="What is wrong, how sure it is, and what to do",
        points=points(inputs),
        quiet=(
            f"No claim of the {named(inputs.component)} was reported up to the "
            "cut-off, so there is nothing to tell of it. If that surprises you: "
            "claimlens tally --by component shows what claims were read as."
        ),
        cautions=_cautions(inputs),
        sections=_sections(inputs, charts),
        definitions=definitions(meta),
        provenance=provenance(meta),
        closing=REMINDER,
    )


def _cautions(inputs: ComponentInputs) -> tuple[tuple[str, str], ...]:
    """Return the cautions that its dangers ask for, else those of its checks."""
    if inputs.dangers:
        return caution_lines(inputs.dangers)
    return cautions_of([inputs.component])


def _sections(
    inputs: ComponentInputs, charts: Mapping[str, ChartHtml]
) -> tuple[SectionView, ...]:
    if not inputs.place.claims:
        return ()
    months, *rates = rate_sections(inputs, charts)
    return (
        danger_section(inputs),
        told_section(inputs),
        mode_section(inputs),
        months,
        *rates,
        *action_sections(inputs, charts),
        *repair_sections(inputs),
        *money_sections(inputs, charts),
        example_section(inputs),
        _ask_again(inputs),
    )


def _ask_again(inputs: ComponentInputs) -> SectionView:
    """Name the command behind each figure."""
    meta = inputs.meta
    name = shlex.quote(inputs.component)
    day = f"--as-of {meta.as_of}" + (
        f" --as-known {meta.as_known}" if meta.as_known else ""
    )
    only = f"--component {name} {day}"
    rows = (
        ("share failed by age", f"claimlens rates {only}"),
        (
            "by model year, model, supplier",
            f"claimlens rates --by component,model_year --at 12 {only}",
        ),
        ("place among all components", f"claimlens rates --at 12 {day}"),
        ("life", f"claimlens life {only}"),
        ("signals", f"claimlens signals {day}"),
        ("production windows", f"claimlens windows {day}"),
        ("engineering changes", f"claimlens change CHANGE_NO {day}"),
        ("repeat repairs, no fault found", f"claimlens repeats {only}"),
        ("units that came back", f"claimlens repeats --units --least 2 {only}"),
        ("failure modes", f"claimlens tally --by failure_mode {only}"),
        ("cost of a claim", f"claimlens severity {only}"),
        ("claims to come", f"claimlens forecast --total {only}"),
        ("reserve", f"claimlens reserve {only}"),
    )
    return SectionView(
        id="ask-again",
        heading="Where the figures come from",
        basis="Each figure can be asked again by itself, with these words.",
        tables=(
            TableView(
                "ask-again-table",
                "Figures and the commands that tell them",
                text_columns("figure", "command"),
                rows,
            ),
        ),
    )
