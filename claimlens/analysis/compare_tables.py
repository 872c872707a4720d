"""Which segments are compared with which, and their counts side by side."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.count_tables import Counts
from claimlens.analysis.grouping import Grouping

__all__ = ["SegmentTable", "TableCounts", "split_tables", "table_counts"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_CHUNK = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentTable:
    """Segments that are compared with each other.

    Parameters
    ----------
    keys : pandas.DataFrame
        One row a segment.
    name : tuple of str
        What the table is about, for its seed.
    counted : ndarray of int
        Rows of the counts that belong to it.
    row : ndarray of int
        For each of them, the segment.
    block : ndarray of int
        For each of them, the kind of part it is: ages of one kind only are compared.
    """

    keys: pd.DataFrame
    name: tuple[str, ...]
    counted: Indices
    row: Indices
    block: Indices


def split_tables(counts: Counts, grouping: Grouping) -> Iterator[SegmentTable]:
    """Split the segments into tables of like with like.

    Parameters
    ----------
    counts : Counts
        Of the grouping, or of one that is finer by the kind of part.
    grouping : Grouping
        What was asked for.

    Yields
    ------
    SegmentTable
        One for each component or failure mode in the grouping, where it is not what
        is compared.
    """
    inner = dict(zip(grouping.names, grouping.inner, strict=True))
    apart = [
        name
        for name, column in inner.items()
        if column in ("component", "failure_mode")
    ]
    if len(apart) == len(inner):
        # nothing but components, or modes: they are what is compared
        apart = apart[:-1] if len(apart) > 1 else []
    segments = counts.segments.reset_index(drop=True)
    added = [name for name in counts.by if name not in grouping.names]
    if segments.empty:
        return
    number = (
        segments.groupby(apart, sort=True, dropna=False).ngroup().to_numpy()
        if apart
        else np.zeros(len(segments), dtype=np.intp)
    )
    block = (
        segments.groupby(added, sort=True, dropna=False).ngroup().to_numpy()
        if added
        else np.zeros(len(segments), dtype=np.intp)
    )
    for table in np.unique(number):
        counted = np.flatnonzero(number == table)
        mine = segments.iloc[counted][list(grouping.names)]
        row = mine.groupby(list(grouping.names), sort=True, dropna=False).ngroup()
        row_number = row.to_numpy(dtype=np.intp)
        _, first = np.unique(row_number, return_index=True)
        keys = mine.iloc[first].reset_index(drop=True)
        yield SegmentTable(
            keys=keys,
            name=tuple(f"{name}={keys.loc[0, name]}" for name in apart),
            counted=counted,
            row=row_number,
            block=block[counted].astype(np.intp),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class TableCounts:
    """Counts of the S segments of a table.

    Parameters
    ----------
    failures, exposed : ndarray, shape (S, A)
        At the A ages with failures, one block of ages for each kind of part.
    units, claims : ndarray, shape (S,)
        Units, and units with a first failure.
    uncounted : ndarray, shape (S,)
        Claims on parts of which nobody knows how many units carry them.
    estimated : ndarray, shape (S,)
        Units with an estimated in-service date.
    """

    failures: Floats
    exposed: Floats
    units: Floats
    claims: Floats
    uncounted: Floats
    estimated: Floats


def table_counts(counts: Counts, table: SegmentTable) -> TableCounts:
    """Gather the counts of a table.

    Parameters
    ----------
    counts : Counts
        Of all tables.
    table : SegmentTable
        One of them.

    Returns
    -------
    TableCounts
        Segments without units have neither failures nor exposure.
    """
    size = len(table.keys)
    units, claims, uncounted, estimated = (np.zeros(size) for _ in range(4))
    parts: list[tuple[Floats, Floats]] = []
    for block in np.unique(table.block):
        chosen = np.flatnonzero(table.block == block)
        failures = np.zeros((size, len(counts.ages)))
        exposed = np.zeros_like(failures)
        for start in range(0, len(chosen), _CHUNK):
            place = chosen[start : start + _CHUNK]
            chunk = counts.take(table.counted[place])
            row = table.row[place]
            n_units = chunk.planned.sum(axis=1)
            np.add.at(units, row, n_units)
            n_claims = chunk.failures.sum(axis=1)
            np.add.at(claims, row, n_claims)
            np.add.at(uncounted, row, np.where(n_units > 0, 0.0, n_claims))
            unit_rows = counts.unit_of_segment[table.counted[place]]
            np.add.at(estimated, row, counts.estimated[unit_rows])
            # claims of parts that nobody counted have no denominator
            has_units = n_units > 0
            failures[row[has_units]] = chunk.failures[has_units]
            exposed[row[has_units]] = chunk.exposed[has_units]
        failing = failures.any(axis=0)
        parts.append((failures[:, failing], exposed[:, failing]))
    return TableCounts(
        failures=np.concatenate([one for one, _ in parts], axis=1),
        exposed=np.concatenate([one for _, one in parts], axis=1),
        units=units,
        claims=claims,
        uncounted=uncounted,
        estimated=estimated,
    )
