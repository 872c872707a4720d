"""Laws that mean costs must keep, whatever the costs and groups."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from claimlens.stats.severity import draw_means, mean_costs

quick = settings(max_examples=60, deadline=None, derandomize=True)


@st.composite
def claims(draw: Any) -> tuple[Any, Any, Any]:
    """Return costs, their groups, and the pools of the groups."""
    pools = draw(st.lists(st.integers(0, 3), min_size=1, max_size=6))
    rows = draw(
        st.lists(
            st.tuples(
                st.one_of(st.just(0), st.integers(-500, 100_000)),
                st.integers(0, len(pools) - 1),
            ),
            max_size=60,
        )
    )
    table = np.array(rows, dtype=float).reshape(-1, 2)
    return table[:, 0], table[:, 1], np.array(pools)


def _rng() -> np.random.Generator:
    return np.random.default_rng(7)


@quick
@given(claims())
def test_claims_and_money_add_up(rows: Any) -> None:
    costs, groups, pools = rows
    found = mean_costs(costs, groups, pools, rng=_rng())
    assert found.n.sum() == costs.size
    assert found.total.sum() == costs.sum()
    assert found.n_zero.sum() == (costs == 0).sum()
    assert found.n_negative.sum() == (costs < 0).sum()
    for group in range(pools.size):
        mine = costs[groups == group]
        pooled = costs[pools[groups.astype(int)] == pools[group]]
        assert found.n[group] == mine.size
        if mine.size:
            np.testing.assert_allclose(found.mean[group], mine.mean(), rtol=1e-12)
        if pooled.size:
            np.testing.assert_allclose(
                found.wider_mean[group], pooled.mean(), rtol=1e-9, atol=1e-9
            )
            z = mine.size / (mine.size + 20)
            own = mine.mean() if mine.size else 0.0
            np.testing.assert_allclose(
                found.credible_mean[group],
                z * own + (1 - z) * pooled.mean(),
                rtol=1e-9,
                atol=1e-9,
            )
        assert np.isnan(found.upper[group]) == bool(found.note[group])
        # a lopsided resample may bound the mean away from itself by a little
        assert not found.lower[group] > found.upper[group]


@quick
@given(claims(), st.sampled_from([0.01, 2.0, 1024.0]))
def test_another_unit_rescales_all_money(rows: Any, unit: float) -> None:
    costs, groups, pools = rows
    one = mean_costs(costs, groups, pools, rng=_rng())
    other = mean_costs(unit * costs, groups, pools, rng=_rng())
    for name in ("total", "mean", "wider_mean", "credible_mean"):
        np.testing.assert_allclose(
            getattr(other, name), unit * getattr(one, name), rtol=1e-9, atol=1e-9
        )
    np.testing.assert_allclose(other.largest_share, one.largest_share, rtol=1e-9)
    if unit != 0.01:  # exact in binary, so the very same resamples count as flat
        np.testing.assert_allclose(other.upper, unit * one.upper, rtol=1e-9)
        np.testing.assert_allclose(other.lower, unit * one.lower, rtol=1e-9)


@quick
@given(claims())
def test_drawn_means_lie_among_the_costs(rows: Any) -> None:
    costs, groups, pools = rows
    drawn = draw_means(np.abs(costs), groups, pools, rng=_rng(), draws=50)
    assert drawn.shape == (50, pools.size)
    held = np.isin(pools, pools[groups.astype(int)])
    assert np.isnan(drawn[:, ~held]).all()
    assert (drawn[:, held] >= 0).all()
