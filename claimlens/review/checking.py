"""Judge the answers of a workbook: all of them, before any is taken."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from difflib import get_close_matches

from claimlens.classify.taxonomy import Taxonomy
from claimlens.errors import InputError
from claimlens.ingest import dates
from claimlens.review.columns import CANNOT_TELL, YES_NO
from claimlens.review.fingerprint import check_word
from claimlens.review.returned import Cell, Row

__all__ = ["Answer", "Known", "judge"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One accepted answer.

    Parameters
    ----------
    claim_no, reviewer : str
        Whose answer about what.
    component : str
        A word of the taxonomy, or "cannot tell".
    failure_mode : str or None
        A word of the taxonomy; None where none was given.
    dangerous : str or None
        yes or no; None where the reviewer did not say.
    reviewed_on : date
        Day of the answer.
    remark : str
        Free text, empty where there is none.
    sample : str
        The sample that asked.
    row : int
        Row of the sheet.
    """

    claim_no: str
    component: str
    failure_mode: str | None
    dangerous: str | None
    reviewer: str
    reviewed_on: date
    remark: str
    sample: str
    row: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What answers are judged against.

    Parameters
    ----------
    taxonomy : Taxonomy
        In force, the names of an earlier one among its spellings.
    reported_on : dict of str to date
        The claims that are there.
    newest : date
        Newest report in the warehouse.
    reviewers : tuple of str
        Names of earlier answers.
    renamed : tuple of dict
        Names of an earlier taxonomy: of components, of failure modes.
    handed_out : dict of str to tuple of str
        The claims of each sample that the workbook names, where it is kept.
    """

    taxonomy: Taxonomy
    reported_on: dict[str, date]
    newest: date
    reviewers: tuple[str, ...] = ()
    renamed: tuple[dict[str, str], dict[str, str]] = ({}, {})
    handed_out: dict[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(slots=True)
class _Judge:
    """Collects what is wrong and what is to be told, row by row."""

    known: Known
    reviewer: str | None
    reviewed_on: date | None
    faults: list[str] = field(default_factory=list)
    unanswered: int = 0
    future: int = 0
    renamed: int = 0
    spelt: dict[str, str] = field(default_factory=dict)

    def fault(self, cell: Cell, problem: str) -> None:
        self.faults.append(f"{cell.place}: {problem}")


def judge(
    rows: list[Row],
    known: Known,
    *,
    reviewer: str | None = None,
    reviewed_on: date | None = None,
) -> tuple[list[Answer], list[str], list[str]]:
    """Judge every row.

    Parameters
    ----------
    rows : list of Row
        As read.
    known : Known
        What they are judged against.
    reviewer : str, optional
        Where a row names none.
    reviewed_on : date, optional
        Where a row names none.

    Returns
    -------
    answers : list of Answer
        Those of the rows with a component.
    faults : list of str
        Every fault with its place; answers count only where there is none.
    notes : list of str
        What is accepted and yet worth a look.
    """
    judge = _Judge(known, (reviewer or "").strip() or None, reviewed_on)
    answers: list[Answer] = []
    seen: dict[tuple[str, str], int] = {}
    for row in rows:
        if not row["component"].text:
            _pass_over(judge, row)
            continue
        before = len(judge.faults)
        answer = _answer(judge, row)
        if answer is None or len(judge.faults) > before:
            continue
        key = (answer.claim_no, answer.reviewer)
        if key in seen:
            judge.fault(
                row["claim_no"],
                f"{answer.claim_no!r} is answered by {answer.reviewer} in row "
                f"{seen[key]} already; keep one of the two",
            )
        seen.setdefault(key, answer.row)
        answers.append(answer)
    return answers, judge.faults, _notes(judge)


def _pass_over(judge: _Judge, row: Row) -> None:
    """Pass over a row without a component, unless an answer would be lost."""
    mode = row["failure_mode"]
    if mode.text:
        judge.fault(
            row["component"],
            f"is empty, but failure_mode says {mode.text!r}; choose the component "
            f"too, or {CANNOT_TELL!r}",
        )
    elif row["claim_no"].text:
        judge.unanswered += 1


def _answer(judge: _Judge, row: Row) -> Answer | None:
    """Return the answer of a row; None where something is wrong."""
    for name in ("claim_no", "sample", "check"):
        if row[name].is_formula:
            judge.fault(row[name], "holds a formula; put the key back as it was")
            return None
    for name in ("component", "failure_mode", "dangerous", "reviewer", "reviewed_on"):
        cell = row.get(name)
        if cell is not None and cell.is_formula:
            judge.fault(cell, f"holds a formula in {name}; write its value")
            return None
    claim_no = _claim_no(judge, row)
    component, mode = _words(judge, row)
    danger = _danger(judge, row)
    who, day = _reviewer(judge, row), _day(judge, row, claim_no)
    if claim_no is None or component is None or who is None or day is None:
        return None
    remark = row.get("remark")
    return Answer(
        claim_no=claim_no,
        component=component,
        failure_mode=mode,
        dangerous=danger,
        reviewer=who,
        reviewed_on=day,
        remark=remark.text if remark is not None else "",
        sample=row["sample"].text,
        row=row["claim_no"].place.row,
    )


def _claim_no(judge: _Judge, row: Row) -> str | None:
    """Return the claim of a row, its check word tried."""
    cell, sample, check = row["claim_no"], row["sample"], row["check"]
    claim_no, day = cell.text, sample.value
    # a spreadsheet may have turned the name of the sample into a day
    name = day.date().isoformat() if isinstance(day, datetime) else sample.text
    if not claim_no:
        judge.fault(
            cell, "is empty, but the row holds an answer; put the claim number back"
        )
        return None
    word = check_word(name, claim_no)
    if check.text.lower() != word:
        judge.fault(cell, _changed_key(judge, claim_no, name, check.text.lower(), word))
        return None
    if claim_no not in judge.known.reported_on:
        judge.fault(
            cell,
            f"there is no claim {claim_no!r} in the warehouse: it was deleted since, "
            "or the workbook is of another workspace; empty the component of this "
            "row",
        )
        return None
    return claim_no


def _changed_key(
    judge: _Judge, claim_no: str, sample: str, given: str, right: str
) -> str:
    """Return what became of a key, as far as what was handed out tells."""
    asked = judge.known.handed_out.get(sample, ())
    first = next((one for one in asked if check_word(sample, one) == given), None)
    if first is not None:
        return f"claim_no was {first!r} and says {claim_no!r}; put {first!r} back"
    if claim_no in asked:
        return (
            f"the check word of claim {claim_no!r} was changed; if the row is that of "
            f"this claim, put {right!r} back into the column check"
        )
    return (
        f"claim_no {claim_no!r}, sample {sample!r} and check {given!r} do not go "
        "together; put them back as they were handed out"
    )


def _words(judge: _Judge, row: Row) -> tuple[str | None, str | None]:
    """Return component and failure mode in the words of the taxonomy."""
    taxonomy = judge.known.taxonomy
    given, mode = row["component"], row["failure_mode"]
    if given.text.lower() == CANNOT_TELL:
        if mode.text:
            judge.fault(
                mode, f"{mode.text!r} does not go with {CANNOT_TELL!r}; empty it"
            )
        return CANNOT_TELL, None
    old_components, old_modes = judge.known.renamed
    component = _word(
        judge,
        given,
        "component",
        allowed=[*taxonomy.components, CANNOT_TELL],
        renamed=old_components,
        meant=taxonomy.component_for(given.text),
    )
    found = None
    if mode.text:
        found = _word(
            judge,
            mode,
            "failure mode",
            allowed=list(taxonomy.modes),
            renamed=old_modes,
            meant=taxonomy.mode_for(mode.text),
        )
    return component, found


def _danger(judge: _Judge, row: Row) -> str | None:
    """Return whether the reviewer calls the claim dangerous."""
    cell = row.get("dangerous")
    if cell is None or not cell.text:
        return None
    word = cell.text.lower()
    if word not in YES_NO:
        judge.fault(cell, f"{cell.text!r} is neither yes nor no")
        return None
    return word


def _word(
    judge: _Judge,
    cell: Cell,
    what: str,
    *,
    allowed: list[str],
    renamed: dict[str, str],
    meant: str | None,
) -> str | None:
    """Return the allowed word that a cell holds, or list the fault."""
    word = " ".join(cell.text.lower().split())
    if word in allowed:
        return word
    if word in renamed:
        judge.renamed += 1
        return renamed[word]
    near = meant or next(iter(get_close_matches(word, allowed, 1, 0.5)), None)
    hint = f"; the nearest is {near!r}" if near else ""
    listed = "" if near else f"; allowed are {', '.join(allowed)}"
    judge.fault(cell, f"{cell.text!r} is no {what}{hint}{listed}")
    return None


def _reviewer(judge: _Judge, row: Row) -> str | None:
    """Return who answered, as earlier answers spell the name."""
    cell = row.get("reviewer")
    given = cell.text if cell is not None else ""
    name = " ".join((given or judge.reviewer or "").split())
    if not name:
        judge.fault(
            cell or row["component"],
            "the reviewer is missing; write the name, or give --reviewer NAME",
        )
        return None
    known = {one.casefold(): one for one in judge.known.reviewers if one}
    spelt = known.get(name.casefold()) or judge.spelt.get(name.casefold()) or name
    judge.spelt[name.casefold()] = spelt
    return spelt


def _day(judge: _Judge, row: Row, claim_no: str | None) -> date | None:
    """Return the day of an answer."""
    cell = row.get("reviewed_on")
    if cell is None or cell.value is None:
        if judge.reviewed_on is None:
            judge.fault(
                cell or row["component"],
                "the day of the answer is missing; write it as YYYY-MM-DD, or give "
                "--reviewed-on DATE",
            )
            return None
        day: date | None = judge.reviewed_on
        cell = row["component"]
    else:
        day = _as_day(cell)
    if day is None:
        judge.fault(
            cell, f"{cell.text!r} is not a date that leaves no doubt; write YYYY-MM-DD"
        )
        return None
    reported = judge.known.reported_on.get(claim_no or "")
    if reported is not None and day < reported:
        judge.fault(
            cell,
            f"the answer is of {day}, before the claim was reported on {reported}; "
            "mend the day",
        )
        return None
    judge.future += day > judge.known.newest
    return day


def _as_day(cell: Cell) -> date | None:
    if isinstance(cell.value, datetime):
        return cell.value.date()
    if isinstance(cell.value, date):
        return cell.value
    if not isinstance(cell.value, str):
        return None
    try:
        return dates.parse([cell.value], None).get(cell.value)
    except InputError:
        return None


def _notes(judge: _Judge) -> list[str]:
    notes = []
    if judge.unanswered:
        rows = "row has" if judge.unanswered == 1 else "rows have"
        notes.append(f"{judge.unanswered} {rows} no component and were passed over")
    if judge.future:
        answers = "answer is" if judge.future == 1 else "answers are"
        notes.append(
            f"{judge.future} {answers} later than the newest report in the data, "
            f"{judge.known.newest}"
        )
    if judge.renamed:
        words = "name" if judge.renamed == 1 else "names"
        notes.append(
            f"{judge.renamed} {words} of an earlier taxonomy read by the label map"
        )
    return notes
