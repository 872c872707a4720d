"""Cohen's kappa: what it says at the edges, and how often its limits hold."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from claimlens.errors import InputError
from claimlens.stats.agreement import cohen_kappa

TABLES = st.integers(2, 5).flatmap(
    lambda k: st.lists(
        st.lists(st.integers(0, 20), min_size=k, max_size=k), min_size=k, max_size=k
    )
)


@given(TABLES)
def test_kappa_lies_within_its_limits_and_they_within_one(
    table: list[list[int]],
) -> None:
    found = cohen_kappa(table)
    if found.note:
        assert math.isnan(found.kappa)
        return
    lower, upper = found.interval
    assert -1 <= lower <= found.kappa <= upper <= 1 + 1e-12
    assert found.standard_error >= 0


@given(TABLES)
def test_it_does_not_matter_who_is_called_the_first(table: list[list[int]]) -> None:
    there, back = cohen_kappa(table), cohen_kappa(np.transpose(table))
    assert there.kappa == pytest.approx(back.kappa, nan_ok=True)
    assert there.standard_error == pytest.approx(back.standard_error, nan_ok=True)


@given(TABLES)
def test_a_class_that_nobody_used_changes_nothing(table: list[list[int]]) -> None:
    wider = np.pad(np.array(table), (0, 1))
    assert cohen_kappa(wider).kappa == pytest.approx(
        cohen_kappa(table).kappa, nan_ok=True
    )


def test_full_agreement_of_a_few_is_not_taken_for_certainty() -> None:
    found = cohen_kappa([[5, 0], [0, 5]])
    assert found.standard_error == 0
    assert found.interval[0] < 0.5
    assert found.interval[1] == 1


def test_one_class_throughout_has_no_kappa() -> None:
    found = cohen_kappa([[7, 0], [0, 0]])
    assert math.isnan(found.kappa)
    assert found.agreement == 1
    assert "chance" in found.note


def test_nothing_judged_twice_has_no_kappa() -> None:
    assert cohen_kappa([[0, 0], [0, 0]]).note == "no item was judged twice"


@pytest.mark.parametrize("table", [[[1, 2, 3], [1, 2, 3]], [1, 2], [[-1, 0], [0, 1]]])
def test_what_is_no_table_of_counts_is_refused(table: list[object]) -> None:
    with pytest.raises(InputError):
        cohen_kappa(table)  # type: ignore[arg-type]


def test_limits_of_ten_double_reviews_hold_their_level() -> None:
    """Kappa plus and minus two errors holds in a third of these runs."""
    rng = np.random.default_rng(20240607)
    shares = rng.dirichlet(np.full(8, 2.0))
    truth = 0.95
    joint = truth * np.diag(shares) + (1 - truth) * np.outer(shares, shares)
    held = naive = 0
    runs = 800
    for table in rng.multinomial(10, joint.ravel(), size=runs).reshape(-1, 8, 8):
        found = cohen_kappa(table)
        held += found.interval[0] <= truth <= found.interval[1]
        naive += abs(found.kappa - truth) <= 1.96 * found.standard_error
    assert held / runs > 0.91
    assert naive / runs < 0.6
