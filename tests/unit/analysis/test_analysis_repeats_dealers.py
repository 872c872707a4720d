"""Repeats by dealer: no list of raw ratios."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from claimlens.analysis.repair_success import _fair_to_dealers
from claimlens.settings import Settings
from claimlens.stats.shrinkage import shrink


def table(observed: list[int], expected: list[float]) -> pd.DataFrame:
    ratio = np.array(observed) / np.array(expected)
    return pd.DataFrame(
        {
            "after_repair": observed,
            "expected": expected,
            "ratio": ratio,
            "ratio_lower": ratio / 2,
            "ratio_upper": ratio * 2,
        }
    )


def test_a_dealer_with_little_expected_has_no_ratio() -> None:
    fair, notes = _fair_to_dealers(table([4, 30], [9.9, 20.0]), Settings())
    assert np.isnan(
        fair.loc[0, ["ratio", "ratio_lower", "ratio_upper"]].astype(float)
    ).all()
    assert notes[0] == "ratio of a dealer from 10 expected on"
    assert fair["after_repair"].tolist() == [4, 30]


def test_ratios_of_dealers_are_drawn_towards_that_of_all() -> None:
    raw = table([40, 10, 22, 18, 25, 60], [20.0, 15.0, 20.0, 12.0, 20.0, 30.0])
    fair, _ = _fair_to_dealers(raw, Settings())
    pooled = raw["after_repair"].sum() / raw["expected"].sum()
    shrunk = shrink(raw["after_repair"], raw["expected"] * pooled, seed=1)
    np.testing.assert_allclose(fair["ratio"], shrunk.ratio * pooled)
    nearer = (fair["ratio"] - pooled).abs() < (raw["ratio"] - pooled).abs()
    assert nearer.all()
    assert (fair["ratio_lower"] < fair["ratio"]).all()
    assert (fair["ratio"] < fair["ratio_upper"]).all()


@pytest.mark.parametrize("observed", [[0, 0], [0, 0, 0, 0, 0, 0]])
def test_dealers_without_a_repeat_keep_their_upper_limits(observed: list[int]) -> None:
    raw = table(observed, [20.0] * len(observed))
    raw["ratio_upper"] = 0.2
    fair, _ = _fair_to_dealers(raw, Settings())
    assert fair["ratio"].tolist() == [0.0] * len(observed)
    assert fair["ratio_upper"].tolist() == [0.2] * len(observed)


def test_no_dealer_at_all_is_an_empty_table() -> None:
    fair, notes = _fair_to_dealers(table([], []), Settings())
    assert len(fair) == 0
    assert notes == []
