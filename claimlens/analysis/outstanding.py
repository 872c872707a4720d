"""What units shipped by the cut-off still cost: every part of it in joint draws.

Of one draw all parts share the rates of failure, the months' shocks, the mean cost of a
claim and the share of open claims that is paid; so a total's band is that of the added
draws. Every draw is in whole cents, so that its parts add up exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.cost_claims import read_costs
from claimlens.analysis.cost_draws import claim_costs
from claimlens.analysis.forecast_counts import Ahead, check_claims, count_ahead
from claimlens.analysis.forecast_draws import Look, Prospects, draws_for, prospects
from claimlens.analysis.forecast_rates import fit_fleet
from claimlens.analysis.grouping import check_keys
from claimlens.analysis.outstanding_open import add_open, costed, share_paid
from claimlens.analysis.outstanding_sums import PARTS, Key, Outstanding, plain
from claimlens.analysis.scenarios import without_changes
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.intensity.ahead import Outlook
from claimlens.stats.seeds import seed_for

__all__ = ["RESERVE_KEYS", "outstanding"]

Floats = NDArray[np.float64]

RESERVE_KEYS = ("model", "model_year", "region", "generation", "component")
"""Keys by which what is outstanding can be told."""

# months in which the longest cover ends; what is longer is not in sight
_FAR = 600
# numbers drawn at a time, 100 MB
_BLOCK = 25_000_000


def outstanding(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    by: Sequence[str],
    sold_after: date | None = None,
    later_day: date | None = None,
    without: str = "",
) -> Outstanding:
    """Estimate what the units shipped by the cut-off still cost under cover.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Cover, currency, seed.
    scope : Scope
        Cut-off and filters in force.
    by : sequence of str
        Keys of ``RESERVE_KEYS``.
    sold_after : date, optional
        Adds the key ``is_new``: whether the unit left the works after that day.
    later_day : date, optional
        At whose rates of exchange the expected amounts are told too.
    without : str, optional
        An engineering change taken as not made.

    Returns
    -------
    Outstanding
        Without discounting, and without units to be shipped later.

    Raises
    ------
    InputError
        If a key is not known, no claim has a cost, a rate of exchange is missing
        for the month of the cut-off, no unit has a day in service, or there is no
        such change.
    """
    check_keys(by, RESERVE_KEYS, "What is outstanding is")
    costs = read_costs(session, scope)
    unit_keys = [key for key in by if key != "component"]
    ahead = count_ahead(
        session,
        settings,
        scope,
        by=unit_keys,
        months=_FAR,
        sold_after=sold_after or date.max,
    )
    check_claims(ahead, "how many will come")
    if without:
        ahead = without_changes(session, ahead, (without,))
    told = (*by, *(() if sold_after is None else ("is_new",)))
    found = _prospects(ahead, settings, told)
    models = sorted({*found.rates.places.models, *costs.claims["model"].fillna("")})
    names = sorted({*found.rates.components, *costs.claims["component"]})
    per_claim = claim_costs(costs, settings, names, models, later_day=later_day)
    if len(per_claim.currencies) > 1 and "region" in by:
        raise InputError(
            f"Costs are in {', '.join(per_claim.currencies)}, and which region will "
            "cost in which is not told.",
            remedy="set report under [currency] in claimlens.toml, or leave the region "
            "out",
        )
    waiting = costs.claims["state"].isin(["open", "approved"])
    result = Outstanding(
        by=told,
        costs=costs,
        per_claim=per_claim,
        found=found,
        n_open=int(waiting.sum()),
        paid=share_paid(costs),
    )
    rows = _Rows(found, told)
    for number in range(len(rows.segments)):
        for name in names if "component" in by else names[:1]:
            for currency in per_claim.currencies:
                result.at(rows.key(number, name), currency)
    for look in found.each_by_failure():
        _add_to_come(result, rows, look)
    for place in range(len(names)):
        add_open(result, settings, place, sold_after)
    return result


def _prospects(ahead: Ahead, settings: Settings, told: tuple[str, ...]) -> Prospects:
    """Fit the rates, and look ahead to the end of the last cover."""
    keys = [key for key in told if key != "component"]
    own = ("model", "is_to_come")
    ahead = replace(ahead, unit_keys=(*keys, *(key for key in own if key not in keys)))
    rates = fit_fleet(ahead, settings)
    last = int(ahead.units_to_come["last_month"].max()) + rates.lag.share.size - 1
    ahead = replace(ahead, months=max(last - ahead.first + 1, 1))
    n_rows = len(rates.places.rows[[*keys, "is_to_come"]].drop_duplicates())
    return prospects(ahead, rates, settings, n_draws=draws_for(n_rows, ahead.months))


class _Rows:
    """Rows of units with their segments.

    Parameters
    ----------
    found : Prospects
        With the rows: keys asked for, model, to come into service or not.
    told : tuple of str
        Keys of the segments.
    """

    def __init__(self, found: Prospects, told: tuple[str, ...]) -> None:
        rows = found.rates.places.rows
        keys = [key for key in told if key != "component"]
        self.told = told
        self.model = rows["model"].to_numpy()
        to_come = rows["is_to_come"].to_numpy(dtype=np.bool_)
        values = [
            tuple(plain(value) for value in row)
            for row in rows[keys].itertuples(index=False)
        ]
        seen = sorted(
            {(key, bool(late)) for key, late in zip(values, to_come, strict=True)},
            key=str,
        )
        self.segments = [key for key, _ in seen]
        self.is_to_come = np.array([late for _, late in seen], dtype=np.bool_)
        self.place = np.array(
            [
                seen.index((key, bool(late)))
                for key, late in zip(values, to_come, strict=True)
            ],
            dtype=np.intp,
        )

    def key(self, number: int, component: str) -> Key:
        """Return the values of the keys of a segment."""
        values = iter(self.segments[number])
        return tuple(
            component if name == "component" else next(values) for name in self.told
        )


def _add_to_come(result: Outstanding, rows: _Rows, look: Look) -> None:
    """Add what one component's claims to come cost."""
    per_claim = result.per_claim
    place = per_claim.components.index(look.component)
    model = pd.Index(per_claim.models).get_indexer(pd.Index(rows.model))
    size = len(rows.segments)
    means = per_claim.drawn_means(place, look.n_draws)
    # by row: cost of a claim in each currency, at the rates of two days
    both = np.stack([per_claim.mean[place], per_claim.later[place]], axis=1)
    cost = both[model] * per_claim.share[place]
    for part, outlook in enumerate(look.outlooks, start=1):
        expected = outlook.mean.sum(axis=1)
        claims = np.zeros(size)
        np.add.at(claims, rows.place, expected)
        amount = np.zeros((size, 2, cost.shape[2]))
        np.add.at(amount, rows.place, expected[:, None, None] * cost)
        weight = np.zeros((size, len(per_claim.models)))
        np.add.at(weight, (rows.place, model), expected)
        weight /= np.where(claims > 0, claims, 1.0)[:, None]
        late = PARTS.index("shipped, not yet sold")
        for number, rate in _rates(look, outlook.gathered(rows.place, size), claims):
            _add_segment(
                result,
                rows.key(number, look.component),
                late if rows.is_to_come[number] else part,
                place,
                _Segment(
                    claims=claims[number],
                    amount=amount[number],
                    means=np.einsum("m,mkd->kd", weight[number], means),
                    rate=rate,
                ),
            )


