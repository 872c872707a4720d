"""Small versions of the studies of repairs, with loose bounds.

The studies themselves, with their full sizes, stand in ``tests/studies``.
"""

from __future__ import annotations

import importlib
from pathlib import Path
from types import ModuleType

import pytest

STUDIES = Path(__file__).parents[2] / "studies"


@pytest.fixture
def studies(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(STUDIES))
    return importlib.import_module("study_recurrence")


def test_mean_events_hold_their_level_where_reports_come_late(
    studies: ModuleType,
) -> None:
    for row in studies.late_study(repeats=120):
        assert row["weighted"] > 0.88
        assert 0.96 < row["mean / truth"] < 1.04
        assert row["its mean / truth"] < 0.95


def test_the_share_of_repeats_is_that_of_repairs_followed(studies: ModuleType) -> None:
    """D-3: 200 repairs, 30 % young, truth 10 %; claims with a repeat are too few."""
    for row in studies.follow_study(repeats=300):
        mean = float(row["mean share"].rstrip(" %"))
        naive = float(row["claims with a repeat / claims"].rstrip(" %"))
        assert 9.5 < mean < 10.5
        assert naive < 9.0
        assert 0.91 < row["covers"] < 0.99


def test_repeats_against_expectation_hold_their_level(studies: ModuleType) -> None:
    rows = studies.ratio_study(repeats=150)
    assert all(row["covers"] > 0.9 for row in rows)
    assert all(0.85 < row["sums' ratio / truth"] < 1.15 for row in rows[1:])
    # limits of the observed alone take the expectation for known
    assert min(row["Garwood / expected"] for row in rows) < 0.93
