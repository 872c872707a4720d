"""Intervals against published tables.

Sources, row by row in ``intervals.toml``: Newcombe 1998 (Stat. Med. 17,
857-872 and 873-890), Clopper and Pearson 1934, Garwood 1936, Przyborowski and
Wilenski 1940, and the documented examples of R's poisson.test.
"""

from __future__ import annotations

import pytest
from reference_rows import assert_published, assert_row, rows
from scipy import stats

from claimlens.stats import intervals

ROWS = rows("intervals")


def _ids(*names: str) -> list[str]:
    return list(names)


@pytest.mark.parametrize("key", _ids("P01", "P02", "P03", "P04", "P14"))
def test_wilson_agrees_with_newcombes_table_method_3(key: str) -> None:
    row = ROWS[key]
    inputs = row["inputs"]
    found = intervals.wilson(
        inputs["successes"], inputs["trials"], inputs["confidence"]
    )
    assert_row(row, found, row["expected"])
    if "published" in row:
        assert_published(row, found)


@pytest.mark.parametrize("key", _ids("P05", "P06", "P07", "P08"))
def test_wilson_with_continuity_agrees_with_newcombes_method_4(key: str) -> None:
    row = ROWS[key]
    inputs = row["inputs"]
    found = intervals.wilson(inputs["successes"], inputs["trials"], continuity=True)
    assert_row(row, found, row["expected"])
    assert_published(row, found)


def test_wilson_keeps_the_continuity_correction_at_one_half() -> None:
    """R drops it there; the formula does not (see the row)."""
    row = ROWS["P13"]
    found = intervals.wilson(10, 20, continuity=True)
    assert_row(row, found, row["expected"]["with_correction"])
    plain = intervals.wilson(10, 20)
    assert_row(row, plain, row["expected"]["r_prop_test"])


@pytest.mark.parametrize("key", _ids("P09", "P10", "P11", "P12", "P15"))
def test_clopper_pearson_agrees_with_newcombes_method_5(key: str) -> None:
    row = ROWS[key]
    inputs = row["inputs"]
    found = intervals.clopper_pearson(
        inputs["successes"], inputs["trials"], inputs["confidence"]
    )
    assert_row(row, found, row["expected"])
    if "published" in row:
        assert_published(row, found)


@pytest.mark.parametrize("key", [f"D0{i}" for i in range(1, 9)])
def test_newcombe_difference_agrees_with_his_table_method_10(key: str) -> None:
    row = ROWS[key]
    inputs = row["inputs"]
    found = intervals.newcombe_difference(
        inputs["x1"], inputs["n1"], inputs["x2"], inputs["n2"], inputs["confidence"]
    )
    assert_row(row, found, row["expected"])
    assert_published(row, found)


@pytest.mark.parametrize("key", [f"R0{i}" for i in range(1, 8)])
def test_poisson_interval_agrees_with_garwoods_table(key: str) -> None:
    row = ROWS[key]
    inputs = row["inputs"]
    found = intervals.poisson_exact(
        inputs["events"], inputs["exposure"], inputs["confidence"]
    )
    assert_row(row, found, row["expected"])
    if "published" in row:
        assert_published(row, found)


@pytest.mark.parametrize("key", _ids("R10", "R11", "R12", "R13", "R14"))
def test_rate_ratio_agrees_with_the_exact_conditional_limits(key: str) -> None:
    row = ROWS[key]
    inputs, expected = row["inputs"], row["expected"]
    if isinstance(expected, dict):
        expected = expected.get("interval") or [expected["lower"], expected["upper"]]
    found = intervals.rate_ratio_exact(
        inputs["x1"], inputs["t1"], inputs["x2"], inputs["t2"], 0.95
    )
    assert_row(row, found, expected)


def test_mid_p_share_agrees_with_newcombes_method_6() -> None:
    row = ROWS["P16"]
    inputs = row["inputs"]
    found = intervals.binomial_mid_p(
        inputs["successes"], inputs["trials"], inputs["confidence"]
    )
    assert_row(row, found, row["expected"])
    assert_published(row, found)


@pytest.mark.parametrize("key", _ids("R08", "R09"))
def test_mid_p_poisson_interval_agrees_with_r(key: str) -> None:
    row = ROWS[key]
    inputs = row["inputs"]
    found = intervals.poisson_mid_p(
        inputs["events"], inputs["exposure"], inputs["confidence"]
    )
    assert_row(row, found, row["expected"])


def test_mid_p_rate_ratio_agrees_with_r() -> None:
    row = ROWS["R15"]
    inputs = row["inputs"]
    found = intervals.rate_ratio_exact(
        inputs["x1"], inputs["t1"], inputs["x2"], inputs["t2"], 0.95, mid_p=True
    )
    assert_row(row, found, row["expected"])


def test_fishers_exact_p_of_scipy_agrees_with_r() -> None:
    """No command prints it; it is a witness of the p-value of a comparison."""
    row = ROWS["D09"]
    x1, n1, x2, n2 = row["inputs"].values()
    found = stats.fisher_exact([[x1, n1 - x1], [x2, n2 - x2]]).pvalue
    assert_row(row, found, row["expected"])
