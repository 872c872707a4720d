"""Turn events into claims: numbers, status, money, parts, and the truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from claimlens.demo.draws import Bools, Days, Draws, Floats, Ints, Texts, choose
from claimlens.demo.failures import Events
from claimlens.demo.fleet import Fleet, generation_of, part_number
from claimlens.demo.truth import Truth
from claimlens.tables import TABLES

__all__ = ["MODE_OF_ORIGIN", "Facts", "build_claims", "build_truth", "facts"]

_NAT = np.datetime64("NaT", "D")
KM_PER_MILE = 1.609344
# what the origin of a claim makes of its true failure mode
MODE_OF_ORIGIN = {
    "no fault found": "no fault found",
    "misuse": "misuse",
    "transport damage": "transport damage",
}
REFUSED = ("denied", "misuse", "after coverage")
REASONS = {
    "denied": ("wear and tear", "no proof of purchase", "modified by the owner"),
    "misuse": ("misuse",),
    "after coverage": ("outside the coverage period",),
    "goodwill": ("goodwill after the coverage period",),
    "cancelled": ("withdrawn by the dealer",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the texts need to know of a claim, one value a claim."""

    component: Texts
    mode: Texts
    origin: Texts
    language: Texts
    closed: Bools
    decided: Bools


def claim_numbers(truth: Truth, region: Ints, reported: Days) -> Texts:
    """Return claim numbers in each region's own form, rising with the report.

    Parameters
    ----------
    truth : Truth
        For the region codes.
    region : ndarray of int, shape (n,)
        Positions in ``truth.regions``; rows in order of report.
    reported : ndarray of datetime64, shape (n,)
        Day of report; its year is part of some numbers.
    """
    years = reported.astype("datetime64[Y]").astype(int) + 1970
    running = pd.Series(region).groupby(region).cumcount().to_numpy() + 1
    return np.array(
        [
            _number(truth.regions[int(r)].code, int(y), int(n))
            for r, y, n in zip(region, years, running, strict=True)
        ],
        dtype=object,
    )


def _number(code: str, year: int, running: int) -> str:
    if code == "CH":  # digits alone, with leading zeros
        return f"{running + 30:07d}"
    if code == "FR":
        return f"{year}/{running:05d}"
    if code in ("NL", "ES", "BE"):
        return f"S{'NEB'['NLESBE'.index(code) // 2]}-{running:06d}"
    return f"{code}{year % 100:02d}-{running:05d}"


def build_truth(truth: Truth, fleet: Fleet, events: Events, seed: int) -> pd.DataFrame:
    """Return what each claim really is.

    Returns
    -------
    DataFrame
        claim_no, serial, component, failure_mode, origin, counted (the first
        covered failure), language, region (position), unit (position).
    """
    draws = Draws(seed, "modes")
    size = len(events.unit)
    uniform = draws.uniform(size)
    modes = np.full(size, "", dtype=object)
    for position, component in enumerate(truth.components):
        mask = events.component == position
        edges = np.cumsum(list(component.modes.values()))
        pick = np.searchsorted(edges / edges[-1], uniform[mask], side="right")
        modes[mask] = np.array(list(component.modes), dtype=object)[pick]
    for origin, mode in MODE_OF_ORIGIN.items():
        modes[events.origin == origin] = mode
    region = fleet.region[events.unit]
    languages = np.array([r.language for r in truth.regions], dtype=object)[region]
    # a fifth of Switzerland and a half of Belgium write the neighbour's language
    codes = np.array([r.code for r in truth.regions], dtype=object)[region]
    other = draws.uniform(size)
    languages[(codes == "CH") & (other < 0.2)] = "fr"
    languages[(codes == "BE") & (other < 0.5)] = "nl"
    return pd.DataFrame(
        {
            "claim_no": claim_numbers(truth, region, events.reported),
            "serial": fleet.serial[events.unit],
            "component": np.array([c.name for c in truth.components], dtype=object)[
                events.component
            ],
            "failure_mode": modes,
            "origin": events.origin,
            "counted": events.origin == "failure",
            "language": languages,
            "region": region,
            "unit": events.unit,
        }
    )


