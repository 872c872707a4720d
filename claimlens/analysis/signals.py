"""What is rising beyond chance, since when, and what it costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.months import first_of, last_month_end, month_no
from claimlens.analysis.notes import joined
from claimlens.analysis.production import Production
from claimlens.analysis.rising import LEVELS, Rising, judge_production
from claimlens.analysis.scope import Scope
from claimlens.analysis.signal_claims import commonest, doubts, money_behind
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.rising import Month
from claimlens.stats.signal_states import (
    Acknowledged,
    Course,
    details_of,
    history_of,
    signal_states,
)

__all__ = ["SIGNAL_COLUMNS", "Judged", "judge", "signals"]

SIGNAL_COLUMNS = (
    "component",
    "model",
    "level",
    "state",
    "since",
    "from_date",
    "to_date",
    "rate_ratio",
    "lower",
    "upper",
    "shrunk_ratio",
    "claims",
    "expected",
    "units",
    "cost",
    "currency",
    "models",
    "regions",
    "why",
    "acknowledged_by",
    "acknowledged_on",
    "acknowledged_why",
    "acknowledged_until",
    "detail_of",
    "note",
    "as_of",
)

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A production judged once, for all who speak of it.

    Parameters
    ----------
    as_of : date
        Cut-off in force.
    production : Production
        By month of build.
    rising : list of Rising
        One for each kind of cover.
    signals : DataFrame
        What of it stands: see `signals`.
    """

    as_of: date
    production: Production
    rising: list[Rising]
    signals: pd.DataFrame


def judge(session: Session, settings: Settings, scope: Scope) -> Judged:
    """Count and judge the production, and tell what stands.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting rules, report currency.
    scope : Scope
        Cut-off and filters in force.

    Returns
    -------
    Judged

    Raises
    ------
    InputError
        If there is no unit register.
    """
    production, rising = judge_production(session, settings, scope)
    told = session.frame("marts/acknowledgements")
    return Judged(
        as_of=scope.as_of,
        production=production,
        rising=rising,
        signals=signals(session, settings, scope, told, judged=(production, rising)),
    )


def signals(
    session: Session,
    settings: Settings,
    scope: Scope,
    acknowledged: pd.DataFrame,
    *,
    judged: tuple[Production, list[Rising]] | None = None,
) -> pd.DataFrame:
    """List the faults that rise beyond chance among recent production.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting rules, report currency.
    scope : Scope
        Cut-off and filters in force.
    acknowledged : DataFrame
        What persons said of signals: ``component, model ('' for all), as_of,
        acknowledged_by, reason, until``.
    judged : tuple of Production and list of Rising, optional
        From `judge_production` for the same cut-off, where it is at hand already.

    Returns
    -------
    pandas.DataFrame
        ``SIGNAL_COLUMNS``, alarms first, then by the ratio drawn towards 1. A row of
        one model that is part of what a row of all models says follows it, with
        ``detail_of``. ``since`` is the month-end at which the present run of signals
        began; ``from_date`` and ``to_date`` (exclusive) are the build dates that it
        speaks of.
    """
    production, rising = judged or judge_production(session, settings, scope)
    claims = session.frame("marts/production_claims") if rising else pd.DataFrame()
    rows: list[dict[str, object]] = []
    for kind in rising:
        rows += _rows_of(kind, claims, acknowledged, settings=settings)
    if not rows:
        return pd.DataFrame(columns=list(SIGNAL_COLUMNS))
    notes = _notes(scope, production)
    table = pd.DataFrame(rows)
    table["note"] = [joined((note, *notes)) for note in table["note"]]
    table["as_of"] = pd.Timestamp(scope.as_of)
    return _ordered(table)[list(SIGNAL_COLUMNS)]


def _notes(scope: Scope, production: Production) -> list[str]:
    told = []
    end = last_month_end(scope.as_of)
    if end != scope.as_of:
        told.append(f"judged at the end of the month before, {end}")
    if production.n_guessed >= 1:
        told.append(
            f"{production.n_guessed:.0f} units have no build date; they are put where "
            "they left the works"
        )
    return told


def _rows_of(
    kind: Rising,
    claims: pd.DataFrame,
    acknowledged: pd.DataFrame,
    *,
    settings: Settings,
) -> list[dict[str, object]]:
    """Return the signals that stand, of components that are covered alike."""
    first_month = kind.months[0].cutoff
    seen, told = _acknowledged(kind, acknowledged, first_month)
    course = signal_states(history_of(kind.months), seen)
    now = kind.months[-1]
    standing = np.flatnonzero(course.state[-1] != "")
    places = {int(place): row for row, place in enumerate(kind.places)}
    parent = np.array([places[int(place)] for place in kind.component_of])
    part_of = details_of(parent, course.state[-1] != "", now.first, now.last)
    rows = []
    for row in standing.tolist():
        shown = _last_shown(kind.months, course, row)
        if shown is not None:
            record = _record(kind, shown, row, claims, settings)
            record |= {
                "state": str(course.state[-1, row]),
                "since": pd.Timestamp(
                    _end_of(first_month + int(course.since[-1, row]))
                ),
                "detail_of": "all models" if part_of[row] >= 0 else None,
                **_said(told.get(row)),
            }
            rows.append(record)
    return rows


