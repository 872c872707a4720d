"""Whether a warehouse still gives a report, and by name what differs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Literal, NamedTuple

import pandas as pd

from claimlens.errors import InputError, ReportError
from claimlens.monthly_inputs import MadeBy, input_digest, is_sealed, made_by

__all__ = ["Fact", "Loaded", "Verified", "compare", "read_report"]

State = Literal["same", "differs", "not made"]

_MOST_BYTES = 64_000_000
_SHOWN = 3
_NONE = "none"
_UNEXPLAINED = (
    "all that the page says of itself is as it was, but its text is not what is made "
    "today: it was changed and sealed again, or reviews or acknowledgements came since"
)


class Loaded(NamedTuple):
    """A batch that is known: file, what its digest is made of, known-on date."""

    file: str
    digest: str
    known_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One thing that made a report, then and now.

    Parameters
    ----------
    what : str
        Its name.
    in_report, in_warehouse : str
        As the page tells it, and as it is found now.
    state : {"same", "differs", "not made"}
        ``not made``: the report cannot be made any more.
    note : str
        What that means; empty where it is the same.
    """

    what: str
    in_report: str
    in_warehouse: str
    state: State
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What came out when a report was made again.

    Parameters
    ----------
    path : Path
        The page.
    made : MadeBy
        What it says made it.
    facts : tuple of Fact
        In a fixed order; the last one is the page itself.
    """

    path: Path
    made: MadeBy
    facts: tuple[Fact, ...]

    @property
    def is_same(self) -> bool:
        """Tell whether the warehouse gives the page byte for byte."""
        return self.facts[-1].state == "same"

    @property
    def notes(self) -> tuple[str, ...]:
        """Return what differs, in sentences."""
        return tuple(fact.note for fact in self.facts if fact.note)

    def frame(self) -> pd.DataFrame:
        """Return ``what, in_report, in_warehouse, state, note``, one row a fact."""
        names = ["what", "in_report", "in_warehouse", "state", "note"]
        rows = [tuple(getattr(fact, name) for name in names) for fact in self.facts]
        return pd.DataFrame(rows, columns=names, dtype="str")


def read_report(path: Path) -> tuple[str, MadeBy]:
    """Read a page and what made it.

    Parameters
    ----------
    path : Path
        From anywhere: it is read as text and nothing in it is run.

    Raises
    ------
    InputError
        If it cannot be read, or is no report of claimlens that says what made it.
    """
    try:
        with path.open("rb") as file:
            contents = file.read(_MOST_BYTES + 1)
    except OSError as error:
        raise InputError(
            f"The report cannot be read: {error.strerror or error}.",
            source=str(path),
            remedy="name the .html file of a report",
        ) from error
    if len(contents) > _MOST_BYTES:
        raise _no_report(path, "it is too large")
    try:
        page = contents.decode("utf-8")
    except UnicodeDecodeError:
        raise _no_report(path, "it is no text in UTF-8") from None
    made = made_by(page)
    if made is None:
        raise _no_report(path, "its head does not say what made it")
    return page, made


def _no_report(path: Path, why: str) -> InputError:
    return InputError(
        f"This is no report that can be verified: {why}.",
        source=str(path),
        remedy="name the .html page of a monthly, component or supplier report that "
        "claimlens wrote; for a workbook, the page it was written beside",
    )


def compare(
    path: Path,
    page: str,
    made: MadeBy,
    *,
    remake: Callable[[MadeBy], str],
    loaded: Sequence[Loaded],
) -> Verified:
    """Make a report again and say what differs.

    Parameters
    ----------
    path : Path
        Where the page lies.
    page : str
        Its text.
    made : MadeBy
        What it says made it.
    remake : callable
        Makes the page that answers the same question now.
    loaded : sequence of Loaded
        The batches known by the report's known-by date, in the order of loading.

    Returns
    -------
    Verified
    """
    seal = _seal(page)
    try:
        again = remake(made)
    except (InputError, ReportError) as error:
        gone = Fact(
            what="page",
            in_report="as read",
            in_warehouse=_NONE,
            state="not made",
            note=f"the warehouse does not give this report any more: {error.problem}",
        )
        return Verified(path=path, made=made, facts=(seal, gone))
    now = made_by(again)
    if now is None:
        raise AssertionError("a page that was just made says what made it")
    facts = [seal, *_makers(made, now), _inputs(made, now, loaded)]
    facts.append(_figures(made, now))
    if facts[-1].state == "differs" and facts[-2].state == "differs":
        facts += _as_then(made, remake, loaded)
    facts.append(_whole(page == again, facts))
    return Verified(path=path, made=made, facts=tuple(facts))


def _seal(page: str) -> Fact:
    """Tell whether the text is what was made."""
    if is_sealed(page):
        return Fact(what="seal", in_report="whole", in_warehouse="whole", state="same")
    return Fact(
        what="seal",
        in_report="broken",
        in_warehouse="whole",
        state="differs",
        note="the text of the page was changed after it was made",
    )


def _makers(made: MadeBy, now: MadeBy) -> list[Fact]:
    """Compare the tool, the settings, the terms and the learned model."""
    pairs = (
        ("claimlens", made.version, now.version, "claimlens is of another version"),
        ("settings", made.settings, now.settings, "the settings were changed"),
        ("terms", made.terms, now.terms, "the terms that read texts were changed"),
        (
            "learned model",
            made.model or _NONE,
            now.model or _NONE,
            "another learned model answers, or none",
        ),
    )
    return [_fact(*pair) for pair in pairs]


def _fact(what: str, then: str, now: str, note: str) -> Fact:
    is_same = then == now
    return Fact(
        what=what,
        in_report=then,
        in_warehouse=now,
        state="same" if is_same else "differs",
        note="" if is_same else note,
    )


def _inputs(made: MadeBy, now: MadeBy, loaded: Sequence[Loaded]) -> Fact:
    """Compare what was loaded; name what came since."""
    n_then = made.inputs.batches
    known = [batch.digest for batch in loaded]
    if input_digest(known[:n_then]) == made.inputs:
        since = [batch.file for batch in loaded[n_then:]]
        more = f" and {len(since) - _SHOWN} more" if len(since) > _SHOWN else ""
        note = f"loaded since: {', '.join(since[:_SHOWN])}{more}"
    else:
        note = (
            "the warehouse does not hold the files that the report was made from, or "
            "not as they were: another warehouse, or an erasure"
        )
    then, found = (
        f"{each.batches} batches, {each.digest}" for each in (made.inputs, now.inputs)
    )
    return _fact("inputs", then, found, note)


def _figures(made: MadeBy, now: MadeBy, known_by: date | None = None) -> Fact:
    """Compare all figures at once."""
    what = f"figures known by {known_by}" if known_by else "figures"
    return _fact(what, made.figures, now.figures, f"the {what} are not the same")


def _as_then(
    made: MadeBy, remake: Callable[[MadeBy], str], loaded: Sequence[Loaded]
) -> list[Fact]:
    """Ask again with what was known when the report was made."""
    known_on = [batch.known_on for batch in loaded[: made.inputs.batches]]
    if made.as_known or not known_on:
        return []
    day = max(known_on)
    try:
        then = made_by(remake(replace(made, as_known=day)))
    except (InputError, ReportError):
        return []
    return [] if then is None else [_figures(made, then, day)]


def _whole(is_same: bool, facts: Sequence[Fact]) -> Fact:
    """Compare the pages, byte for byte."""
    explained = is_same or any(fact.state == "differs" for fact in facts)
    return Fact(
        what="page",
        in_report="as read",
        in_warehouse="the same bytes" if is_same else "other bytes",
        state="same" if is_same else "differs",
        note="" if explained else _UNEXPLAINED,
    )
