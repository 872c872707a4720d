"""Laws that lag tables, run-off triangles and completed counts must keep."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from claimlens.stats.completion import complete_counts
from claimlens.stats.lag import lag_table
from claimlens.stats.run_off import chain_ladder, totals_of

quick = settings(max_examples=60, deadline=None, derandomize=True)


@st.composite
def triangles(draw: Any) -> tuple[Any, Any]:
    """Return counts by row and lag, and the longest lag each row could show."""
    width = draw(st.integers(1, 8))
    rows = draw(st.integers(1, 10))
    horizons = np.array(draw(st.lists(st.integers(0, 9), min_size=rows, max_size=rows)))
    counts = np.array(
        draw(
            st.lists(
                st.lists(st.integers(0, 60), min_size=width, max_size=width),
                min_size=rows,
                max_size=rows,
            )
        ),
        dtype=float,
    )
    counts[np.arange(width) > horizons[:, None]] = 0.0
    return counts, horizons


@quick
@given(triangles())
def test_the_share_reported_is_a_distribution(given_rows: Any) -> None:
    table = lag_table(*given_rows)
    assert (np.diff(table.share) >= 0).all()
    assert ((table.share >= 0) & (table.share <= 1)).all()
    assert table.share[-1] == 1.0
    lower, upper = table.limits(0.95)
    assert ((lower >= 0) & (lower <= table.share + 1e-12)).all()
    assert ((upper <= 1) & (upper >= table.share - 1e-12)).all()


@quick
@given(triangles(), st.randoms(use_true_random=False))
def test_the_order_of_rows_and_empty_rows_change_nothing(
    given_rows: Any, random: Any
) -> None:
    counts, horizons = given_rows
    order = list(range(len(counts)))
    random.shuffle(order)
    one = lag_table(counts, horizons)
    other = lag_table(
        np.vstack([counts[order], np.zeros(counts.shape[1])]),
        np.append(horizons[order], 9),
    )
    np.testing.assert_allclose(other.share, one.share, rtol=1e-12)
    np.testing.assert_allclose(other.log_variance, one.log_variance, rtol=1e-9)


@quick
@given(triangles())
def test_rows_of_one_horizon_can_be_merged(given_rows: Any) -> None:
    counts, horizons = given_rows
    kept = np.unique(horizons)
    merged = np.stack([counts[horizons == one].sum(axis=0) for one in kept])
    np.testing.assert_allclose(
        lag_table(merged, kept).share, lag_table(counts, horizons).share, rtol=1e-12
    )


@quick
@given(triangles())
def test_the_lag_table_is_the_chain_ladder_read_backwards(given_rows: Any) -> None:
    counts, horizons = given_rows
    total = np.cumsum(counts, axis=1)
    total[np.arange(counts.shape[1]) > horizons[:, None]] = np.nan
    table, run_off = lag_table(counts, horizons), chain_ladder(total)
    # where all claims of the later column are new, no factor tells how many
    grows = table.hazard[1:] < 1
    np.testing.assert_allclose(
        1 / (1 - table.hazard[1:][grows]), run_off.factors[grows], rtol=1e-9
    )
    np.testing.assert_allclose(table.share, run_off.share, rtol=1e-9)
    assert ("seen before" in run_off.note) == (not grows.all())


@quick
@given(triangles(), st.floats(0.01, 1e6))
def test_what_is_to_come_of_a_triangle_scales_and_adds_up(
    given_rows: Any, currency: float
) -> None:
    counts, horizons = given_rows
    new = np.where(np.arange(counts.shape[1]) > horizons[:, None], np.nan, counts)
    found, money = chain_ladder(totals_of(new)), chain_ladder(totals_of(currency * new))
    np.testing.assert_allclose(found.latest, counts.sum(axis=1), rtol=1e-12)
    assert (found.factors >= 1 - 1e-12).all()
    assert (found.to_come >= -1e-9).all()
    np.testing.assert_allclose(found.total_to_come, found.to_come.sum(), atol=1e-9)
    np.testing.assert_allclose(money.to_come, currency * found.to_come, rtol=1e-6)
    done = horizons >= counts.shape[1] - 1
    assert (found.standard_error[done] == 0).all()
    # rows share their factors: errors add up to no less than independent ones
    squares = np.sqrt((found.standard_error**2).sum())
    assert not found.total_standard_error < squares * (1 - 1e-9)
    assert not found.total_standard_error > found.standard_error.sum() * (1 + 1e-9)


@quick
@given(st.lists(st.integers(0, 500), min_size=1, max_size=8), st.floats(0.1, 1.0))
def test_months_are_completed_one_by_one(seen: list[int], share: float) -> None:
    """A month's limits do not depend on which others stand beside it."""
    shares, spread = np.full(len(seen), share), np.full(len(seen), 0.01)
    together = complete_counts(seen, shares, spread)
    for place, count in enumerate(seen):
        alone = complete_counts([count], [share], [0.01])
        assert alone.lower[0] == together.lower[place]
        assert alone.upper[0] == together.upper[place]
