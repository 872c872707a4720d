"""Small versions of the studies of rising faults, with loose bounds.

The studies themselves, with their full sizes, stand in ``tests/studies``.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

STUDIES = Path(__file__).parents[2] / "studies"
Load = Callable[[str], ModuleType]


@pytest.fixture
def load(monkeypatch: pytest.MonkeyPatch) -> Load:
    """Return a loader of the scripts."""
    monkeypatch.syspath_prepend(str(STUDIES))

    return importlib.import_module


def test_few_false_signals_come_where_nothing_rises(load: Load) -> None:
    row = load("study_rising_false").study(repeats=2, sizes=(300,))[0]
    # three standard errors of two fleets above the means of fifteen
    assert 0.1 < row["watch"] < 1.2
    assert row["alarm"] < 0.3
    assert row["watch foretold"] == pytest.approx(0.67, abs=0.35)


def test_noise_between_months_brings_no_more_false_signals(load: Load) -> None:
    plan = load("rising_fleets").Plan(units=3000.0, components=12, models=3)
    quiet = load("study_rising_false").quiet
    noisy = quiet(2, 20240607, replace(plan, noise=0.1))
    assert noisy["watch"] < 0.8
    assert noisy["alarm"] < 0.25


def test_faults_of_five_times_are_seen_within_a_year(load: Load) -> None:
    rows = load("study_rising_power").study(repeats=3, times=(5.0,))
    several = [row for row in rows if row["expected anyway"] != "2-4"]
    assert sum(row["faults"] for row in several) >= 6
    assert all(row["within 12 months"] >= 0.8 for row in several)
