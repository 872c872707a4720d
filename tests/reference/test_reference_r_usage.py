"""Usage rates behind a limit against R's optim, numbers stored with their lines."""

from __future__ import annotations

import numpy as np
import pytest
from reference_rows import assert_row, rows

from claimlens.stats.usage import fit_usage

ROWS = rows("r_usage")


@pytest.mark.parametrize("key", ROWS)
def test_usage_rates_equal_those_of_r(key: str) -> None:
    row = ROWS[key]
    fit = fit_usage(row["distance"], row["age"], row["limit"])
    assert fit.rates is not None
    assert_row(row, np.log(fit.rates.median), row["log_median"])
    assert_row(row, np.log(fit.rates.spread), row["log_spread"])
    assert_row(row, fit.log_likelihood, row["log_likelihood"])


@pytest.mark.parametrize("key", ROWS)
def test_their_errors_equal_those_of_rs_curvature(key: str) -> None:
    """R takes differences of the gradient: good to about 1e-7."""
    row = ROWS[key]
    fit = fit_usage(row["distance"], row["age"], row["limit"])
    errors = np.sqrt(np.diag(fit.covariance))
    assert errors == pytest.approx(row["errors"], rel=1e-6)
