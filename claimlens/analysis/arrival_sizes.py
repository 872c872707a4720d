"""How many rows a file of a source usually has, and whether one has far fewer."""

from __future__ import annotations

import math
from collections.abc import Iterator
from statistics import median

import pandas as pd

from claimlens.analysis.file_shapes import name_shape
from claimlens.settings import SourceSettings

__all__ = ["sizes", "usual_size"]

_NEWEST = 6
# one file tells less of what is usual than several: then a file must be half its size
_SHARE_OF_ONE = 0.5
_DEFAULT_SHARE = 0.6
# a count this many times its own standard deviation (Poisson) below may be chance
_DEVIATIONS = 2.0


def usual_size(
    earlier: pd.DataFrame, told: SourceSettings | None, file: str
) -> tuple[float | None, str]:
    """Return how many rows a file usually has, and what tells it.

    Parameters
    ----------
    earlier : DataFrame
        Files of the same source before it, with ``file`` and ``rows_read``.
    told : SourceSettings or None
        What the settings say of the source.
    file : str
        Its name: where some earlier name differs in its numbers only, files of
        other names tell nothing.

    Returns
    -------
    usual : float or None
        None where nothing tells it.
    basis : str
        In words.
    """
    if told is not None and told.rows is not None:
        if isinstance(told.rows, int):
            return float(told.rows), "settings"
        return sum(told.rows) / 2, "settings"
    counts = _counts(earlier, file)
    if not counts:
        return None, ""
    what = "the file before" if len(counts) == 1 else f"{len(counts)} files before"
    return float(median(counts)), what


def _counts(earlier: pd.DataFrame, file: str) -> list[int]:
    """Return the rows of the newest earlier files that were not empty."""
    with_rows = earlier[earlier["rows_read"] > 0]
    alike = with_rows[with_rows["file"].map(name_shape) == name_shape(file)]
    chosen = alike if len(alike) else with_rows
    return [int(rows) for rows in chosen["rows_read"].tail(_NEWEST)]


def sizes(
    file: pd.Series, earlier: pd.DataFrame, told: SourceSettings | None
) -> Iterator[tuple[bool, str]]:
    """Tell whether a file is much smaller, or larger, than usual.

    Parameters
    ----------
    file : Series
        The file, with rows.
    earlier : DataFrame
        Files of the same source before it.
    told : SourceSettings or None
        What the settings say of the source.

    Yields
    ------
    is_small : bool
        False where it is larger.
    text : str
        As a sentence without source and file.
    """
    rows = int(file["rows_read"])
    usual, _ = usual_size(earlier, told, str(file["file"]))
    if usual is None:
        return
    if told is not None and told.rows is not None:
        if isinstance(told.rows, int):
            if rows <= told.least_share * told.rows:
                yield True, f"{rows:,} rows, where the settings say {told.rows:,}"
            return
        least, most = told.rows
        said = f"the settings say {least:,} to {most:,}"
        if rows < least:
            yield True, f"{rows:,} rows, where {said}"
        elif rows > most:
            yield False, f"{rows:,} rows, more than usual: {said}"
        return
    counts = _counts(earlier, str(file["file"]))
    share = told.least_share if told is not None else _DEFAULT_SHARE
    if len(counts) == 1:
        share = min(share, _SHARE_OF_ONE)
    if rows <= share * usual and usual - rows > _DEVIATIONS * math.sqrt(usual):
        what = (
            f"the file before had {usual:,.0f}"
            if len(counts) == 1
            else f"the {len(counts)} files before had {usual:,.0f} in the middle"
        )
        yield (
            True,
            f"{rows:,} rows, much fewer than usual: {what} (the settings state no "
            "size)",
        )
