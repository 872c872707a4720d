"""Expected claims of each component by row and month of report, and their draws."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from claimlens.analysis.forecast_cells import past_and_to_come
from claimlens.analysis.forecast_counts import Ahead
from claimlens.analysis.forecast_rates import Rates
from claimlens.settings import Settings
from claimlens.stats.intensity.ahead import Outlook, look_ahead
from claimlens.stats.intensity.draws import Shock, drawn_rates, shock_variance
from claimlens.stats.intensity.fitting import Fit
from claimlens.stats.seeds import seed_for

__all__ = ["Expected", "Look", "Prospects", "draws_for", "prospects"]

Floats = NDArray[np.float64]

# report months by which the shocks of months are judged
_JUDGED = 24
_QUARTER = 3
_DRAWS, _FEWER_DRAWS = 4000, 1000
# numbers drawn in all beyond which fewer draws are taken
_MANY = 60_000_000


@dataclass(frozen=True, kw_only=True)
class Expected:
    """One component in the months to come.

    Parameters
    ----------
    component : str
        Its name.
    mean : ndarray, shape (R, U)
        Expected claims by row of units and month of report.
    draws : ndarray of float32, shape (R, U, D)
        Draws of ``mean``; counts are Poisson given these.
    """

    component: str
    mean: Floats
    draws: NDArray[np.float32]


@dataclass(frozen=True, kw_only=True)
class Look:
    """What is expected of one component, before anything is drawn.

    Parameters
    ----------
    component : str
        Its name.
    outlooks : tuple of Outlook
        Claims by row of units and month of report, one for each share asked for.
    fit : Fit
        Of the component.
    shock : Shock
        What all rows share.
    n_draws, seed : int
        Draws, and the seed of all of them: the same for every outlook.
    """

    component: str
    outlooks: tuple[Outlook, ...]
    fit: Fit
    shock: Shock
    n_draws: int
    seed: int

    def drawn(self, outlook: Outlook) -> NDArray[np.float32]:
        """Draw the expected claims of rows, shape (R, U, D).

        Rows drawn in several calls share the chance as rows of one call do.
        """
        return drawn_rates(
            self.fit,
            outlook,
            self.shock,
            n_draws=self.n_draws,
            random=np.random.default_rng(
                seed_for(self.seed, "forecast", self.component)
            ),
        )


@dataclass(frozen=True, kw_only=True)
class Prospects:
    """All components in the months to come, one after the other.

    Parameters
    ----------
    ahead, rates : Ahead, Rates
        What they rest on.
    shocks : ndarray, shape (C,)
        Variance of the months' factors by component.
    n_draws, seed : int
        Draws D, and the seed of all of them.
    """

    ahead: Ahead
    rates: Rates
    shocks: Floats
    n_draws: int
    seed: int

    @property
    def _failing(self) -> range:
        """Return the months of failure whose claims may be reported from now on."""
        horizon = self.rates.lag.share.size - 1
        return range(self.ahead.first - horizon - 1, self.ahead.last + 1)

    def each(self, *, by_row: bool = True) -> Iterator[Expected]:
        """Yield every component in turn."""
        share = self._reported_in(self._failing)
        for look in self._looks((share,), by_row=by_row):
            [outlook] = look.outlooks
            yield Expected(
                component=look.component,
                mean=outlook.mean,
                draws=look.drawn(outlook),
            )

    def each_by_failure(self) -> Iterator[Look]:
        """Yield every component, failed by the cut-off apart from failing later."""
        months, part = self._failing, min(self.ahead.part_gone, 1.0)
        share = self._reported_in(months)
        number = np.array(months)
        before = np.where((number <= self.ahead.now)[:, None], share, 0.0)
        if part < 1.0:
            # of the month of the cut-off, those that failed in the part gone; failure
            # and report lie anywhere in the month, the report behind the failure
            place = months.index(self.ahead.now)
            before[place, 0] *= 2.0 * part / (1.0 + part)
            before[place, 1:] *= part
        yield from self._looks((before, share - before), by_row=True)

    def _looks(self, shares: tuple[Floats, ...], *, by_row: bool) -> Iterator[Look]:
        ahead, rates = self.ahead, self.rates
        months = self._failing
        cells = past_and_to_come(ahead, rates.places, months, by_row=by_row)
        n_rows = len(rates.places.rows) if by_row else 1
        place = cells.row * len(months) + (cells.month - months[0])
        step = (ahead.first + np.arange(ahead.months) - rates.first_month) // _QUARTER
        seen = (rates.last_known - rates.first_month) // _QUARTER
        offset = rates.offset(cells)
        for number, component in enumerate(rates.components):
            fit = replace(rates.fits[number], design=rates.design(number, ahead, cells))
            found = look_ahead(
                fit,
                cells.exposure[rates.cover_of[number]],
                place,
                n_rows=n_rows * len(months),
                offset=offset,
            )
            failing = Outlook(
                mean=rates.unplaced[number] * found.mean.reshape(n_rows, len(months)),
                slope=found.slope.reshape(n_rows, len(months), -1),
            )
            drift = [effect.name for effect in fit.design.effects].index("drift")
            yield Look(
                component=component,
                outlooks=tuple(failing.reported(share) for share in shares),
                fit=fit,
                shock=Shock(
                    np.maximum(step - seen, 0).astype(np.intp),
                    float(fit.variances[drift]),
                    float(self.shocks[number]),
                ),
                n_draws=self.n_draws,
                seed=self.seed,
            )

    def _reported_in(self, months: range) -> Floats:
        """Return the share of each month's failures reported in each month to come.

        Shape (T, U). Of the month of the cut-off only what comes after it counts.
        """
        ahead = self.ahead
        share = _spread_of_reports(
            self.rates, months, range(ahead.first, ahead.last + 1)
        )
        if ahead.part_gone < 1.0:
            left = 1.0 - ahead.part_gone
            own = np.array(months) == ahead.first
            share[:, 0] *= np.where(own, 1.0 - ahead.part_gone**2, left)
        return share


def _spread_of_reports(rates: Rates, failed: range, reported: range) -> Floats:
    """Return the share of each month's failures reported in each month, (T, U)."""
    lag = np.diff(np.concatenate([[0.0], rates.lag.share]))
    delay = np.array(reported)[None, :] - np.array(failed)[:, None]
    inside = (delay >= 0) & (delay < lag.size)
    return np.where(inside, lag[np.clip(delay, 0, lag.size - 1)], 0.0)


