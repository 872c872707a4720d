"""Claims to come, by month of report."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.forecast_counts import (
    CLAIM_KEYS,
    UNIT_KEYS,
    check_claims,
    count_ahead,
)
from claimlens.analysis.forecast_draws import (
    Expected,
    Prospects,
    draws_for,
    prospects,
)
from claimlens.analysis.forecast_rates import fit_fleet
from claimlens.analysis.grouping import check_keys
from claimlens.analysis.months import first_of
from claimlens.analysis.scenarios import AS_IT_IS, Scenario, in_scenario
from claimlens.analysis.scope import Scope
from claimlens.classify.taxonomy import Taxonomy
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.count_limits import count_limits
from claimlens.stats.seeds import seed_for

__all__ = ["FORECAST_COLUMNS", "LIMITS", "Counts", "Forecast", "bands", "forecast"]

Floats = NDArray[np.float64]
Small = NDArray[np.float32]

FORECAST_COLUMNS = (
    "month", "claims", "lower80", "upper80", "lower95", "upper95", "cost", "currency",
    "note", "as_of",
)  # fmt: skip

LIMITS = {"lower80": 0.1, "upper80": 0.9, "lower95": 0.025, "upper95": 0.975}
"""Which quantile of the draws each limit is."""

_MOST_MONTHS = 36
# claims by which limits of 95 % lean to the safe side
_FURTHER = 0.5


@dataclass(frozen=True, kw_only=True)
class Counts:
    """Draws of the claims of one segment.

    Parameters
    ----------
    keys : dict
        Keys asked for, with their values.
    mean : ndarray, shape (U,)
        Expected claims by month of report.
    drawn : ndarray of int, shape (U, D)
        Draws of the claims.
    cost : ndarray, shape (U,)
        What the expected claims cost; NaN where that is not known.
    """

    keys: dict[str, object]
    mean: Floats
    drawn: NDArray[np.int64]
    cost: Floats


def bands(drawn: NDArray[np.int64]) -> dict[str, Floats]:
    """Return the limits of counts, by the names of ``LIMITS``.

    Those of 80 % have as much on their outer side as inside their edge. Those of
    95 %, by which a surprise is told, lie half a claim further out, so that for few
    claims they hold at least what they promise.

    Parameters
    ----------
    drawn : ndarray of int, shape (..., D)
        Draws.

    Returns
    -------
    dict of str to ndarray, each of shape (...)
    """
    limits = count_limits(drawn, list(LIMITS.values()))
    found = dict(zip(LIMITS, limits, strict=True))
    found["lower95"] = np.maximum(found["lower95"] - _FURTHER, 0.0)
    found["upper95"] = found["upper95"] + _FURTHER
    return found


class Forecast:
    """The claims to come of every segment, drawn one segment after the other.

    Parameters
    ----------
    found : Prospects
        Expected claims by component and row of units.
    by : sequence of str
        Keys asked for.
    scenario : Scenario, optional
        What is otherwise.
    costs : mapping of str to float, optional
        What a claim of each component costs in the mean.
    """

    def __init__(
        self,
        found: Prospects,
        by: Sequence[str],
        scenario: Scenario = AS_IT_IS,
        costs: Mapping[str, float] | None = None,
    ) -> None:
        self.found, self.by, self.scenario = found, tuple(by), scenario
        self._costs = costs or {}

    @property
    def months(self) -> pd.DatetimeIndex:
        """Return the first days of the months to come."""
        ahead = self.found.ahead
        return pd.DatetimeIndex(
            [first_of(ahead.first + u) for u in range(ahead.months)]
        )

    def segments(self) -> Iterator[Counts]:
        """Yield every segment with its draws, in the order of the keys."""
        if "component" in self.by:
            for one in self.found.each():
                yield from self._drawn(self._parts(one), one.component)
            return
        total: dict[tuple[object, ...], _Rates] = {}
        for one in self.found.each():
            for key, rates in self._parts(one).items():
                known = total.get(key)
                total[key] = rates if known is None else known.with_more(rates)
        yield from self._drawn(total)

    def _parts(self, one: Expected) -> dict[tuple[object, ...], _Rates]:
        """Return the rates of a component by what only claims tell."""
        keys = [key for key in CLAIM_KEYS[1:] if key in self.by]
        whole = _Rates(
            one.mean, one.draws, one.mean * self._costs.get(one.component, np.nan)
        )
        if not keys:
            return {(): whole}
        claims = self.found.ahead.claims
        own = claims[claims["component"] == one.component]
        seen = own.groupby(keys, dropna=False)["n_claims"].sum()
        seen = seen[seen > 0]
        if seen.empty:
            return {tuple(None for _ in keys): whole}
        number = seen.to_numpy(dtype=np.float64)
        seed = seed_for(self.found.seed, "forecast parts", one.component)
        random = np.random.default_rng(seed)
        shares = random.gamma(number[:, None], 1.0, (number.size, one.draws.shape[2]))
        shares /= shares.sum(axis=0)
        parts = {}
        for place, key in enumerate(seen.index):
            named = key if isinstance(key, tuple) else (key,)
            share = number[place] / number.sum()
            parts[named] = _Rates(
                whole.mean * share,
                whole.draws * shares[place].astype(np.float32),
                whole.cost * share,
            )
        return parts

    def _drawn(
        self, parts: dict[tuple[object, ...], _Rates], component: str | None = None
    ) -> Iterator[Counts]:
        """Draw the claims of one component, or of all together."""
        rows = self.found.rates.places.rows
        names = [key for key in CLAIM_KEYS[1:] if key in self.by]
        whose = () if component is None else (component,)
        for claim_key, one in parts.items():
            label = "/".join(str(value) for value in (*whose, *claim_key))
            random = np.random.default_rng(
                seed_for(self.found.seed, "forecast counts", label)
            )
            for row in range(len(rows)):
                known = dict(zip(rows.columns, rows.iloc[row], strict=True))
                known |= dict(zip(names, claim_key, strict=True))
                known["component"] = component
                yield Counts(
                    keys={key: known[key] for key in self.by},
                    mean=one.mean[row],
                    drawn=random.poisson(one.draws[row]),
                    cost=one.cost[row],
                )


@dataclass(frozen=True, slots=True)
class _Rates:
    mean: Floats
    draws: Small
    cost: Floats

    def with_more(self, other: _Rates) -> _Rates:
        return _Rates(
            self.mean + other.mean, self.draws + other.draws, self.cost + other.cost
        )


def forecast(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    by: Sequence[str],
    months: int = 12,
    scenario: Scenario = AS_IT_IS,
    taxonomy: Taxonomy | None = None,
    costs: Mapping[str, float] | None = None,
) -> Forecast:
    """Look ahead.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Cover, counting rules, seed.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Grouping: keys of units and of claims.
    months : int, default 12
        Months to come, 1 to 36.
    scenario : Scenario, optional
        What is otherwise in the months to come.
    taxonomy : Taxonomy, optional
        The components that terms of cover name; a scenario needs it.
    costs : mapping of str to float, optional
        What a claim of each component costs in the mean.

    Returns
    -------
    Forecast

    Raises
    ------
    InputError
        If a key is not known, the months are out of range, a supplier is asked for
        as a filter, no unit has a day in service under cover, no claim is under
        cover, or hardly any failure can have been reported yet.
    """
    _check(by, months, scope)
    ahead = count_ahead(session, settings, scope, by=by, months=months)
    check_claims(ahead, "how many will come")
    if taxonomy is not None:
        ahead = in_scenario(session, settings, taxonomy, ahead, scenario)
    rates = fit_fleet(ahead, settings)
    n_draws = draws_for(len(rates.places.rows), months)
    found = prospects(ahead, rates, settings, n_draws=n_draws)
    return Forecast(found, by, scenario, costs)


def _check(by: Sequence[str], months: int, scope: Scope) -> None:
    check_keys(by, (*UNIT_KEYS, *CLAIM_KEYS), "Claims to come are")
    if not 1 <= months <= _MOST_MONTHS:
        raise InputError(
            f"Claims are told 1 to {_MOST_MONTHS} months ahead; got {months}.",
            remedy=f"use --months with a number from 1 to {_MOST_MONTHS}",
        )
    if "supplier" in scope.wanted:
        raise InputError(
            "Claims to come are not told for one supplier alone.",
            remedy="leave --supplier out; --by supplier tells them apart",
        )
