"""Whether repairs held: repeats, first-time fix, repeats against expectation."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.count_tables import Counts
from claimlens.analysis.counts import count_failures
from claimlens.analysis.grouping import UNIT_GROUPS
from claimlens.analysis.notes import joined
from claimlens.analysis.repair_events import place, repairs_of
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.follow_up import (
    Repairs,
    expected_after,
    follow,
    ratio_to_expected,
)
from claimlens.stats.intervals import wilson
from claimlens.stats.seeds import seed_for
from claimlens.stats.shrinkage import shrink
from claimlens.stats.survival import share_failed

__all__ = ["SUCCESS_COLUMNS", "no_fault_found", "repair_success"]

SUCCESS_COLUMNS = (
    "repairs_followed",
    "repeated_30",
    "repeat_30",
    "repeat_30_lower",
    "repeat_30_upper",
    "repeated_90",
    "repeat_90",
    "repeat_90_lower",
    "repeat_90_upper",
    "first_time_fix",
    "first_time_fix_lower",
    "first_time_fix_upper",
    "after_repair",
    "expected",
    "ratio",
    "ratio_lower",
    "ratio_upper",
    "inspected",
    "no_fault_found",
    "no_fault_found_share",
    "no_fault_found_lower",
    "no_fault_found_upper",
)

WINDOWS = (30, 90)
FEWEST_FOLLOWED = 20
FEWEST_EXPECTED = 10

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


def repair_success(
    session: Session,
    settings: Settings,
    scope: Scope,
    counts: Counts,
    repaired: pd.DataFrame,
) -> tuple[pd.DataFrame, list[str]]:
    """Follow the repairs of each segment to their next event.

    Parameters
    ----------
    session : Session
        After ``mark_repairs``.
    settings : Settings
        Counting rules, confidence.
    scope : Scope
        Filters in force.
    counts : Counts
        Of the segments.
    repaired : pandas.DataFrame
        Events, each on the cover of its component.

    Returns
    -------
    table : pandas.DataFrame
        One row a segment: of ``SUCCESS_COLUMNS`` all but those of inspections.
    notes : list of str
        Why a share is missing, one a segment.
    """
    grouping, n_segments = counts.grouping, len(counts.segments)
    finer = counts
    if "component" not in grouping.inner:
        finer = count_failures(
            session, settings, scope, grouping.with_inner("component")
        )
    confidence = settings.rates.confidence
    placed = place(repaired, counts.segments, grouping.inner, grouping.names)
    repairs = repairs_of(placed, placed["segment"].to_numpy(dtype=np.intp))
    # the finer counts hold the longest cover of any component
    chances = finer.chances
    followed = follow(repairs, chances, within=max(WINDOWS), n_segments=n_segments)
    share = share_failed(
        followed.days,
        followed.repeats,
        None,
        WINDOWS,
        exposed=followed.exposed,
        units=followed.repairs,
        confidence=confidence,
    )
    enough = (np.rint(followed.repairs) >= FEWEST_FOLLOWED)[:, None] & share.reached
    table = pd.DataFrame(
        {"repairs_followed": np.rint(followed.repairs).astype(np.int64)}
    )
    for k, window in enumerate(WINDOWS):
        known = followed.repeats[:, :window].sum(axis=1)
        table[f"repeated_{window}"] = np.rint(known).astype(np.int64)
        name = f"repeat_{window}"
        table[name] = np.where(enough[:, k], share.share[:, k], np.nan)
        table[f"{name}_lower"] = np.where(enough[:, k], share.lower[:, k], np.nan)
        table[f"{name}_upper"] = np.where(enough[:, k], share.upper[:, k], np.nan)
    longest = f"repeat_{max(WINDOWS)}"
    table["first_time_fix"] = 1.0 - table[longest]
    table["first_time_fix_lower"] = 1.0 - table[f"{longest}_upper"]
    table["first_time_fix_upper"] = 1.0 - table[f"{longest}_lower"]
    against = _against_expected(counts, finer, repaired, confidence)
    notes = [
        _why_no_share(n, bool(reached))
        for n, reached in zip(
            table["repairs_followed"], share.reached[:, -1], strict=True
        )
    ]
    if "dealer" in grouping.unit_columns:
        against, of_dealers = _fair_to_dealers(against, settings)
        notes = [joined(pair) for pair in zip(notes, of_dealers, strict=True)]
    return pd.concat([table, against], axis=1), notes


def _fair_to_dealers(
    against: pd.DataFrame, settings: Settings
) -> tuple[pd.DataFrame, list[str]]:
    """Show a dealer's ratio where enough is expected, drawn towards all dealers'.

    Of many dealers the worst is mostly the unluckiest: no list of raw ratios.
    """
    fair = against.copy()
    enough = (against["expected"] >= FEWEST_EXPECTED).to_numpy()
    columns = ["ratio", "ratio_lower", "ratio_upper"]
    fair.loc[~enough, columns] = np.nan
    notes = np.where(
        enough,
        "ratio drawn towards that of all dealers",
        f"ratio of a dealer from {FEWEST_EXPECTED} expected on",
    ).tolist()
    some = against[enough]
    pooled = some["after_repair"].sum() / some["expected"].sum() if len(some) else 0.0
    if pooled > 0:
        shrunk = shrink(
            some["after_repair"],
            some["expected"] * pooled,
            seed=seed_for(settings.life.seed, "repeats", "dealer"),
            confidence=settings.rates.confidence,
        )
        for name, values in zip(
            columns, (shrunk.ratio, shrunk.lower, shrunk.upper), strict=True
        ):
            fair.loc[enough, name] = values * pooled
    return fair, notes


def _why_no_share(n_followed: int, is_reached: bool) -> str:
    """Say why there is no share of repeats."""
    if n_followed == 0:
        return "no repair to follow"
    if n_followed < FEWEST_FOLLOWED:
        return (
            f"{n_followed} repairs followed, {FEWEST_FOLLOWED} needed for a share of "
            "repeats"
        )
    if not is_reached:
        return f"no repair is followed for {max(WINDOWS)} days yet"
    return ""


def _against_expected(
    counts: Counts, finer: Counts, repaired: pd.DataFrame, confidence: float
) -> pd.DataFrame:
    """Compare events after repair with first failures at the same ages."""
    names = counts.grouping.names
    numbered = finer.segments.assign(fine=np.arange(len(finer.segments)))
    target = place(numbered, counts.segments, names, names)
    segment_of_fine = np.zeros(len(finer.segments), dtype=np.intp)
    segment_of_fine[target["fine"].to_numpy(dtype=np.intp)] = target["segment"]
    grouping = finer.grouping
    placed = place(repaired, finer.segments, grouping.inner, grouping.names)
    repairs = repairs_of(placed, placed["segment"].to_numpy(dtype=np.intp))
    observed, expected, variance = np.zeros((3, len(counts.segments)))
    for chunk in finer.chunks():
        here = np.isin(repairs.segment, chunk.rows)
        # claims of parts that nobody counted have no hazard
        has_units = chunk.planned.sum(axis=1, keepdims=True) > 0
        failures = np.where(has_units, chunk.failures, 0.0)
        found = expected_after(
            _taken(repairs, here, int(chunk.rows[0])),
            finer.chances,
            failures,
            np.where(has_units, chunk.exposed + failures, 0.0),
            within=max(WINDOWS),
            segment_of_row=segment_of_fine[chunk.rows],
            n_segments=len(counts.segments),
        )
        observed += found.observed
        expected += found.expected
        variance += found.variance
    ratio, lower, upper = ratio_to_expected(observed, expected, variance, confidence)
    return pd.DataFrame(
        {
            "after_repair": np.rint(observed).astype(np.int64),
            "expected": expected,
            "ratio": ratio,
            "ratio_lower": lower,
            "ratio_upper": upper,
        }
    )


def _taken(repairs: Repairs, here: NDArray[np.bool_], first: int) -> Repairs:
    """Return some repairs, their segments counted from ``first``."""
    return replace(
        repairs,
        segment=repairs.segment[here] - first,
        day=repairs.day[here],
        last_day=repairs.last_day[here],
        seen_after=repairs.seen_after[here],
        reporting=repairs.reporting[here],
        distance=repairs.distance[here],
        gap=repairs.gap[here],
        n=repairs.n[here],
    )


def no_fault_found(
    session: Session, settings: Settings, scope: Scope, counts: Counts
) -> pd.DataFrame:
    """Count inspected claims, and those of them without a fault found.

    Parameters
    ----------
    session : Session
        After ``count_failures`` for the same grouping.
    settings : Settings
        For the confidence.
    scope : Scope
        Filters in force.
    counts : Counts
        Of the segments.

    Returns
    -------
    pandas.DataFrame
        One row a segment: the columns of inspections of ``SUCCESS_COLUMNS``; the
        share is of the inspected claims, which are no random draw of all.
    """
    grouping = counts.grouping
    suppliers = scope.wanted.get("supplier")
    inner = (*grouping.inner, "supplier") if suppliers else grouping.inner
    keys = ("component", "failure_mode", *UNIT_GROUPS)
    rows = session.frame(
        "marts/repeat_findings", {f"by_{name}": name in inner for name in keys}
    )
    if suppliers:
        rows = rows[rows["supplier"].isin(suppliers)]
    placed = place(rows, counts.segments, grouping.inner, grouping.names)
    inspected, sound = (np.zeros(len(counts.segments)) for _ in range(2))
    segment = placed["segment"].to_numpy(dtype=np.intp)
    np.add.at(inspected, segment, placed["n_inspected"].to_numpy(dtype=np.float64))
    np.add.at(sound, segment, placed["n_no_fault_found"].to_numpy(dtype=np.float64))
    lower, upper = wilson(sound, inspected, settings.rates.confidence)
    has_any = inspected > 0
    return pd.DataFrame(
        {
            "inspected": inspected.astype(np.int64),
            "no_fault_found": sound.astype(np.int64),
            "no_fault_found_share": np.divide(
                sound,
                inspected,
                out=np.full(inspected.size, np.nan),
                where=has_any,
            ),
            "no_fault_found_lower": np.where(has_any, lower, np.nan),
            "no_fault_found_upper": np.where(has_any, upper, np.nan),
        }
    )