def draws_for(n_rows: int, n_months: int) -> int:
    """Return how many draws to take of so many rows and months."""
    is_many = n_rows * n_months * _DRAWS > _MANY
    return _FEWER_DRAWS if is_many else _DRAWS


def prospects(
    ahead: Ahead, rates: Rates, settings: Settings, *, n_draws: int
) -> Prospects:
    """Judge how much past months differed, and stand ready to look ahead.

    Parameters
    ----------
    ahead, rates : Ahead, Rates
        Units and claims, and the rates fitted to them.
    settings : Settings
        Seed.
    n_draws : int
        Draws.
    """
    return Prospects(
        ahead=ahead,
        rates=rates,
        shocks=_shocks(ahead, rates),
        n_draws=n_draws,
        seed=settings.life.seed,
    )


def _shocks(ahead: Ahead, rates: Rates) -> Floats:
    """Return the variance of the months' factors by component."""
    months = range(rates.first_month, ahead.first)
    asked = range(ahead.first - _JUDGED, ahead.first)
    share = _spread_of_reports(rates, months, asked)
    offset = rates.offset(rates.cells)
    expected = np.zeros((len(rates.components), _JUDGED))
    for number in range(len(rates.components)):
        exposure = rates.cells.exposure[rates.cover_of[number]]
        mean = rates.fits[number].expected(exposure, offset)
        failed = rates.cells.month - rates.first_month
        by_month = np.bincount(failed, mean, minlength=len(months))[: len(months)]
        expected[number] = by_month @ share
    claims = ahead.claims[ahead.claims["service_month"] >= 0]
    seen = (
        claims[claims["reported_month"].isin(asked)]
        .pivot_table(
            index="component",
            columns="reported_month",
            values="n_claims",
            aggfunc="sum",
        )
        .reindex(index=list(rates.components), columns=list(asked))
        .fillna(0.0)
        .to_numpy()
    )
    # months of which the fit used too little are expected from less than there was
    told = np.array(asked) <= rates.last_known
    return shock_variance(seen[:, told], expected[:, told])
