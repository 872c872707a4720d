"""Shapes that are known from elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.counts import Counts, SegmentChunk
from claimlens.analysis.life_terms import BORROWED, ELSEWHERE, LifeAsked
from claimlens.errors import InputError
from claimlens.stats import weibull

__all__ = ["Held"]

Floats = NDArray[np.float64]


@dataclass(slots=True)
class Held:
    """Shapes of the same component outside a segment, found when first asked for.

    Parameters
    ----------
    counts : Counts
        Of the segments.
    count_whole : callable
        Counts each component over all segments; returns None where there is
        nothing to borrow from. Called at most once.
    """

    counts: Counts
    count_whole: Callable[[], Counts | None]
    _asked: bool = False
    _whole: Counts | None = None
    _found: dict[int, tuple[float, float]] = field(default_factory=dict)

    @property
    def whole(self) -> Counts | None:
        """Return the counts of each component over all segments."""
        if not self._asked:
            self._asked, self._whole = True, self.count_whole()
        return self._whole

    def of_chunk(
        self, chunk: SegmentChunk, asked: LifeAsked
    ) -> tuple[Floats, list[str]]:
        """Return the shape that is held for each segment, or why there is none.

        Parameters
        ----------
        chunk : SegmentChunk
            Of s segments.
        asked : LifeAsked
            What is asked.

        Returns
        -------
        shape : ndarray, shape (s,)
            NaN where the shape is free or not known.
        notes : list of str
            Why a shape that was asked for is not known; else empty.

        Raises
        ------
        InputError
            If the segments have no component to borrow from.
        """
        size = len(chunk.rows)
        if asked.known_shape is None:
            return np.full(size, np.nan), [""] * size
        if asked.known_shape != BORROWED:
            return np.full(size, float(asked.known_shape)), [""] * size
        if self.whole is None:
            raise InputError(
                "There is no other segment of the same component to borrow a shape "
                "from.",
                remedy="group by component and model (or another column of the "
                "units), or give the shape as in --known-shape 1.5",
            )
        self.borrow(chunk, np.arange(size))
        shape = np.array([self._found[int(row)][0] for row in chunk.rows])
        notes = [
            ""
            if known
            else f"{self._found[int(row)][1]:.0f} failures of this component "
            f"elsewhere, {ELSEWHERE} needed to borrow their shape"
            for known, row in zip(~np.isnan(shape), chunk.rows, strict=True)
        ]
        return shape, notes

    def borrow(self, chunk: SegmentChunk, places: NDArray[np.intp]) -> Floats:
        """Return the shapes of the same component outside some segments.

        Parameters
        ----------
        chunk : SegmentChunk
            That holds the segments.
        places : ndarray of int, shape (n,)
            Their places in the chunk.

        Returns
        -------
        ndarray, shape (n,)
            NaN where fewer than 20 failures tell it, or no fit.
        """
        new = [i for i in places if int(chunk.rows[i]) not in self._found]
        if new and self.whole is not None:
            self._fit(chunk, np.array(new))
        none = (np.nan, 0.0)
        return np.array([self._found.get(int(chunk.rows[i]), none)[0] for i in places])

    def words(self, chunk: SegmentChunk, i: int, asked: LifeAsked) -> str:
        """Say where the shape of a segment comes from; empty where it is free."""
        if asked.known_shape is None:
            return ""
        if asked.known_shape != BORROWED:
            return f"shape {asked.known_shape:g} as given"
        shape, failed = self._found[int(chunk.rows[i])]
        return f"shape {shape:.2f} from {self.source(chunk, i)} ({failed:.0f} failures)"

    def source(self, chunk: SegmentChunk, i: int) -> str:
        """Name what the shape of a segment was borrowed from."""
        row = self.counts.segments.iloc[chunk.rows[i]]
        return f"{row['component']} in all other segments"

    def failures(self, chunk: SegmentChunk, i: int) -> float:
        """Return the failures that a borrowed shape rests on."""
        return self._found[int(chunk.rows[i])][1]

    def _fit(self, chunk: SegmentChunk, places: NDArray[np.intp]) -> None:
        """Fit the component of some segments without their own units."""
        whole = self.whole
        assert whole is not None  # the caller asked
        names = self.counts.segments["component"].iloc[chunk.rows[places]]
        number = pd.Series(
            np.arange(len(whole.segments)),
            index=whole.segments["component"].to_numpy(),
        )
        known = names.isin(number.index).to_numpy()
        for row in chunk.rows[places[~known]]:
            self._found[int(row)] = (np.nan, 0.0)
        places = places[known]
        if not places.size:
            return
        asked, place = np.unique(
            number[names[known]].to_numpy(dtype=np.intp), return_inverse=True
        )
        all_of_it = whole.take(asked)
        width = min(whole.ages.size, self.counts.ages.size)
        failures, exposed = all_of_it.failures[place], all_of_it.exposed[place]
        failures[:, :width] -= chunk.failures[places, :width]
        exposed[:, :width] -= chunk.exposed[places, :width]
        failures, exposed = np.maximum(failures, 0.0), np.maximum(exposed, 0.0)
        fit = weibull.fit(
            whole.ages,
            failures,
            None,
            lower=whole.ages - 1.0,
            exposed=exposed,
        )
        total = failures.sum(axis=1)
        enough = np.asarray(fit.converged) & (total >= ELSEWHERE - 0.5)
        shape = np.where(enough, np.asarray(fit.shape), np.nan)
        for row, value, failed in zip(chunk.rows[places], shape, total, strict=True):
            self._found[int(row)] = (float(value), float(failed))
