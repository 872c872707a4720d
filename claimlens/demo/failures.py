"""Draw what failed when, and what was reported of it.

Everything here is in days since an epoch and positions, so that a world of
24,000 units takes a fraction of a second.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from claimlens.demo.draws import Bools, Days, Draws, Floats, Ints, Texts, later
from claimlens.demo.fleet import Fleet
from claimlens.demo.truth import Truth

__all__ = ["ORIGINS", "Events", "draw_events", "hazard_ratios"]

YEAR = 365.25  # days
_NAT = np.datetime64("NaT", "D")

ORIGINS = (
    "failure",  # the first covered failure of a component: counted
    "repeat",  # a later one of the same unit and component
    "no fault found",
    "misuse",
    "transport damage",
    "denied",
    "cancelled",
    "after coverage",
    "goodwill",
    "before delivery",
    "unknown serial",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Events:
    """Claims as events, arrays of shape ``(E,)``.

    Parameters
    ----------
    unit, component : ndarray of int
        Positions in the fleet and in ``truth.components``.
    origin : ndarray of object
        One of ``ORIGINS``.
    failed, reported, decided, closed : ndarray of datetime64
        Days; ``decided`` and ``closed`` may lie after the end of the data.
    """

    unit: Ints
    component: Ints
    origin: Texts
    failed: Days
    reported: Days
    decided: Days
    closed: Days

    def take(self, mask: npt.NDArray[np.generic]) -> Events:
        """Return the events under a mask or in an order."""
        return Events(**{f.name: getattr(self, f.name)[mask] for f in fields(self)})


def hazard_ratios(truth: Truth, fleet: Fleet) -> Floats:
    """Return the hazard ratio of each unit and component, shape ``(U, C)``.

    1 without a planted effect, 0 where the model has no such component.
    """
    ratios = np.ones((fleet.size, len(truth.components)))
    position = {c.name: i for i, c in enumerate(truth.components)}
    names = np.array([m.name for m in truth.models], dtype=object)[fleet.model]
    for component in truth.components:
        if component.models:
            ratios[~np.isin(names, component.models), position[component.name]] = 0.0
    for window in truth.windows:
        inside = (fleet.build >= np.datetime64(window.from_date, "D")) & (
            fleet.build < np.datetime64(window.to_date, "D")
        )
        ratios[inside, position[window.component]] *= window.ratio
    for change in truth.changes:
        after = fleet.build >= np.datetime64(change.effective_build_date, "D")
        ratios[after, position[change.component]] *= change.ratio
    for effect in truth.model_effects:
        ratios[names == effect.model, position[effect.component]] *= effect.ratio
    for supplier in truth.suppliers:
        chosen = fleet.supplier[supplier.component]
        ratios[:, position[supplier.component]] *= np.array(supplier.ratios)[chosen]
    return ratios


def draw_events(truth: Truth, fleet: Fleet, seed: int) -> Events:
    """Draw every claim that was reported by the end of the data.

    Parameters
    ----------
    truth : Truth
        The written truth.
    fleet : Fleet
        The units.
    seed : int
        Seed of the world.

    Returns
    -------
    Events
        In order of report.

    Notes
    -----
    First failures inside the coverage are all claimed and all approved, and
    everything else is added on top of them: thinning them would bend the
    written hazards.
    """
    first = _first_failures(truth, fleet, seed)
    within = first.failed <= fleet.coverage_end[first.unit]
    covered = _handle(truth, fleet, first.take(within), seed, "first")
    groups = [covered]
    repeats = covered
    for attempt in range(3):
        repeats = _repeats(truth, fleet, repeats, seed, attempt)
        groups.append(repeats)
    late = _after_cover(truth, first.take(~within), seed)
    groups.append(_handle(truth, fleet, late, seed, "after cover"))
    extra = _extra(truth, fleet, seed, len(covered.unit))
    groups.append(_handle(truth, fleet, extra, seed, "extra"))
    every = _join(groups)
    end = np.datetime64(truth.data_end, "D")
    every = every.take(every.reported <= end)
    order = np.lexsort((every.component, every.unit, every.failed, every.reported))
    return every.take(order)


def _join(groups: list[Events]) -> Events:
    return Events(
        **{
            f.name: np.concatenate([getattr(g, f.name) for g in groups])
            for f in fields(Events)
        }
    )


def _events(unit: Ints, component: Ints, origin: str | Texts, failed: Days) -> Events:
    unknown = np.full(len(unit), _NAT)
    return Events(
        unit=unit,
        component=component,
        origin=np.full(len(unit), origin, dtype=object)
        if isinstance(origin, str)
        else origin,
        failed=failed,
        reported=unknown,
        decided=unknown,
        closed=unknown,
    )


def _in_use(truth: Truth, fleet: Fleet, unit: Ints, failed: Days) -> Bools:
    """Return which failures fall while the unit is in use and data exist."""
    retired = fleet.retired[unit]
    alive = np.isnat(retired) | (failed < retired)
    return alive & (failed <= np.datetime64(truth.data_end, "D"))


def _first_failures(truth: Truth, fleet: Fleet, seed: int) -> Events:
    """Draw the first failure of each unit and component by its Weibull law."""
    shape = np.array([c.shape for c in truth.components])
    scale = np.array([c.scale_days for c in truth.components])
    ratios = hazard_ratios(truth, fleet)
    stress = Draws(seed, "failures").exponential(fleet.size, len(shape))
    with np.errstate(divide="ignore"):  # a ratio of 0 never fails
        ages = scale * (stress / ratios) ** (1.0 / shape)
    unit, component = np.nonzero(ages < 40 * YEAR)
    failed = later(fleet.in_service[unit], ages[unit, component])
    found = _events(unit, component, "failure", failed)
    return found.take(_in_use(truth, fleet, unit, failed))


def _handle(truth: Truth, fleet: Fleet, events: Events, seed: int, name: str) -> Events:
    """Give each event the days of its report, decision and closing."""
    draws = Draws(seed, f"handling {name}")
    size = len(events.unit)
    increments = np.diff([0.0, *truth.reporting])
    lag = draws.pick(increments, size)
    month = events.failed.astype("datetime64[M]") + lag.astype("timedelta64[M]")
    start = np.where(lag == 0, events.failed, month.astype("datetime64[D]"))
    stop = (month + np.timedelta64(1, "M")).astype("datetime64[D]")
    reported = later(start, draws.below((stop - start).astype(int), size))
    # an owner whose cover has just ended hurries: later reports are refused
    limit = later(fleet.coverage_end[events.unit], truth.grace_days - 1)
    inside = events.failed <= fleet.coverage_end[events.unit]
    reported = np.where(inside, np.minimum(reported, limit), reported)
    decided = later(reported, 1 + draws.erlang2(truth.decision_days - 1, size))
    closed = later(decided, 2 + draws.erlang2(truth.repair_days - 2, size))
    decided = np.where(events.origin == "cancelled", _NAT, decided)
    return Events(
        unit=events.unit,
        component=events.component,
        origin=events.origin,
        failed=events.failed,
        reported=reported,
        decided=decided,
        closed=closed,
    )


def _repeats(
    truth: Truth, fleet: Fleet, before: Events, seed: int, attempt: int
) -> Events:
    """Draw what comes back after a repair: poor repairs, and new parts' age."""
    draws = Draws(seed, f"repeat {attempt}")
    size = len(before.unit)
    share = np.array([c.repeat_share for c in truth.components])[before.component]
    shape = np.array([c.shape for c in truth.components])[before.component]
    scale = np.array([c.scale_days for c in truth.components])[before.component]
    ratio = hazard_ratios(truth, fleet)[before.unit, before.component]
    poor = draws.chance(share, size)
    renewed = scale * (draws.exponential(size) / ratio) ** (1.0 / shape)
    soon = 1 + draws.exponential(size) * (truth.repeat_days - 1)
    ages = np.where(poor, np.minimum(soon, renewed), renewed)
    failed = later(before.closed, np.minimum(ages, 40 * YEAR))
    keep = _in_use(truth, fleet, before.unit, failed) & (
        failed <= fleet.coverage_end[before.unit]
    )
    found = _events(before.unit, before.component, "repeat", failed).take(keep)
    return _handle(truth, fleet, found, seed, f"repeat {attempt}")


