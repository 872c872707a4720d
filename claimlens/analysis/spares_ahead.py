"""Events to come of each component, until any day: expected, and their draws.

The forecast draws the expected claims of whole months. Of a month that a lead time
reaches into only in part, that part of the *expected* claims counts, draw by draw:
given the expected claims a count is Poisson, and a Poisson count thinned by chance is
a Poisson count of the thinned expectation. So the predictive distribution stays that
of the forecast. A part of a *drawn* count would be no count, and too little spread.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.forecast_cells import past_and_to_come
from claimlens.analysis.forecast_counts import Ahead, check_claims, count_ahead
from claimlens.analysis.forecast_draws import Prospects, draws_for, prospects
from claimlens.analysis.forecast_rates import fit_fleet
from claimlens.analysis.months import first_of, month_no
from claimlens.analysis.scope import Scope
from claimlens.analysis.spares_parts import Kind
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats.seeds import seed_for

__all__ = ["Coming", "FleetAhead", "look_at_fleet"]

Floats = NDArray[np.float64]

# covers are followed so far; nothing that is in service now lasts longer
_LONGEST_MONTHS = 360
# the longest lead time and time between orders, together
_LEAST_MONTHS = 50
# months of claims that tell how often units fail once their cover has ended
_RECENT_MONTHS = 24
# claims taken as seen, of a component that has had few or none: the prior of Jeffreys
_HALF = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """Events of one component until some days.

    Parameters
    ----------
    mean : ndarray, shape (H, R)
        Expected events by day asked for and kind of unit.
    drawn : ndarray, shape (H, R, D)
        Draws of ``mean``; counts are Poisson given these.
    rate : ndarray, shape (D,)
        Draws of the recent events per unit and month under cover.
    rate_mean : float
        Their mean.
    is_seen : bool
        Whether the component ever had a claim.
    """

    mean: Floats
    drawn: Floats
    rate: Floats
    rate_mean: float
    is_seen: bool


class FleetAhead:
    """The units under cover, and the claims to come of any component.

    Parameters
    ----------
    found : Prospects
        Expected claims by component and kind of unit.
    ends : DataFrame
        Rows of ``cover_ends``.
    own_cover : set of str
        Components with a cover of their own.
    """

    def __init__(
        self, found: Prospects, ends: pd.DataFrame, own_cover: set[str]
    ) -> None:
        self.found, self._own_cover = found, own_cover
        rows = found.rates.places.rows.to_dict("records")
        self.kinds: list[Kind] = [Kind.of(row) for row in rows]
        place = {kind: number for number, kind in enumerate(self.kinds)}
        keys = found.ahead.unit_keys
        named = [
            Kind.of({key: row[key] for key in keys}) for row in ends.to_dict("records")
        ]
        ends = ends.assign(row=[place.get(kind, -1) for kind in named])
        self._ends = ends[ends["row"] >= 0]

    @property
    def n_draws(self) -> int:
        """Return the number of draws D."""
        return self.found.n_draws

    def months_until(self, day: date) -> Floats:
        """Return which part of each month to come lies up to a day, shape (U,)."""
        ahead = self.found.ahead
        parts = np.zeros(ahead.months)
        for u in range(ahead.months):
            start = max(first_of(ahead.first + u), ahead.as_of + timedelta(days=1))
            days = (first_of(ahead.first + u + 1) - start).days
            parts[u] = np.clip(((day - start).days + 1) / days, 0.0, 1.0)
        return parts

    def each(
        self, components: Sequence[str], until: Sequence[date]
    ) -> Iterator[tuple[str, Coming]]:
        """Yield the events of components up to some days and, last, of all months.

        Parameters
        ----------
        components : sequence of str
            Those asked for, with or without claims.
        until : sequence of date
            Days H - 1.

        Yields
        ------
        component : str
            In alphabetical order, those without claims last.
        coming : Coming
            Of ``H`` rows.
        """
        months = [self.months_until(day) for day in until]
        share = np.stack([*months, np.ones(self.found.ahead.months)])
        wanted = set(components)
        for one in self.found.each():
            if one.component not in wanted:
                continue
            wanted.discard(one.component)
            rate_mean, rate = self._recent_rate(one.component)
            drawn = np.einsum(
                "hu,rud->hrd", share.astype(np.float32), one.draws, optimize=True
            )
            yield (
                one.component,
                Coming(
                    mean=share @ one.mean.T,
                    drawn=drawn.astype(np.float64),
                    rate=rate,
                    rate_mean=rate_mean,
                    is_seen=True,
                ),
            )
        for component in sorted(wanted):
            yield component, self._never_seen(component, share)

    def last_cover(self, component: str, rows: NDArray[np.intp]) -> date | None:
        """Return the day on which the last cover of some kinds of units ends."""
        days = self._of(component, rows)["last_on"]
        return None if days.empty else days.max().date()

    def last_sale(self, component: str, rows: NDArray[np.intp]) -> date | None:
        """Return the day on which the last of some kinds of units began service."""
        days = self._of(component, rows)["last_sold_on"]
        return None if days.empty else days.max().date()

    def months_after_cover(
        self, component: str, rows: NDArray[np.intp], until: date
    ) -> float:
        """Return the months that units will be out of cover by a day, added up.

        Units retire out of cover as they do under it.
        """
        ends, ahead = self._of(component, rows), self.found.ahead
        ended = pd.to_datetime(ends["end_month"]).map(month_no).to_numpy(dtype=float)
        last = float(month_no(until) - ahead.now)
        first = np.clip(ended - ahead.now, 0.0, max(last, 0.0))
        months = np.maximum(last - first, 0.0)
        if ahead.retired > 0:
            left = np.exp(-ahead.retired * first)
            months = left * -np.expm1(-ahead.retired * months) / ahead.retired
        return float((months * ends["n_units"]).sum())

    def _of(self, component: str, rows: NDArray[np.intp]) -> pd.DataFrame:
        own = component if component in self._own_cover else ""
        ends = self._ends
        return ends[(ends["cover_class"] == own) & ends["row"].isin(rows)]

    def _recent_rate(self, component: str) -> tuple[float, Floats]:
        """Return events per unit and month under cover: mean and draws."""
        rates = self.found.rates
        exposure = (
            rates.cells.exposure[
                self.found.rates.places.cover_of(component, self._own_cover)
            ]
            * rates.known
        )
        factor, events = 1.0, 0.0
        recent = rates.cells.month > rates.last_known - _RECENT_MONTHS
        if component in rates.components:
            number = rates.components.index(component)
            events = float(rates.counts[number, recent].sum())
            factor = float(rates.unplaced[number])
        else:
            recent = np.ones_like(recent)
        units = max(float(exposure[recent].sum()), 1.0)
        random = np.random.default_rng(
            seed_for(self.found.seed, "spares rates", component)
        )
        drawn = random.gamma(events + _HALF, factor / units, self.n_draws)
        return (events + _HALF) * factor / units, drawn

    def _never_seen(self, component: str, share: Floats) -> Coming:
        """Return the events of a component that has had no claim yet."""
        ahead, places = self.found.ahead, self.found.rates.places
        months = range(ahead.now, ahead.last + 1)
        cells = past_and_to_come(ahead, places, months, by_row=True)
        later = cells.month >= ahead.first
        shape = (len(self.kinds), ahead.months)
        key = np.ravel_multi_index(
            (cells.row[later], cells.month[later] - ahead.first), shape
        )
        exposure = cells.exposure[
            self.found.rates.places.cover_of(component, self._own_cover), later
        ]
        counted = np.bincount(key, exposure, minlength=shape[0] * shape[1])
        units = np.asarray(counted, dtype=np.float64).reshape(shape)
        if ahead.part_gone < 1.0:
            units[:, 0] *= 1.0 - ahead.part_gone
        rate_mean, rate = self._recent_rate(component)
        months_ahead = share @ units.T
        return Coming(
            mean=months_ahead * rate_mean,
            drawn=months_ahead[:, :, None] * rate,
            rate=rate,
            rate_mean=rate_mean,
            is_seen=False,
        )


def look_at_fleet(
    session: Session, settings: Settings, scope: Scope, *, by: Sequence[str]
) -> FleetAhead:
    """Fit the rates of all components and look ahead to the end of the last cover.

    How far is looked ahead depends on the fleet alone, so that the same part has the
    same answer whatever else is asked for.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Cover, counting rules, seed.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        What tells kinds of units apart: model, model_year, generation.

    Returns
    -------
    FleetAhead

    Raises
    ------
    InputError
        If no unit has a day in service, or no claim is under cover.
    """
    ahead = count_ahead(session, settings, scope, by=by, months=_LONGEST_MONTHS)
    check_claims(ahead, "how many parts will be needed")
    rates = fit_fleet(ahead, settings)
    ends = session.frame("marts/cover_ends")
    ahead = replace(ahead, months=_months_to(ahead, ends, rates.lag.share.size))
    n_draws = draws_for(len(rates.places.rows), ahead.months)
    found = prospects(ahead, rates, settings, n_draws=n_draws)
    return FleetAhead(found, ends, set(settings.coverage.own_cover))


def _months_to(ahead: Ahead, ends: pd.DataFrame, lag_months: int) -> int:
    """Return the months until the last claim under cover is reported."""
    last = pd.to_datetime(ends["last_on"]).max()
    to_end = 0 if pd.isna(last) else month_no(last) - ahead.first + 1
    return min(max(to_end + lag_months, _LEAST_MONTHS), _LONGEST_MONTHS)
