"""The columns of the review sheet, declared once for writing and for reading."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "CANNOT_TELL",
    "COLUMNS",
    "GUIDE_SHEET",
    "INPUTS",
    "LISTS_SHEET",
    "REVIEW_SHEET",
    "YES_NO",
    "Column",
    "position",
]

GUIDE_SHEET = "instructions"
REVIEW_SHEET = "review"
LISTS_SHEET = "lists"

CANNOT_TELL = "cannot tell"
"""The answer of a reviewer who has looked and found nothing that tells."""

YES_NO = ("yes", "no")


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the review sheet.

    Parameters
    ----------
    name : str
        Its header.
    width : int
        In characters.
    meaning : str
        What stands in it, for the sheet of instructions.
    is_input : bool
        Whether the reviewer fills it.
    """

    name: str
    width: int
    meaning: str
    is_input: bool = False


COLUMNS: tuple[Column, ...] = (
    Column("claim_no", 14, "The claim. Do not change it: answers go by it."),
    Column(
        "reason",
        11,
        "Why it is asked: dangerous, large cost (among the dearest of its "
        "currency), sources disagree (inspection, part and technician name "
        "different components), unsure, audit (drawn by chance, to measure how "
        "often the reading is right: please answer all of these), or second review.",
    ),
    Column("reported_on", 13, "Day of the report."),
    Column("model", 13, "Model of the unit."),
    Column("cost", 12, "What the claim cost, in its own currency."),
    Column("safety", 8, "yes where the texts tell of a danger."),
    Column(
        "text",
        58,
        "What owner and technician wrote, and how it was resolved; long texts "
        "are cut and end in two dots.",
    ),
    Column("evidence", 30, "What decided when the claim was read."),
    Column(
        "suggested_component",
        21,
        "The component that was read; unclassified where nothing decided, empty in "
        "a second review.",
    ),
    Column("suggested_mode", 17, "The failure mode that was read."),
    Column("confidence", 12, "How sure the reading is, 0 to 1."),
    Column(
        "component",
        21,
        "YOUR ANSWER: the failed component, from the list. Where the suggestion is "
        f"right, choose the same word. Choose '{CANNOT_TELL}' where nothing here "
        "tells; leave it empty to answer later.",
        is_input=True,
    ),
    Column(
        "failure_mode",
        19,
        "YOUR ANSWER: how it failed, from the list; empty where only the component "
        "is clear.",
        is_input=True,
    ),
    Column(
        "dangerous",
        11,
        "YOUR ANSWER, if you can give it: yes where the texts tell of a danger (see "
        "'Danger first'), no where they do not.",
        is_input=True,
    ),
    Column(
        "reviewer",
        13,
        "Your name, always written the same way.",
        is_input=True,
    ),
    Column(
        "reviewed_on",
        13,
        "Day of your answer, as YYYY-MM-DD.",
        is_input=True,
    ),
    Column("remark", 28, "Anything worth knowing; it is kept.", is_input=True),
    Column("sample", 11, "The sample that the row belongs to; do not change it."),
    Column("check", 12, "Tells whether claim_no was changed; do not change it."),
)

INPUTS: tuple[str, ...] = tuple(one.name for one in COLUMNS if one.is_input)


def position(name: str) -> int:
    """Return the place of a column, counted from 0."""
    return [one.name for one in COLUMNS].index(name)
