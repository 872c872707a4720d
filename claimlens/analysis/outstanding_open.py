"""What claims that are reported and open still cost."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.cost_claims import CostClaims, cents_of
from claimlens.analysis.outstanding_sums import Key, Outstanding, plain
from claimlens.settings import Settings
from claimlens.stats.compound import compound_sums
from claimlens.stats.seeds import seed_for

__all__ = ["add_open", "costed", "drawn_paid", "share_paid"]

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

_OPEN_PART = 0


def share_paid(costs: CostClaims) -> tuple[int, int]:
    """Return how many claims settled in the last 24 months were paid, and refused."""
    state = costs.claims.loc[costs.recent, "state"]
    return int((state == "settled").sum()), int((state == "refused").sum())


def drawn_paid(paid: tuple[int, int], n_draws: int, seed: int) -> tuple[float, Floats]:
    """Return the expected share of open claims that will be paid, and draws of it.

    Parameters
    ----------
    paid : tuple of int
        Claims paid and refused.
    n_draws : int
        Draws D.
    seed : int
        Of the settings.

    Returns
    -------
    mean : float
    drawn : ndarray, shape (D,)
        Of the beta distribution with a half of each added.
    """
    random = np.random.default_rng(seed_for(seed, "outstanding", "share paid"))
    yes, no = paid[0] + 0.5, paid[1] + 0.5
    return yes / (yes + no), random.beta(yes, no, n_draws)


def costed(
    result: Outstanding,
    place: int,
    counts: Integers,
    *,
    means: Floats,
    shares: Floats,
    random: np.random.Generator,
) -> Integers:
    """Draw what claims of a component cost in each currency, shape (K, D), in cents.

    Parameters
    ----------
    result : Outstanding
        With the costs seen.
    place : int
        Place of the component among them.
    counts : ndarray of int, shape (D,)
        Claims of each draw.
    means : ndarray, shape (K, D)
        Mean cost of a claim in cents.
    shares : ndarray, shape (D, K)
        Share of the claims that cost in each currency.
    random : Generator
        Source of chance.
    """
    n_currencies = means.shape[0]
    apart = counts[:, None] if n_currencies == 1 else random.multinomial(counts, shares)
    drawn = [
        compound_sums(
            apart[:, k], means[k], result.per_claim.sample(place, k), rng=random
        )
        for k in range(n_currencies)
    ]
    return np.rint(np.stack(drawn)).astype(np.int64)


def add_open(
    result: Outstanding,
    settings: Settings,
    place: int,
    sold_after: date | None,
) -> None:
    """Add what open claims of a component cost.

    An open claim costs the mean of its component and may yet be refused; of an
    approved one the amount is known.

    Parameters
    ----------
    result : Outstanding
        Added to.
    settings : Settings
        Report currency, rates and seed.
    place : int
        Place of the component among the costs.
    sold_after : date or None
        Units that left the works later are new.
    """
    per_claim, n_draws = result.per_claim, result.found.n_draws
    component = per_claim.components[place]
    p_mean, p_drawn = drawn_paid(result.paid, n_draws, settings.life.seed)
    for key, told, rows in _groups(result, settings, component, sold_after):
        known = rows["state"].eq("approved") & rows["cost_e4"].notna()
        n_sure = int((rows["state"].eq("approved") & ~known).sum())
        n_open = int(rows["state"].eq("open").sum())
        if known.any():
            own = rows[known]
            cents = cents_of(own, settings.currency, result.costs.as_of).sum()
            result.add(
                (key, told, _OPEN_PART),
                claims=len(own),
                mean=cents,
                later=cents_of(own, settings.currency, per_claim.later_day).sum(),
            )
            result.at(key, told).drawn[_OPEN_PART] += cents
        if n_sure + n_open == 0:
            continue
        if told in per_claim.currencies:
            share = np.eye(len(per_claim.currencies))[per_claim.currencies.index(told)]
            shares = np.tile(share, (n_draws, 1))
        else:
            share = per_claim.share[place]
            shares = per_claim.drawn_shares(place, n_draws)
        model = pd.Index(per_claim.models).get_indexer(rows["model"].fillna("")[~known])
        weight = np.bincount(model, minlength=len(per_claim.models)) / model.size
        random = np.random.default_rng(
            seed_for(settings.life.seed, "outstanding open", component, str(key), told)
        )
        counts = n_sure + random.binomial(n_open, p_drawn)
        means = np.einsum("m,mkd->kd", weight, per_claim.drawn_means(place, n_draws))
        drawn = costed(result, place, counts, means=means, shares=shares, random=random)
        expected = n_sure + n_open * p_mean
        for k, currency in enumerate(per_claim.currencies):
            if share[k] > 0:
                claims = expected * share[k]
                result.add(
                    (key, currency, _OPEN_PART),
                    claims=claims,
                    mean=claims * (weight @ per_claim.mean[place][:, k]),
                    later=claims * (weight @ per_claim.later[place][:, k]),
                )
                result.at(key, currency).drawn[_OPEN_PART] += drawn[k]


def _groups(
    result: Outstanding, settings: Settings, component: str, sold_after: date | None
) -> Iterator[tuple[Key, str, pd.DataFrame]]:
    """Yield the open claims of a component by segment and currency told."""
    claims = result.costs.claims
    rows = claims[
        claims["state"].isin(["open", "approved"]) & claims["component"].eq(component)
    ]
    told = rows["currency"]
    if settings.currency.report is not None:
        told = told.where(told.eq(""), settings.currency.report)
    columns = [
        rows["sold_on"].gt(pd.Timestamp(sold_after or date.max))
        if name == "is_new"
        else rows["model"].fillna("")
        if name == "model"
        else rows[name]
        for name in result.by
    ]
    labels = [
        (*(plain(value) for value in values),) for values in zip(*columns, strict=True)
    ] or [()] * len(rows)
    places: dict[tuple[Key, str], list[int]] = {}
    for number, (key, currency) in enumerate(zip(labels, told, strict=True)):
        places.setdefault((key, str(currency)), []).append(number)
    for (key, currency), numbers in sorted(places.items(), key=str):
        yield key, currency, rows.iloc[numbers]