def facts(truth: Truth, events: Events, real: pd.DataFrame) -> Facts:
    """Return what the texts are written from."""
    end = np.datetime64(truth.data_end, "D")
    return Facts(
        component=real["component"].to_numpy(dtype=object),
        mode=real["failure_mode"].to_numpy(dtype=object),
        origin=events.origin,
        language=real["language"].to_numpy(dtype=object),
        closed=events.closed <= end,
        decided=events.decided <= end,
    )


def build_claims(
    truth: Truth,
    fleet: Fleet,
    events: Events,
    real: pd.DataFrame,
    *,
    texts: tuple[Texts, Texts, Texts],
    seed: int,
) -> pd.DataFrame:
    """Return the claims in canonical fields, as known when the data end.

    Parameters
    ----------
    truth, fleet, events : Truth, Fleet, Events
        The world so far.
    real : DataFrame
        From ``build_truth``.
    texts : tuple of ndarray
        Narrative, technician's note and resolution of each claim.
    seed : int
        Seed of the world.

    Returns
    -------
    DataFrame
        One row a claim in order of report; money in the claim's currency.
    """
    draws = Draws(seed, "claims")
    unit = events.unit
    region = fleet.region[unit]
    end = np.datetime64(truth.data_end, "D")
    closed, decided = events.closed <= end, events.decided <= end
    undated = draws.chance(truth.failure_date_missing, len(unit))
    undated &= events.origin != "before delivery"
    currencies = np.array([r.currency for r in truth.regions], dtype=object)
    columns: dict[str, object] = {
        "claim_no": real["claim_no"],
        "reported_on": events.reported,
        "serial": _written_serials(fleet, events, draws),
        "model": _names(truth)[fleet.model[unit]],
        "model_year": fleet.model_year[unit],
        "in_service_date": np.where(fleet.dated[unit], fleet.in_service[unit], _NAT),
        "failed_on": np.where(undated, _NAT, events.failed),
        "decided_on": np.where(decided, events.decided, _NAT),
        "closed_on": np.where(closed, events.closed, _NAT),
        "status": _status(events, closed, decided),
        "decision_reason": _reasons(events, decided | closed, draws),
        "narrative": texts[0],
        "technician_note": texts[1],
        "resolution": texts[2],
        "region": _codes(truth)[region],
        "dealer": fleet.dealer[unit],
        "currency": currencies[region],
        "goodwill": np.where((events.origin == "goodwill") & decided, "yes", "no"),
        "updated_at": _updated(events, decided, closed, draws),
    }
    columns |= _usage(truth, fleet, events, draws)
    columns |= _costs(truth, fleet, events, draws)
    frame = pd.DataFrame(columns)
    for column in ("usage", "quantity"):
        frame[column] = frame[column].astype("Int64")
    return frame[[name for name in TABLES["claims"].field_names if name in frame]]


def _costs(
    truth: Truth, fleet: Fleet, events: Events, draws: Draws
) -> dict[str, object]:
    """Return the part and the money of each claim, as far as they are known."""
    end = np.datetime64(truth.data_end, "D")
    closed, decided = events.closed <= end, events.decided <= end
    money = _money(truth, fleet, events, draws)
    refused = np.isin(events.origin, REFUSED)
    settled = closed & ~refused & (events.origin != "cancelled")
    part, quantity = _main_part(truth, fleet, events, draws)
    part = choose(settled, part)
    return {
        "part_no": part,
        "quantity": np.where(pd.isna(part), np.nan, quantity),
        "amount_requested": money["requested"],
        "amount_approved": np.where(
            decided & ~refused, money["total"], np.where(decided, 0.0, np.nan)
        ),
        **{
            f"cost_{name}": np.where(settled, money[name], np.nan)
            for name in ("parts", "labour", "freight", "total")
        },
    }


def _codes(truth: Truth) -> Texts:
    return np.array([r.code for r in truth.regions], dtype=object)


def _names(truth: Truth) -> Texts:
    return np.array([m.name for m in truth.models], dtype=object)


def _status(events: Events, closed: Bools, decided: Bools) -> Texts:
    refused = np.isin(events.origin, REFUSED)
    status = np.full(len(events.unit), "open", dtype=object)
    status[decided] = "approved"
    status[closed] = "closed"
    status[decided & refused] = "denied"
    status[closed & (events.origin == "cancelled")] = "cancelled"
    return status


