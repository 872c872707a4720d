"""The design of a rate against the same design written out as a matrix."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from intensity_maker import dense, effect, random_design

from claimlens.stats.intensity import Design
from claimlens.stats.intensity.design import crossed_all

SEED = 20240607


@st.composite
def designs(draw: st.DrawFn) -> tuple[Design, np.random.Generator]:
    """Draw a design of 0 to 4 effects over 0 to 30 cells."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    sizes = tuple(draw(st.lists(st.integers(1, 6), max_size=4)))
    n_slopes = draw(st.integers(1, 3))
    return random_design(rng, draw(st.integers(0, 30)), sizes, n_slopes=n_slopes), rng


@settings(deadline=None, max_examples=50)
@given(designs())
def test_the_sums_of_a_design_are_those_of_its_matrix(
    made: tuple[Design, np.random.Generator],
) -> None:
    design, rng = made
    x = dense(design)
    weights = rng.normal(size=x.shape[0])
    coefficients = rng.normal(size=x.shape[1])
    assert design.n_coefficients == x.shape[1]
    np.testing.assert_allclose(
        design.linear(coefficients), x @ coefficients, rtol=1e-12, atol=1e-12
    )
    np.testing.assert_allclose(
        design.gathered(weights), x.T @ weights, rtol=1e-12, atol=1e-12
    )
    np.testing.assert_allclose(
        design.crossed(weights), x.T @ (weights[:, None] * x), rtol=1e-12, atol=1e-12
    )


@settings(deadline=None, max_examples=50)
@given(designs(), st.integers(1, 4))
def test_many_columns_have_the_bits_of_one(
    made: tuple[Design, np.random.Generator], n_columns: int
) -> None:
    """Sums go in the order of the cells, as a plain count by level does."""
    design, rng = made
    n_cells = design.covariates.shape[0]
    weights = rng.normal(size=(n_cells, n_columns)) * 10.0 ** rng.integers(-9, 9)
    sums = design.sums
    by_level, by_pair = sums.by_level(weights), sums.by_pair(weights)
    for c, column in enumerate(weights.T):
        for i, one in enumerate(design.effects):
            counted = np.bincount(one.level, column, minlength=one.n_levels)
            assert by_level[i][:, c].tobytes() == counted.astype(float).tobytes()
            for j, other in enumerate(design.effects[: i + 1]):
                both = one.level * other.n_levels + other.level
                size = one.n_levels * other.n_levels
                counted = np.bincount(both, column, minlength=size).astype(float)
                assert by_pair[i, j][:, :, c].tobytes() == counted.tobytes()
    together = crossed_all([design] * n_columns, weights, sums)
    alone = [design.crossed(column) for column in weights.T]
    assert [one.tobytes() for one in together] == [one.tobytes() for one in alone]


def test_effects_of_the_same_levels_are_added_up_as_one() -> None:
    level = np.array([0, 2, 2, 1])
    design = Design(
        effects=(
            effect("age", np.array([1, 0, 1, 1]), 2),
            effect("dates", level, 3),
            effect("trend", level.copy(), 3, kind="walk"),
        ),
        covariates=np.ones((4, 1)),
    )
    x, weights = dense(design), np.array([1.0, 2.0, 3.0, 4.0])
    np.testing.assert_array_equal(design.crossed(weights), x.T @ (weights[:, None] * x))


def test_levels_without_a_cell_keep_their_place() -> None:
    design = Design(
        effects=(effect("model", np.array([3, 3]), 5), effect("age", np.zeros(2), 1)),
        covariates=np.ones((2, 1)),
    )
    assert design.gathered(np.array([2.0, 1.0])).tolist() == [3, 0, 0, 0, 3, 0, 3]
    assert design.place(0) == slice(1, 6)
    assert design.place(1) == slice(6, 7)


@pytest.mark.parametrize("n_levels", [1, 2, 7])
@pytest.mark.parametrize("kind", ["apart", "walk"])
def test_a_penalty_is_the_sum_of_squares_that_its_kind_says(
    kind: str, n_levels: int
) -> None:
    one = effect("e", np.zeros(1), n_levels, kind=kind)  # type: ignore[arg-type]
    levels = np.random.default_rng(SEED).normal(size=n_levels)
    steps = levels if kind == "apart" else np.diff(levels)
    assert levels @ one.penalty @ levels == pytest.approx(np.square(steps).sum())
    assert one.rank == np.linalg.matrix_rank(one.penalty)
