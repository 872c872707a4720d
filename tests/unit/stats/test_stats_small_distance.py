"""Small versions of the study of covers that end by distance, with loose bounds."""

from __future__ import annotations

import importlib
from pathlib import Path
from typing import Any

import pytest

STUDIES = Path(__file__).parents[2] / "studies"


@pytest.fixture
def study(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Return the module of the study."""
    monkeypatch.syspath_prepend(str(STUDIES))
    return importlib.import_module("study_distance")


def test_usage_rates_and_their_limits_hold_behind_a_limit(study: Any) -> None:
    for row in study.study_usage(repeats=150):
        assert row["median / truth"] == pytest.approx(1, abs=0.04)
        assert row["spread / truth"] == pytest.approx(1, abs=0.06)
        assert row["median covered"] > 0.86
        assert row["spread covered"] > 0.86


def test_lives_against_distance_hold_the_truth(study: Any) -> None:
    for row in study.study_lives(repeats=8):
        assert row["shape / truth"] == pytest.approx(1, abs=0.12)
        assert row["B5 / truth"] == pytest.approx(1, abs=0.2)
        assert row["shape covered"] >= 0.6


def test_a_rate_behind_a_limit_is_that_without_one(study: Any) -> None:
    found = study.product_rates(11, units=2500, shape=1.0, spread=0.8)
    assert found[12.0]["rate"] == pytest.approx(0.10, rel=0.15)
    assert found[24.0]["rate"] == pytest.approx(0.19, rel=0.15)
    assert found[24.0]["by age only"] < 0.95 * found[24.0]["rate"]
