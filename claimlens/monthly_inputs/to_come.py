"""What the monthly report says of the claims that are still to come."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from claimlens.monthly_inputs.frames import TO_COME_COLUMNS, settle

__all__ = ["Assumptions", "ToCome"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumptions:
    """What the forecast takes for granted.

    Parameters
    ----------
    units_under_cover, units_to_enter : float
        Units under cover in the first month to come, and units shipped that are
        not yet in service.
    reported : tuple of float
        Share of a month's failures reported by the end of it, of the next month,
        and so on; 0 to 1.
    oldest_seen, oldest_used : int
        Months in service under cover: the most that was seen, and the most that
        a unit reaches in the months to come.
    draws, seed : int
        Draws behind the limits, and where they begin.
    """

    units_under_cover: float
    units_to_enter: float
    reported: tuple[float, ...]
    oldest_seen: int
    oldest_used: int
    draws: int
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ToCome:
    """The claims still to come, and how earlier forecasts did.

    Parameters
    ----------
    not_told : str
        Why there is no forecast, as a sentence; else empty.
    not_tested : str
        Why an earlier forecast could not be made, as a sentence; else empty.
    assumptions : Assumptions or None
        None where there is no forecast.
    part_month : bool
        Whether the first month to come is the rest of the month of the cut-off.
    claims_so_far : DataFrame
        One row a whole calendar month of report up to the cut-off: ``month`` (its
        first day) and the ``reported`` claims, counted as those to come are.
    months_to_come : DataFrame
        One row a month: claims ``so_far`` reported in it, those ``expected`` still,
        and their limits; ``total`` and its limits are those of all months up to it.
    components_to_come : DataFrame
        One row a component, most expected claims first: claims ``reported`` in the
        last twelve whole months, and those of the months to come with limits.
    backtests : DataFrame
        One row an earlier forecast: columns of ``forecast --backtest``.
    backtest_months : DataFrame
        One row an earlier forecast and month: what was expected, with limits, by
        the forecast and by two naive ones, and the ``actual`` claims.

    Raises
    ------
    ReportError
        If a frame lacks a column.
    """

    not_told: str
    not_tested: str
    assumptions: Assumptions | None
    part_month: bool
    claims_so_far: pd.DataFrame
    months_to_come: pd.DataFrame
    components_to_come: pd.DataFrame
    backtests: pd.DataFrame
    backtest_months: pd.DataFrame

    def __post_init__(self) -> None:
        """Check the columns of every frame and settle their types."""
        settle(self, TO_COME_COLUMNS)
