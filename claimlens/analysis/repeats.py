"""Repairs and cost per unit, repeat repairs, and how often the first repair held."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.count_tables import DAYS_PER_MONTH, Counts
from claimlens.analysis.counts import count_failures
from claimlens.analysis.grouping import Grouping, read_grouping
from claimlens.analysis.notes import (
    early_life_missing,
    joined,
    no_units,
    watched_too_short,
)
from claimlens.analysis.question import ages_asked
from claimlens.analysis.repair_costs import EventCosts, costs_of_events
from claimlens.analysis.repair_events import (
    mark_repairs,
    occurrences_of,
    place,
    read_events,
)
from claimlens.analysis.repair_success import (
    SUCCESS_COLUMNS,
    no_fault_found,
    repair_success,
)
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.mean_events import SegmentMeans, mean_by_segment
from claimlens.stats.watches import Occurrences, Watches

__all__ = ["REPEAT_COLUMNS", "repeats"]

MEAN_COLUMNS = (
    "units",
    "events",
    "repeats",
    "mean_events",
    "mean_events_lower",
    "mean_events_upper",
    "mean_cost",
    "mean_cost_lower",
    "mean_cost_upper",
    "currency",
    "at_months",
    "mature",
)

REPEAT_COLUMNS = (*MEAN_COLUMNS, *SUCCESS_COLUMNS, "note", "as_of")

# one repair that makes more of the cost than this is named
_LARGE_SHARE = 0.2
# months of age over which reports must have arrived
_SPAN = 3

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


def repeats(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    by: Sequence[str],
    at: Sequence[float],
) -> pd.DataFrame:
    """Count every event per unit, not the first alone, and follow the repairs.

    An event is a counted failure of one component in one unit; claims at most
    ``same_event_days`` apart are one. Each event is taken for a repair and followed
    to the next event of the same component (and failure mode, where grouped by it)
    in the same unit, or to the cut-off, the end of cover or retirement.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting and maturity rules, report currency.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Grouping.
    at : sequence of float
        Months in service, above 0.

    Returns
    -------
    pandas.DataFrame
        The columns of ``by``, then ``REPEAT_COLUMNS``; one row per segment and age.

        - ``units``; ``events`` and, of them, ``repeats`` (not a unit's first) by the
          age.
        - ``mean_events``: mean cumulative events per unit with robust limits; NaN
          where no unit was watched to the age. Without an event the upper limit is
          one-sided.
        - ``mean_cost``: the same in money of ``currency``; NaN where the events of
          the segment are in several currencies.
        - ``mature``: enough units in the last month of age, reports arrived.
        - ``repairs_followed``; ``repeated_30`` and ``repeated_90``, those with a
          known repeat within 30 and 90 days; ``repeat_30`` and ``repeat_90``, the
          share of repairs with one (Kaplan-Meier, Wilson on the effective number),
          NaN below 20 repairs followed; ``first_time_fix`` = 1 - ``repeat_90``.
          They do not depend on ``at_months``.
        - ``after_repair``, events within 90 days after a repair; ``expected``, those
          that the first-failure hazards at the same ages let expect; their
          ``ratio``: above 1 the repair, or the diagnosis, is in question. By dealer
          only where 10 are expected, drawn towards the ratio of all dealers.
        - ``inspected`` claims, those of them without a fault found, their share.

    Raises
    ------
    InputError
        If an age is not above 0, a group is not known, or a rate of exchange is
        missing.

    References
    ----------
    .. [1] Nelson (2003), Recurrent Events Data Analysis, SIAM.
    .. [2] Lawless, Nadeau (1995), Technometrics 37, 158-168.
    """
    months = ages_asked(at, example="12,24")
    grouping = _told_apart(read_grouping(session, by))
    counts = count_failures(session, settings, scope, grouping)
    mark_repairs(session, settings, by_mode="failure_mode" in grouping.inner)
    own = bool({"component", "supplier"} & set(grouping.inner)) or (
        len(scope.wanted.get("component", ())) == 1 or "supplier" in scope.wanted
    )
    raw = read_events(session, settings, scope, grouping, on_own_cover=own)
    events = place(raw, counts.segments, grouping.inner, grouping.names)
    repaired = raw
    if not own:
        repaired = read_events(session, settings, scope, grouping, on_own_cover=True)
    money = costs_of_events(session, settings, events, len(counts.segments))
    days = np.ceil(np.asarray(months) * DAYS_PER_MONTH)
    means, costs = _means(counts, events, money.amount, days, settings)
    figures = _Figures(
        months=np.asarray(months),
        days=days,
        means=means,
        costs=costs,
        money=money,
        complete=_completeness(counts, days),
    )
    table = _mean_table(counts, events, figures, settings=settings, scope=scope)
    success, why = repair_success(session, settings, scope, counts, repaired)
    success = pd.concat(
        [success, no_fault_found(session, settings, scope, counts)], axis=1
    )
    n_ages = len(months)
    table = pd.concat(
        [table, success.loc[success.index.repeat(n_ages)].reset_index(drop=True)],
        axis=1,
    )
    table["note"] = [
        joined((note, why[row // n_ages], *scope.notes))
        for row, note in enumerate(_notes(counts, figures, settings))
    ]
    table["as_of"] = pd.Timestamp(scope.as_of)
    return table[[*counts.by, *REPEAT_COLUMNS]]


def _told_apart(grouping: Grouping) -> Grouping:
    """Return the grouping; a kept column named as one of ours gets a name apart."""
    names = (
        f"extra_{name}" if name in REPEAT_COLUMNS else name for name in grouping.names
    )
    return replace(grouping, names=tuple(names))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Figures:
    """What is estimated for each segment (S) and age (K)."""

    months: Floats
    days: Floats
    means: SegmentMeans
    costs: SegmentMeans
    money: EventCosts
    complete: Floats


def _means(
    counts: Counts,
    events: pd.DataFrame,
    amount: Floats,
    days: Floats,
    settings: Settings,
) -> tuple[SegmentMeans, SegmentMeans]:
    """Return mean events and mean amounts; both rest on the same units."""
    stays, n_segments = counts.stays, len(counts.segments)
    once = occurrences_of(events, np.ones(len(events)))
    twice = np.tile(np.arange(len(events)), 2)
    both = mean_by_segment(
        Occurrences(
            segment=np.concatenate([once.segment, once.segment + n_segments]),
            unit=once.unit[twice],
            day=once.day[twice],
            watch=once.watch.take(twice),
            amount=np.concatenate([once.amount, amount]),
        ),
        Watches(
            row=stays.row,
            entry_day=np.zeros(stays.n.size, dtype=np.intp),
            last_day=stays.last_day,
            seen_after=stays.seen_after,
            reporting=stays.reporting,
            distance=stays.distance,
            n=stays.n,
        ),
        counts.chances,
        days,
        row_of_segment=np.tile(counts.unit_of_segment, 2),
        confidence=settings.rates.confidence,
    )
    return both.take(slice(n_segments)), both.take(slice(n_segments, None))


def _completeness(counts: Counts, days: Floats) -> Floats:
    """Return the share of events of the last months of age that is known, (S, K)."""
    ends = np.minimum(days, len(counts.ages)).astype(np.intp)
    starts = np.maximum(ends - round(_SPAN * DAYS_PER_MONTH), 0)
    # segments of one fleet share its units: one of them speaks for all
    _, one, place = np.unique(
        counts.unit_of_segment, return_index=True, return_inverse=True
    )
    shares = np.ones((one.size, len(days)))
    for first in range(0, one.size, 1_000):
        chunk = counts.take(one[first : first + 1_000])
        known, present = (
            np.pad(np.cumsum(table, axis=1), ((0, 0), (1, 0)))
            for table in (chunk.watched, chunk.present)
        )
        among = present[:, ends] - present[:, starts]
        shares[first : first + 1_000] = np.divide(
            known[:, ends] - known[:, starts],
            among,
            out=np.ones_like(among),
            where=among > 0,
        )
    return np.asarray(shares[place])


def _mean_table(
    counts: Counts,
    events: pd.DataFrame,
    figures: _Figures,
    *,
    settings: Settings,
    scope: Scope,
) -> pd.DataFrame:
    """Return the keys and ``MEAN_COLUMNS``, one row per segment and age."""
    n_segments, n_ages = len(counts.segments), figures.months.size
    seen, again = (np.zeros((n_segments, n_ages)) for _ in range(2))
    segment = events["segment"].to_numpy(dtype=np.intp)
    weight = events["weight"].to_numpy(dtype=np.float64)
    by_then = events["age_days"].to_numpy()[:, None] + 1 <= figures.days
    np.add.at(seen, segment, by_then * weight[:, None])
    later = (events["event_no"].to_numpy() > 1)[:, None] & by_then
    np.add.at(again, segment, later * weight[:, None])
    units = counts.planned[counts.unit_of_segment].sum(axis=1)
    table = counts.segments.loc[counts.segments.index.repeat(n_ages)].reset_index(
        drop=True
    )

    def whole(values: Floats) -> NDArray[np.int64]:
        return np.rint(values).astype(np.int64).reshape(-1)

    table["units"] = np.repeat(whole(units), n_ages)
    table["events"] = whole(seen)
    table["repeats"] = whole(again)
    shown = ~np.repeat(figures.money.is_mixed, n_ages)
    for name, means, keep in (
        ("mean_events", figures.means, np.ones_like(shown)),
        ("mean_cost", figures.costs, shown),
    ):
        for suffix, values in (
            ("", means.mean),
            ("_lower", means.lower),
            ("_upper", means.upper),
        ):
            table[name + suffix] = np.where(keep, values.reshape(-1), np.nan)
    # a limit in events says nothing of money
    free = (figures.costs.total == 0).reshape(-1)
    table.loc[free, ["mean_cost_lower", "mean_cost_upper"]] = np.nan
    table["currency"] = np.repeat(pd.array(figures.money.currency, dtype="str"), n_ages)
    table["at_months"] = np.tile(figures.months, n_segments)
    table["mature"] = _mature(figures, settings).reshape(-1)
    return table


def _mature(figures: _Figures, settings: Settings) -> NDArray[np.bool_]:
    rule = settings.rates
    return np.asarray(
        figures.means.reached
        & (figures.means.at_risk >= rule.mature_units)
        & (figures.complete >= rule.mature_completeness)
    )


def _notes(counts: Counts, figures: _Figures, settings: Settings) -> list[str]:
    """Say in words what a reader of each row must know."""
    mature = _mature(figures, settings)
    oldest = np.where(counts.planned > 0, counts.ages, 0.0).max(axis=1, initial=0.0)
    oldest = oldest[counts.unit_of_segment]
    estimated = counts.estimated[counts.unit_of_segment]
    notes = []
    for i in range(len(counts.segments)):
        standing = _standing(figures.money, i, estimated[i])
        for k in range(figures.months.size):
            parts = [
                _why_not(counts, figures, settings, (i, k), oldest[i])
                if not mature[i, k]
                else "",
                _of_the_cost(figures, i, k),
                *standing,
            ]
            notes.append(joined(parts))
    return notes


def _standing(money: EventCosts, segment: int, estimated: float) -> list[str]:
    """Return what holds at every age of a segment."""
    parts = []
    if money.is_mixed[segment]:
        parts.append(
            "amounts in several currencies: no cost per unit without a report currency"
        )
    if money.n_without[segment] >= 1:
        parts.append(
            f"{money.n_without[segment]:.0f} claims without an amount: the cost is a "
            "lower bound"
        )
    if estimated >= 0.5:
        parts.append(f"{estimated:.0f} units with an estimated in-service date")
    return parts


def _why_not(
    counts: Counts,
    figures: _Figures,
    settings: Settings,
    cell: tuple[int, int],
    oldest: float,
) -> str:
    """Say why a mean is missing, or too young to trust."""
    i, k = cell
    if oldest == 0:
        return no_units(of_parts=counts.grouping.of_parts)
    if not figures.means.reached[i, k]:
        if oldest < figures.days[k]:
            return watched_too_short(oldest)
        first = figures.means.first[i]
        if 1 < first < np.inf:
            return early_life_missing(first)
        return "the events of the oldest units are mostly not reported yet"
    at_risk, fewest = figures.means.at_risk[i, k], settings.rates.mature_units
    if at_risk < fewest:
        return f"too young: {at_risk:.0f} units in the last month, {fewest} needed"
    return (
        f"reports still arriving: {figures.complete[i, k]:.0%} of the events of the "
        f"last {_SPAN} months of age are known"
    )


def _of_the_cost(figures: _Figures, i: int, k: int) -> str:
    """Return what is to be said of the figures of one row."""
    if not figures.means.reached[i, k]:
        return ""
    if figures.means.events[i, k] == 0:
        return "no event: one-sided upper limit"
    total, largest = figures.costs.total[i, k], figures.costs.largest[i, k]
    if figures.money.is_mixed[i] or total <= 0 or largest <= _LARGE_SHARE * total:
        return ""
    return f"one repair is {min(largest / total, 1.0):.0%} of the cost by this age"
