"""Read the stored reference values."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

FOLDER = Path(__file__).parent


@cache
def rows(name: str) -> dict[str, dict[str, Any]]:
    """Return the rows of one file by id; each must name source and tolerance."""
    with (FOLDER / f"{name}.toml").open("rb") as file:
        table = tomllib.load(file)["row"]
    for row in table:
        assert row["source"], row["id"]
        assert row["tolerance"], row["id"]
    return {row["id"]: row for row in table}


@cache
def dataset(name: str) -> dict[str, Any]:
    """Return one data set."""
    with (FOLDER / "datasets.toml").open("rb") as file:
        return tomllib.load(file)[name]


def assert_row(row: dict[str, Any], found: ArrayLike, expected: ArrayLike) -> None:
    """Assert that what was found lies within the row's own tolerance."""
    tolerance = row["tolerance"]
    np.testing.assert_allclose(
        np.asarray(found, dtype=float),
        np.asarray(expected, dtype=float),
        rtol=tolerance.get("rel", 0.0),
        atol=tolerance.get("abs", 0.0),
        err_msg=f"{row['id']}: {row['statistic']} ({row['source']})",
    )


def assert_published(row: dict[str, Any], found: ArrayLike) -> None:
    """Assert that what was found rounds to the digits that the source prints."""
    for value, printed in zip(
        np.ravel(found), np.ravel(row["published"]).tolist(), strict=True
    ):
        text = repr(printed)
        digits = len(text.split(".")[1]) if "." in text else 0
        assert abs(value - printed) <= 0.5 * 10.0**-digits * (1 + 1e-9), (
            f"{row['id']}: {value} does not round to {printed} ({row['source']})"
        )
