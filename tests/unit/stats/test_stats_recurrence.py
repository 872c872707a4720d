"""Mean cumulative function: agreement with the plain sums, and its edges."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from claimlens.errors import InputError
from claimlens.stats import recurrence

mean_cumulative = recurrence.mean_cumulative


@pytest.mark.parametrize("seed", range(20))
def test_running_sums_equal_the_sum_over_units_and_ages(seed: int) -> None:
    """Lawless and Nadeau 1995, written out as a table of units by ages."""
    rng = np.random.default_rng([20240607, seed])
    entries = rng.choice([0.0, 0.0, 3.0, 8.0], 30)
    ends = entries + rng.integers(1, 30, 30)
    unit = rng.integers(0, 12, 25)
    age = entries[unit] + np.ceil(rng.uniform(size=25) * (ends - entries)[unit])
    weight = rng.uniform(1, 5, 25)
    found = mean_cumulative(age, unit, ends, unit_entries=entries, weights=weight)
    seen = (entries[:, None] < found.ages) & (found.ages <= ends[:, None])
    steps = np.zeros((30, found.ages.size))
    np.add.at(steps, (unit, np.searchsorted(found.ages, age)), weight)
    n = seen.sum(axis=0)
    terms = seen / n * (steps - steps.sum(axis=0) / n)
    variance = (np.cumsum(terms, axis=1) ** 2).sum(axis=0)
    np.testing.assert_allclose(found.at_risk, n)
    np.testing.assert_allclose(found.mean, np.cumsum(steps.sum(axis=0) / n))
    np.testing.assert_allclose(found.standard_error**2, variance, atol=1e-13)


def test_units_with_events_pass_in_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    ages, units, ends = [3, 5, 5, 9, 11], [0, 1, 0, 3, 2], [10, 12, 14, 9]
    whole = mean_cumulative(ages, units, ends)
    monkeypatch.setattr(recurrence, "_CHUNK_CELLS", 4)
    parts = mean_cumulative(ages, units, ends)
    np.testing.assert_allclose(parts.standard_error, whole.standard_error)


def test_a_failure_does_not_end_the_observation_of_its_unit() -> None:
    found = mean_cumulative([3, 5], [0, 0], [10, 10])
    assert found.at_risk.tolist() == [2, 2]
    assert found.mean.tolist() == [0.5, 1.0]


def test_without_events_the_upper_limit_is_one_sided() -> None:
    found = mean_cumulative([], [], [10, 20, 30])
    assert found.mean.tolist() == [0.0]
    assert found.upper[0] == pytest.approx(30 * -np.log(0.05) / 60)
    assert found.note == "no event: one-sided upper limit"


def test_without_events_and_time_there_is_no_upper_limit() -> None:
    assert mean_cumulative([], [], [0.0]).upper[0] == np.inf


def test_values_stop_at_the_greatest_age_under_observation() -> None:
    found = mean_cumulative([3, 5], [0, 1], [10, 8, 8, 8])
    mean, lower, upper = found.at([1, 3, 10, 11])
    np.testing.assert_allclose(mean, [0, 0.25, 0.5, np.nan])
    assert np.isnan(lower[[0, 3]]).all()
    assert (lower[1:3] < mean[1:3]).all()
    assert (mean[1:3] < upper[1:3]).all()


def test_units_that_all_had_the_same_leave_no_limits() -> None:
    """A variance of 0 between two units is no certainty."""
    found = mean_cumulative([3, 5], [0, 1], [10, 8])
    assert found.mean.tolist() == [0.5, 1.0]
    assert np.isnan([found.lower[1], found.upper[1]]).all()
    assert "all units have had the same" in found.note


def test_credits_that_outweigh_the_cost_leave_no_limits() -> None:
    found = mean_cumulative([3, 5], [0, 1], [10, 8], weights=[5.0, -9.0])
    assert np.isnan(found.upper[1])
    assert found.note == "no limits where the mean is not above 0"


def test_an_event_on_day_zero_of_an_unlimited_observation_counts() -> None:
    assert mean_cumulative([0], [0], [4, 4]).mean.tolist() == [0.5]


@pytest.mark.parametrize(
    ("call", "rule"),
    [
        (lambda: mean_cumulative([9], [0], [8]), "event at age 9 of unit 0"),
        (
            lambda: mean_cumulative([3], [0], [8], unit_entries=[3]),
            "within the observation",
        ),
        (lambda: mean_cumulative([3], [1], [8]), "positions from 0 to 0; got 1"),
        (lambda: mean_cumulative([3], [0.5], [8]), "positions from 0"),
        (lambda: mean_cumulative([3], [0, 0], [8]), "rows of one length"),
        (lambda: mean_cumulative([3], [0], []), "at least one"),
        (lambda: mean_cumulative([3], [0], [8], unit_entries=[9]), "below unit_ends"),
        (
            lambda: mean_cumulative([3], [0], [8], unit_entries=[1, 2]),
            "unit_entries must",
        ),
        (lambda: mean_cumulative([3], [0], [8], confidence=2), "strictly between"),
    ],
)
def test_what_cannot_be_is_refused_with_the_rule(call: Any, rule: str) -> None:
    with pytest.raises(InputError, match=rule):
        call()
