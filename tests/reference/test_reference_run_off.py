"""Run-off triangles and the share reported against published values.

Sources, row by row in ``run_off.toml``: Taylor and Ashe 1983, Mack 1993 and 1994.
"""

from __future__ import annotations

import tomllib

import numpy as np
from reference_rows import FOLDER, assert_published, assert_row, rows

from claimlens.stats.lag import lag_table
from claimlens.stats.run_off import RunOff, chain_ladder

ROWS = rows("run_off")


def triangle(name: str) -> np.ndarray:
    """Return a cumulative triangle, NaN where nothing is seen yet."""
    with (FOLDER / "run_off.toml").open("rb") as file:
        ragged = tomllib.load(file)["triangle"][name]["cumulative"]
    table = np.full((len(ragged), max(map(len, ragged))), np.nan)
    for i, row in enumerate(ragged):
        table[i, : len(row)] = row
    return table


def _run_off(key: str) -> RunOff:
    return chain_ladder(triangle(ROWS[key]["inputs"]["triangle"]))


def _share(key: str) -> np.ndarray:
    """Return G(j) by the other route: the reverse-time product limit."""
    total = triangle(ROWS[key]["inputs"]["triangle"])
    counts = np.nan_to_num(np.diff(total, axis=1, prepend=0.0))
    return lag_table(counts, np.isfinite(total).sum(axis=1) - 1).share


def test_factors_are_the_published_ones() -> None:
    found = _run_off("T01").factors
    assert_row(ROWS["T01"], found, ROWS["T01"]["expected"])
    assert_published(ROWS["T01"], found)


def test_total_to_come_is_the_published_one() -> None:
    found = _run_off("T02").total_to_come
    assert_row(ROWS["T02"], found, ROWS["T02"]["expected"])
    assert_published(ROWS["T02"], found)


def test_standard_error_of_the_total_is_the_published_one() -> None:
    found = _run_off("T03").total_standard_error
    assert_row(ROWS["T03"], found, ROWS["T03"]["expected"])
    assert_published(ROWS["T03"], found)


def test_the_last_sigma_is_by_the_published_rule_and_not_by_a_line_of_logs() -> None:
    """The line of logs prints 2,441,364, which is not the published value."""
    found = _run_off("T04").total_standard_error
    assert abs(found / ROWS["T04"]["expected"] - 1) > 1e-3


def test_standard_errors_by_row_are_the_published_ones() -> None:
    found = _run_off("T05").standard_error
    assert found[0] == 0.0
    assert_row(ROWS["T05"], found[1:], ROWS["T05"]["expected"])
    assert_published(ROWS["T05"], found[1:])


def test_total_and_standard_error_of_the_second_triangle_are_published() -> None:
    found = _run_off("T06")
    both = [found.total_to_come, found.total_standard_error]
    assert_row(ROWS["T06"], both, ROWS["T06"]["expected"])
    assert_published(ROWS["T06"], both)


def test_share_reported_is_the_same_by_both_routes() -> None:
    for found in (_run_off("T07").share, _share("T07")):
        assert_row(ROWS["T07"], found[:-1], ROWS["T07"]["expected"])
        assert found[-1] == 1.0


def test_a_table_of_counts_agrees_with_exact_fractions() -> None:
    expected = ROWS["T08"]["expected"]
    found = _run_off("T08")
    assert_row(ROWS["T08"], found.factors, expected["factors"])
    assert_row(ROWS["T08"], found.final, expected["ultimates"])
    for share in (found.share, _share("T08")):
        assert_row(ROWS["T08"], share, expected["share"])
