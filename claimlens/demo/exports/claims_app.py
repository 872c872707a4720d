"""The service app's claims export: JSON Lines with nested records."""

from __future__ import annotations

import json
from typing import Any

import pandas as pd

from claimlens.demo.exports.lines import source_block
from claimlens.demo.exports.model import Export, FileTruth, RowTruth

__all__ = ["app_blocks", "app_export"]

STATE = {
    "open": "received",
    "approved": "accepted",
    "denied": "refused",
    "cancelled": "withdrawn",
    "closed": "done",
}
COLUMNS = {
    "id": "claim_no",
    "state": "status",
    "reason": "decision_reason",
    "dates.reported": "reported_on",
    "dates.failed": "failed_on",
    "dates.decided": "decided_on",
    "dates.done": "closed_on",
    "dates.changed": "updated_at",
    "unit.serial": "serial",
    "unit.model": "model",
    "unit.year": "model_year",
    "unit.sold": "in_service_date",
    "unit.distance.value": "usage",
    "unit.distance.unit": "usage_unit",
    "dealer.country": "region",
    "dealer.code": "dealer",
    "text.rider": "narrative",
    "text.workshop": "technician_note",
    "text.done": "resolution",
    "money.asked": "amount_requested",
    "money.granted": "amount_approved",
    "money.parts": "cost_parts",
    "money.labour": "cost_labour",
    "money.freight": "cost_freight",
    "money.total": "cost_total",
    "money.currency": "currency",
    "goodwill": "goodwill",
}


def _record(row: Any, parts: list[dict[str, Any]]) -> dict[str, Any]:
    """Return one claim as the app nests it."""
    zone = "+02:00"
    return {
        "id": row.claim_no,
        "state": STATE[row.status],
        "reason": _text(row.decision_reason),
        "goodwill": row.goodwill,
        "dates": {
            "reported": f"{row.reported_on:%Y-%m-%d}T12:00:00{zone}",
            "failed": _day(row.failed_on),
            "decided": _day(row.decided_on),
            "done": _day(row.closed_on),
            "changed": f"{row.updated_at:%Y-%m-%dT%H:%M:%S}",
        },
        "unit": {
            "serial": row.serial,
            "model": row.model,
            "year": int(row.model_year),
            "sold": _day(row.in_service_date),
            "distance": None
            if pd.isna(row.usage)
            else {"value": int(row.usage), "unit": row.usage_unit},
        },
        "dealer": {"country": row.region, "code": row.dealer},
        "text": {
            "rider": _text(row.narrative),
            "workshop": _text(row.technician_note),
            "done": _text(row.resolution),
        },
        "money": {
            "currency": row.currency,
            "asked": _amount(row.amount_requested),
            "granted": _amount(row.amount_approved),
            "parts": _amount(row.cost_parts),
            "labour": _amount(row.cost_labour),
            "freight": _amount(row.cost_freight),
            "total": _amount(row.cost_total),
        },
        "parts": parts,
    }


def _text(value: Any) -> str | None:
    return None if pd.isna(value) else str(value)


def _day(value: Any) -> str | None:
    return None if pd.isna(value) else f"{value:%Y-%m-%d}"


def _amount(value: Any) -> float | None:
    return None if pd.isna(value) else float(value)


def app_export(name: str, claims: pd.DataFrame, parts: pd.DataFrame) -> Export:
    """Write the claims of the app with the parts used in each.

    Parameters
    ----------
    name : str
        File name, ``.jsonl``.
    claims : DataFrame
        Canonical claims, in the order of the file.
    parts : DataFrame
        Canonical ``claim_parts``; those of other claims are left out.
    """
    used: dict[str, list[dict[str, Any]]] = {}
    mine = parts[parts["claim_no"].isin(set(claims["claim_no"]))]
    for part in mine.itertuples(index=False):
        used.setdefault(str(part.claim_no), []).append(
            {
                "number": part.part_no,
                "count": int(str(part.quantity)),
                "price": _amount(part.unit_cost),
                "currency": part.currency,
            }
        )
    lines: list[str] = []
    rejected: list[RowTruth] = []
    damaged = {len(claims) * k // 4: k for k in (1, 2, 3)}
    for index, row in enumerate(claims.itertuples(index=False)):
        record = _record(row, used.get(str(row.claim_no), []))
        lines.append(json.dumps(record, ensure_ascii=False))
        if index not in damaged:
            continue
        record = json.loads(lines[-1]) | {"parts": []}
        column: str | None = None
        if damaged[index] == 1:
            lines.append(lines[-1][: len(lines[-1]) // 2])
        elif damaged[index] == 2:
            record["id"], column = None, "claim_no"
            lines.append(json.dumps(record, ensure_ascii=False))
        else:
            record["id"], column = "SX-000000", "reported_on"
            record["dates"]["reported"] = "2024-02-30"
            lines.append(json.dumps(record, ensure_ascii=False))
        why = ("", "cut line", "no claim number", "no such day")[damaged[index]]
        rejected.append(RowTruth(len(lines), column, why))
    truth = FileTruth(
        file=name, kind="claims", rows_read=len(lines), rejected=tuple(rejected)
    )
    # the cut line is a broken record for whoever reads the file
    part_truth = FileTruth(
        file=name,
        kind="claim_parts",
        rows_read=len(mine) + 1,
        rejected=tuple(r for r in rejected if r.column is None),
    )
    return Export(
        name=name,
        content=("\n".join(lines) + "\n").encode(),
        truths=(truth, part_truth),
        blocks=app_blocks(),
    )


def app_blocks() -> tuple[str, str]:
    """Return the source blocks of the claims and of the parts within them."""
    claims = source_block(
        name="service-app",
        files="service_app*.jsonl",
        kind="claims",
        options={"date_format": "yyyy-mm-dd", "decimal": "."},
        columns=COLUMNS,
        values={"status": {theirs: ours for ours, theirs in STATE.items()}},
    )
    parts = source_block(
        name="service-app-parts",
        files="service_app*.jsonl",
        kind="claim_parts",
        options={"records": "parts", "decimal": "."},
        columns={
            "^id": "claim_no",
            "number": "part_no",
            "count": "quantity",
            "price": "unit_cost",
            "currency": "currency",
        },
    )
    return claims, parts
