"""Gamma-Poisson rates against conjugate algebra and the pump data.

Sources, row by row in ``shrinkage.toml``: Gelman et al. 2013, ch. 2; Gaver and
O'Muircheartaigh 1987 (data from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from reference_rows import assert_row, dataset, rows

from claimlens.stats import shrinkage

ROWS = rows("shrinkage")


@pytest.mark.parametrize("key", ["B01", "B02"])
def test_posterior_rate_agrees_with_the_gamma_quantiles(key: str) -> None:
    row = ROWS[key]
    inputs = row["inputs"]
    mean, lower, upper = shrinkage.posterior_rate(
        inputs["claims"], inputs["exposure"], inputs["shape"], inputs["rate"]
    )
    assert_row(row, mean, row["expected"]["mean"])
    assert_row(row, [lower, upper], row["expected"]["interval"])


def test_posterior_rates_of_the_pumps_agree_with_r() -> None:
    data = dataset("pumps")
    shape, rate, _ = ROWS["B03"]["expected"]
    mean, lower, upper = shrinkage.posterior_rate(
        data["failures"], data["exposure"], shape, rate
    )
    row = ROWS["B04"]
    assert_row(row, mean[np.array(row["inputs"]["units"]) - 1], row["expected"])
    row = ROWS["B05"]
    units = np.array(row["inputs"]["units"]) - 1
    assert_row(row, np.stack([lower, upper], axis=1)[units], row["expected"])
