"""What has become of a signal, from what each month-end said.

Nothing is stored but acknowledgements: the course of every row is told anew from
the month-ends before, so the same question always gets the same answer.

A row becomes *new* in the first month at its bar after six months below it (or
*growing*, where it has been at it within them). It stays until it is *cleared*: below
half the bar for three months, or its run of build months has become too old to be
looked at while nothing else is at the bar. Meanwhile it is *growing* in a month that
adds two units of evidence or more (factor 7 of likelihood), else *steady*. Once
*acknowledged* it speaks again when its evidence has grown by four since, or its run
no longer overlaps that which was acknowledged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.checks import refuse
from claimlens.stats.rising.month import Month

__all__ = [
    "Acknowledged",
    "Course",
    "History",
    "State",
    "details_of",
    "history_of",
    "signal_states",
]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Indices = NDArray[np.int64]

State = Literal["", "new", "growing", "steady", "cleared", "acknowledged"]

QUIET_MONTHS = 6
CLEARING_MONTHS = 3
GROWTH = 2.0
GROWTH_ACKNOWLEDGED = 4.0
# below this part of its bar a row says nothing any more
_RELEASE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """What K month-ends, one after the other, said of R rows; arrays (K, R).

    Parameters
    ----------
    evidence, watch : ndarray
        Evidence, and the bar from which it is a signal.
    active : ndarray of bool
        Whether it is one.
    first, last : ndarray of int
        Build months of the run; -1 where there is none.
    oldest : ndarray of int, shape (K,)
        First build month looked at.
    """

    evidence: Floats
    watch: Floats
    active: Bools
    first: Indices
    last: Indices
    oldest: Indices


def history_of(months: Sequence[Month]) -> History:
    """Put month-ends in one history.

    Parameters
    ----------
    months : sequence of Month
        One after the other, without a gap.

    Returns
    -------
    History
        A signal is what is at least watched.

    Raises
    ------
    InputError
        If a month is left out.
    """
    cutoff = np.array([month.cutoff for month in months])
    if not len(months) or (np.diff(cutoff) != 1).any():
        raise refuse("months must follow each other without a gap", cutoff.tolist())
    stacked = {
        name: np.stack([getattr(month, name) for month in months])
        for name in ("evidence", "watch", "level", "first", "last")
    }
    return History(
        active=stacked.pop("level") > 0,
        oldest=np.array([month.oldest for month in months]),
        **stacked,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Acknowledged:
    """A person knows of a signal.

    Parameters
    ----------
    row : int
        Row of the history.
    month : int
        Month-end, as an index into the history, at which it was seen; below 0 for
        one before the history, which counts as its first.
    """

    row: int
    month: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What became of each row; arrays of shape (K, R).

    Parameters
    ----------
    state : ndarray of str
        ``""`` where the row is no signal.
    since : ndarray of int
        Index of the month-end at which the signal began; -1 without one.
    """

    state: NDArray[np.str_]
    since: Indices


@dataclass(slots=True)
class _Signal:
    """A signal that stands, month by month."""

    since: int
    first: int
    last: int
    below: int = 0
    known: tuple[float, int, int] | None = None


def signal_states(
    history: History, acknowledged: Sequence[Acknowledged] = ()
) -> Course:
    """Tell the state of every row at every month-end.

    Parameters
    ----------
    history : History
        Month-ends without a gap.
    acknowledged : sequence of Acknowledged, optional
        Those of a row that was no signal then are passed over.

    Returns
    -------
    Course
        A month's state rests on it and the months before it alone. In the first
        months of the history a row that has been a signal for long may look new:
        give at least a year more than is shown.

    Raises
    ------
    InputError
        If shapes disagree, or an acknowledgement names no row.
    """
    shape = history.evidence.shape
    if len(shape) != 2 or any(
        values.shape != shape
        for values in (history.watch, history.active, history.first, history.last)
    ):
        raise refuse("the arrays of a history must have one shape (K, R)", shape)
    if history.oldest.shape != shape[:1]:
        raise refuse(
            f"oldest must have one value for each of {shape[0]} month-ends",
            f"shape {history.oldest.shape}",
        )
    seen: dict[int, list[int]] = {}
    for one in acknowledged:
        if not 0 <= one.row < shape[1]:
            raise refuse(f"row must lie between 0 and {shape[1] - 1}", one.row)
        seen.setdefault(one.row, []).append(max(one.month, 0))
    state = np.full(shape, "", dtype="<U12")
    since = np.full(shape, -1, dtype=np.int64)
    for row in np.flatnonzero(history.active.any(axis=0)).tolist():
        _follow(history, row, seen.get(row, []), state[:, row], since[:, row])
    return Course(state=state, since=since)