def _reasons(events: Events, known: Bools, draws: Draws) -> Texts:
    reasons = np.full(len(events.unit), None, dtype=object)
    uniform = draws.uniform(len(events.unit))
    for origin, words in REASONS.items():
        mask = (events.origin == origin) & known
        pick = np.floor(uniform[mask] * len(words)).astype(int)
        reasons[mask] = np.array(words, dtype=object)[pick]
    return reasons


def _money(
    truth: Truth, fleet: Fleet, events: Events, draws: Draws
) -> dict[str, Floats]:
    """Return parts, labour, freight, total and request in the claim's currency."""
    size = len(events.unit)
    region = fleet.region[events.unit]
    in_euro = np.array([r.in_euro for r in truth.regions])[region]
    wage = np.array([r.labour_per_hour for r in truth.regions])[region]
    cost = np.array([c.part_cost for c in truth.components])[events.component]
    minutes = np.array([c.labour_minutes for c in truth.components])[events.component]
    parts = np.round(cost / in_euro * (0.95 + 0.15 * draws.uniform(size)), 2)
    labour = np.round(minutes / 60 * wage * (0.7 + 0.8 * draws.uniform(size)), 2)
    freight = np.round(
        np.where(parts > 0, 5.9 + 0.03 * parts + 6 * draws.uniform(size), 0.0), 2
    )
    no_part = events.origin == "no fault found"
    parts = np.where(no_part & (draws.uniform(size) < 0.5), 0.0, parts)
    total = np.round(parts + labour + freight, 2)
    requested = np.round(total * (1 + 0.12 * draws.chance(0.3, size)), 2)
    return {
        "parts": parts,
        "labour": labour,
        "freight": freight,
        "total": total,
        "requested": requested,
    }


def _usage(
    truth: Truth, fleet: Fleet, events: Events, draws: Draws
) -> dict[str, object]:
    """Return the distance on the clock, unknown for a third of the claims."""
    region = fleet.region[events.unit]
    age = (events.failed - fleet.in_service[events.unit]).astype(float)
    km = np.maximum(1.0, age * fleet.km_per_day[events.unit])
    known = ~draws.chance(0.33, len(age))
    miles = np.isin(_codes(truth)[region], ["GB", "US"])
    distance = np.round(km / np.where(miles, KM_PER_MILE, 1.0))
    unit = np.where(miles, "mi", "km").astype(object)
    return {
        "usage": np.where(known, distance, np.nan),
        "usage_unit": choose(known, unit),
    }


def _main_part(
    truth: Truth, fleet: Fleet, events: Events, draws: Draws
) -> tuple[Texts, Floats]:
    """Return the part replaced (None where the claim names none) and how many."""
    size = len(events.unit)
    named = draws.chance(truth.extra.part_named, size)
    named &= (events.origin != "no fault found") | draws.chance(0.5, size)
    generation = generation_of(truth, fleet.model_year[events.unit])
    part = np.full(size, None, dtype=object)
    quantity = np.ones(size)
    for position, component in enumerate(truth.components):
        mask = named & (events.component == position)
        chosen = fleet.supplier.get(component.name)
        source = 0 if chosen is None else chosen[events.unit[mask]]
        part[mask] = part_number(
            component, fleet.model[events.unit[mask]], generation[mask], source
        )
        if component.name == "brake pad/rotor":
            quantity[mask] = 2
    return part, quantity


def _written_serials(fleet: Fleet, events: Events, draws: Draws) -> Texts:
    """Return the serials as written; a few are in nobody's register."""
    serial = fleet.serial[events.unit].copy()
    unknown = events.origin == "unknown serial"
    digits = draws.below(10_000, len(serial))
    serial[unknown] = [
        f"{s[:5]}9{d:04d}"
        for s, d in zip(serial[unknown], digits[unknown], strict=True)
    ]
    return serial


def _updated(
    events: Events,
    decided: Bools,
    closed: Bools,
    draws: Draws,
) -> npt.NDArray[np.datetime64]:
    last = np.where(decided, events.decided, events.reported)
    last = np.where(closed, events.closed, last)
    seconds = 7 * 3600 + draws.below(11 * 3600, len(last))
    return np.asarray(last.astype("datetime64[s]") + seconds.astype("timedelta64[s]"))
