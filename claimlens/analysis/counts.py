"""Count tables for any grouping: failures and watched units by age in days.

A failure on day ``d`` of service is put at age ``d + 1``, the end of that day; a
unit watched through day ``d`` ran to ``d + 1``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings

__all__ = ["DAYS_PER_MONTH", "GROUPS", "Counts", "SegmentChunk", "count_failures"]

DAYS_PER_MONTH = 30.4375

GROUPS = (
    "model",
    "model_year",
    "component",
    "failure_mode",
    "supplier",
    "region",
    "generation",
    "build_month",
)

_UNIT_GROUPS = (
    "model",
    "model_year",
    "region",
    "generation",
    "build_month",
    "supplier",
)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentChunk:
    """Counts of some segments on the common age grid.

    Parameters
    ----------
    rows : slice
        Their place in ``Counts.segments``.
    failures : ndarray, shape (s, a)
        Units with their first failure at each age.
    censored : ndarray, shape (s, a)
        Units that were watched to each age without a failure.
    planned : ndarray, shape (s, a)
        All units by the age at which they leave whatever happens to them.
    """

    rows: slice
    failures: Floats
    censored: Floats
    planned: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """Segments of a fleet with their failures and watched units.

    Parameters
    ----------
    by : tuple of str
        The grouping, in the order asked for.
    segments : pandas.DataFrame
        One row per segment, the columns of ``by``; a segment without a failure
        has its row.
    ages : ndarray, shape (a,)
        1, 2, ... days.
    events : pandas.DataFrame
        ``segment, is_first, age, planned, n``: failures and repeats.
    """

    by: tuple[str, ...]
    segments: pd.DataFrame
    ages: Floats
    events: pd.DataFrame
    unit_of_segment: NDArray[np.intp]
    units: Floats
    estimated: Floats

    def chunks(self, size: int = 1_000) -> Iterator[SegmentChunk]:
        """Yield the count arrays of at most ``size`` segments at a time."""
        for start in range(0, len(self.segments), size):
            stop = min(start + size, len(self.segments))
            rows = np.arange(start, stop)
            failures, censored = self.rows(rows)
            yield SegmentChunk(
                rows=slice(start, stop),
                failures=failures,
                censored=censored,
                planned=self.units[self.unit_of_segment[rows]],
            )

    def rows(self, segments: NDArray[np.intp]) -> tuple[Floats, Floats]:
        """Return failures and censored units of some segments, each (s, a)."""
        firsts = self.events[
            self.events["is_first"] & self.events["segment"].isin(segments)
        ]
        place = np.full(len(self.segments), -1)
        place[segments] = np.arange(len(segments))
        row = place[firsts["segment"].to_numpy()]
        n = firsts["n"].to_numpy()
        shape = (len(segments), len(self.ages))
        failures, leaving = np.zeros(shape), np.zeros(shape)
        np.add.at(failures, (row, firsts["age"].to_numpy() - 1), n)
        np.add.at(leaving, (row, firsts["planned"].to_numpy() - 1), n)
        planned = self.units[self.unit_of_segment[segments]]
        # weights of undated units add up to a hair more or less than 0
        return failures, np.maximum(planned - leaving, 0.0)


def count_failures(
    session: Session,
    settings: Settings,
    scope: Scope,
    by: Sequence[str],
    *,
    only_dated: bool = False,
) -> Counts:
    """Count first failures, repeats and watched units by segment and age.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting rules.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Names of ``GROUPS``.
    only_dated : bool, default False
        Leave out units without an in-service date in the register; their number
        stays in ``Counts.estimated``.

    Returns
    -------
    Counts
        Every combination of a unit group and a component in sight.

    Raises
    ------
    InputError
        If a group is not known or named twice.
    """
    by = check_groups(by)
    if session.count("int_units") == 0:
        raise InputError(
            "There is no unit register, so there are no units to divide by.",
            remedy="load one (serial, model, model_year, in_service_date): claimlens "
            "ingest FILE"
            + (
                f"; none was known by {scope.as_known}, see --as-known"
                if scope.as_known
                else ""
            ),
        )
    if "supplier" in scope.wanted and "supplier" not in by:
        finer = count_failures(
            session, settings, scope, (*by, "supplier"), only_dated=only_dated
        )
        return _without_supplier(finer, by)
    flags = {f"by_{name}": name in by for name in _UNIT_GROUPS}
    flags["only_dated"] = only_dated
    # a filter for one component asks for its failures, on its cover; for several
    # it asks for the unit's first failure of any of them
    by_component = bool({"component", "supplier"} & set(by)) or bool(_only(scope))
    session.run(
        "intermediate/int_events",
        {
            "by_component": by_component,
            "by_failure_mode": "failure_mode" in by,
            "same_event_days": settings.counting.same_event_days,
        },
    )
    units = session.frame("marts/unit_counts", flags)
    events = session.frame(
        "marts/failure_counts",
        {
            **flags,
            "by_component": "component" in by,
            "tolerance_days": settings.counting.predelivery_tolerance_days,
        },
    )
    own_cover = {term.component for term in settings.coverage.terms if term.component}
    return _Builder(session, scope, by, units, events, own_cover=own_cover).build()


def _only(scope: Scope) -> str:
    """Return the component of a filter that names exactly one, else nothing."""
    asked = scope.wanted.get("component", ())
    return asked[0] if len(asked) == 1 else ""


def _without_supplier(finer: Counts, by: tuple[str, ...]) -> Counts:
    """Add up the parts of the suppliers that a filter asks for."""
    keys = list(by)
    segments = finer.segments[keys].drop_duplicates().reset_index(drop=True)
    if not keys:
        segments = pd.DataFrame(index=range(min(len(finer.segments), 1)))
    numbered = segments.assign(number=np.arange(len(segments)))
    if keys:
        number = finer.segments.merge(numbered, on=keys, how="left")["number"]
    else:
        number = pd.Series(0, index=finer.segments.index)
    row = number.to_numpy(dtype=np.intp)
    units = np.zeros((len(segments), len(finer.ages)))
    np.add.at(units, row, finer.units[finer.unit_of_segment])
    estimated = np.zeros(len(segments))
    np.add.at(estimated, row, finer.estimated[finer.unit_of_segment])
    return Counts(
        by=by,
        segments=segments,
        ages=finer.ages,
        events=finer.events.assign(segment=row[finer.events["segment"].to_numpy()]),
        unit_of_segment=np.arange(len(segments)),
        units=units,
        estimated=estimated,
    )


def check_groups(by: Sequence[str]) -> tuple[str, ...]:
    """Return the grouping as a tuple, or say what is wrong with it."""
    unknown = [name for name in by if name not in GROUPS]
    if unknown:
        raise InputError(
            f"Cannot group by {unknown[0]!r}.",
            remedy=f"group by one or more of {', '.join(GROUPS)}",
        )
    if len(set(by)) != len(by):
        raise InputError(f"A group is named twice in {', '.join(by)}.")
    return tuple(by)


def _carried(
    units: pd.DataFrame, by: tuple[str, ...], own_cover: set[str]
) -> pd.DataFrame:
    """Return carried parts: each on its component's own cover, counted once."""
    component = units["carried_component"].fillna("")
    own = component.where(component.isin(own_cover), "")
    parts = units[(units["cover_class"] == own) & (component != "")].copy()
    parts["cover_class"] = "" if "component" not in by else parts["cover_class"]
    if "component" not in by:
        parts["carried_component"] = None
    return parts


