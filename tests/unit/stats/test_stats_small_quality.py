"""Small versions of the studies of measured quality, with loose bounds.

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
    """Return a loader of one study of the script."""
    monkeypatch.syspath_prepend(str(STUDIES))
    return lambda name: getattr(importlib.import_module("study_quality"), name)


def test_accuracy_from_queue_and_audit_is_unbiased_and_holds_its_level(
    study: Callable[[str], Study],
) -> None:
    for row in study("study_accuracy")(repeats=90):
        assert abs(row["bias"]) < 4 * row["sd"] / 90**0.5
        assert 0.88 < row["limits hold"] <= 0.995
        assert row["queue alone, bias"] < -0.1
        assert row["reviewed as a whole, bias"] < -0.1


def test_precision_and_recall_hold_their_level_where_measured(
    study: Callable[[str], Study],
) -> None:
    for row in study("study_scores")(repeats=80):
        for name in ("precision", "recall", "f1"):
            assert 0.9 < row[f"{name} holds"] <= 1
            assert abs(row[f"{name} bias"]) < 0.02


def test_true_counts_hold_their_level(study: Callable[[str], Study]) -> None:
    rows = study("study_counts")(repeats=150)
    for row in rows:
        assert row["limits hold"] > 0.92
        assert row["bounds hold"] > 0.97
    widths = [row["width / truth"] for row in rows]
    assert widths == sorted(widths, reverse=True)


def test_months_without_a_change_hardly_alarm_and_a_doubled_share_does(
    study: Callable[[str], Study],
) -> None:
    for row in study("study_drift")(repeats=60):
        assert row["false alarms"] < 0.02
        if row["claims a month"] >= 300:
            assert row["twice the share found"] > 0.7
    for row in study("study_shares")(repeats=200):
        assert row["equal shares alarm"] < 0.07
