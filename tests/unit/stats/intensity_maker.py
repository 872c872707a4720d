"""Designs of cells as random fleets have them, and the same as one dense matrix."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from claimlens.stats.intensity import Design, Effect

Floats = NDArray[np.float64]


def effect(
    name: str,
    level: NDArray[np.integer],
    n_levels: int,
    *,
    kind: Literal["apart", "walk"] = "apart",
    variance: float = 0.05,
) -> Effect:
    """Return an effect over cells."""
    return Effect(
        name=name,
        level=np.asarray(level, dtype=np.intp),
        n_levels=n_levels,
        kind=kind,
        variance=variance,
    )


def random_design(
    rng: np.random.Generator, n_cells: int, sizes: tuple[int, ...], *, n_slopes: int = 1
) -> Design:
    """Draw a design; every other effect is a walk."""
    return Design(
        effects=tuple(
            effect(
                str(i),
                rng.integers(0, size, n_cells),
                size,
                kind="walk" if i % 2 else "apart",
            )
            for i, size in enumerate(sizes)
        ),
        covariates=np.column_stack(
            [np.ones(n_cells), rng.normal(size=(n_cells, n_slopes - 1))]
        ),
    )


def dense(design: Design) -> Floats:
    """Return the design as a matrix, shape (n, p), a column for each coefficient."""
    columns = [design.covariates]
    columns += [
        (one.level[:, None] == np.arange(one.n_levels)).astype(np.float64)
        for one in design.effects
    ]
    return np.concatenate(columns, axis=1)
