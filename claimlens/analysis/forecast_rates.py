"""The rate at which claims of each component come, fitted to the claims seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.forecast_cells import Cells, Places, age_bands, exposed_cells
from claimlens.analysis.forecast_counts import Ahead
from claimlens.analysis.forecast_design import design_of
from claimlens.analysis.forecast_placed import placed_claims
from claimlens.analysis.months import MONTHS_A_YEAR
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.intensity import Design, Fit, fit_rates
from claimlens.stats.lag import LagTable, lag_table

__all__ = ["Rates", "fit_fleet"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

# failure months that tell the lag, and the lags looked at, in months
_LAG_MONTHS, _LONGEST_LAG, _VERY_LONG_LAG = 24, 12, 24
_LATE_SHARE = 0.01
# of months of which less than this is reported, nothing is concluded
_LEAST_KNOWN = 0.2
# nor from less time under cover than this, in unit-months; rules of ours
_LEAST_WATCHED = 12.0
# spread of slopes before anything was seen: of the power of age, and of a change
_POWER_SPREAD, _CHANGE_SPREAD = 1.0, 1.0
# the level of a component is at least this uncertain among all of them
_LEAST_LEVEL_SPREAD = 0.5


@dataclass(frozen=True, kw_only=True)
class Rates:
    """Fitted rates of all components, and what they were fitted to.

    Parameters
    ----------
    components : tuple of str
        In alphabetical order, C of them.
    places : Places
        What cells are told apart by.
    cover_of : ndarray of int, shape (C,)
        Cover class of each component.
    cells : Cells
        The past.
    counts : ndarray, shape (C, n)
        Claims in each cell.
    known : ndarray, shape (n,)
        Share of the failures of each cell that is reported by now.
    lag : LagTable
        Share reported by months of delay.
    fits : list of Fit
        One a component.
    season : ndarray, shape (12,)
        Logarithm of the rate of each calendar month of all components together,
        about its mean.
    unplaced : ndarray, shape (C,)
        Factor on the claims of units with a day in service that makes them all.
    first_month, last_known : int
        Numbers of the first and the last month that the rates are fitted to.
    """

    components: tuple[str, ...]
    places: Places
    cover_of: Indices
    cells: Cells
    counts: Floats
    known: Floats
    lag: LagTable
    fits: list[Fit]
    season: Floats
    unplaced: Floats
    first_month: int
    last_known: int

    def design(self, number: int, ahead: Ahead, cells: Cells) -> Design:
        """Return the design of a component over other cells."""
        return design_of(
            ahead,
            self.places,
            cells,
            self.components[number],
            months=(self.first_month, self.last_known),
        )

    def offset(self, cells: Cells) -> Floats:
        """Return what the season adds to the rate of cells."""
        return np.asarray(self.season[cells.month % MONTHS_A_YEAR])

    def expected(self, number: int) -> Floats:
        """Return the claims expected and reported by now in the cells of the past."""
        exposure = self.cells.exposure[self.cover_of[number]] * self.known
        return self.fits[number].expected(exposure, self.offset(self.cells))


def fit_fleet(ahead: Ahead, settings: Settings) -> Rates:
    """Fit the rates of all components.

    Parameters
    ----------
    ahead : Ahead
        Claims and units; ``r``, ``m`` and ``v`` are added to the units.
    settings : Settings
        Cover classes.

    Returns
    -------
    Rates

    Raises
    ------
    InputError
        If hardly any failure can have been reported yet.
    """
    own = set(settings.coverage.own_cover)
    components = tuple(sorted(set(ahead.claims["component"])))
    places = _places(ahead)
    cover_of = np.array(
        [places.cover_of(name, own) for name in components], dtype=np.intp
    )
    lag = _lag(ahead)
    oldest = min(int(ahead.units["first_month"].min()), ahead.now)
    cells = exposed_cells(
        ahead.units,
        places,
        range(oldest, ahead.now + 1),
        by_row=False,
        distance=ahead.distance,
    )
    counts, unplaced = placed_claims(
        ahead, places, cells, components=components, cover_of=cover_of
    )
    known = _known(ahead, lag, cells.month)
    use = known > _LEAST_KNOWN
    _check_watched((cells.exposure * known)[:, use])
    cells = cells.chosen(use)
    counts, known = counts[:, use], known[use]
    months = (oldest, int(cells.month.max()) if cells.month.size else ahead.now)
    season = _season(ahead, places, cells, counts=counts, known=known, months=months)
    offset = season[cells.month % MONTHS_A_YEAR]
    exposure = cells.exposure[cover_of] * known
    designs = [
        design_of(ahead, places, cells, name, months=months) for name in components
    ]
    fits = fit_rates(
        designs,
        counts,
        exposure,
        offset=offset,
        prior=_prior(counts, exposure, max(one.n_slopes for one in designs)),
    )
    return Rates(
        components=components,
        places=places,
        cover_of=cover_of,
        cells=cells,
        counts=counts,
        known=known,
        lag=lag,
        fits=fits,
        season=season,
        unplaced=unplaced,
        first_month=months[0],
        last_known=months[1],
    )


def _check_watched(exposure: Floats) -> None:
    """Refuse to tell a rate from next to nothing."""
    watched = float(exposure.sum(axis=1).max())
    if watched < _LEAST_WATCHED:
        raise InputError(
            f"The units in sight have been under cover for {watched:.1f} months in all "
            f"of which failures can have been reported; {_LEAST_WATCHED:g} are needed.",
            remedy="ask without the filters, or for a later cut-off with --as-of",
        )


def _places(ahead: Ahead) -> Places:
    """Give every row of units its place, and return what there is."""
    fleets = [ahead.units] if ahead.later is None else [ahead.units, ahead.later]
    units = pd.concat(fleets, ignore_index=True)
    models = tuple(sorted(set(units["model"])))
    covers = tuple(sorted(set(units["cover_class"])))
    keys = list(ahead.unit_keys)
    if keys:
        number = units.groupby(keys, dropna=False, sort=True).ngroup().to_numpy()
        rows = units[keys].assign(r=number).drop_duplicates("r").sort_values("r")[keys]
    else:
        number = np.zeros(len(units), dtype=np.intp)
        rows = pd.DataFrame(index=[0])
    start = 0
    for fleet in fleets:
        fleet["r"] = number[start : start + len(fleet)].astype(np.intp)
        fleet["m"] = pd.Index(models).get_indexer(fleet["model"])
        fleet["v"] = pd.Index(covers).get_indexer(fleet["cover_class"])
        start += len(fleet)
    oldest = int((units["last_month"] - units["service_month"]).max())
    return Places(
        models=models,
        n_cohorts=len(ahead.cohorts),
        n_bands=int(age_bands(np.array([oldest]))[0]) + 1,
        covers=covers,
        rows=rows.reset_index(drop=True),
    )


def _lag(ahead: Ahead) -> LagTable:
    """Return the share of a month's failures reported by months of delay."""
    end = ahead.first - 1  # the last whole month
    claims = ahead.claims
    claims = claims[(claims["reported_month"] <= end) & (claims["failed_month"] >= 0)]
    delay = (claims["reported_month"] - claims["failed_month"]).clip(lower=0)
    longest, span = _LONGEST_LAG, _LAG_MONTHS
    recent = claims["failed_month"] > end - span
    total = claims.loc[recent, "n_claims"].sum()
    if claims.loc[recent & (delay >= longest), "n_claims"].sum() > _LATE_SHARE * total:
        longest, span = _VERY_LONG_LAG, _LAG_MONTHS + _LONGEST_LAG
    use = (claims["failed_month"] > end - span) & (delay <= longest)
    table = np.zeros((span, longest + 1))
    # a failure after its report is one of the month of the report
    back = np.maximum(end - claims.loc[use, "failed_month"].to_numpy(), 0)
    np.add.at(table, (back, delay[use].to_numpy()), claims.loc[use, "n_claims"])
    return lag_table(np.maximum(table, 0.0), np.arange(span))


