"""Write the sheet of instructions."""

from __future__ import annotations

from typing import Any

from claimlens.classify.taxonomy import ModeKind, Taxonomy
from claimlens.handover import neutral
from claimlens.review.columns import CANNOT_TELL, COLUMNS
from claimlens.review.guidance import CAUTIONS, STEPS, seams
from claimlens.review.heights import height_of
from claimlens.review.sample import Sample

__all__ = ["write_guide"]

_WIDTH = 100
_KINDS: dict[ModeKind, str] = {
    "cause": "why it failed",
    "symptom": "where no cause is told",
    "verdict": "what was concluded",
}


def write_guide(page: Any, book: Any, sample: Sample, taxonomy: Taxonomy) -> None:
    """Write how to fill the workbook, what is dangerous, and which words there are.

    Parameters
    ----------
    page, book
        The sheet and its workbook.
    sample : Sample
        What is asked.
    taxonomy : Taxonomy
        In force.
    """
    title = book.add_format({"bold": True, "font_size": 16})
    head = book.add_format({"bold": True, "font_size": 12, "bottom": 1})
    word = book.add_format({"bold": True, "valign": "top"})
    text = book.add_format({"text_wrap": True, "valign": "top"})
    page.set_column(0, 0, 22)
    page.set_column(1, 1, _WIDTH)
    page.hide_gridlines(2)
    page.write_string(0, 0, "Review of warranty claims", title)
    row = 2
    for heading, lines in _sections(sample, taxonomy):
        page.write_string(row, 0, heading, head)
        page.write_blank(row, 1, None, head)
        for left, right in lines:
            row += 1
            page.set_row(row, height_of((right,), (_WIDTH,)))
            page.write_string(row, 0, neutral(left), word)
            page.write_string(row, 1, neutral(right), text)
        row += 2
    page.protect()
    page.set_portrait()
    page.set_paper(9)
    page.fit_to_pages(1, 1)
    page.set_footer("&L&A&RPage &P of &N")


def _sections(
    sample: Sample, taxonomy: Taxonomy
) -> list[tuple[str, list[tuple[str, str]]]]:
    """Return headings, each with its lines of two cells."""
    reasons = sample.rows["reason"].value_counts(sort=False)
    counts = [f"{n} {reason}" for reason, n in reasons.items()]
    asked = [
        ("sample", sample.name),
        ("claims up to", str(sample.as_of)),
        ("rows", f"{len(sample.rows)}: {', '.join(counts)}"),
    ]
    answers = [
        ("to choose from", ", ".join(taxonomy.components)),
        (CANNOT_TELL, "where nothing in the texts tells"),
    ]
    modes = [
        (what, ", ".join(m.name for m in taxonomy.modes.values() if m.kind == kind))
        for kind, what in _KINDS.items()
    ]
    return [
        ("Danger first", [("!", line) for line in CAUTIONS]),
        ("How to fill it", _numbered(STEPS)),
        ("Where components meet", [("", rule) for rule in seams(taxonomy)]),
        ("What is asked", asked),
        ("Columns", [(one.name, one.meaning) for one in COLUMNS]),
        ("Components", answers),
        ("Failure modes", modes),
    ]


def _numbered(lines: tuple[str, ...]) -> list[tuple[str, str]]:
    return [(str(number), line) for number, line in enumerate(lines, start=1)]
