"""Mean cumulative function against published repair data.

Sources, row by row in ``recurrence.toml``: Nelson 1995 (valve seats), Lawless
and Nadeau 1995 (robust variance), a worked example of the reliability
library's documentation.
"""

from __future__ import annotations

import numpy as np
import pytest
from reference_rows import assert_published, assert_row, dataset, rows

from claimlens.stats import recurrence

ROWS = rows("recurrence")


Z = 1.959963984540054  # 97.5 % point of the normal distribution (scipy norm.ppf)


def _valve_seat_rows() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return ages and units of the repairs, and the ends of the units."""
    table = np.array(dataset("valve_seat")["rows_id_time_status"])
    _, unit = np.unique(table[:, 0], return_inverse=True)
    ends = np.zeros(unit.max() + 1)
    np.maximum.at(ends, unit, table[:, 1])
    event = table[:, 2] == 1
    return table[event, 1], unit[event], ends


def _valve_seats() -> recurrence.MeanCumulative:
    return recurrence.mean_cumulative(*_valve_seat_rows())


def _five_system_rows() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    systems = dataset("mcf_small")["systems"]
    ages = [age for system in systems for age in system[:-1]]
    units = [i for i, system in enumerate(systems) for _ in system[:-1]]
    ends = [system[-1] for system in systems]
    return np.array(ages), np.array(units), np.array(ends)


def _five_systems() -> recurrence.MeanCumulative:
    return recurrence.mean_cumulative(*_five_system_rows())


def _at(curve: recurrence.MeanCumulative, times: list[float]) -> np.ndarray:
    return np.searchsorted(curve.ages, times)


def test_mean_of_the_valve_seats_agrees_with_r() -> None:
    row, curve = ROWS["M01"], _valve_seats()
    assert_row(row, curve.mean[_at(curve, row["inputs"]["times"])], row["expected"])


def test_robust_error_of_the_valve_seats_agrees_with_r() -> None:
    curve = _valve_seats()
    for key, name in (("M02", None), ("M04", "lawless_nadeau")):
        row = ROWS[key]
        expected = row["expected"] if name is None else row["expected"][name]
        found = curve.standard_error[_at(curve, row["inputs"]["times"])]
        assert_row(row, found, expected)


def test_a_repair_comes_before_the_end_of_observation_at_one_age() -> None:
    row, curve = ROWS["M03"], _valve_seats()
    found = curve.mean[_at(curve, [row["inputs"]["time"]])]
    assert_row(row, found[0], row["expected"]["repairs_before_censoring"])


def test_a_second_repair_after_the_others_left_counts_for_more() -> None:
    """R takes one of two repairs at one age of one engine a moment later."""
    row = ROWS["M03"]
    ages, units, ends = _valve_seat_rows()
    at_tie = np.flatnonzero(ages == row["inputs"]["time"])
    assert at_tie.size == 2
    ages = ages.astype(float)
    ages[at_tie[1]] += 0.001
    ends[units[at_tie[1]]] = max(ends[units[at_tie[1]]], ages[at_tie[1]])
    curve = recurrence.mean_cumulative(ages, units, ends)
    found = curve.mean[np.searchsorted(curve.ages, ages[at_tie[1]])]
    assert_row(row, found, row["expected"]["with_second_repair_shifted_in_r"])


def _unit_steps(
    ages: np.ndarray, units: np.ndarray, ends: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return repairs less their mean by unit and age, units at risk, and ages."""
    distinct = np.unique(ages)
    seen = (distinct <= ends[:, None]).astype(float)
    happened = np.zeros_like(seen)
    np.add.at(happened, (units, np.searchsorted(distinct, ages)), 1.0)
    at_risk = seen.sum(axis=0)
    return seen * (happened - happened.sum(axis=0) / at_risk), at_risk, distinct


def test_other_variances_of_the_valve_seats_differ_as_stated() -> None:
    """Ours is Lawless and Nadeau's; the others are told apart by the same data.

    Poisson: the sum of d / r**2. Nelson: the divisor r - 1 in place of r, age by
    age, covariances included.
    """
    row, curve = ROWS["M04"], _valve_seats()
    at = _at(curve, row["inputs"]["times"])
    steps = np.diff(curve.mean, prepend=0.0)
    poisson = np.sqrt(np.cumsum(steps / curve.at_risk))
    assert_row(row, poisson[at], row["expected"]["poisson"])
    rest, at_risk, ages = _unit_steps(*_valve_seat_rows())
    for place, wanted in zip(at, row["expected"]["nelson_unbiased"], strict=True):
        assert ages[place] == curve.ages[place]
        products = rest[:, : place + 1].T @ rest[:, : place + 1]
        # of two ages the later has fewer units, all of them seen at the earlier
        both = np.maximum.outer(np.arange(place + 1), np.arange(place + 1))
        few = at_risk[both]
        early = at_risk[np.minimum.outer(np.arange(place + 1), np.arange(place + 1))]
        unbiased = (products / (few - 1.0) / early).sum()
        biased = (products / few / early).sum()
        assert np.sqrt(biased) == pytest.approx(curve.standard_error[place])
        assert_row(row, np.sqrt(unbiased), wanted)


def test_normal_limits_of_the_valve_seats_follow_from_the_error() -> None:
    row, curve = ROWS["M07"], _valve_seats()
    at = _at(curve, [row["inputs"]["time"]])[0]
    half = Z * curve.standard_error[at]
    found = [curve.mean[at] - half, curve.mean[at] + half]
    assert_row(row, found, row["expected"]["normal"])


def test_limits_of_the_valve_seats_are_those_on_the_log_scale() -> None:
    row, curve = ROWS["M07"], _valve_seats()
    at = _at(curve, [row["inputs"]["time"]])
    assert_row(row, [curve.lower[at][0], curve.upper[at][0]], row["expected"]["log"])


def test_five_systems_agree_with_the_worked_example() -> None:
    row, curve = ROWS["M05"], _five_systems()
    assert_row(row, curve.mean, row["expected"])
    assert_published(row, curve.mean)


def test_variances_added_event_by_event_leave_the_covariance_out() -> None:
    """What the reliability library prints, one event after the other; not ours."""
    row, curve = ROWS["M06"], _five_systems()
    ages, _, _ = _five_system_rows()
    number = np.bincount(np.searchsorted(curve.ages, ages))
    at_risk = curve.at_risk
    added = np.cumsum(number * (1 - 1 / at_risk) / at_risk**2)
    found = added[_at(curve, row["inputs"]["times"])]
    assert_row(row, found, row["expected"]["sum_without_covariance"])


def test_variance_of_five_systems_carries_the_covariance() -> None:
    row, curve = ROWS["M06"], _five_systems()
    found = curve.standard_error[_at(curve, row["inputs"]["times"])] ** 2
    assert_row(row, found, row["expected"]["lawless_nadeau"])
