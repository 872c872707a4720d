"""What a forecast takes for granted, in numbers."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from claimlens.analysis.forecast import Forecast

__all__ = ["Assumed", "assumed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """What a forecast rests on.

    Parameters
    ----------
    under_cover : float
        Units under cover in the first month to come.
    to_enter : float
        Units planned, or shipped and not yet in service.
    planned : int
        Planned sales among them.
    reported : tuple of float
        Share of a month's failures reported by the end of it, of the next, and so
        on; 0 to 1.
    oldest_seen, oldest_used : int
        Months since the start of service: most that any unit under cover has
        reached, and that any will reach in the months to come.
    draws, seed : int
        Of the limits.
    """

    under_cover: float
    to_enter: float
    planned: int
    reported: tuple[float, ...]
    oldest_seen: int
    oldest_used: int
    draws: int
    seed: int


def assumed(found: Forecast) -> Assumed:
    """Return what a forecast takes for granted.

    Parameters
    ----------
    found : Forecast
        The forecast.
    """
    ahead, rates = found.found.ahead, found.found.rates
    used = {rates.places.covers[place] for place in rates.cover_of}
    units = ahead.units_to_come
    units = units[units["cover_class"].isin(used)]
    still = units[units["last_month"] >= ahead.first]
    seen = ahead.units[ahead.units["first_month"] <= ahead.now]
    return Assumed(
        under_cover=_n_units(still[~still["is_to_come"].astype(bool)]),
        to_enter=_n_units(units[units["is_to_come"].astype(bool)]),
        planned=ahead.planned,
        reported=tuple(float(share) for share in rates.lag.share),
        oldest_seen=_oldest(seen, ahead.now),
        oldest_used=_oldest(still, ahead.last),
        draws=found.found.n_draws,
        seed=found.found.seed,
    )


def _n_units(rows: pd.DataFrame) -> float:
    """Return the units of rows that name each of them under every cover it has."""
    by_cover = rows.groupby("cover_class")["n_units"].sum()
    return float(by_cover.max()) if len(by_cover) else 0.0


def _oldest(rows: pd.DataFrame, until: int) -> int:
    """Return the most months in service under cover by a numbered month."""
    if rows.empty:
        return 0
    return int((rows["last_month"].clip(upper=until) - rows["service_month"]).max())