class _Builder:
    """Join unit groups, components and events into segments."""

    def __init__(
        self,
        session: Session,
        scope: Scope,
        by: tuple[str, ...],
        units: pd.DataFrame,
        events: pd.DataFrame,
        *,
        own_cover: set[str],
    ) -> None:
        self._session = session
        self._own_cover = own_cover
        self._scope = scope
        self._by = by
        self._no_units = 0
        self._units = _carried(units, by, own_cover) if "supplier" in by else units
        self._events = events
        self._unit_keys = [name for name in _UNIT_GROUPS if name in by]
        self._claim_keys = [
            name for name in ("component", "failure_mode") if name in by
        ]

    def build(self) -> Counts:
        longest = max(
            int(self._units["planned_days"].max()) if len(self._units) else 0,
            int(self._events["planned_days"].max()) if len(self._events) else 0,
        )
        n_ages = longest + 1
        groups, matrix, estimated = self._unit_matrix(n_ages)
        segments = self._segments(groups)
        unit_of_segment = segments.pop("unit_row").to_numpy(dtype=np.intp)
        events = self._placed_events(segments)
        return Counts(
            by=self._by,
            segments=segments[list(self._by)],
            ages=np.arange(1.0, n_ages + 1.0),
            events=events,
            unit_of_segment=unit_of_segment,
            units=matrix,
            estimated=estimated,
        )

    def _unit_matrix(self, n_ages: int) -> tuple[pd.DataFrame, Floats, Floats]:
        """Return unit groups (with cover class) and their units by planned age."""
        keys = [*self._unit_keys, "cover_class", "carried_component"]
        groups = self._units[keys].drop_duplicates().reset_index(drop=True)
        groups["unit_row"] = np.arange(len(groups))
        placed = self._units.merge(groups, on=keys, how="left")
        row = placed["unit_row"].to_numpy(dtype=np.intp)
        self._no_units = len(groups)
        matrix = np.zeros((len(groups) + 1, n_ages))
        np.add.at(
            matrix,
            (row, placed["planned_days"].to_numpy(dtype=np.intp)),
            placed["n_units"].to_numpy(dtype=np.float64),
        )
        estimated = np.zeros(len(groups) + 1)
        np.add.at(estimated, row, placed["n_estimated"].to_numpy(dtype=np.float64))
        return groups, matrix, estimated

    def _segments(self, groups: pd.DataFrame) -> pd.DataFrame:
        """Cross unit groups with what can fail, each on its own cover."""
        kinds = self._failing_kinds()
        # typed, so that it can be joined where no claim is in sight either
        kinds["cover_class"] = pd.array(
            [name if name in self._own_cover else "" for name in kinds["cover_of"]],
            dtype="str",
        )
        segments = groups.merge(kinds, on="cover_class", how="inner")
        if not self._unit_keys:
            # never covered: a row that says so, on the unit row that is empty
            uncovered = ~kinds["cover_class"].isin(groups["cover_class"])
            never = kinds[uncovered].assign(unit_row=self._no_units)
            segments = pd.concat([segments, never], ignore_index=True)
        if "supplier" in self._by:
            segments = self._of_suppliers(segments)
        if not self._by:
            return segments[["unit_row"]].head(1).reset_index(drop=True)
        return (
            segments[[*self._by, "unit_row"]]
            .drop_duplicates(subset=list(self._by))
            .sort_values(list(self._by), na_position="last", kind="stable")
            .reset_index(drop=True)
        )

    def _of_suppliers(self, segments: pd.DataFrame) -> pd.DataFrame:
        """Keep each supplier's own component; add suppliers known from claims only."""
        if "component" in self._by:
            segments = segments[segments["carried_component"] == segments["component"]]
        from_claims = self._events[list(self._by)].drop_duplicates()
        # the last unit row is empty: claims without a known number of units
        from_claims = from_claims.assign(unit_row=self._no_units)
        segments = pd.concat([segments, from_claims], ignore_index=True)
        wanted = self._scope.wanted.get("supplier")
        return segments[segments["supplier"].isin(wanted)] if wanted else segments

    def _failing_kinds(self) -> pd.DataFrame:
        """Return what can fail: components, failure modes, or just the unit."""
        seen = self._session.frame("marts/components_seen")
        asked = self._scope.wanted.get("component")
        if asked:
            missing = [name for name in asked if name not in set(seen["component"])]
            extra = pd.DataFrame(
                {"component": missing, "failure_mode": "unclassified"}, dtype="str"
            )
            seen = pd.concat([seen[seen["component"].isin(asked)], extra])
        if not self._claim_keys:
            return pd.DataFrame({"cover_of": [_only(self._scope)]})
        kinds = seen[self._claim_keys].drop_duplicates().reset_index(drop=True)
        kinds["cover_of"] = kinds.get("component", _only(self._scope))
        return kinds

    def _placed_events(self, segments: pd.DataFrame) -> pd.DataFrame:
        """Return the events with the number of their segment."""
        keys = list(self._by)
        numbered = segments[keys].copy()
        numbered["segment"] = np.arange(len(segments))
        if keys:
            placed = self._events.merge(numbered, on=keys, how="inner")
        else:
            placed = self._events.assign(segment=0)
        return pd.DataFrame(
            {
                "segment": placed["segment"].astype(int),
                "is_first": placed["is_first"].astype(bool),
                "age": placed["age_days"].astype(int) + 1,
                "planned": placed["planned_days"].astype(int) + 1,
                "n": placed["n_events"].astype(float),
            }
        ).reset_index(drop=True)
