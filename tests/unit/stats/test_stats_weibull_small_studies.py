"""Small versions of the studies of lives, with loose bounds."""

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


def _share(text: str) -> float:
    return float(text.removesuffix(" %")) / 100


def test_weighted_exposure_keeps_lives_true(study: Callable[[str], Study]) -> None:
    rows = study("life_exposure")(repeats=250)
    for row in rows:
        assert 0.89 < _share(row["shape covered"]) < 0.99
        assert 0.89 < _share(row["B10 covered"]) <= 1.0
        assert 0.93 < row["median shape / truth"] < 1.1
    # the price of not weighting, where there is enough to see it
    plain = [row for row in rows if row["failures"] == 60 and row["shape"] == 3.0]
    assert all(
        row["not weighted: shape / truth"] != pytest.approx(1, abs=0.05)
        for row in plain
    )


def test_a_prone_share_is_shown_where_there_is_one(
    study: Callable[[str], Study],
) -> None:
    rows = study("life_prone")(repeats=12)
    assert sum(row["bootstrap p <= 0.05"] for row in rows[:3]) <= 0.5
    assert rows[3]["share shown"] >= 0.9
    assert 0.8 < rows[3]["median share / truth"] < 1.25