def _after_cover(truth: Truth, late: Events, seed: int) -> Events:
    """Keep the few failures after the cover that are reported at all."""
    draws = Draws(seed, "after cover")
    kept = late.take(draws.chance(truth.extra.after_coverage_reported, len(late.unit)))
    paid = draws.chance(truth.extra.goodwill_share, len(kept.unit))
    origin = np.where(paid, "goodwill", "after coverage").astype(object)
    return _events(kept.unit, kept.component, origin, kept.failed)


def _extra(truth: Truth, fleet: Fleet, seed: int, covered: int) -> Events:
    """Draw the claims that are no failure of the product in the field."""
    extra = truth.extra
    shares = np.array(
        [
            c.share_failed(24) * c.no_fault_share / (1 - c.no_fault_share)
            for c in truth.components
        ]
    )
    everywhere = sum(c.share_failed(24) for c in truth.components)
    no_fault = covered * float(shares.sum()) / (everywhere * fleet.size)
    plan = [
        ("no fault found", no_fault, shares),
        ("misuse", extra.misuse, _weights(truth, MISUSED)),
        ("transport damage", extra.transport, _weights(truth, DAMAGED)),
        ("denied", extra.denied, _weights(truth, None)),
        ("cancelled", extra.cancelled, _weights(truth, None)),
        ("unknown serial", extra.unknown_serial, _weights(truth, None)),
    ]
    groups = [
        _spread(truth, fleet, seed, origin, share=share, weights=weights)
        for origin, share, weights in plan
    ]
    groups.append(_before_delivery(truth, fleet, seed))
    return _join(groups)


