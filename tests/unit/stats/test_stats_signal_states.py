"""States of signals, from written histories."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest

from claimlens.errors import InputError
from claimlens.stats import signal_states
from claimlens.stats.signal_states import Acknowledged, History

BAR = 4.0


def _history(
    evidence: Sequence[float],
    *,
    first: int | Sequence[int] = 10,
    oldest: int | Sequence[int] = 0,
) -> History:
    """Return the history of one row, whose run is of two build months."""
    values = np.array(evidence, dtype=float)[:, None]
    start = np.broadcast_to(np.array(first), values[:, 0].shape)[:, None]
    return History(
        evidence=values,
        watch=np.full(values.shape, BAR),
        active=values >= BAR,
        first=start,
        last=start + 1,
        oldest=np.broadcast_to(np.array(oldest), values[:, 0].shape),
    )


def _states(history: History, *acknowledged: int) -> str:
    """Return the initials of the states; a point where there is none."""
    course = signal_states.signal_states(
        history, [Acknowledged(row=0, month=month) for month in acknowledged]
    )
    return "".join(str(word)[:1] or "." for word in course.state[:, 0])


@pytest.mark.parametrize(
    ("evidence", "states"),
    [
        # nothing ever
        ([0, 3.9, 0, 1], "...."),
        # at the bar for the first time, then two units more, then no more
        ([0, 4, 6, 7, 7], ".ngss"),
        # one unit a month is steady, however long
        ([0, 4, 5, 6, 7, 8], ".nssss"),
        # between half the bar and the bar it stays
        ([0, 5, 3, 2.5, 3, 2, 3], ".nsssss"),
        # below half the bar for three months
        ([0, 5, 1, 1, 1, 0], ".nssc."),
        # two low months and one in between do not clear it
        ([0, 5, 1, 1, 3, 1, 1, 1], ".nsssssc"),
        # up again within six months of being a signal: not new
        ([5, 1, 1, 1, 0, 5, 5], "nssc.gs"),
        # up again after six months below the bar
        ([5, 1, 1, 1, 0, 0, 0, 5], "nssc...n"),
        # a rise while below the bar is not growth
        ([0, 5, 0.5, 3, 3], ".nsss"),
        # back at the bar by more than two units
        ([0, 5, 2.5, 5], ".nsg"),
    ],
)
def test_states_follow_the_evidence(evidence: list[float], states: str) -> None:
    assert _states(_history(evidence)) == states


def test_a_run_too_old_to_be_looked_at_clears_the_signal() -> None:
    history = _history([5, 3, 3, 3], oldest=[9, 10, 11, 12])
    assert _states(history) == "nssc"


def test_an_old_run_does_not_clear_a_signal_that_another_run_keeps() -> None:
    history = _history([5, 5, 5, 5], first=[10, 10, 10, 14], oldest=[9, 10, 11, 12])
    assert _states(history) == "nsss"


def test_acknowledged_speaks_again_when_it_has_grown_by_four() -> None:
    history = _history([0, 5, 6, 7, 8.9, 9.5, 9.6])
    assert _states(history, 1) == ".aaaass"


def test_acknowledged_speaks_again_when_the_run_is_another_one() -> None:
    history = _history([5, 5, 5, 5], first=[10, 10, 11, 13])
    assert _states(history, 0) == "aaas"


def test_acknowledged_again_is_measured_from_then() -> None:
    history = _history([5, 9, 10, 12, 14.5])
    assert _states(history) == "ngsgg"
    assert _states(history, 0, 2) == "agaag"


def test_a_signal_that_comes_anew_is_not_acknowledged_any_more() -> None:
    history = _history([5, 0, 0, 0, 0, 0, 0, 5])
    assert _states(history, 0) == "aaac...n"


def test_an_acknowledgement_before_the_history_counts_from_its_first_month() -> None:
    assert _states(_history([5, 5, 5]), -4) == "aaa"


def test_an_acknowledgement_of_no_signal_is_passed_over() -> None:
    assert _states(_history([0, 5, 5]), 0) == ".ns"


def test_since_is_the_first_month_of_the_present_signal() -> None:
    course = signal_states.signal_states(_history([0, 5, 6, 1, 1, 1, 0, 5]))
    assert course.since[:, 0].tolist() == [-1, 1, 1, 1, 1, 1, -1, 7]


def test_a_month_does_not_depend_on_later_ones() -> None:
    evidence = np.random.default_rng(20240607).gamma(2.0, 2.0, 40)
    whole = signal_states.signal_states(_history(evidence.tolist()))
    for months in range(1, 40):
        part = signal_states.signal_states(_history(evidence[:months].tolist()))
        assert part.state[:, 0].tolist() == whole.state[:months, 0].tolist()


def test_one_model_is_a_detail_where_all_models_say_the_same() -> None:
    found = signal_states.details_of(
        parent=np.array([0, 1, 0, 0, 1]),
        active=np.array([True, False, True, True, True]),
        first=np.array([10, 3, 11, 14, 3]),
        last=np.array([12, 4, 11, 15, 4]),
    )
    assert found.tolist() == [-1, -1, 0, -1, -1]


def test_shapes_and_rows_are_checked() -> None:
    history = _history([5, 5])
    with pytest.raises(InputError, match="row must lie between"):
        signal_states.signal_states(history, [Acknowledged(row=3, month=0)])
    broken: dict[str, Any] = {
        name: getattr(history, name) for name in History.__slots__
    }
    with pytest.raises(InputError, match="one shape"):
        signal_states.signal_states(History(**{**broken, "first": np.zeros((3, 1))}))
    with pytest.raises(InputError, match="one value for each"):
        signal_states.signal_states(History(**{**broken, "oldest": np.zeros(3)}))
