"""Spare parts as a table: what to hold and to order, and what a reader must know."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from difflib import get_close_matches

import pandas as pd

from claimlens.analysis.notes import joined
from claimlens.analysis.scope import Scope
from claimlens.analysis.spares import Need, Spares
from claimlens.analysis.spares_parts import Part
from claimlens.errors import InputError
from claimlens.ingest.stock import StockLine
from claimlens.settings import Settings
from claimlens.stats.order_quantity import chance_above, order_size, to_hold

__all__ = ["SPARES_COLUMNS", "spares_table"]

SPARES_COLUMNS = (
    "part_no", "description", "supplier", "component", "other_parts", "replaces",
    "lead_time_days", "lead_time_source", "demand_mean", "quantity_to_hold",
    "runs_out", "runs_out_at_half", "on_hand", "on_order", "order", "last_buy",
    "last_buy_until", "unit_cost", "currency", "order_cost", "note", "as_of",
)  # fmt: skip

_PIECES = ("quantity_to_hold", "on_hand", "on_order", "order", "last_buy")
_COMPONENTS_NAMED = 3
_CENT = Decimal("0.01")

Record = dict[str, object]


def spares_table(
    found: Spares,
    settings: Settings,
    scope: Scope,
    *,
    shown: Mapping[str, tuple[str, ...]] | None = None,
) -> pd.DataFrame:
    """Return one row for each part that is sent today.

    Parameters
    ----------
    found : Spares
        Parts and their demand.
    settings : Settings
        Time between orders.
    scope : Scope
        Cut-off, and what to tell with every number.
    shown : mapping, optional
        ``component`` and ``supplier``: only parts of these.

    Returns
    -------
    pandas.DataFrame
        ``SPARES_COLUMNS`` by part number. ``demand_mean`` is in pieces from the
        cut-off to the end of the lead time and one review period; ``order`` is empty
        where no stock is told, a demand where nothing tells it. ``unit_cost`` and
        ``order_cost`` are Decimal.

    Raises
    ------
    InputError
        If no part is known, or none is of the component or supplier asked for.
    """
    keys = _listed_keys(found, is_filtered=bool(scope.wanted))
    others = _other_parts(found)
    rows = [
        _row(found, key, others.get(key, ()))
        for key in keys
        if _is_shown(found, key, shown or {})
    ]
    if not shown:
        rows += _unknown_rows(found)
    if not rows:
        raise _no_parts(shown or {})
    common = _assumed(found, settings, scope)
    table = pd.DataFrame(rows)
    table["note"] = [joined([str(note), *common]) for note in table["note"]]
    table["as_of"] = pd.Timestamp(scope.as_of)
    for name in (*_PIECES, "lead_time_days"):
        table[name] = table[name].astype("Int64")
    for name in ("demand_mean", "runs_out", "runs_out_at_half"):
        table[name] = table[name].astype("float64")
    table["last_buy_until"] = pd.to_datetime(table["last_buy_until"])
    return table[list(SPARES_COLUMNS)].sort_values("part_no", ignore_index=True)


def _no_parts(shown: Mapping[str, tuple[str, ...]]) -> InputError:
    if not shown:
        return InputError(
            "Neither a parts list nor a claim names a part.",
            remedy="load a parts list: claimlens ingest FILE",
        )
    asked = " and ".join(f"{key} {', '.join(to)}" for key, to in shown.items())
    return InputError(
        f"No part is of the {asked}.",
        remedy="ask without the filter: the columns list what there is",
    )


def _listed_keys(found: Spares, *, is_filtered: bool) -> list[str]:
    """Return the parts that have a row, known ones that are of no use left out."""
    keys = []
    for key, part in found.listed.parts.items():
        is_used = bool(found.needs[key].pools)
        is_known = part.is_listed or bool(part.replaces) or key in found.shelf.lines
        if is_used or (is_known and not is_filtered):
            keys.append(key)
    return keys


def _is_shown(found: Spares, key: str, shown: Mapping[str, tuple[str, ...]]) -> bool:
    part = found.listed.parts[key]
    return part.component in shown.get("component", (part.component,)) and (
        part.supplier in shown.get("supplier", (part.supplier,))
    )


def _other_parts(found: Spares) -> dict[str, list[str]]:
    """Return the parts that may be sent for every unit for which each one is sent."""
    parts, kinds = found.listed.parts, found.fleet.kinds
    alike: dict[str, dict[str, frozenset[int]]] = {}
    for key, part in parts.items():
        if part.component is not None:
            fits = frozenset(n for n, kind in enumerate(kinds) if part.fits_unit(kind))
            alike.setdefault(part.component, {})[key] = fits
    return {
        key: [
            parts[other].part_no
            for other, wider in fits.items()
            if other != key and own <= wider
        ]
        for fits in alike.values()
        for key, own in fits.items()
        if own
    }


def _row(found: Spares, key: str, others: Iterable[str]) -> Record:
    part, need = found.listed.parts[key], found.needs[key]
    line = found.shelf.lines.get(key)
    days, source = found.lead[key]
    row: Record = dict.fromkeys(SPARES_COLUMNS)
    row |= {
        "part_no": part.part_no,
        "description": part.description,
        "supplier": part.supplier,
        "component": part.component or _components_of(need, key),
        "other_parts": ", ".join(others) or None,
        "replaces": ", ".join(part.replaces) or None,
        "lead_time_days": days,
        "lead_time_source": source,
        "unit_cost": part.unit_cost,
        "currency": part.currency,
    }
    if line is not None:
        row |= {"on_hand": line.on_hand, "on_order": line.on_order}
    if need.pools:
        drawn = found.drawn(key)
        hold = int(to_hold(drawn, found.level))
        row |= {
            "demand_mean": need.demand.mean,
            "quantity_to_hold": hold,
            "runs_out": float(chance_above(drawn, hold)),
            "runs_out_at_half": float(chance_above(drawn, hold // 2)),
        }
        if line is not None:
            row |= _orders(found, key, line, hold)
            row["order_cost"] = _cost(row["order"], part)
    row["note"] = joined(_notes(found, part, need, row))
    return row


def _components_of(need: Need, key: str) -> str | None:
    """Return the components whose claims take a part, the commonest first."""
    seen = sorted(
        ((-pool.takes[key].n_seen, pool.component) for pool in need.pools),
    )
    named = list(dict.fromkeys(component for _, component in seen))
    more = len(named) - _COMPONENTS_NAMED
    told = ", ".join(named[:_COMPONENTS_NAMED])
    return (f"{told} and {more} more" if more > 0 else told) or None


def _orders(found: Spares, key: str, line: StockLine, hold: int) -> Record:
    """Return what to order now, and what to buy last of a part that ends."""
    there = line.on_hand + line.on_order
    rules = {"minimum": line.minimum_order, "pack": line.pack_size}
    order = order_size(hold - there, **rules)
    end = found.needs[key].end
    if line.last_order_date is None or end is None:
        return {"order": order}
    total = int(to_hold(found.drawn(key, last_buy=True), found.level))
    total = max(total, hold)  # two sets of draws may differ by a piece
    last_buy = order_size(total - there, **rules)
    is_over = line.last_order_date < found.as_of
    is_last = line.last_order_date < found.next_order
    return {
        # what cannot be ordered the next time must be ordered now
        "order": None if is_over else last_buy if is_last else order,
        "last_buy": last_buy,
        "last_buy_until": pd.Timestamp(end),
    }


def _cost(order: object, part: Part) -> Decimal | None:
    if order is None or part.unit_cost is None:
        return None
    return (Decimal(str(order)) * part.unit_cost).quantize(_CENT)


def _notes(found: Spares, part: Part, need: Need, row: Record) -> Iterable[str]:
    """Yield what a reader must know of one part."""
    if part.is_circle:
        yield "its superseding parts run in a circle: check the parts list"
    if not part.is_listed:
        yield "not in the parts list"
    yield from _demand_notes(found, part, need)
    if row["quantity_to_hold"] == 0:
        yield f"the chance that any is needed by {need.until} is {row['runs_out']:.2%}"
    if row["lead_time_source"] == "assumed":
        yield f"lead time not told: {row['lead_time_days']} days assumed"
    line = found.shelf.lines.get(part.key)
    if found.shelf.is_told and line is None:
        yield "not in the stock file: no order suggested"
    for number in part.replaces:
        older = found.shelf.lines.get(number.upper())
        if older is not None and older.on_hand + older.on_order:
            yield (
                f"{older.on_hand} on hand and {older.on_order} on order of {number}, "
                "which it replaces, are not counted: use them first where they may "
                "still be fitted"
            )
    if line is not None and line.last_order_date is not None:
        yield _end_note(line, need, found.as_of)


def _demand_notes(found: Spares, part: Part, need: Need) -> Iterable[str]:
    if not need.pools:
        yield (
            "demand not known: "
            + (
                "no unit in sight is one that it is listed for"
                if part.component is not None
                else "it has no component, and no claim of the last 2 years took it"
            )
        )
        return
    if need.last_cover is None:
        yield "no unit that it fits is in service"
    elif need.last_cover <= found.as_of:
        yield (
            f"the last cover of a unit that it fits ended on {need.last_cover}: no "
            "claim is to come but late reports"
        )
    for component in need.unseen:
        yield (
            f"no claim for {component} yet: half a claim over all months under cover "
            "assumed"
        )
    n_seen = sum(pool.takes[part.key].n_seen for pool in need.pools)
    n_claims = sum(pool.n_claims for pool in need.pools)
    if n_claims == 0:
        yield (
            "without history: one piece a claim assumed, shared by the parts that fit"
        )
    elif n_seen == 0:
        yield (
            f"without history: {n_claims} claims seen, none took it; one that was not "
            "seen is added, shared by the parts that fit"
        )


def _end_note(line: StockLine, need: Need, as_of: date) -> str:
    if line.last_order_date is None or need.end is None:
        return "no last buy: nothing tells how long it will be needed"
    if line.last_order_date < as_of:
        return (
            f"cannot be ordered since {line.last_order_date}; last_buy is what is "
            f"missing until {need.end}"
        )
    return f"last order by {line.last_order_date}, to last until {need.end}"


def _unknown_rows(found: Spares) -> list[Record]:
    """Return the parts of the stock file that neither parts list nor claims name."""
    rows = []
    names = {key: part.part_no for key, part in found.listed.parts.items()}
    for key, line in found.shelf.lines.items():
        if key in found.listed.sent:
            continue
        near = get_close_matches(key, list(names), 1, 0.85)
        row: Record = dict.fromkeys(SPARES_COLUMNS)
        row |= {
            "part_no": line.part_no,
            "lead_time_days": line.lead_time_days,
            "lead_time_source": None if line.lead_time_days is None else "stock file",
            "on_hand": line.on_hand,
            "on_order": line.on_order,
            "note": f"demand not known: {line.place} of the stock file names a part "
            "that neither the parts list nor any claim knows"
            + (f"; did you mean {names[near[0]]}?" if near else ""),
        }
        rows.append(row)
    return rows


def _assumed(found: Spares, settings: Settings, scope: Scope) -> list[str]:
    """Say what the numbers take for granted."""
    rules = settings.spares
    fleet = found.fleet.found
    told = [
        f"quantity that suffices with a chance of {found.level:.1%} for the lead time "
        f"and {rules.review_months:g} month{'' if rules.review_months == 1 else 's'} "
        "between orders",
        found.note,
        "claims reported by the cut-off are taken as served; goodwill, claims outside "
        "cover and later sales are not in it",
        f"{fleet.n_draws:,} draws with seed {fleet.seed}",
    ]
    if any(need.end for need in found.needs.values()) and rules.service_years:
        told.append(
            f"last buy for {rules.service_years:g} years after "
            + (
                "the last cover"
                if rules.service_from == "coverage"
                else "the last sale"
            )
            + f", where units out of cover need {rules.after_cover_share:.0%} of what "
            "they needed under it"
        )
    if found.shelf.skipped:
        told.append(
            f"{found.shelf.skipped} lines of the stock file were taken for no rows "
            "(blanks, totals, notes)"
        )
    return [*told, *scope.notes]
