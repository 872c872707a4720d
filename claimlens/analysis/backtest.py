"""How earlier forecasts would have done: stood back, and set against what came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.forecast import LIMITS, Forecast, bands, forecast
from claimlens.analysis.forecast_counts import claims_reported
from claimlens.analysis.late_reports import Opened
from claimlens.analysis.months import first_of, last_month_end, month_no
from claimlens.analysis.notes import joined
from claimlens.analysis.question import Question
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.forecast_scores import (
    coverage,
    mean_absolute_error,
    mean_interval_score,
    relative_bias,
)
from claimlens.stats.misses import misses_p

__all__ = [
    "BACKTEST_COLUMNS",
    "STAND_BACK",
    "Earlier",
    "backtest_table",
    "earlier_cut_off",
    "months_against",
    "stand_back",
    "stood_back",
]

Floats = NDArray[np.float64]

STAND_BACK = (6, 12)
"""Months to stand back."""

BACKTEST_COLUMNS = (
    "months_back", "from_month", "to_month", "expected", "actual", "lower80",
    "upper80", "lower95", "upper95", "bias", "error", "error_last_three",
    "error_last_year", "monthly_error", "monthly_error_last_three",
    "monthly_error_last_year", "inside80", "inside95", "score80", "score95",
    "verdict", "note", "as_of",
)  # fmt: skip

_LAST_THREE, _YEAR = 3, 12
# chance of so many misses below which they are called too many
_UNLIKELY = 0.01


@dataclass(frozen=True, kw_only=True)
class Earlier:
    """A forecast as it would have been made months ago.

    Parameters
    ----------
    as_of : date
        Its cut-off.
    months : int
        Months it looked ahead, to the cut-off of today.
    by : tuple of str
        Keys of its segments.
    segments : DataFrame
        A row for each segment and month: the keys, ``month`` (number), ``expected``,
        limits, and two naive forecasts ``last_three`` and ``last_year``.
    totals : DataFrame
        A row for each segment: the keys and limits of all months together.
    """

    as_of: date
    months: int
    by: tuple[str, ...]
    segments: pd.DataFrame
    totals: pd.DataFrame


def earlier_cut_off(as_of: date, months_back: int) -> date:
    """Return the month-end so many months before the last one."""
    newest = last_month_end(as_of)
    return first_of(month_no(newest) + 1 - months_back) - timedelta(days=1)


def stand_back(
    opened: Opened,
    settings: Settings,
    question: Question,
    *,
    as_of: date,
    by: Sequence[str],
    months_back: int,
) -> Earlier:
    """Make a forecast as it would have been made months ago.

    Parameters
    ----------
    opened : callable
        Opens a session for an earlier question.
    settings : Settings
        Cover, counting rules, seed.
    question : Question
        The present one.
    as_of : date
        Cut-off of today.
    by : sequence of str
        Grouping.
    months_back : int
        Months to stand back, and to look ahead from there.

    Returns
    -------
    Earlier

    Raises
    ------
    InputError
        If the claims do not go so far back, or tell too little there.
    """
    then = replace(question, as_of=earlier_cut_off(as_of, months_back))
    with opened(then) as (session, scope):
        return stood_back(forecast(session, settings, scope, by=by, months=months_back))


def stood_back(found: Forecast) -> Earlier:
    """Keep of an earlier forecast what it is judged by.

    Parameters
    ----------
    found : Forecast
        Made at the earlier cut-off.

    Returns
    -------
    Earlier
    """
    ahead = found.found.ahead
    months = np.arange(ahead.first, ahead.last + 1)
    segments, totals = [], []
    seen = ahead.claims
    for one in found.segments():
        keys = {name: _key(value) for name, value in one.keys.items()}
        rows = pd.DataFrame({"month": months, "expected": one.mean}).assign(
            **keys, **bands(one.drawn)
        )
        own = _of_segment(seen, keys)
        by_month = own.groupby("reported_month")["n_claims"].sum()
        recent = by_month.reindex(range(ahead.first - _LAST_THREE, ahead.first))
        rows["last_three"] = float(recent.fillna(0.0).mean())
        rows["last_year"] = by_month.reindex(months - _YEAR).fillna(0.0).to_numpy()
        segments.append(rows)
        totals.append(keys | bands(one.drawn.sum(axis=0)))
    return Earlier(
        as_of=ahead.as_of,
        months=ahead.months,
        by=found.by,
        segments=pd.concat(segments, ignore_index=True),
        totals=pd.DataFrame(totals),
    )


def _key(value: object) -> object:
    """Return a key that is equal to itself, as nothing is not."""
    return None if pd.isna(value) else value


def _of_segment(claims: pd.DataFrame, keys: dict[str, object]) -> pd.DataFrame:
    for name, value in keys.items():
        column = claims[name]
        claims = claims[column.isna() if value is None else column == value]
    return claims


def backtest_table(
    session: Session, settings: Settings, earlier: list[Earlier], as_of: date
) -> pd.DataFrame:
    """Set earlier forecasts against what came.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare`` and of `count_ahead`, at the cut-off of today.
    settings : Settings
        Counting rules.
    earlier : list of Earlier
        Forecasts of one grouping.
    as_of : date
        Cut-off of today.

    Returns
    -------
    pandas.DataFrame
        A row for each forecast and segment: the keys and ``BACKTEST_COLUMNS``. Errors
        are absolute: of all months together, and of a month on average. A count on
        the edge of a band counts half inside.
    """
    rows = []
    for made in earlier:
        came = claims_reported(session, settings, made.by, shipped_by=made.as_of)
        one = _with_unforeseen(made, came)
        for place, total in enumerate(one.totals.to_dict("records")):
            keys = {str(name): _key(total[name]) for name in one.by}
            months = one.segments.iloc[place * one.months : (place + 1) * one.months]
            actual = _came_in(_of_segment(came, keys), months["month"])
            rows.append(keys | _judged(one, months, actual, total))
    table = pd.DataFrame(rows)
    table["as_of"] = pd.Timestamp(as_of)
    names = list(earlier[0].by)
    return table[[*names, *BACKTEST_COLUMNS]].sort_values(
        ["months_back", *names], kind="stable", ignore_index=True
    )


def months_against(session: Session, settings: Settings, made: Earlier) -> pd.DataFrame:
    """Set the months of an earlier forecast of all claims against what came.

    Parameters
    ----------
    session : Session
        As for `backtest_table`.
    settings : Settings
        Counting rules.
    made : Earlier
        A forecast without keys.

    Returns
    -------
    pandas.DataFrame
        One row a month: ``month`` (its first day), ``expected``, the limits, the two
        naive forecasts ``last_three`` and ``last_year``, and ``actual``.
    """
    came = claims_reported(session, settings, (), shipped_by=made.as_of)
    months = made.segments
    return months.assign(
        actual=_came_in(came, months["month"]),
        month=[pd.Timestamp(first_of(int(month))) for month in months["month"]],
    )


def _came_in(claims: pd.DataFrame, months: pd.Series) -> Floats:
    """Return the claims reported in each of some months."""
    by_month = claims.groupby("reported_month")["n_claims"].sum()
    return np.asarray(by_month.reindex(months).fillna(0.0), dtype=np.float64)


def _with_unforeseen(one: Earlier, came: pd.DataFrame) -> Earlier:
    """Add the segments that had no claim yet: of them nothing was expected."""
    if not one.by:
        return one
    months = sorted(set(one.segments["month"]))
    inside = came[came["reported_month"].isin(months)]
    names = list(one.by)
    keys = inside[names].drop_duplicates()
    known = {tuple(_key(v) for v in row) for row in one.totals[names].to_numpy()}
    new = [row for row in keys.to_numpy() if tuple(_key(v) for v in row) not in known]
    if not new:
        return one
    nothing = dict.fromkeys(("expected", *LIMITS, "last_three", "last_year"), 0.0)
    totals, segments = [one.totals], [one.segments]
    for row in new:
        named = dict(zip(names, (_key(value) for value in row), strict=True))
        totals.append(pd.DataFrame([named | dict.fromkeys(LIMITS, 0.0)]))
        segments.append(pd.DataFrame({"month": months}).assign(**named, **nothing))
    return replace(
        one,
        segments=pd.concat(segments, ignore_index=True),
        totals=pd.concat(totals, ignore_index=True),
    )


def _judged(
    one: Earlier,
    months: pd.DataFrame,
    actual: Floats,
    total: dict[str, object],
) -> dict[str, object]:
    """Return the scores of one segment."""
    ways = {
        "": months["expected"].to_numpy(),
        "_last_three": months["last_three"].to_numpy(),
        "_last_year": months["last_year"].to_numpy(),
    }
    came = float(actual.sum())
    row: dict[str, object] = {
        "months_back": one.months,
        "from_month": pd.Timestamp(first_of(int(months["month"].min()))),
        "to_month": pd.Timestamp(first_of(int(months["month"].max()))),
        "expected": float(ways[""].sum()),
        "actual": came,
        "bias": float(relative_bias(ways[""], actual)) if came > 0 else np.nan,
    }
    row |= {name: total[name] for name in LIMITS}
    for name, expected in ways.items():
        row[f"error{name}"] = abs(float(expected.sum()) - came)
        row[f"monthly_error{name}"] = float(mean_absolute_error(expected, actual))
    too_many: dict[int, Floats] = {}
    for level in (80, 95):
        lower = months[f"lower{level}"].to_numpy()
        upper = months[f"upper{level}"].to_numpy()
        held = coverage(lower, upper, actual)
        row[f"inside{level}"] = float(held.share)
        _, too_many[level] = misses_p(held.misses, held.periods, 1.0 - level / 100)
        row[f"score{level}"] = float(
            mean_interval_score(lower, upper, actual, level / 100)
        )
    row["verdict"], notes = _verdict(row)
    notes += [
        f"more months lie outside the {level} % band than chance explains"
        for level, chance in too_many.items()
        if chance < _UNLIKELY
    ]
    row["note"] = joined(notes)
    return row


def _verdict(row: dict[str, object]) -> tuple[str, list[str]]:
    """Say whether the forecast did better than a naive one, and whether it missed."""
    error = {name: float(str(row[name])) for name in row if name.startswith("error")}
    best = min(error, key=lambda name: (error[name], name))
    words = {
        "error": "better than both naive forecasts",
        "error_last_three": "the mean of the last three months did better",
        "error_last_year": "the same months a year before did better",
    }
    came = float(str(row["actual"]))
    missed = not float(str(row["lower95"])) <= came <= float(str(row["upper95"]))
    notes = ["claims of units shipped by then; what was sold later is left out"]
    if missed:
        notes.insert(0, f"missed: {came:.0f} claims lie outside the 95 % band")
    return words[best], notes
