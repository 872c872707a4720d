"""Count tables for any grouping, from the counting queries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.carriers import put_carriers
from claimlens.analysis.count_tables import DAYS_PER_MONTH, Counts, SegmentChunk
from claimlens.analysis.events import put_events
from claimlens.analysis.grouping import GROUPS, UNIT_GROUPS, Grouping, read_grouping
from claimlens.analysis.reporting_classes import put_reporting_classes
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.exposure import Chances, Stays

__all__ = [
    "DAYS_PER_MONTH",
    "GROUPS",
    "Counts",
    "SegmentChunk",
    "count_failures",
]

Floats = NDArray[np.float64]


def count_failures(
    session: Session,
    settings: Settings,
    scope: Scope,
    by: Sequence[str] | Grouping,
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
    by : sequence of str, or Grouping
        Names of ``GROUPS``, or columns that came in with the units or parts.
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
    grouping = by if isinstance(by, Grouping) else read_grouping(session, by)
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
    if "supplier" in scope.wanted:
        if grouping.part_column != "supplier":
            raise InputError(
                f"Parts of one supplier cannot be grouped by {grouping.part_column}.",
                remedy="leave --supplier out",
            )
        if not grouping.of_parts:
            finer = count_failures(
                session,
                settings,
                scope,
                grouping.with_inner("supplier"),
                only_dated=only_dated,
            )
            return _without_supplier(finer, grouping)
    # a filter for one component asks for its failures, on its cover; for several
    # it asks for the unit's first failure of any of them
    by_component = bool({"component", "supplier"} & set(grouping.inner)) or bool(
        _only(scope)
    )
    put_events(
        session,
        settings,
        by_component=by_component,
        by_failure_mode="failure_mode" in grouping.inner,
    )
    units, events = counting_rows(session, settings, scope, grouping, only_dated)
    own_cover = set(settings.coverage.own_cover)
    return _Builder(
        session, scope, grouping, (units, events), own_cover=own_cover
    ).build()


def counting_rows(
    session: Session,
    settings: Settings,
    scope: Scope,
    grouping: Grouping,
    only_dated: bool,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the rows of the counting queries: units, and failures."""
    session.run("intermediate/int_unit_columns", dict(grouping.slots))
    put_carriers(session, scope.as_of, part_column=grouping.part_column)
    put_reporting_classes(session, scope)
    flags: dict[str, bool | int] = {
        f"by_{name}": name in grouping.inner for name in UNIT_GROUPS
    }
    flags["only_dated"] = only_dated
    flags["longest_lag"] = scope.reporting.longest
    units = session.frame("marts/unit_counts", flags)
    events = session.frame(
        "marts/failure_counts",
        {
            **flags,
            "by_component": "component" in grouping.inner,
            "tolerance_days": settings.counting.predelivery_tolerance_days,
        },
    )
    return units, events


def _only(scope: Scope) -> str:
    """Return the component of a filter that names exactly one, else nothing."""
    asked = scope.wanted.get("component", ())
    return asked[0] if len(asked) == 1 else ""


def _without_supplier(finer: Counts, grouping: Grouping) -> Counts:
    """Add up the parts of the suppliers that a filter asks for."""
    keys = list(grouping.names)
    segments = finer.segments[keys].drop_duplicates().reset_index(drop=True)
    if not keys:
        segments = pd.DataFrame(index=range(min(len(finer.segments), 1)))
    numbered = segments.assign(number=np.arange(len(segments)))
    if keys:
        number = finer.segments.merge(numbered, on=keys, how="left")["number"]
    else:
        number = pd.Series(0, index=finer.segments.index)
    row = number.to_numpy(dtype=np.intp)

    def added(of_units: Floats) -> Floats:
        total = np.zeros((len(segments), *of_units.shape[1:]))
        np.add.at(total, row, of_units[finer.unit_of_segment])
        return total

    # each row of units counts once for every segment that rests on it
    pairs = pd.DataFrame({"old": finer.unit_of_segment, "new": row})
    stays = pd.DataFrame({"old": finer.stays.row, "place": range(finer.stays.n.size)})
    placed = stays.merge(pairs, on="old", how="inner")
    moved = finer.stays.take(placed["place"].to_numpy(dtype=np.intp))
    return Counts(
        grouping=grouping,
        segments=segments,
        ages=finer.ages,
        events=finer.events.assign(segment=row[finer.events["segment"].to_numpy()]),
        unit_of_segment=np.arange(len(segments)),
        stays=replace(moved, row=placed["new"].to_numpy(dtype=np.intp)),
        planned=added(finer.planned),
        from_start=added(finer.from_start),
        estimated=added(finer.estimated),
        chances=finer.chances,
    )


