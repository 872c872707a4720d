"""Small versions of the studies: intervals hold their level, with loose bounds.

The studies themselves, with their full sizes, stand in ``tests/studies``.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

STUDIES = Path(__file__).parents[2] / "studies"
Study = Callable[..., list[dict[str, Any]]]


@pytest.fixture
def study(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Study]:
    """Return a loader of the study function of a script."""
    monkeypatch.syspath_prepend(str(STUDIES))
    return lambda name: importlib.import_module(f"study_{name}").study


def test_the_interval_of_a_rate_holds_its_level(study: Callable[[str], Study]) -> None:
    rows = study("rate_coverage")(repeats=400)
    assert len(rows) == 27
    assert all(0.91 < row["coverage"] < 0.99 for row in rows)
    mean = sum(row["coverage"] for row in rows) / len(rows)
    assert 0.94 < mean < 0.965


def test_a_rate_holds_its_level_while_reports_are_coming(
    study: Callable[[str], Study],
) -> None:
    rows = study("late_reports")(repeats=80)
    assert len(rows) == 9
    assert all(row["coverage"] > 0.87 for row in rows)
    many = rows[-3:]
    assert all(0.98 < row["mean / truth"] < 1.02 for row in many)
    assert all(row["unweighted mean / truth"] < 0.96 for row in many)


def test_claims_over_units_sold_do_not_hold_it(study: Callable[[str], Study]) -> None:
    rows = study("rate_coverage")(repeats=200)
    worst = min(row["claims / sold"] for row in rows)
    assert worst < 0.1


def test_the_limits_of_the_shape_hold_their_level(
    study: Callable[[str], Study],
) -> None:
    rows = study("shape_coverage")(repeats=600)
    grouped = [row for row in rows if row["likelihood"] == "grouped"]
    assert all(0.91 < row["shape covered"] < 0.98 for row in grouped)
    assert all(0.91 < row["B10 covered"] < 0.995 for row in grouped)
    assert rows[-1]["likelihood"] == "midpoints"
    assert rows[-1]["shape covered"] < 0.2


def test_robust_limits_of_the_mean_cumulative_function_hold_their_level(
    study: Callable[[str], Study],
) -> None:
    rows = study("recurrence")(repeats=150)
    assert all(row["robust"] > 0.89 for row in rows)
    frail = rows[-1]
    assert frail["Poisson"] < frail["robust"] - 0.03


def test_words_are_not_said_of_bad_batches(study: Callable[[str], Study]) -> None:
    bad = study("batches")(repeats=24)[:2]
    assert bad[1]["pooled below 1"] > 0.7
    assert all(row["early-life"] <= 0.15 for row in bad)
