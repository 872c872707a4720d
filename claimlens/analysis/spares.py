"""Spare parts: demand until the next delivery, what to hold, order and buy last."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from claimlens.analysis.question import Question
from claimlens.analysis.scope import Scope
from claimlens.analysis.spares_ahead import Coming, FleetAhead, look_at_fleet
from claimlens.analysis.spares_parts import PartsList, read_parts
from claimlens.analysis.spares_use import Pool, Take, read_use
from claimlens.classify.taxonomy import Taxonomy
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.ingest.stock import Stock, StockLine
from claimlens.settings import Settings
from claimlens.stats.order_quantity import demand_drawn, shares_drawn
from claimlens.stats.seeds import seed_for
from claimlens.stats.unit_months import DAYS_PER_MONTH

__all__ = ["Demand", "Need", "Shelf", "Spares", "asked_of_fleet", "spares"]

Floats = NDArray[np.float64]

_DAYS_PER_YEAR = 365.25


@dataclass(slots=True)
class Demand:
    """The demand for a part, gathered from the events that take it.

    Parameters
    ----------
    mean : float
        Expected pieces.
    rates : dict of float to ndarray, shape (D,)
        Expected events by the pieces that each takes.
    """

    mean: float = 0.0
    rates: dict[float, Floats] = field(default_factory=dict)

    def add(self, take: Take, shares: Floats, mean: float, drawn: Floats) -> None:
        """Add the events of a pool: their mean, and draws of it, shape (D,)."""
        self.mean += mean * float(take.sizes @ take.weights / take.weights.sum())
        for size, share in zip(take.sizes[1:], shares[1:], strict=True):
            rate = drawn * share
            known = self.rates.get(float(size))
            self.rates[float(size)] = rate if known is None else known + rate

    def drawn(self, n_draws: int, random: np.random.Generator) -> Floats:
        """Return draws of the pieces, shape (D,)."""
        if not self.rates:
            return np.zeros(n_draws)
        sizes = sorted(self.rates)
        return demand_drawn(
            sizes, np.stack([self.rates[size] for size in sizes]), random
        )


@dataclass(slots=True, kw_only=True)
class Need:
    """What one part is needed for.

    Parameters
    ----------
    until : date
        Day up to which the quantity to hold must last.
    pools : list of Pool
        Events that may take it.
    demand, last_buy : Demand
        Until that day; and, of a part going out of production, to the very end.
    last_cover, end : date or None
        End of the last cover of the units that it fits; and of the very end.
    unseen : list of str
        Components that have had no claim.
    """

    until: date
    pools: list[Pool] = field(default_factory=list)
    demand: Demand = field(default_factory=Demand)
    last_buy: Demand = field(default_factory=Demand)
    last_cover: date | None = None
    end: date | None = None
    unseen: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """The stock file by part key, if there is one.

    Parameters
    ----------
    lines : dict of str to StockLine
        By part number in capitals.
    is_told : bool
        Whether there is a stock file.
    skipped : int
        Lines of it that were no rows.
    """

    lines: dict[str, StockLine]
    is_told: bool
    skipped: int = 0


@dataclass(frozen=True, kw_only=True)
class Spares:
    """All parts and what they are needed for.

    Parameters
    ----------
    listed : PartsList
        Parts sent today.
    needs : dict of str to Need
        By key of the part.
    fleet : FleetAhead
        Units in sight.
    shelf : Shelf
        What is on the shelf.
    lead : dict of str to (int, str)
        Lead time in days, and who told it.
    level : float
        Service level.
    as_of, next_order : date
        Cut-off, and the day of the next order.
    note : str
        How many claims told their parts.
    """

    listed: PartsList
    needs: dict[str, Need]
    fleet: FleetAhead
    shelf: Shelf
    lead: dict[str, tuple[int, str]]
    level: float
    as_of: date
    next_order: date
    note: str

    def drawn(self, key: str, *, last_buy: bool = False) -> Floats:
        """Return draws of the demand for a part, shape (D,)."""
        need = self.needs[key]
        what = "spares last buy" if last_buy else "spares demand"
        random = np.random.default_rng(seed_for(self.fleet.found.seed, what, key))
        demand = need.last_buy if last_buy else need.demand
        return demand.drawn(self.fleet.n_draws, random)


def asked_of_fleet(
    question: Question, taxonomy: Taxonomy
) -> tuple[Question, dict[str, tuple[str, ...]]]:
    """Split a question into that of the fleet and the choice of parts.

    A part is taken by claims of any component, so components and suppliers choose
    which parts are shown, not which claims count.

    Parameters
    ----------
    question : Question
        As asked.
    taxonomy : Taxonomy
        Leads spellings of components to their names.

    Returns
    -------
    question : Question
        Without ``component`` and ``supplier``.
    shown : dict of str to tuple of str
        These two, where asked for.
    """
    shown = {
        name: question.wanted[name]
        for name in ("component", "supplier")
        if name in question.wanted
    }
    if "component" in shown:
        shown["component"] = tuple(
            taxonomy.component_for(name) or name for name in shown["component"]
        )
    wanted = {key: to for key, to in question.wanted.items() if key not in shown}
    return (
        Question(as_of=question.as_of, as_known=question.as_known, wanted=wanted),
        shown,
    )


def spares(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    stock: Stock | None = None,
    service_level: float | None = None,
) -> Spares:
    """Draw the demand for every part that is sent today.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Its section ``spares``, cover and seed.
    scope : Scope
        Cut-off and filters in force.
    stock : Stock, optional
        What is on the shelf and on order.
    service_level : float, optional
        Chance that what is held lasts; by default that of the settings.

    Returns
    -------
    Spares

    Raises
    ------
    InputError
        If the service level lies outside, no unit has a day in service, or no claim
        is under cover.
    """
    level = settings.spares.service_level if service_level is None else service_level
    if not 0.5 <= level <= 0.999:
        raise InputError(
            f"The service level must lie between 0.5 and 0.999; got {level}.",
            remedy="write 95 per cent as --service-level 0.95",
        )
    listed = read_parts(session)
    fleet = look_at_fleet(session, settings, scope, by=listed.bounds())
    pools, note = read_use(
        session,
        listed,
        fleet.kinds,
        as_of=scope.as_of,
        returned_to_stock=settings.spares.returned_to_stock,
    )
    lines = () if stock is None else stock.lines
    shelf = Shelf(
        lines={line.part_no.upper(): line for line in lines},
        is_told=stock is not None,
        skipped=0 if stock is None else stock.skipped,
    )
    lead = {
        key: _lead_time(part.lead_time_days, shelf.lines.get(key), settings)
        for key, part in listed.parts.items()
    }
    review = math.ceil(settings.spares.review_months * DAYS_PER_MONTH)
    next_order = scope.as_of + timedelta(days=review)
    needs = {
        key: Need(until=next_order + timedelta(days=days))
        for key, (days, _) in lead.items()
    }
    for pool in pools:
        for key in pool.takes:
            needs[key].pools.append(pool)
    _set_ends(needs, shelf, fleet, settings)
    _gather(pools, needs, fleet, settings)
    return Spares(
        listed=listed,
        needs=needs,
        fleet=fleet,
        shelf=shelf,
        lead=lead,
        level=level,
        as_of=scope.as_of,
        next_order=next_order,
        note=note,
    )


def _lead_time(
    listed: int | None, line: StockLine | None, settings: Settings
) -> tuple[int, str]:
    if line is not None and line.lead_time_days is not None:
        return line.lead_time_days, "stock file"
    if listed is not None and listed >= 0:
        return listed, "parts list"
    return settings.spares.lead_time_days, "assumed"


def _set_ends(
    needs: Mapping[str, Need], shelf: Shelf, fleet: FleetAhead, settings: Settings
) -> None:
    """Tell when the last cover ends, and until when a last buy must last."""
    rules = settings.spares
    service = timedelta(days=round(rules.service_years * _DAYS_PER_YEAR))
    for key, need in needs.items():
        covers = [fleet.last_cover(pool.component, pool.rows) for pool in need.pools]
        need.last_cover = max((day for day in covers if day), default=None)
        line = shelf.lines.get(key)
        if line is None or line.last_order_date is None or need.last_cover is None:
            continue
        start = need.last_cover
        if rules.service_from == "last_sale":
            sales = [fleet.last_sale(pool.component, pool.rows) for pool in need.pools]
            start = max(day for day in sales if day)
        need.end = max(need.last_cover, start + service)


def _gather(
    pools: Sequence[Pool],
    needs: Mapping[str, Need],
    fleet: FleetAhead,
    settings: Settings,
) -> None:
    """Add the events of every pool to the demands of the parts that they take."""
    until = sorted({need.until for need in needs.values()})
    of_component: dict[str, list[Pool]] = {}
    for pool in pools:
        if pool.takes:
            of_component.setdefault(pool.component, []).append(pool)
    for component, coming in fleet.each(list(of_component), until):
        for pool in of_component[component]:
            mean = coming.mean[:, pool.rows].sum(axis=1)
            drawn = coming.drawn[:, pool.rows].sum(axis=1)
            for key, take in pool.takes.items():
                need = needs[key]
                label = f"{component}/{pool.label}"
                random = np.random.default_rng(
                    seed_for(fleet.found.seed, "spares shares", key, label)
                )
                shares = shares_drawn(take.weights, fleet.n_draws, random)
                at = until.index(need.until)
                need.demand.add(take, shares, float(mean[at]), drawn[at])
                if not coming.is_seen and component not in need.unseen:
                    need.unseen.append(component)
                if need.end is not None:
                    more = _after_cover(pool, need.end, coming, fleet, settings)
                    need.last_buy.add(
                        take, shares, float(mean[-1]) + more[0], drawn[-1] + more[1]
                    )


def _after_cover(
    pool: Pool, end: date, coming: Coming, fleet: FleetAhead, settings: Settings
) -> tuple[float, Floats]:
    """Return the events of units out of cover until a day: mean and draws."""
    if settings.spares.service_years == 0:
        return 0.0, np.zeros_like(coming.rate)
    months = fleet.months_after_cover(pool.component, pool.rows, end)
    months *= settings.spares.after_cover_share
    return coming.rate_mean * months, coming.rate * months
