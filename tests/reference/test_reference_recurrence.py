"""Mean cumulative function against published repair data.

Sources, row by row in ``recurrence.toml``: Nelson 1995 (valve seats), Lawless
and Nadeau 1995 (robust variance), a worked example of the reliability
library's documentation.
"""

from __future__ import annotations

import numpy as np
from reference_rows import assert_published, assert_row, dataset, rows

from claimlens.stats import recurrence

ROWS = rows("recurrence")


def _valve_seats() -> recurrence.MeanCumulative:
    table = np.array(dataset("valve_seat")["rows_id_time_status"])
    _, unit = np.unique(table[:, 0], return_inverse=True)
    ends = np.zeros(unit.max() + 1)
    np.maximum.at(ends, unit, table[:, 1])
    event = table[:, 2] == 1
    return recurrence.mean_cumulative(table[event, 1], unit[event], ends)


def _five_systems() -> recurrence.MeanCumulative:
    systems = dataset("mcf_small")["systems"]
    ages = [age for system in systems for age in system[:-1]]
    units = [i for i, system in enumerate(systems) for _ in system[:-1]]
    return recurrence.mean_cumulative(ages, units, [system[-1] for system in systems])


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


def test_limits_of_the_valve_seats_are_those_on_the_log_scale() -> None:
    row, curve = ROWS["M07"], _valve_seats()
    at = _at(curve, [row["inputs"]["time"]])
    assert_row(row, [curve.lower[at][0], curve.upper[at][0]], row["expected"]["log"])


def test_five_systems_agree_with_the_worked_example() -> None:
    row, curve = ROWS["M05"], _five_systems()
    assert_row(row, curve.mean, row["expected"])
    assert_published(row, curve.mean)


def test_variance_of_five_systems_carries_the_covariance() -> None:
    row, curve = ROWS["M06"], _five_systems()
    found = curve.standard_error[_at(curve, row["inputs"]["times"])] ** 2
    assert_row(row, found, row["expected"]["lawless_nadeau"])
