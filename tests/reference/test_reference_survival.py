"""Kaplan-Meier against textbook tables.

Sources, row by row in ``survival.toml``: Freireich et al. 1963 (6-MP
remissions), Meeker and Escobar 1998 (heat exchanger), Klein and Moeschberger
2003 (left truncation).
"""

from __future__ import annotations

import numpy as np
import pytest
from reference_rows import assert_published, assert_row, dataset, rows

from claimlens.stats import survival
from claimlens.stats.curve_limits import Limits

ROWS = rows("survival")


def _remission(limits: Limits = "wilson") -> survival.SurvivalCurve:
    data = dataset("remission_6mp")
    event = np.array(data["six_mp_event"])
    return survival.kaplan_meier(data["six_mp_weeks"], event, 1 - event, limits=limits)


def test_survival_of_the_remission_data_agrees_with_the_textbook() -> None:
    row, curve = ROWS["K01"], _remission()
    at = np.searchsorted(curve.ages, row["inputs"]["times"])
    assert_row(row, curve.survival[at], row["expected"])
    assert_published(row, curve.survival[at])


def test_greenwood_error_of_the_remission_data_agrees_with_the_textbook() -> None:
    row, curve = ROWS["K02"], _remission()
    at = np.searchsorted(curve.ages, row["inputs"]["times"])
    assert_row(row, curve.standard_error[at], row["expected"])
    assert_published(row, curve.standard_error[at])


def test_medians_of_the_remission_data_agree_with_the_textbook() -> None:
    row, curve = ROWS["K05"], _remission()
    weeks = dataset("remission_6mp")["placebo_weeks"]
    placebo = survival.kaplan_meier(weeks, np.ones(len(weeks)), np.zeros(len(weeks)))
    medians = [one.median for one in (curve, placebo)]
    assert_row(row, medians, list(row["expected"].values()))
    assert_published(row, medians)


@pytest.mark.parametrize("key", ["K03", "K04"])
def test_transformed_limits_of_the_remission_data_agree_with_r(key: str) -> None:
    row = ROWS[key]
    curve = _remission(row["inputs"]["transform"])
    at = np.searchsorted(curve.ages, row["inputs"]["times"])
    found = np.stack([curve.lower[at], curve.upper[at]], axis=1)
    assert_row(row, found, row["expected"])


def test_life_table_of_the_heat_exchanger_agrees_with_the_textbook() -> None:
    row, data = ROWS["K06"], dataset("heat_exchanger")
    curve = survival.kaplan_meier(
        data["interval_upper"], data["failures"], data["censored"]
    )
    found = np.stack([1 - curve.survival, curve.standard_error], axis=1)
    assert_row(row, found, row["expected"])
    assert_published(row, found)


def test_share_failed_gives_the_same_life_table() -> None:
    row, data = ROWS["K06"], dataset("heat_exchanger")
    ages = data["interval_upper"]
    result = survival.share_failed(ages, data["failures"], data["censored"], ages)
    assert_row(row, result.share, np.array(row["expected"])[:, 0])


def test_left_truncated_survival_agrees_with_the_exact_fractions() -> None:
    row, data = ROWS["K07"], dataset("left_trunc10")
    event = np.array(data["event"])
    curve = survival.kaplan_meier(data["exit"], event, 1 - event, entry=data["entry"])
    at = np.searchsorted(curve.ages, row["inputs"]["times"])
    assert_row(row, curve.at_risk[at], row["expected"]["at_risk"])
    assert_row(row, curve.survival[at], row["expected"]["survival"])
    assert_row(row, curve.standard_error[at], row["expected"]["se"])
