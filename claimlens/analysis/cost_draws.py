"""What a claim of each component costs: means, and draws of what is not known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.cost_claims import CostClaims, cents_of, no_cost
from claimlens.settings import Settings
from claimlens.stats.seeds import seed_for
from claimlens.stats.severity import CREDIBILITY, FEWEST, draw_means

__all__ = ["ClaimCosts", "claim_costs"]

Floats = NDArray[np.float64]

# claims that a component leans on to tell in which currencies it costs
_LENT = 1.0
_OLDER = "fewer than 5 costs in the last 24 months: older claims count too"
_ALL = "no claim of its own has a cost: the mean of all components"


@dataclass(frozen=True, kw_only=True)
class _Sample:
    """Costs that speak for a component in a currency, in cents."""

    cents: Floats
    later: Floats
    model: NDArray[np.intp]
    note: str


@dataclass(frozen=True, kw_only=True)
class ClaimCosts:
    """What claims cost.

    Parameters
    ----------
    components, models, currencies : tuple of str
        C, M and K of them; currencies are those told, the report currency alone
        where there is one.
    mean, later : ndarray, shape (C, M, K)
        Mean cost of a claim in cents, at the rates of the cut-off and of
        ``later_day``; a model leans on all models of its component.
    share : ndarray, shape (C, K)
        Share of the claims that cost in each currency.
    number : ndarray, shape (C, K)
        Recent claims in each currency.
    samples : dict
        Costs that speak for a component in a currency, by their places.
    seed : int
        Of all draws.
    """

    components: tuple[str, ...]
    models: tuple[str, ...]
    currencies: tuple[str, ...]
    mean: Floats
    later: Floats
    share: Floats
    number: Floats
    samples: dict[tuple[int, int], _Sample]
    later_day: date
    seed: int

    def note(self, component: str) -> str:
        """Say what stands in for few costs; '' where nothing does."""
        place = self.components.index(component)
        notes = {self.samples[place, k].note for k in range(len(self.currencies))}
        return "; ".join(sorted(notes - {""}))

    def overall(self, component: str, currency: str) -> float:
        """Return the mean of all models, in cents."""
        place = self.components.index(component)
        sample = self.samples[place, self.currencies.index(currency)]
        return float(sample.cents.mean())

    def sample(self, place: int, currency: int) -> Floats:
        """Return the costs that speak for a component in a currency, in cents."""
        return self.samples[place, currency].cents

    def drawn_means(self, place: int, n_draws: int) -> Floats:
        """Draw the mean costs of a component, shape (M, K, D), in cents."""
        n_models, n_currencies = len(self.models), len(self.currencies)
        drawn = np.empty((n_models, n_currencies, n_draws))
        for k in range(n_currencies):
            sample = self.samples[place, k]
            name = (self.components[place], self.currencies[k])
            drawn[:, k, :] = draw_means(
                sample.cents,
                sample.model,
                np.zeros(n_models, dtype=np.intp),
                rng=np.random.default_rng(seed_for(self.seed, "cost", *name)),
                draws=n_draws,
            ).T
        return drawn

    def drawn_shares(self, place: int, n_draws: int) -> Floats:
        """Draw the shares of the currencies, shape (D, K)."""
        if len(self.currencies) == 1:
            return np.ones((n_draws, 1))
        name = self.components[place]
        random = np.random.default_rng(seed_for(self.seed, "cost currency", name))
        weight = self.number[place] + _LENT * self.number.sum(axis=0) / max(
            self.number.sum(), 1.0
        )
        return random.dirichlet(weight, n_draws)


def claim_costs(
    costs: CostClaims,
    settings: Settings,
    components: Sequence[str],
    models: Sequence[str] = ("",),
    *,
    later_day: date | None = None,
) -> ClaimCosts:
    """Estimate what claims cost.

    Parameters
    ----------
    costs : CostClaims
        Claims up to the cut-off.
    settings : Settings
        Report currency, rates and seed.
    components, models : sequence of str
        Of which it is asked.
    later_day : date, optional
        A day of the month at whose rates the means are told too; by default the
        cut-off.

    Returns
    -------
    ClaimCosts

    Raises
    ------
    InputError
        If no claim has a cost, or a rate is missing for the month.
    """
    claims = costs.claims[costs.with_cost]
    if claims.empty:
        raise no_cost()
    later_day = later_day or costs.as_of
    report = settings.currency.report
    told = claims["currency"].where(claims["currency"].eq(""), report or None)
    told = told.fillna(claims["currency"])
    known = pd.DataFrame(
        {
            "component": claims["component"],
            "currency": told,
            "cents": cents_of(claims, settings.currency, costs.as_of),
            "later": cents_of(claims, settings.currency, later_day),
            "model": pd.Index(models)
            .get_indexer(claims["model"].fillna(""))
            .clip(min=0),
            "is_recent": costs.recent[claims.index],
        }
    )
    currencies = tuple(sorted(set(known["currency"])))
    samples = {
        (c, k): _chosen(known[known["currency"] == currency], name)
        for c, name in enumerate(components)
        for k, currency in enumerate(currencies)
    }
    recent = known[known["is_recent"]] if known["is_recent"].any() else known
    number = np.array(
        [
            [
                ((recent["component"] == name) & (recent["currency"] == currency)).sum()
                for currency in currencies
            ]
            for name in components
        ],
        dtype=np.float64,
    ).reshape(len(components), len(currencies))
    lent = recent["currency"].value_counts(normalize=True).reindex(currencies)
    share = number + _LENT * lent.fillna(0.0).to_numpy()
    share /= share.sum(axis=1, keepdims=True)
    shape = (len(components), len(models), len(currencies))
    return ClaimCosts(
        components=tuple(components),
        models=tuple(models),
        currencies=currencies,
        mean=_means({at: (one, one.cents) for at, one in samples.items()}, shape),
        later=_means({at: (one, one.later) for at, one in samples.items()}, shape),
        share=share,
        number=number,
        samples=samples,
        later_day=later_day,
        seed=settings.life.seed,
    )


def _chosen(known: pd.DataFrame, component: str) -> _Sample:
    """Return the costs that speak for a component, of one currency."""
    own = known[known["component"] == component]
    recent = own[own["is_recent"]]
    if len(recent) >= FEWEST:
        return _sample(recent, "")
    if len(own):
        return _sample(own, _OLDER if len(own) > len(recent) else "")
    everything = known[known["is_recent"]]
    return _sample(everything if len(everything) else known, _ALL)


def _sample(rows: pd.DataFrame, note: str) -> _Sample:
    return _Sample(
        cents=rows["cents"].to_numpy(dtype=np.float64),
        later=rows["later"].to_numpy(dtype=np.float64),
        model=rows["model"].to_numpy(dtype=np.intp),
        note=note,
    )


def _means(
    samples: dict[tuple[int, int], tuple[_Sample, Floats]], shape: tuple[int, int, int]
) -> Floats:
    """Return the mean of each component, model and currency, leaning on all models."""
    mean = np.empty(shape)
    for (c, k), (sample, cents) in samples.items():
        number = np.bincount(sample.model, minlength=shape[1])
        total = np.bincount(sample.model, cents, minlength=shape[1])
        weight = number / (number + CREDIBILITY)
        own = np.divide(total, number, out=np.zeros(shape[1]), where=number > 0)
        mean[c, :, k] = weight * own + (1.0 - weight) * cents.mean()
    return mean
