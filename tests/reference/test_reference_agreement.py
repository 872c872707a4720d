"""Cohen's kappa against the textbook and other libraries.

Sources, row by row in ``agreement.toml``: Fleiss, Levin and Paik, chapter 18; Cohen
1960. Libraries: scikit-learn (kappa), statsmodels (kappa and both standard errors).
"""

from __future__ import annotations

import numpy as np
import pytest
from reference_rows import assert_published, assert_row, rows
from sklearn.metrics import cohen_kappa_score
from statsmodels.stats.inter_rater import cohens_kappa

from claimlens.stats.agreement import cohen_kappa

ROWS = rows("agreement")


def test_kappa_and_both_errors_of_the_textbook_example() -> None:
    row = ROWS["C01"]
    found = cohen_kappa(row["inputs"]["table"])
    assert_row(
        row,
        [found.kappa, found.standard_error, found.standard_error_chance],
        row["expected"],
    )
    for name, printed in row["published"].items():
        assert_published({**row, "published": printed}, getattr(found, name))
    assert found.agreement == pytest.approx(0.89)
    assert found.chance_agreement == pytest.approx(0.66)


@pytest.mark.parametrize("name", ["C02", "C07a", "C07b"])
def test_kappa_of_small_tables_worked_by_hand(name: str) -> None:
    row = ROWS[name]
    assert_row(row, cohen_kappa(row["inputs"]["table"]).kappa, row["expected"])


@pytest.mark.parametrize("classes", [2, 3, 7, 28])
@pytest.mark.parametrize("n", [12, 60, 900])
def test_kappa_agrees_with_two_libraries(classes: int, n: int) -> None:
    rng = np.random.default_rng(20240607 + classes + n)
    first = rng.integers(classes, size=n)
    blind = rng.integers(classes, size=n)
    second = np.where(rng.random(n) < 0.6, first, blind)
    table = np.zeros((classes, classes), dtype=int)
    np.add.at(table, (first, second), 1)
    found = cohen_kappa(table)
    other = cohens_kappa(table)
    assert found.kappa == pytest.approx(cohen_kappa_score(first, second), abs=1e-12)
    assert found.kappa == pytest.approx(other.kappa, abs=1e-12)
    assert found.standard_error == pytest.approx(other.std_kappa, abs=1e-12)
    assert found.standard_error_chance == pytest.approx(other.std_kappa0, abs=1e-12)
