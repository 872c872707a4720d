"""Segments against each other at equal ages, shrunk and ranked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.compare_tables import (
    SegmentTable,
    TableCounts,
    split_tables,
    table_counts,
)
from claimlens.analysis.count_tables import Counts
from claimlens.analysis.counts import count_failures
from claimlens.analysis.grouping import Grouping, read_grouping
from claimlens.analysis.question import Question
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.comparison import (
    Comparison,
    adjusted_for_many,
    compare_segments,
)
from claimlens.stats.seeds import seed_for

__all__ = ["COMPARE_COLUMNS", "compare", "keep_asked", "widened"]

COMPARE_COLUMNS = (
    "units",
    "claims",
    "expected",
    "rate_ratio",
    "lower",
    "upper",
    "shrunk_ratio",
    "shrunk_lower",
    "shrunk_upper",
    "rank",
    "rank_lower",
    "rank_upper",
    "told_apart",
    "p_value",
    "adjusted_p",
    "difference",
    "note",
    "as_of",
)

# with more p-values than these in one table they are adjusted, and a difference is
# shown from this mean share of false ones on
_MANY = 10
_FALSE_SHARE = 0.10
# below so many units the raw ratio is no ground for a place
_FEW_UNITS = 30

Floats = NDArray[np.float64]


def compare(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    by: Sequence[str],
) -> pd.DataFrame:
    """Compare each segment with all the others of its table, at equal ages.

    Where ``by`` holds a component or failure mode and something else, each component
    (or mode) is a table of its own: controllers of one supplier are compared with the
    other controllers. Suppliers without a component are compared component by
    component too, and what they are given adds up.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Confidence of the limits, seed.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Grouping, at least one name.

    Returns
    -------
    pandas.DataFrame
        The columns of ``by``, then ``COMPARE_COLUMNS``; table by table, the highest
        shrunk ratio first. NaN where nothing can be said, with the reason in
        ``note``.

        - ``units``; ``claims``: units with a first failure (those too recent to
          conclude from are left out, as their exposure is).
        - ``expected``: claims of the segment with the hazards of the others at its
          own ages; ``rate_ratio``: claims over expected, with mid-p limits at the
          confidence of the settings.
        - ``shrunk_ratio``: the same drawn towards 1 by as much as chance explains,
          with 90 % limits; to be used for ranking and for planning.
        - ``rank``, 1 for the highest shrunk ratio of its table, and its 90 % limits.
        - ``told_apart``: ``first`` for the first row of a table, ``no`` where the
          limits of the rank overlap those of the first row, else ``yes``.
        - ``p_value``: two-sided, of the log-rank hypothesis that segment and others
          have one hazard (conditional, mid-p); ``adjusted_p``: after Benjamini and
          Hochberg where more than 10 stand in the result, else the same.
        - ``difference``: ``higher`` or ``lower`` where ``adjusted_p`` is at most 0.10
          (of more than 10) or one minus the confidence (of at most 10); else
          ``not shown``.

    Raises
    ------
    InputError
        If ``by`` is empty or a group is not known.

    References
    ----------
    .. [1] Cox (1972), J. R. Stat. Soc. B 34, 187-220 (conditioning on the ages).
    .. [2] Berry, Armitage (1995), Statistician 44, 417-423 (mid-p).
    .. [3] Clayton, Kaldor (1987), Biometrics 43, 671-681 (shrunk ratios).
    .. [4] Benjamini, Hochberg (1995), J. R. Stat. Soc. B 57, 289-300.
    """
    if not by:
        raise InputError(
            "There is nothing to compare without a grouping.",
            remedy="name one: claimlens compare --by supplier --component controller",
        )
    grouping = read_grouping(session, by)
    counts = count_failures(session, settings, scope, _refined(grouping))
    tables = [
        _rows_of(counts, table, settings=settings, scope=scope)
        for table in split_tables(counts, grouping)
    ]
    if not tables:
        return pd.DataFrame(columns=[*grouping.names, *COMPARE_COLUMNS])
    result = pd.concat(tables, ignore_index=True)
    _judge(result, 1.0 - settings.rates.confidence)
    return result[[*grouping.names, *COMPARE_COLUMNS]]


def widened(
    question: Question, by: Sequence[str]
) -> tuple[Question, dict[str, tuple[str, ...]]]:
    """Take away the filters on the groups that are compared.

    A supplier is compared with the others, so they must be counted even where only
    his rows are wanted.

    Parameters
    ----------
    question : Question
        As it was put.
    by : sequence of str
        Grouping.

    Returns
    -------
    question : Question
        Without filters on what is in ``by``.
    rows : dict of str to tuple of str
        Those filters, for `keep_asked`.
    """
    rows = {name: values for name, values in question.wanted.items() if name in by}
    kept = {name: v for name, v in question.wanted.items() if name not in by}
    return replace(question, wanted=kept), rows


def keep_asked(
    result: pd.DataFrame, rows: Mapping[str, tuple[str, ...]]
) -> pd.DataFrame:
    """Keep the rows that were asked for; their figures stay those against all.

    Parameters
    ----------
    result : pandas.DataFrame
        From `compare`.
    rows : mapping of str to tuple of str
        Values wanted of some of its columns.

    Returns
    -------
    pandas.DataFrame
        Some of its rows.
    """
    kept = np.ones(len(result), dtype=bool)
    for name, values in rows.items():
        kept &= result[name].astype(str).isin(values).to_numpy()
    return result[kept].reset_index(drop=True)


def _refined(grouping: Grouping) -> Grouping:
    """Return the grouping to count by: parts always by their component."""
    if grouping.of_parts and "component" not in grouping.inner:
        return grouping.with_inner("component")
    return grouping


def _rows_of(
    counts: Counts, table: SegmentTable, *, settings: Settings, scope: Scope
) -> pd.DataFrame:
    """Return the rows of one table, the highest shrunk ratio first."""
    columns = table_counts(counts, table)
    found = compare_segments(
        columns.failures,
        columns.exposed,
        seed=seed_for(settings.life.seed, "compare", *table.name),
        confidence=settings.rates.confidence,
    )
    rows = table.keys.copy()
    known = ~np.isnan(found.shrunk)
    order = np.lexsort((np.arange(len(rows)), -np.nan_to_num(found.shrunk), ~known))
    rank = np.zeros(len(rows), dtype=np.int64)
    rank[order] = np.arange(1, len(rows) + 1)

    def open_as_missing(values: Floats) -> Floats:
        return np.where(np.isfinite(values), values, np.nan)

    rows["units"] = np.rint(columns.units).astype(np.int64)
    rows["claims"] = np.rint(columns.claims).astype(np.int64)
    rows["expected"] = found.expected
    rows["rate_ratio"] = open_as_missing(found.ratio)
    rows["lower"] = open_as_missing(found.lower)
    rows["upper"] = open_as_missing(found.upper)
    rows["shrunk_ratio"] = found.shrunk
    rows["shrunk_lower"] = found.shrunk_lower
    rows["shrunk_upper"] = found.shrunk_upper
    rows["rank"] = _whole(rank, known)
    # the place is that of the shrunk ratio; its limits come from draws
    rows["rank_lower"] = _whole(np.minimum(found.rank_lower, rank), known)
    rows["rank_upper"] = _whole(np.maximum(found.rank_upper, rank), known)
    rows["told_apart"] = _told_apart(found, rank, known)
    rows["p_value"] = found.p_value
    rows["note"] = [_note(counts, columns, found, i, scope) for i in range(len(rows))]
    rows["as_of"] = pd.Timestamp(scope.as_of)
    return rows.iloc[order]


def _whole(values: NDArray[np.int64], known: NDArray[np.bool_]) -> pd.Series:
    """Return whole numbers, missing where nothing is known."""
    return pd.Series(values).astype("Int64").where(pd.Series(known))


def _told_apart(
    found: Comparison, rank: NDArray[np.int64], known: NDArray[np.bool_]
) -> pd.Series:
    """Say of each row whether its place can be told from that of the first."""
    words = pd.Series([None] * len(rank), dtype="str")
    if not known.any():
        return words
    first = int(np.flatnonzero(known & (rank == 1))[0])
    reach = max(int(found.rank_upper[first]), 1)
    for i in np.flatnonzero(known):
        words[i] = "yes" if min(found.rank_lower[i], rank[i]) > reach else "no"
    words[first] = "first"
    return words


def _note(
    counts: Counts, columns: TableCounts, found: Comparison, i: int, scope: Scope
) -> str:
    """Say what the reader of one row must know."""
    parts = []
    uncounted = columns.uncounted[i]
    left_out = columns.claims[i] - uncounted - found.comparable[i]
    if columns.units[i] <= 0:
        if counts.grouping.of_parts and columns.claims[i] > 0:
            parts.append(
                "claims only: which units carry this part is not known; load a list of "
                "fitted parts (serial, component, supplier)"
            )
        else:
            parts.append("no unit in service and covered")
    elif np.isnan(found.ratio[i]):
        parts.append(_why_not(columns, i))
    else:
        if uncounted >= 0.5:
            parts.append(
                f"{uncounted:.0f} claims on kinds of part of which nobody knows who "
                "carries them are left out of the ratio"
            )
        if left_out >= 0.5:
            parts.append(
                f"{left_out:.0f} claims at ages that no other segment has reached are "
                "left out of the ratio"
            )
        if np.isposinf(found.upper[i]):
            parts.append("no claim among the others: no upper limit")
        if columns.units[i] < _FEW_UNITS:
            parts.append(f"fewer than {_FEW_UNITS} units: read the shrunk ratio")
        if found.note:
            parts.append(found.note)
    if columns.estimated[i] >= 0.5:
        parts.append(
            f"{columns.estimated[i]:.0f} units with an estimated in-service date"
        )
    return "; ".join([*parts, *scope.notes])


def _why_not(columns: TableCounts, i: int) -> str:
    """Say why a segment with units cannot be compared."""
    if (columns.units > 0).sum() == 1:
        return "the only segment with units: there are no others to compare it with"
    if not columns.failures.any():
        return "no claim in any segment, so there is nothing to compare"
    return "at the ages of the claims either this segment or all others had no unit"


def _judge(result: pd.DataFrame, error: float) -> None:
    """Adjust the p-values where many stand together, and name the differences."""
    p = result["p_value"].to_numpy(dtype=np.float64)
    many = int((~np.isnan(p)).sum()) > _MANY
    adjusted = adjusted_for_many(p) if many else p
    shown = adjusted <= (_FALSE_SHARE if many else error)
    # without a claim among the others the ratio is open, and high
    high = result["rate_ratio"].fillna(np.inf).to_numpy() > 1
    result["adjusted_p"] = adjusted
    words = np.select(
        [np.isnan(p), shown & high, shown], ["", "higher", "lower"], "not shown"
    )
    result["difference"] = pd.Series(words, dtype="str").where(~np.isnan(p))
