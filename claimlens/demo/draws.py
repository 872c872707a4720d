"""Random draws that stay the same on every machine and NumPy version."""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

__all__ = [
    "Bools",
    "Days",
    "Draws",
    "Floats",
    "Ints",
    "Texts",
    "add_months",
    "choose",
    "later",
]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Days = npt.NDArray[np.datetime64]
Texts = npt.NDArray[np.object_]
Bools = npt.NDArray[np.bool_]


class Draws:
    """One named stream of draws.

    Only ``Generator.random`` is used, and the laws are made from it by their
    inverse: NumPy may improve its other samplers from version to version
    (NEP 19), and the demo must give the same bytes everywhere. A stream of
    its own per step keeps one step's change from moving the others.

    Parameters
    ----------
    seed : int
        Seed of the world.
    name : str
        Name of the step.
    """

    def __init__(self, seed: int, name: str) -> None:
        self._generator = np.random.Generator(
            np.random.PCG64([seed, zlib.crc32(name.encode())])
        )

    def uniform(self, *size: int) -> Floats:
        """Return draws in [0, 1) of that shape."""
        return self._generator.random(size)

    def chance(self, probability: float | Floats, size: int) -> Bools:
        """Return ``size`` draws that are true with that probability."""
        return self.uniform(size) < probability

    def below(self, high: int | Ints, size: int) -> Ints:
        """Return ``size`` whole numbers from 0 to ``high - 1``."""
        return np.floor(self.uniform(size) * high).astype(np.int64)

    def pick(self, weights: Sequence[float] | Floats, size: int) -> Ints:
        """Return ``size`` positions drawn with these weights."""
        edges = np.cumsum(np.asarray(weights, dtype=float))
        return np.searchsorted(edges / edges[-1], self.uniform(size), side="right")

    def exponential(self, *size: int) -> Floats:
        """Return exponential draws of mean 1."""
        return -np.log1p(-self.uniform(*size))

    def erlang2(self, mean: float, size: int) -> Floats:
        """Return gamma draws of shape 2 and that mean."""
        return (self.exponential(size) + self.exponential(size)) * (mean / 2)

    def normal(self, size: int) -> Floats:
        """Return standard normal draws (Box and Muller)."""
        radius = np.sqrt(2 * self.exponential(size))
        return radius * np.cos(2 * np.pi * self.uniform(size))


def later(days: Days, count: int | Ints | Floats) -> Days:
    """Return the day that many whole days later; fractions are dropped."""
    whole = np.floor(np.asarray(count)).astype(np.int64)
    moved: Days = (days.astype("datetime64[D]").astype(np.int64) + whole).astype(
        "datetime64[D]"
    )
    # NaT is the smallest integer, which adding would turn into a date
    return np.where(np.isnat(days), np.datetime64("NaT", "D"), moved)


def choose(mask: Bools, values: Texts | str) -> Texts:
    """Return the values under the mask, and None elsewhere."""
    out = np.full(len(mask), None, dtype=object)
    out[mask] = values if isinstance(values, str) else values[mask]
    return out


def add_months(days: Days, months: int | Ints) -> Days:
    """Return the same day of the month that many calendar months later.

    The last day of a shorter month stands in for a day that it lacks; an
    unknown date stays unknown.
    """
    month = days.astype("datetime64[M]")
    offset = days - month.astype("datetime64[D]")
    target = month + np.asarray(months, dtype=np.int64).astype("timedelta64[M]")
    start = target.astype("datetime64[D]")
    length = (target + np.timedelta64(1, "M")).astype("datetime64[D]") - start
    return np.asarray(start + np.minimum(offset, length - np.timedelta64(1, "D")))
