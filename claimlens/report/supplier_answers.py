"""Sections of the supplier pack that ask for answers and for a plan."""

from __future__ import annotations

import pandas as pd

from claimlens.report import formats
from claimlens.report.findings import opened
from claimlens.report.production_section import span
from claimlens.report.supplier_words import (
    Topic,
    due_on,
    topics,
)
from claimlens.report.view import (
    SectionView,
    TableView,
    text_columns,
)
from claimlens.report_inputs.supplier import SupplierInputs

__all__ = ["answer_sections", "questions"]

_SHEETS = 3
# What is asked for each finding (common practice, no source).
_ASKED = {
    "danger": (
        "Do you know of such cases with other customers? What must be done at once "
        "with units in use, parts in stock and parts on the way?"
    ),
    "rate": (
        "What differs between your part and what is usual for it: design, material, "
        "process, test? From which delivery on will it be better?"
    ),
    "window": (
        "Which of your lots and production dates went into these units? What changed "
        "in material, process, tooling or test at that time? Which other deliveries "
        "are affected?"
    ),
    "lot": (
        "What is different in this lot? Where else did it go, and what is left of it?"
    ),
    "sound": (
        "How do you test returned parts? Which test would show what the owners report?"
    ),
    "fault": "What did your analysis of the parts with a confirmed fault show?",
}
# The usual steps of the trade (common practice, no source).
_STEPS = (
    (
        "Containment",
        "What protects units in use, stock at both places and goods on the way, and "
        "since when?",
    ),
    (
        "Cause",
        "Why did the fault arise, why was it not found before delivery, and how was "
        "that shown?",
    ),
    ("Correction", "What is changed, from which date, lot or serial number on?"),
    (
        "Proof",
        "Which test or which figures show that the change works, and by when?",
    ),
    (
        "Prevention",
        "What keeps it from coming back, here and in similar parts (drawings, work "
        "instructions, checks, training)?",
    ),
)


def answer_sections(inputs: SupplierInputs) -> tuple[SectionView, ...]:
    """Return the questions, and the sheets to fill in.

    Parameters
    ----------
    inputs : SupplierInputs
        Frames and scalars.
    """
    return (
        _questions(inputs),
        _corrective_action(inputs),
    )


def questions(inputs: SupplierInputs) -> pd.DataFrame:
    """Return what is asked: ``question_no, component, finding, question, due_on``."""
    month = f"{inputs.meta.as_of:%Y-%m}"
    rows = [
        (
            f"Q{month}-{place}",
            topic.component,
            _evidence(topic),
            _ASKED[topic.kind],
            pd.Timestamp(due_on(inputs)),
        )
        for place, topic in enumerate(topics(inputs), start=1)
    ]
    return pd.DataFrame(
        rows, columns=["question_no", "component", "finding", "question", "due_on"]
    )


def _evidence(topic: Topic) -> str:
    """Say in a few words what a question rests on."""
    row = topic.row
    hint = " (a hint)" if topic.is_hint else ""
    told = {
        "danger": lambda: (
            f"claims of the last 12 months that tell of a danger: {row['by']}"
        ),
        "rate": lambda: (
            f"{formats.ratio(row['rate_ratio'])} times as many failures as with other "
            "suppliers"
        ),
        "window": lambda: (
            f"units built in {span(row['from_date'], row['to_date'])}: "
            f"{formats.ratio(row['rate_ratio'])} times as many failures{hint}"
        ),
        "lot": lambda: (
            f"lot {row['lot']}: {formats.ratio(row['rate_ratio'])} times as many "
            "failures"
        ),
        "sound": lambda: (
            f"{formats.count(row['sound'])} of {formats.count(row['inspected'])} "
            "inspected parts had no fault"
        ),
        "fault": lambda: (
            f"{formats.count(row['confirmed'])} of {formats.count(row['inspected'])} "
            "inspected parts had a confirmed fault"
        ),
    }
    return told[topic.kind]()


def _questions(inputs: SupplierInputs) -> SectionView:
    frame = questions(inputs)
    return SectionView(
        id="questions",
        heading="Questions that need an answer",
        basis=f"An answer is due by {formats.day(due_on(inputs))}.",
        reading=(
            "Please answer under these numbers, so that the answer is found again in "
            "the next report.",
        )
        if len(frame)
        else (),
        tables=(
            TableView(
                "questions-table",
                "What is asked, and what it rests on",
                text_columns("number", "component", "rests on", "question"),
                tuple(
                    tuple(str(cell) for cell in row[:4])
                    for row in frame.itertuples(index=False, name=None)
                ),
            ),
        )
        if len(frame)
        else (),
        empty="Nothing in these figures asks for an answer this month.",
    )


def _corrective_action(inputs: SupplierInputs) -> SectionView:
    asked = list(
        dict.fromkeys(
            topic.component for topic in topics(inputs) if topic.kind != "danger"
        )
    )
    named = asked[:_SHEETS] or [""]
    return SectionView(
        id="corrective-action",
        heading="Corrective action, to be filled in",
        basis=(
            "One sheet for each component; what is written here comes back with date "
            "and name."
        ),
        tables=tuple(
            TableView(
                f"corrective-action-{place}",
                f"Corrective action: {opened(component) or 'component: '}",
                text_columns("step", "what it must tell", "answer", "who", "by when"),
                tuple((step, told, "", "", "") for step, told in _STEPS),
            )
            for place, component in enumerate(named, start=1)
        ),
    )
