"""Run-off triangles against the chainladder library, run here and now."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pandas as pd
import pytest
from reference_rows import assert_row, rows

from claimlens.stats.lag import lag_table
from claimlens.stats.run_off import chain_ladder

with warnings.catch_warnings():
    # the reference library lags behind numpy and pandas; its warnings are not
    # ours to fix
    warnings.simplefilter("ignore")
    import chainladder

pytestmark = pytest.mark.filterwarnings("ignore")

_SIZE = 8


def _drawn(seed: int) -> np.ndarray:
    """Draw a cumulative triangle of counts in which every row grows."""
    rng = np.random.default_rng([20240607, seed])
    shares = rng.dirichlet(np.linspace(4, 0.5, _SIZE))
    counts = rng.poisson(rng.uniform(50, 5000, _SIZE)[:, None] * shares)
    total = np.cumsum(counts, axis=1).astype(float)
    total[:, 0] += 1.0
    total[np.add.outer(np.arange(_SIZE), np.arange(_SIZE)) >= _SIZE] = np.nan
    return np.maximum.accumulate(total, axis=1)


def _theirs(total: np.ndarray) -> Any:
    rows = [
        (f"{2001 + i}-01-01", f"{2001 + i + j}-12-31", total[i, j])
        for i, j in zip(*np.nonzero(np.isfinite(total)), strict=True)
    ]
    frame = pd.DataFrame(rows, columns=["origin", "seen", "total"])
    return chainladder.Triangle(
        frame, origin="origin", development="seen", columns="total", cumulative=True
    )


@pytest.mark.parametrize("seed", range(20))
def test_a_drawn_triangle_runs_off_as_theirs_does(seed: int) -> None:
    total = _drawn(seed)
    ours = chain_ladder(total)
    developed = chainladder.Development(sigma_interpolation="mack").fit_transform(
        _theirs(total)
    )
    model = chainladder.MackChainladder().fit(developed)
    factors = np.ravel(developed.ldf_.values)
    np.testing.assert_allclose(ours.factors, factors, rtol=1e-10)
    np.testing.assert_allclose(ours.final, np.ravel(model.ultimate_.values), rtol=1e-10)
    np.testing.assert_allclose(
        ours.total_standard_error,
        float(np.ravel(model.total_mack_std_err_)[0]),
        rtol=1e-8,
    )
    # F-1: the lag distribution is the chain ladder read backwards
    table = lag_table(
        np.nan_to_num(np.diff(total, axis=1, prepend=0.0)),
        np.isfinite(total).sum(axis=1) - 1,
    )
    np.testing.assert_allclose(1 / (1 - table.hazard[1:]), factors, rtol=1e-10)
    np.testing.assert_allclose(
        table.share[:-1], 1 / np.ravel(developed.cdf_.values), rtol=1e-10
    )


def test_their_default_for_the_last_sigma_gives_another_error() -> None:
    row = rows("run_off")["T04"]
    sample = chainladder.load_sample("genins")
    model = chainladder.MackChainladder().fit(
        chainladder.Development().fit_transform(sample)
    )
    assert_row(row, float(np.ravel(model.total_mack_std_err_)[0]), row["expected"])