def _rates(
    look: Look, outlook: Outlook, claims: Floats
) -> Iterator[tuple[int, NDArray[np.float32]]]:
    """Yield each segment that expects a claim, with its claims as drawn."""
    wanted = np.flatnonzero(claims > 0)
    step = max(1, _BLOCK // (outlook.mean.shape[1] * look.n_draws))
    for start in range(0, wanted.size, step):
        block = wanted[start : start + step]
        rates = look.drawn(outlook.rows(block)).sum(axis=1)
        yield from zip(block.tolist(), rates, strict=True)


def _add_segment(
    result: Outstanding, key: Key, part: int, place: int, segment: _Segment
) -> None:
    per_claim, n_draws = result.per_claim, result.found.n_draws
    name = (per_claim.components[place], str(key), PARTS[part])
    random = np.random.default_rng(
        seed_for(result.found.seed, "outstanding counts", *name)
    )
    drawn = costed(
        result,
        place,
        random.poisson(segment.rate),
        means=segment.means,
        shares=per_claim.drawn_shares(place, n_draws),
        random=random,
    )
    for k, currency in enumerate(per_claim.currencies):
        share = per_claim.share[place, k]
        mean, later = segment.amount[:, k]
        result.add(
            (key, currency, part), claims=segment.claims * share, mean=mean, later=later
        )
        result.at(key, currency).drawn[part] += drawn[k]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Segment:
    """Claims to come of a segment.

    Expected claims, amounts (2, K) at the rates of two days, drawn means (K, D) and
    drawn rates (D,).
    """

    claims: float
    amount: Floats
    means: Floats
    rate: NDArray[np.float32]