def _last_shown(months: Sequence[Month], course: Course, row: int) -> Month | None:
    """Return the newest month-end at which a standing row was at its bar."""
    for month, state in zip(reversed(months), course.state[::-1, row], strict=True):
        if state == "":
            return None
        if month.level[row] > 0:
            return month
    return None


def _end_of(month: int) -> date:
    return last_month_end(first_of(month + 1))


def _acknowledged(
    kind: Rising, told: pd.DataFrame, first_month: int
) -> tuple[list[Acknowledged], dict[int, pd.Series]]:
    """Find the rows that persons spoke of, and what they said last."""
    end = _end_of(kind.months[-1].cutoff)
    row_of = kind.row_of
    seen, said = [], {}
    for _, line in told.sort_values("as_of").iterrows():
        row = row_of.get((str(line["component"]), str(line["model"])))
        day = pd.Timestamp(line["as_of"]).date()
        over = pd.notna(line["until"]) and pd.Timestamp(line["until"]).date() < end
        if row is None or day > end or over:
            continue
        month = month_no(last_month_end(day)) - first_month
        seen.append(Acknowledged(row=row, month=month))
        said[row] = line
    return seen, said


def _said(line: pd.Series | None) -> dict[str, object]:
    if line is None:
        return dict.fromkeys(
            (
                "acknowledged_by",
                "acknowledged_on",
                "acknowledged_why",
                "acknowledged_until",
            )
        )
    return {
        "acknowledged_by": str(line["acknowledged_by"]),
        "acknowledged_on": pd.Timestamp(line["as_of"]),
        "acknowledged_why": str(line["reason"]),
        "acknowledged_until": pd.NaT
        if pd.isna(line["until"])
        else pd.Timestamp(line["until"]),
    }


def _record(
    kind: Rising, month: Month, row: int, claims: pd.DataFrame, settings: Settings
) -> dict[str, object]:
    """Return what one signal says."""
    component, name = kind.names[row]
    model = None if kind.model_of[row] < 0 else name
    first, last = first_of(int(month.first[row])), first_of(int(month.last[row]) + 1)
    ratio, lower, upper = (values[row] for values in month.rate_ratio())
    behind = claims[
        (claims["component"] == component)
        & (claims["built_on"] >= pd.Timestamp(first))
        & (claims["built_on"] < pd.Timestamp(last))
    ]
    if model is not None:
        behind = behind[behind["model"] == model]
    cost, currency, told = money_behind(behind, settings)
    observed, expected = float(month.observed[row]), float(month.expected[row])
    months = int(month.last[row] - month.first[row]) + 1
    why = (
        f"{observed:.0f} of {month.units[row]:.0f} units built in "
        f"{months} month{'s' if months > 1 else ''} from {first:%Y-%m} had a failed "
        f"{component} where {expected:.1f} were to be expected from older production "
        f"at the same age ({ratio:.1f} times, {lower:.1f} to {upper:.1f})"
    )
    return {
        "component": component,
        "model": model,
        "level": LEVELS[int(month.level[row])],
        "from_date": pd.Timestamp(first),
        "to_date": pd.Timestamp(last),
        "rate_ratio": float(ratio),
        "lower": float(lower),
        "upper": float(upper),
        "shrunk_ratio": float(month.shrunk_ratio()[row]),
        "claims": round(observed),
        "expected": expected,
        "units": round(float(month.units[row])),
        "cost": cost,
        "currency": currency,
        "models": commonest(behind, "model"),
        "regions": commonest(behind, "region"),
        "why": why,
        "note": joined((told, *doubts(month, row, behind))),
    }


def _ordered(table: pd.DataFrame) -> pd.DataFrame:
    """Sort alarms first, each component's rows together."""
    rank = {"alarm": 0, "watch": 1}
    own = table.assign(
        place=table["level"].map(rank) + 2 * (table["state"] == "cleared"),
        model_key=table["model"].fillna(""),
    )
    best = own.groupby("component").agg(
        best_place=("place", "min"), best_ratio=("shrunk_ratio", "max")
    )
    own = own.merge(best, left_on="component", right_index=True)
    return own.sort_values(
        ["best_place", "best_ratio", "component", "place", "model_key"],
        ascending=[True, False, True, True, True],
    ).reset_index(drop=True)
