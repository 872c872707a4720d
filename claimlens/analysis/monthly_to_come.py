"""What the monthly report says of the claims that are still to come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from claimlens.analysis.backtest import (
    BACKTEST_COLUMNS,
    STAND_BACK,
    Earlier,
    backtest_table,
    months_against,
    stand_back,
)
from claimlens.analysis.forecast import Counts, Forecast, bands, forecast
from claimlens.analysis.forecast_assumed import assumed
from claimlens.analysis.forecast_counts import Ahead
from claimlens.analysis.late_reports import Opened
from claimlens.analysis.months import first_of
from claimlens.analysis.question import Question
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.monthly_inputs import TO_COME_COLUMNS, Assumptions, ToCome
from claimlens.settings import Settings

__all__ = ["AHEAD", "HISTORY", "Past", "past_forecasts", "to_come_inputs"]

#: Months to come on the page, and months of history beside them.
AHEAD, HISTORY = 12, 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """Earlier forecasts of all claims, as far as they could be made.

    Parameters
    ----------
    made : tuple of Earlier
        In the order of ``STAND_BACK``.
    not_made : str
        Why one of them could not be made, as a sentence; else empty.
    """

    made: tuple[Earlier, ...] = ()
    not_made: str = ""


def past_forecasts(
    opened: Opened, settings: Settings, question: Question, as_of: date
) -> Past:
    """Make the forecasts of months ago, each with what was known of the units then.

    Parameters
    ----------
    opened : callable
        Opens a session for an earlier question; the present one is closed.
    settings : Settings
        Cover, counting rules, seed.
    question : Question
        The present one.
    as_of : date
        Cut-off in force.
    """
    made, not_made = [], ""
    for back in STAND_BACK:
        try:
            made.append(
                stand_back(
                    opened, settings, question, as_of=as_of, by=(), months_back=back
                )
            )
        except InputError as error:
            not_made = not_made or (
                f"No forecast can be made as of {back} months ago: {error.problem}"
            )
    return Past(made=tuple(made), not_made=not_made)


def to_come_inputs(
    session: Session, settings: Settings, scope: Scope, past: Past
) -> ToCome:
    """Gather the claims to come, and how earlier forecasts did.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``; those of units are made anew, to the end of
        the forecast.
    settings : Settings
        Cover, counting rules, seed.
    scope : Scope
        Cut-off in force.
    past : Past
        Earlier forecasts.

    Returns
    -------
    ToCome
        Frames and scalars, the same for the same warehouse and settings.
    """
    try:
        together = forecast(session, settings, scope, by=(), months=AHEAD)
    except InputError as error:
        return _nothing(error.problem)
    ahead = together.found.ahead
    [total] = together.segments()
    # the same fitted rates, told by component
    components = Forecast(together.found, ("component",))
    taken = assumed(together)
    return ToCome(
        not_told="",
        not_tested=past.not_made,
        assumptions=Assumptions(
            units_under_cover=taken.under_cover,
            units_to_enter=taken.to_enter,
            reported=taken.reported,
            oldest_seen=taken.oldest_seen,
            oldest_used=taken.oldest_used,
            draws=taken.draws,
            seed=taken.seed,
        ),
        part_month=ahead.part_gone < 1.0,
        claims_so_far=_so_far(ahead),
        months_to_come=_months(ahead, total),
        components_to_come=_components(ahead, components),
        **_tested(session, settings, scope, past.made),
    )


def _nothing(why: str) -> ToCome:
    empty = {
        name: pd.DataFrame(columns=list(columns))
        for name, columns in TO_COME_COLUMNS.items()
    }
    return ToCome(
        not_told=why, not_tested=why, assumptions=None, part_month=False, **empty
    )


def _by_month(claims: pd.DataFrame) -> pd.Series:
    return claims.groupby("reported_month")["n_claims"].sum()


def _so_far(ahead: Ahead) -> pd.DataFrame:
    """Return the claims of the last whole months of report, from the first on."""
    by_month = _by_month(ahead.claims)
    begun = max(int(by_month.index.min()), ahead.first - HISTORY)
    whole = range(begun, ahead.first)
    return pd.DataFrame(
        {
            "month": [pd.Timestamp(first_of(month)) for month in whole],
            "reported": by_month.reindex(whole).fillna(0.0).to_numpy(),
        }
    )


def _months(ahead: Ahead, total: Counts) -> pd.DataFrame:
    """Return the months to come with their limits, each alone and added up."""
    months = range(ahead.first, ahead.last + 1)
    added = bands(np.cumsum(total.drawn, axis=0))
    frame = {
        "month": [pd.Timestamp(first_of(month)) for month in months],
        "so_far": _by_month(ahead.claims).reindex(months).fillna(0.0).to_numpy(),
        "expected": total.mean,
        **bands(total.drawn),
        "total": np.cumsum(total.mean),
        **{f"total_{name}": limit for name, limit in added.items()},
    }
    return pd.DataFrame(frame)


def _components(ahead: Ahead, found: Forecast) -> pd.DataFrame:
    """Return the claims of each component over all the months to come."""
    recent = ahead.claims["reported_month"].between(
        ahead.first - AHEAD, ahead.first - 1
    )
    reported = ahead.claims[recent].groupby("component")["n_claims"].sum()
    rows = [
        one.keys
        | {
            "reported": float(reported.get(one.keys["component"], 0.0)),
            "expected": float(one.mean.sum()),
        }
        | {name: float(limit) for name, limit in bands(one.drawn.sum(axis=0)).items()}
        for one in found.segments()
    ]
    table = pd.DataFrame(rows, columns=list(TO_COME_COLUMNS["components_to_come"]))
    return table.sort_values(
        ["expected", "component"], ascending=[False, True], ignore_index=True
    )


def _tested(
    session: Session, settings: Settings, scope: Scope, made: Sequence[Earlier]
) -> dict[str, pd.DataFrame]:
    """Set the earlier forecasts against what came."""
    if not made:
        names = ("backtests", "backtest_months")
        return {
            name: pd.DataFrame(columns=list(TO_COME_COLUMNS[name])) for name in names
        }
    table = backtest_table(session, settings, list(made), scope.as_of)
    months = [
        months_against(session, settings, one).assign(months_back=one.months)
        for one in made
    ]
    return {
        "backtests": table[list(BACKTEST_COLUMNS)],
        "backtest_months": pd.concat(months, ignore_index=True),
    }