def _known(ahead: Ahead, lag: LagTable, month: Indices) -> Floats:
    """Return the share of the failures of each month that is reported by now."""
    share = np.concatenate([[0.0], lag.share, [1.0]])
    back = np.clip(ahead.now - month, 0, lag.share.size)
    # of a month that is not over, what a part of it shows: of its own failures those
    # that failed in that part and were reported in it too
    part = min(ahead.part_gone, 1.0)
    gone = np.where(back == 0, part**2, part)
    return np.asarray(share[back] + (share[back + 1] - share[back]) * gone)


def _season(
    ahead: Ahead,
    places: Places,
    cells: Cells,
    *,
    counts: Floats,
    known: Floats,
    months: tuple[int, int],
) -> Floats:
    """Return the season of all components together, drawn in."""
    design = design_of(ahead, places, cells, None, months=months)
    exposure = cells.exposure[:1] * known
    together = counts.sum(axis=0, keepdims=True)
    [fit] = fit_rates(
        [design],
        together,
        exposure,
        offset=np.zeros(known.size),
        prior=_prior(together, exposure, design.n_slopes),
    )
    names = [effect.name for effect in design.effects]
    return fit.coefficients[design.place(names.index("season"))]


def _prior(counts: Floats, exposure: Floats, n_slopes: int) -> tuple[Floats, Floats]:
    """Return mean and spread of the slopes before anything was seen."""
    watched = np.maximum(exposure.sum(axis=1), _LEAST_WATCHED)
    level = np.log((counts.sum(axis=1) + 0.5) / watched)
    spread = max(float(np.std(level)), _LEAST_LEVEL_SPREAD) if level.size > 1 else 3.0
    mean = np.zeros(n_slopes)
    mean[0] = float(np.mean(level))
    deviation = np.full(n_slopes, _CHANGE_SPREAD)
    deviation[0], deviation[1] = 2.0 * spread, _POWER_SPREAD
    return mean, deviation
