"""Weibull fits of random counts against R survival, numbers stored with their lines."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from reference_rows import assert_row, rows

from claimlens.stats import weibull

ROWS = rows("r_survreg")


@pytest.mark.parametrize("key", ROWS)
def test_fit_and_limits_equal_those_of_r(key: str) -> None:
    """R 4.2.2 with survival 3.5.3; the lines stand in ``r_survreg.toml``."""
    row = ROWS[key]
    fit = weibull.fit(
        row["age"],
        row["failed"],
        row["left"],
        lower=row.get("lower"),
        entry=row.get("entry"),
    )
    for name, value in row["expected"].items():
        assert_row(row, getattr(fit, name), value)


@pytest.mark.parametrize("key", [key for key in ROWS if key.startswith("grouped")])
def test_exposure_gives_what_r_makes_of_leavers(key: str) -> None:
    row: dict[str, Any] = ROWS[key]
    failed, left = np.array(row["failed"]), np.array(row["left"])
    passed = np.cumsum((failed + left)[::-1])[::-1] - failed
    fit = weibull.fit(row["age"], failed, None, lower=row["lower"], exposed=passed)
    for name, value in row["expected"].items():
        assert_row(row, getattr(fit, name), value)
