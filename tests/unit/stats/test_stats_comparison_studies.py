"""Small versions of ``tests/studies/study_comparison.py``, with loose bounds."""

from __future__ import annotations

import importlib
from pathlib import Path
from types import ModuleType

import pytest

STUDIES = Path(__file__).parents[2] / "studies"


@pytest.fixture
def studies(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(STUDIES))
    return importlib.import_module("study_comparison")


def test_mid_p_limits_of_a_ratio_of_rates_hold_their_level(
    studies: ModuleType,
) -> None:
    for row in studies.study_ratio(repeats=3000):
        assert 0.935 < row["mid-p holds"] < 0.985
        assert row["exact holds"] > row["mid-p holds"]


def test_limits_of_a_ratio_of_hazards_hold_their_level_whatever_the_ages(
    studies: ModuleType,
) -> None:
    rows = studies.study_ages(repeats=500)
    assert len(rows) == 18
    for row in rows:
        assert 0.92 < row["limits hold"] <= 0.995
        if row["claims"] >= 10:
            assert row["median ratio"] == pytest.approx(row["true ratio"], rel=0.1)
    # what is not done: ages left out of account, and the own part in the expectation
    assert min(row["claims per unit-month holds"] for row in rows) < 0.85
    assert min(row["O/E pooled holds"] for row in rows) < 0.1


def test_shrunk_ratios_halve_the_error_and_their_limits_hold(
    studies: ModuleType,
) -> None:
    rows = studies.study_ranking(repeats=12)
    for row in rows[:2]:
        assert row["shrunk"] < 0.5 * row["squared error raw"]
    assert 0.82 < rows[0]["90 % limits hold"] < 0.97
    assert rows[0]["90 % rank limits hold"] > 0.85


def test_adjusted_lists_hold_few_false_differences(studies: ModuleType) -> None:
    rows = studies.study_lists(repeats=12)
    assert rows[0]["false share, adjusted"] <= 0.4
    assert rows[0]["false share, p < 0.05"] > 0.6
    assert rows[2]["false share, adjusted"] < 0.1
    assert rows[2]["worse ones listed"] > 0.6
