"""The pack for a supplier: what stands first, then evidence, questions and claims."""

from __future__ import annotations

from collections.abc import Mapping

from claimlens.analysis.cautions import REMINDER, cautions_of
from claimlens.report import formats
from claimlens.report.definitions import definitions
from claimlens.report.document import DocumentView, render_document
from claimlens.report.made import made
from claimlens.report.provenance import provenance
from claimlens.report.supplier_answers import answer_sections
from claimlens.report.supplier_money import claim_section, statement_sections
from claimlens.report.supplier_points import points
from claimlens.report.supplier_rates import rate_sections
from claimlens.report.supplier_words import topics
from claimlens.report_inputs.supplier import SupplierInputs
from claimlens.results import ChartHtml

__all__ = ["render_supplier", "supplier_view"]


def render_supplier(
    inputs: SupplierInputs, charts: Mapping[str, ChartHtml], *, library: str = ""
) -> str:
    """Render the pack for a supplier as one self-contained page.

    Parameters
    ----------
    inputs : SupplierInputs
        Frames and scalars, free of personal data.
    charts : mapping of str to ChartHtml
        From ``claimlens.charts.supplier.build``.
    library : str, optional
        Drawing libraries; without them the charts stay static pictures.

    Returns
    -------
    str
        HTML, the same bytes for the same inputs.
    """
    return render_document(
        supplier_view(inputs, charts),
        charts,
        made=made(inputs.meta, report="supplier", subject=inputs.supplier),
        library=library,
    )


def supplier_view(
    inputs: SupplierInputs, charts: Mapping[str, ChartHtml]
) -> DocumentView:
    """Turn inputs and charts into the texts of the page.

    Parameters
    ----------
    inputs : SupplierInputs
        Frames and scalars.
    charts : mapping of str to ChartHtml
        Its charts.
    """
    meta = inputs.meta
    asked, sheets = answer_sections(inputs)
    known = (
        f"known by {formats.day(meta.as_known)}"
        if meta.as_known
        else "all that was loaded"
    )
    dangers = [
        str(component)
        for topic in topics(inputs)
        if topic.kind == "danger"
        for component in topic.row["components"]
    ]
    return DocumentView(
        title=f"Warranty claims on parts of {inputs.supplier}: {meta.workspace}",
        workspace=f"{meta.workspace} to {inputs.supplier}",
        heading=f"Warranty claims on your parts, {formats.month_name(meta.as_of)}",
        basis=f"Cut-off {formats.day(meta.as_of)}; {known}.",
        notice=(
            "For the addressee. Names, addresses and other personal data, dealers and "
            "other suppliers are taken out by rules."
        ),
        points_heading="What we ask of you",
        points=points(inputs),
        quiet=(
            "Nothing stands out in these figures: no part of yours fails more than "
            "chance and age explain, and no answer is overdue."
            if len(inputs.claims)
            else "No claim on your parts was reported up to the cut-off."
        ),
        cautions=cautions_of(dangers) if dangers else (),
        sections=(
            asked,
            *rate_sections(inputs, charts),
            sheets,
            *statement_sections(inputs),
            claim_section(inputs),
        ),
        definitions=definitions(meta),
        provenance=provenance(meta),
        closing=REMINDER,
    )