MISUSED = (
    "frame",
    "wheel/spokes",
    "fork/suspension",
    "battery pack",
    "charger",
    "rack/accessories",
    "display",
    "motor",
)
DAMAGED = (
    "frame",
    "wheel/spokes",
    "mudguard",
    "display",
    "headlight",
    "rack/accessories",
)


def _weights(truth: Truth, names: tuple[str, ...] | None) -> Floats:
    return np.array(
        [
            c.share_failed(24) if names is None else float(c.name in names)
            for c in truth.components
        ]
    )


def _spread(
    truth: Truth, fleet: Fleet, seed: int, origin: str, *, share: float, weights: Floats
) -> Events:
    """Spread claims evenly over the unit-days in service and under cover."""
    draws = Draws(seed, origin)
    size = round(share * fleet.size)
    unit = draws.below(fleet.size, size)
    component = draws.pick(weights, size)
    start = fleet.in_service[unit]
    length = (fleet.coverage_end[unit] - start).astype(int)
    if origin == "transport damage":
        length = np.full(size, 20)
    failed = later(start, draws.below(length, size))
    found = _events(unit, component, origin, failed)
    fitted = hazard_ratios(truth, fleet)[unit, component] > 0
    return found.take(_in_use(truth, fleet, unit, failed) & fitted)


def _before_delivery(truth: Truth, fleet: Fleet, seed: int) -> Events:
    """Draw faults found by the dealer before the unit was handed over.

    Only on units whose in-service date is known: without it such a claim
    cannot be told from one of a unit in use.
    """
    draws = Draws(seed, "before delivery")
    wait = (fleet.in_service - fleet.ship).astype(int)
    able = np.flatnonzero(fleet.dated & (wait > 3))
    size = round(truth.extra.before_delivery * len(able))
    unit = able[draws.below(len(able), size)] if len(able) else able
    component = draws.pick(_weights(truth, None), len(unit))
    failed = later(fleet.ship[unit], 1 + draws.below(wait[unit] - 2, len(unit)))
    found = _events(unit, component, "before delivery", failed)
    fitted = hazard_ratios(truth, fleet)[unit, component] > 0
    return found.take(_in_use(truth, fleet, unit, failed) & fitted)
