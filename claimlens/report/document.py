"""A report on one subject: what stands first, then its sections, on one page."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from claimlens.monthly_inputs import MadeBy
from claimlens.report.render import render_page
from claimlens.report.view import SectionView
from claimlens.results import ChartHtml

__all__ = ["DocumentView", "PointView", "render_document"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PointView:
    """One thing that the first screen says.

    Parameters
    ----------
    sign : str
        A shape that goes with the gravity; not read aloud. Empty for none.
    what : str
        What is wrong, in one sentence with its figure.
    sure : str
        How sure that is.
    cost : str
        What it costs, or what waiting costs.
    act : str
        Who does what, and by when.
    """

    sign: str = ""
    what: str
    sure: str
    cost: str
    act: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentView:
    """Everything that the template of a report on one subject prints, as text.

    Parameters
    ----------
    title : str
        Of the window.
    workspace : str
        Who makes the report.
    heading : str
        What it is about.
    basis : str
        Cut-off, and what was known.
    notice : str
        Who it is for and what was removed; empty for nothing.
    points_heading : str
        Over the first screen.
    points : tuple of PointView
        Gravest first.
    quiet : str
        Stands where there is no point.
    cautions : tuple of (str, str)
        Heading and text of what to heed at work; empty for none.
    sections : tuple of SectionView
        Below.
    definitions, provenance : tuple of (str, str)
        At the foot.
    closing : str
        The last line.
    """

    title: str
    workspace: str
    heading: str
    basis: str
    notice: str = ""
    points_heading: str
    points: tuple[PointView, ...]
    quiet: str
    cautions: tuple[tuple[str, str], ...] = ()
    sections: tuple[SectionView, ...]
    definitions: tuple[tuple[str, str], ...]
    provenance: tuple[tuple[str, str], ...]
    closing: str


def render_document(
    view: DocumentView,
    charts: Mapping[str, ChartHtml],
    *,
    made: MadeBy,
    library: str = "",
) -> str:
    """Render a report on one subject as one self-contained page.

    Parameters
    ----------
    view : DocumentView
        The texts.
    charts : mapping of str to ChartHtml
        Those of its sections.
    made : MadeBy
        What makes it.
    library : str, optional
        Drawing libraries; without them the charts stay static pictures.

    Returns
    -------
    str
        HTML, the same bytes for the same arguments.
    """
    return render_page(
        "document.html.j2",
        {"view": view},
        made=made,
        charts=[*charts.values()],
        library=library,
        styles=["document.css"],
    )
