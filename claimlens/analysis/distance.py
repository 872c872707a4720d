"""Weibull lives against distance: readings at failures, usage rates for the rest."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.count_tables import Counts
from claimlens.analysis.distance_segments import (
    DISTANCE_LIFE_COLUMNS,
    Segment,
    Watched,
    limits_of,
)
from claimlens.analysis.life import life_counts
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.seeds import seed_for

__all__ = ["DISTANCE_LIFE_COLUMNS", "life_by_distance", "measured_by_distance"]

_KEYS = (
    "model",
    "model_year",
    "component",
    "failure_mode",
    "region",
    "generation",
    "build_month",
)


def life_by_distance(
    session: Session, settings: Settings, scope: Scope, *, by: Sequence[str]
) -> pd.DataFrame:
    """Fit a Weibull life against distance to each segment.

    Failures count at the distance read with their claim. How many of the other
    units passed each distance under watch follows from the usage rates of their
    model: see `claimlens.stats.distance`.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Readings that usage rates need, failures that a B-life needs.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Grouping: model, model_year, component, failure_mode, region, generation,
        build_month.

    Returns
    -------
    pandas.DataFrame
        The columns of ``by``, then ``DISTANCE_LIFE_COLUMNS``; one row a segment.
        Distances are in the settings' ``distance_unit``. NaN where the data
        cannot tell, with the reason in ``note``: fewer than 30 failures with a
        reading, or fewer than half of them, or no usage rates.

    Raises
    ------
    InputError
        If the grouping or a filter is by supplier, or by a column of its own.
    """
    other = [name for name in by if name not in _KEYS]
    if other or "supplier" in scope.wanted:
        raise InputError(
            f"Lives against distance cannot be told by {(*other, 'supplier')[0]!r}.",
            remedy=f"group by one or more of {', '.join(_KEYS)}",
        )
    fine = (*by, *(() if "model" in by else ("model",)))
    counts = life_counts(session, settings, scope, fine)
    failures = _failures(session, settings, scope, counts)
    segments = counts.segments[list(by)].drop_duplicates().reset_index(drop=True)
    if not by:
        segments = pd.DataFrame(index=range(min(len(counts.segments), 1)))
    fine_of = _numbers(counts.segments, segments, tuple(by))
    watched = Watched.of(counts)
    rows = []
    for number in range(len(segments)):
        mine = np.flatnonzero(fine_of == number)
        here = failures[failures["fine"].isin(mine)]
        seed = seed_for(
            settings.life.seed,
            "distance",
            *(f"{name}={segments.loc[number, name]}" for name in by),
        )
        segment = Segment(
            settings=settings,
            scope=scope,
            counts=counts,
            watched=watched,
            mine=mine,
            failures=here,
            elsewhere=failures,
            # these speak of rates by age
            notes=[n for n in scope.notes if n not in scope.cover.distance_notes],
        )
        rows.append(segment.row(np.random.default_rng(seed)))
    table = pd.DataFrame(rows, columns=list(DISTANCE_LIFE_COLUMNS[:-1]))
    table["as_of"] = pd.Timestamp(scope.as_of)
    return pd.concat([segments, table], axis=1)


def measured_by_distance(against: str, **options: object) -> bool:
    """Tell whether lives are asked for against distance.

    Parameters
    ----------
    against : str
        ``age`` or ``distance``.
    **options
        What was asked for beside it; None for what was not.

    Returns
    -------
    bool
        True for distance.

    Raises
    ------
    InputError
        If ``against`` is neither, or an option goes with age only.
    """
    if against not in ("age", "distance"):
        raise InputError(
            f"A life cannot be measured in {against!r}.",
            remedy="write age or distance",
        )
    given = [name for name, value in options.items() if value is not None]
    if against == "distance" and given:
        raise InputError(
            f"{given[0]} does not go with a life against distance.",
            remedy="leave it out",
        )
    return against == "distance"


def _numbers(
    fine: pd.DataFrame, segments: pd.DataFrame, keys: tuple[str, ...]
) -> NDArray[np.intp]:
    """Return for each fine row the number of its segment; -1 for none."""
    if not keys:
        return np.zeros(len(fine), dtype=np.intp)
    numbered = segments[list(keys)].assign(number=np.arange(len(segments)))
    found = fine[list(keys)].merge(numbered, on=list(keys), how="left")["number"]
    return np.asarray(found.fillna(-1), dtype=np.intp)


def _failures(
    session: Session, settings: Settings, scope: Scope, counts: Counts
) -> pd.DataFrame:
    """Return first failures with their fine segment, distance and end of watch."""
    flags = {
        f"by_{name}": name in counts.by
        for name in _KEYS
        if name != "model"  # the usage rates need it, asked for or not
    }
    rows = session.frame(
        "marts/distance_failures",
        {
            **flags,
            "only_dated": scope.dates_at_random,
            "tolerance_days": settings.counting.predelivery_tolerance_days,
        },
    )
    rows["fine"] = _numbers(
        rows, counts.segments.reset_index(drop=True), tuple(counts.by)
    )
    rows["limit_km"] = limits_of(scope.cover)[
        rows["distance_class"].to_numpy(dtype=int)
    ]
    age = rows["age_days"].to_numpy(dtype=np.float64) + 0.5
    rate = rows["distance_km"].to_numpy(dtype=np.float64) / age
    rows["age"] = age
    rows["last_km"] = np.minimum(
        rate * (rows["planned_days"].to_numpy(dtype=np.float64) + 0.5),
        rows["limit_km"],
    )
    return rows
