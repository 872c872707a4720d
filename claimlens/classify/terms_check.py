"""What is wrong with the terms in force: conflicts, unreachable and misfiring ones."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

import pandas as pd

from claimlens.classify.entries import GROUPS
from claimlens.classify.lexicon import Lexicon
from claimlens.classify.reading import tokens_of
from claimlens.classify.terms import Terms
from claimlens.classify.terms_listed import NAMING, Listed, listed_terms
from claimlens.classify.terms_tried import Tried, tried_on
from claimlens.stats.intervals import wilson

__all__ = ["PROBLEM_COLUMNS", "check_terms"]

PROBLEM_COLUMNS = (
    "problem",
    "language",
    "file",
    "line",
    "phrase",
    "group",
    "leads_to",
    "why",
    "fired",
    "right",
    "share",
    "lower",
    "upper",
    "to_do",
)
_ORDER = ("conflict", "unreachable", "misfiring")
_DANGER = frozenset({"danger", "harmless"})
_HALF = 0.5
# a number that no phrase lists is read as "#"
_ANY_NUMBER = "98765"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Problem:
    """One finding about one listed phrase."""

    problem: str
    row: Listed
    why: str
    to_do: str
    tried: Tried | None = None


def check_terms(
    terms: Terms,
    extra: Path | None = None,
    *,
    replace: Collection[str] = (),
    claims: pd.DataFrame | None = None,
    confidence: float = 0.95,
) -> pd.DataFrame:
    """List what is wrong with the terms in force, each with what to do.

    Parameters
    ----------
    terms : Terms
        Compiled from the same files.
    extra : Path, optional
        The workspace's own file of terms.
    replace : collection of str, optional
        Languages whose shipped terms are left out.
    claims : DataFrame, optional
        Claims whose component is established otherwise than by their texts:
        component, other_components, narrative, technician_note, resolution.
        Without them no term is tried.
    confidence : float, default 0.95
        Level of the Wilson intervals.

    Returns
    -------
    DataFrame
        ``PROBLEM_COLUMNS``, one row a finding. ``conflict``: one phrase in two
        groups, or for two components that no row lists together.
        ``unreachable``: no text can ever reach the phrase. ``misfiring``: in the
        texts of ``claims`` it spoke in ``fired`` claims, in ``right`` of them for
        a component that failed, and the upper limit of that share lies below one
        half.
    """
    rows = list(listed_terms(terms, extra, replace=replace))
    found: list[_Problem] = []
    for code, own in groupby(rows, key=lambda row: row.language):
        lexicon = terms.lexicon(code)
        kept = list(own)
        found += _left_out(kept)
        kept = [row for row in kept if not row.is_left_out]
        unread = dict(_unread(kept, lexicon))
        found += unread.values()
        found += _clashes([row for row in kept if row not in unread])
    if claims is not None:
        found += _misfiring(rows, tried_on(claims, terms), confidence)
    return _frame(found, extra, confidence)


def _left_out(rows: list[Listed]) -> Iterator[_Problem]:
    """Find the rows that lead to nothing in the taxonomy, one finding a row."""
    lost = (row for row in rows if row.missing)
    for _, same in groupby(lost, key=lambda row: (row.file, row.line)):
        row, *others = same
        missing = ", ".join(row.missing)
        more = f" (and {len(others)} more of its row)" if others else ""
        if row.is_left_out:
            yield _Problem(
                problem="unreachable",
                row=row,
                why=f"the taxonomy has no {missing}{more}",
                to_do="name a component and failure mode of the taxonomy, or delete "
                "the row",
            )


def _unread(rows: list[Listed], lexicon: Lexicon) -> Iterator[tuple[Listed, _Problem]]:
    """Find the phrases that a text which says just this does not lead to."""
    for row in rows:
        why, to_do = "", ""
        if row.group == "skip":
            if " " in row.phrase:
                why = "only single words are passed over"
                to_do = "list the words one by one"
        else:
            read = _words_read(row.phrase, lexicon)
            if not row.key:
                why = "it holds no letter and no digit"
                to_do = "write it in words, or delete it"
            elif not read:
                why = "every word of it is passed over"
                to_do = "take a word of it out of the group skip, or delete it"
            elif read != row.key:
                why = f"a text is cut into other words: {' '.join(read)}"
                to_do = "write it as words without signs between letters or digits"
        if why:
            yield row, _Problem(problem="unreachable", row=row, why=why, to_do=to_do)


def _words_read(phrase: str, lexicon: Lexicon) -> tuple[str, ...]:
    """Return the stems of a text that says just this phrase, signs left out."""
    words = []
    for token in tokens_of(phrase.replace("#", _ANY_NUMBER)):
        if any(letter.isalnum() for letter in token):
            words += lexicon.resolve(token).split()
    return tuple(words)


def _clashes(rows: list[Listed]) -> Iterator[_Problem]:
    """Find phrases that two rows give another meaning."""
    by_key: dict[tuple[bool, tuple[str, ...]], list[Listed]] = {}
    for row in rows:
        if row.group != "skip":
            by_key.setdefault((row.group in _DANGER, row.key), []).append(row)
    for same in by_key.values():
        if len(same) > 1:
            yield from _two_groups(same)
            yield from _two_components(same)


def _two_groups(same: list[Listed]) -> Iterator[_Problem]:
    """Find the rows that lose a phrase to another group."""
    first = min(same, key=lambda row: GROUPS.index(row.group))
    winners = [row for row in same if row.group == first.group]
    for row in same:
        if any(_says_as_much(winner, row) for winner in winners):
            continue
        winner = next((w for w in winners if w.phrase == row.phrase), first)
        # a mode that is a fault as well is meant to be both
        if row.group == winner.group or {row.group, winner.group} == {"mode", "fault"}:
            continue
        place = f"{winner.file} line {winner.line}"
        is_same = row.phrase == winner.phrase
        shown = "" if is_same else f" as {winner.phrase!r}"
        verb = "swallowed by" if winner.group == "ignore" else "read as"
        yield _Problem(
            problem="conflict" if is_same else "unreachable",
            row=row,
            why=f"{verb} {winner.group}{shown} in {place}",
            to_do=f"keep it in one of the two groups: {winner.group} or {row.group}",
        )


def _says_as_much(winner: Listed, row: Listed) -> bool:
    """Tell whether nothing is lost: the winner names the same part and mode."""
    return (
        bool(row.components)
        and set(row.components) <= set(winner.components)
        and row.mode in ("", winner.mode)
    )


def _two_components(same: list[Listed]) -> Iterator[_Problem]:
    """Find the rows that name another component than an earlier one does."""
    naming = [row for row in same if row.group in NAMING]
    everything = {name for row in naming for name in row.components}
    if any(everything <= set(row.components) for row in naming):
        return
    first = min(naming, key=lambda row: GROUPS.index(row.group), default=None)
    for row in naming:
        assert first is not None  # for the type checker; naming is not empty
        if row.group == first.group and set(row.components) != set(first.components):
            yield _Problem(
                problem="conflict",
                row=row,
                why=f"stands for {'; '.join(first.components)} in {first.file} line "
                f"{first.line}",
                to_do="keep one of the two, or list both components in one row",
            )


def _misfiring(
    rows: list[Listed], tried: Iterable[Tried], confidence: float
) -> Iterator[_Problem]:
    """Find the phrases that mostly spoke for another component than failed."""
    # the inflections of a word that one row lists are one phrase
    places: dict[tuple[str, tuple[str, ...]], dict[tuple[str, int], Listed]] = {}
    for row in rows:
        if row.group in NAMING and not row.is_left_out:
            own = places.setdefault((row.language, row.key), {})
            own.setdefault((row.file, row.line), row)
    for term in tried:
        _, upper = wilson(term.right, term.fired, confidence)
        if upper < _HALF:
            for row in places.get((term.language, term.key), {}).values():
                yield _Problem(
                    problem="misfiring",
                    row=row,
                    why="most often another component had failed, first of all "
                    f"{term.instead}",
                    to_do="read some of these claims; add a word that makes the phrase "
                    "certain, give it less weight, or move it to another group",
                    tried=term,
                )


def _frame(
    found: list[_Problem], extra: Path | None, confidence: float
) -> pd.DataFrame:
    """Return the findings as rows, the workspace's own file first."""
    own = None if extra is None else extra.name
    found.sort(
        key=lambda item: (
            _ORDER.index(item.problem),
            item.row.file != own,
            item.row.file,
            item.row.line,
            item.row.phrase,
            item.row.language,
        )
    )
    records = []
    for item in found:
        row = item.row
        values = (
            item.problem, row.language, row.file, row.line, row.phrase, row.group,
            row.leads_to, item.why, *_figures(item.tried, confidence), item.to_do,
        )  # fmt: skip
        records.append(dict(zip(PROBLEM_COLUMNS, values, strict=True)))
    frame = pd.DataFrame(records, columns=list(PROBLEM_COLUMNS))
    return frame.astype(
        {
            **dict.fromkeys(("line", "fired", "right"), "Int64"),
            **dict.fromkeys(("share", "lower", "upper"), "Float64"),
            **dict.fromkeys(
                ("problem", "language", "file", "phrase", "group", "leads_to", "why"),
                "str",
            ),
            "to_do": "str",
        }
    )


def _figures(
    tried: Tried | None, confidence: float
) -> tuple[int | None, int | None, float | None, float | None, float | None]:
    """Return fired, right, their share and its limits; None where none was tried."""
    if tried is None:
        return (None,) * 5
    lower, upper = wilson(tried.right, tried.fired, confidence)
    return tried.fired, tried.right, tried.right / tried.fired, lower, upper
