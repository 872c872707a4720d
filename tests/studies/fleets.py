"""Draw fleets by count, and print what a study found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def draw(
    rng: np.random.Generator, repeats: int, planned: Floats, cdf: Floats
) -> tuple[Floats, Floats]:
    """Draw failures and survivors by cell.

    Parameters
    ----------
    rng : Generator
        Source of chance.
    repeats : int
        Fleets to draw.
    planned : ndarray of int, shape (A,)
        Units that leave at the end of each cell if they do not fail.
    cdf : ndarray, shape (A,)
        Share failed by the end of each cell.

    Returns
    -------
    failures, survivors : ndarray, shape (repeats, A)
    """
    size = (repeats, planned.size)
    failures, survivors = np.zeros(size), np.zeros(size)
    steps = np.diff(cdf, prepend=0.0)
    for cell, units in enumerate(planned.astype(int)):
        chances = np.append(steps[: cell + 1], 1.0 - cdf[cell])
        outcome = rng.multinomial(units, chances, size=repeats)
        failures[:, : cell + 1] += outcome[:, :-1]
        survivors[:, cell] += outcome[:, -1]
    return failures, survivors


def passed(failures: Floats, survivors: Floats) -> Floats:
    """Return the units that passed each cell without failing.

    Parameters
    ----------
    failures, survivors : ndarray, shape (..., A)
        Units by the cell in which they failed, and at whose end they left.

    Returns
    -------
    ndarray, shape (..., A)
    """
    reached = np.cumsum((failures + survivors)[..., ::-1], axis=-1)[..., ::-1]
    return np.asarray(reached - failures)


def weibull_cdf(ages: Floats, shape: float, scale: float) -> Floats:
    """Return the share failed by each age."""
    return np.asarray(-np.expm1(-((ages / scale) ** shape)))


def scale_for(planned: Floats, ages: Floats, shape: float, failures: float) -> float:
    """Return the scale at which a fleet expects that many failures."""
    low, high = 1e-3, 1e12
    for _ in range(200):
        middle = np.sqrt(low * high)
        expected = (planned * weibull_cdf(ages, shape, middle)).sum()
        low, high = (middle, high) if expected > failures else (low, middle)
    return float(np.sqrt(low * high))


def percent(value: Any) -> str:
    """Return a share as per cent with one decimal."""
    return f"{100 * float(np.mean(value)):.1f} %"


def table(rows: Sequence[dict[str, Any]]) -> str:
    """Return rows as a markdown table."""
    heads = list(rows[0])
    lines = ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    for row in rows:
        shown = [
            f"{value:.3f}" if isinstance(value, float) else str(value)
            for value in row.values()
        ]
        lines.append("| " + " | ".join(shown) + " |")
    return "\n".join(lines)


def report(title: str, study: Callable[[], Sequence[dict[str, Any]]]) -> None:
    """Print the result of a study."""
    print(f"{title}\n\n{table(study())}")
