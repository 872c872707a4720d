"""Survival curves, log-rank tests and ratios of hazards against R on random cases.

The numbers, and the R lines that made them, stand in ``r_survival.toml``; so they are
checked where R is not installed as well.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from reference_rows import assert_row, rows

from claimlens.stats.comparison import compare_segments, log_rank
from claimlens.stats.survival import kaplan_meier

ROWS = rows("r_survival")

Row = dict[str, Any]


def _having(key: str) -> list[str]:
    return [name for name in sorted(ROWS) if key in ROWS[name]]


def _counts(row: Row, group: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return failures and units that passed each age, by group."""
    entry, leave, event = (np.array(row[key]) for key in ("entry", "exit", "event"))
    ages = np.unique(leave)
    failed, passed = [], []
    for name in np.unique(group):
        mine = group == name
        ends = (leave[mine, None] == ages) & (event[mine, None] == 1)
        watched = (entry[mine, None] < ages) & (ages <= leave[mine, None])
        failed.append(ends.sum(axis=0))
        passed.append(watched.sum(axis=0) - ends.sum(axis=0))
    return np.array(failed), np.array(passed)


@pytest.mark.parametrize("name", sorted(ROWS))
def test_survival_and_its_error_agree_with_r(name: str) -> None:
    row = ROWS[name]
    event, weight = np.array(row["event"]), np.array(row["weight"])
    entry = row["entry"] if any(row["entry"]) else None
    curve = kaplan_meier(row["exit"], event * weight, (1 - event) * weight, entry=entry)
    at = np.searchsorted(curve.ages, np.array(row["times"]) * (1 - 1e-12))
    np.testing.assert_allclose(curve.ages[at], row["times"])
    assert_row(row, curve.survival[at], row["survival"])
    assert_row(row, curve.standard_error[at], row["standard_error"])


@pytest.mark.parametrize("name", _having("chi_square"))
def test_log_rank_statistic_agrees_with_r(name: str) -> None:
    row = ROWS[name]
    test = log_rank(*_counts(row, np.array(row["group"])))
    assert_row(row, test.chi_square, row["chi_square"])
    if "observed" in row:
        assert_row(row, test.observed, row["observed"])
        assert_row(row, test.expected, row["expected"])


@pytest.mark.parametrize("name", _having("ratio_of_group_1"))
def test_ratio_of_hazards_agrees_with_r(name: str) -> None:
    """Cox regression in Breslow's form conditions on the failures of each age too."""
    row = ROWS[name]
    counts = _counts(row, np.array(row["group"]) == 1)
    found = compare_segments(*counts, seed=1, confidence=0.95)
    assert_row(row, found.ratio[1], row["ratio_of_group_1"])
    # the mid-p limits are not R's normal ones, but not far from them
    normal = row["error_of_log_ratio"] * 1.96
    for limit, side in ((found.lower[1], -1), (found.upper[1], 1)):
        reach = side * np.log(limit / found.ratio[1]) / normal
        assert 0.8 < reach < 2.0


def test_a_third_of_the_cases_is_of_each_kind() -> None:
    kinds = [row["kind"] for row in ROWS.values()]
    assert len(kinds) >= 20
    assert {kinds.count(kind) for kind in set(kinds)} == {len(kinds) // 3}