def _carried(
    units: pd.DataFrame, inner: tuple[str, ...], own_cover: set[str]
) -> pd.DataFrame:
    """Return carried parts: each on its component's own cover, counted once."""
    component = units["carried_component"].fillna("")
    own = component.where(component.isin(own_cover), "")
    parts = units[(units["cover_class"] == own) & (component != "")].copy()
    parts["cover_class"] = "" if "component" not in inner else parts["cover_class"]
    if "component" not in inner:
        parts["carried_component"] = None
    return parts


class _Builder:
    """Join unit groups, components and events into segments."""

    def __init__(
        self,
        session: Session,
        scope: Scope,
        grouping: Grouping,
        counted: tuple[pd.DataFrame, pd.DataFrame],
        *,
        own_cover: set[str],
    ) -> None:
        units, self._events = counted
        self._session = session
        self._own_cover = own_cover
        self._scope = scope
        self._grouping = grouping
        self._by = grouping.inner
        self._no_units = 0
        self._units = (
            _carried(units, self._by, own_cover) if grouping.of_parts else units
        )
        self._unit_keys = [name for name in UNIT_GROUPS if name in self._by]
        self._claim_keys = [
            name for name in ("component", "failure_mode") if name in self._by
        ]

    def build(self) -> Counts:
        longest = max(
            int(self._units["last_day"].max()) if len(self._units) else 0,
            int(self._events["last_day"].max()) if len(self._events) else 0,
        )
        n_ages = longest + 1
        groups, row = self._unit_rows()
        segments = self._segments(groups)
        unit_of_segment = segments.pop("unit_row").to_numpy(dtype=np.intp)
        events = self._placed_events(segments)
        stays = Stays(
            row=row,
            last_day=self._units["last_day"].to_numpy(dtype=np.intp),
            seen_after=self._units["days_after"].to_numpy(dtype=np.intp),
            reporting=self._units["reporting"].to_numpy(dtype=np.intp),
            distance=self._units["distance"].to_numpy(dtype=np.intp),
            n=self._units["n_units"].to_numpy(dtype=np.float64)
            * np.where(self._units["is_early"].astype(bool), -1.0, 1.0),
        )
        whole = ~self._units["is_early"].to_numpy(dtype=bool)
        late = self._units["is_late"].to_numpy(dtype=bool)
        estimated = np.zeros(len(groups) + 1)
        np.add.at(estimated, row, self._units["n_estimated"].to_numpy(dtype=np.float64))
        names = dict(zip(self._by, self._grouping.names, strict=True))
        return Counts(
            grouping=self._grouping,
            segments=segments[list(self._by)].rename(columns=names),
            ages=np.arange(1.0, n_ages + 1.0),
            events=events,
            unit_of_segment=unit_of_segment,
            stays=stays,
            planned=_by_age(stays.take(whole), (len(groups) + 1, n_ages)),
            from_start=_by_age(stays.take(whole & ~late), (len(groups) + 1, n_ages)),
            estimated=estimated,
            chances=Chances(
                reported=self._scope.reporting.share,
                covered=self._scope.covered(n_ages),
            ),
        )

    def _unit_rows(self) -> tuple[pd.DataFrame, NDArray[np.intp]]:
        """Return unit groups (with cover class), and the group of each row."""
        keys = [*self._unit_keys, "cover_class", "carried_component"]
        groups = self._units[keys].drop_duplicates().reset_index(drop=True)
        groups["unit_row"] = np.arange(len(groups))
        placed = self._units[keys].merge(groups, on=keys, how="left")
        self._no_units = len(groups)
        return groups, placed["unit_row"].to_numpy(dtype=np.intp)

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
        day = placed["age_days"].to_numpy(dtype=np.intp)
        last_day = placed["last_day"].to_numpy(dtype=np.intp)
        days_after = placed["days_after"].to_numpy(dtype=np.intp)
        reporting = placed["reporting"].to_numpy(dtype=np.intp)
        return pd.DataFrame(
            {
                "segment": placed["segment"].astype(int),
                "is_first": placed["is_first"].astype(bool),
                "age": day + 1,
                "last_day": last_day,
                "days_after": days_after,
                "reporting": reporting,
                "distance": placed["distance"].astype(int),
                "is_late": placed["is_late"].astype(bool),
                "is_known": self._scope.reporting.is_known(
                    reporting, last_day + days_after - day
                ),
                "n": placed["n_events"].astype(float),
                "unsure": placed["n_unsure"].astype(float),
            }
        ).reset_index(drop=True)


def _by_age(stays: Stays, shape: tuple[int, int]) -> Floats:
    """Return units by row and the age at which they leave."""
    table = np.zeros(shape)
    np.add.at(table, (stays.row, stays.last_day), stays.n)
    return table