def _follow(
    history: History,
    row: int,
    acknowledged: list[int],
    state: NDArray[np.str_],
    since: Indices,
) -> None:
    """Fill in the course of one row."""
    signal: _Signal | None = None
    for month in range(len(state)):
        active = bool(history.active[month, row])
        if signal is None:
            if not active:
                continue
            signal = _begun(history, row, month)
            before = history.active[max(month - QUIET_MONTHS, 0) : month, row]
            word: State = "growing" if before.any() else "new"
        else:
            word = _continued(history, row, month, signal)
        if word == "cleared":
            state[month], since[month] = word, signal.since
            signal = None
            continue
        if month in acknowledged:
            signal.known = _at(history, row, month, signal)
        if signal.known is not None and not _speaks_again(history, row, month, signal):
            word = "acknowledged"
        state[month], since[month] = word, signal.since


def _begun(history: History, row: int, month: int) -> _Signal:
    first, last = int(history.first[month, row]), int(history.last[month, row])
    return _Signal(since=month, first=first, last=last)


def _continued(history: History, row: int, month: int, signal: _Signal) -> State:
    """Return the word for a signal that stood a month ago."""
    evidence = history.evidence[month, row]
    if history.active[month, row]:
        signal.first = int(history.first[month, row])
        signal.last = int(history.last[month, row])
    elif signal.last < history.oldest[month]:
        return "cleared"
    low = evidence < _RELEASE * history.watch[month, row]
    signal.below = signal.below + 1 if low else 0
    if signal.below >= CLEARING_MONTHS:
        return "cleared"
    grown = evidence - history.evidence[month - 1, row] >= GROWTH
    return "growing" if grown and history.active[month, row] else "steady"


def _at(
    history: History, row: int, month: int, signal: _Signal
) -> tuple[float, int, int]:
    """Return what is acknowledged: evidence, and the run as it stood."""
    return float(history.evidence[month, row]), signal.first, signal.last


def _speaks_again(history: History, row: int, month: int, signal: _Signal) -> bool:
    """Tell whether a signal has become another one since it was acknowledged."""
    if signal.known is None or not history.active[month, row]:
        return False
    evidence, first, last = signal.known
    apart = signal.first > last or signal.last < first
    if apart or history.evidence[month, row] - evidence >= GROWTH_ACKNOWLEDGED:
        # it is not known any more until somebody says so again
        signal.known = None
        return True
    return False


def details_of(
    parent: Indices, active: Bools, first: Indices, last: Indices
) -> Indices:
    """Find the rows that are part of what another row says already.

    Parameters
    ----------
    parent : ndarray of int, shape (R,)
        Row of the same component over all models; the row itself for that one.
    active : ndarray of bool, shape (R,)
        Rows that are signals.
    first, last : ndarray of int, shape (R,)
        Build months of their runs.

    Returns
    -------
    ndarray of int, shape (R,)
        The row whose detail each is: its parent, where both are signals and their
        runs overlap; else -1.
    """
    row = np.arange(parent.size)
    overlap = (first <= last[parent]) & (last >= first[parent])
    part = active & active[parent] & overlap & (parent != row)
    return np.where(part, parent, -1)
