"""The claims on one supplier's parts, and what he answered, as he may see them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal

import pandas as pd

from claimlens.analysis.scope import Scope
from claimlens.analysis.suppliers import Supplier
from claimlens.db import Session
from claimlens.redact import Redacted, Redactor, Removal, counts
from claimlens.stats.unit_months import DAYS_PER_MONTH

__all__ = ["SupplierClaims", "supplier_claims"]

#: The columns of claims that a supplier may see; all others stay.
ALLOWED = (
    "claim_no", "serial", "model", "model_year", "build_date", "build_lot",
    "in_service_date", "failed_on", "reported_on", "age_months", "component",
    "failure_mode", "part_no", "lot", "told_by", "class", "state", "finding",
    "inspected_on", "cost_parts", "cost_labour", "cost_freight", "currency",
    "safety", "narrative", "technician_note", "resolution", "finding_note",
)  # fmt: skip
_TEXTS = ("narrative", "technician_note", "resolution", "finding_note")
_CODES = ("model", "build_lot", "part_no", "lot")
_COSTS = ("cost_parts", "cost_labour", "cost_freight")
_ASKED = (
    "question_no", "component", "part_no", "claim_no", "asked_on", "due_on",
    "answered_on", "answer", "charged_on", "charged", "accepted", "received",
    "currency",
)  # fmt: skip
_E4 = Decimal("0.0001")


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierClaims:
    """Claims and answers, as they are and as they may leave.

    Parameters
    ----------
    raw, raw_responses : DataFrame
        Rows of ``supplier_claims`` and ``responses``.
    claims : DataFrame
        ``ALLOWED``, a row for each of ``raw``: serials shortened, texts without
        what tells of a person.
    responses : DataFrame
        The same of what he was asked and answered.
    by_month : DataFrame
        ``month, claims, counted`` by month of report, gapless.
    removed : DataFrame
        ``kind, pieces``: what was taken out of the texts.
    """

    raw: pd.DataFrame
    raw_responses: pd.DataFrame
    claims: pd.DataFrame
    responses: pd.DataFrame
    by_month: pd.DataFrame
    removed: pd.DataFrame


def supplier_claims(
    session: Session,
    scope: Scope,
    supplier: Supplier,
    redactor: Redactor,
) -> SupplierClaims:
    """Read the claims on his parts, and take out what tells of persons.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    scope : Scope
        Cut-off in force.
    supplier : Supplier
        Whose parts.
    redactor : Redactor
        For the texts and serials.

    Returns
    -------
    SupplierClaims
    """
    session.run("intermediate/int_claim_suppliers")
    raw = session.frame(
        "marts/supplier_claims",
        {"suppliers": list(supplier.spellings), "as_of": scope.as_of},
    )
    answers = session.frame("marts/responses", {"as_of": scope.as_of})
    answers = answers[answers["supplier"].map(supplier.is_meant_by).astype(bool)]
    answers = answers.reset_index(drop=True)
    removed: list[Removal] = []
    claims = _allowed(raw, redactor, removed)
    responses = answers.assign(
        answer=_redacted(answers["answer"], redactor.redact, removed),
        component=_redacted(answers["component"], redactor.redact, removed),
        **{
            name: _amounts(answers[f"{name}_e4"])
            for name in ("charged", "accepted", "received")
        },
    )[list(_ASKED)]
    # what one text gave away is known for all of them by now
    claims = claims.assign(
        **{name: _redacted(claims[name], redactor.sweep, removed) for name in _TEXTS}
    )
    responses = responses.assign(
        answer=_redacted(responses["answer"], redactor.sweep, removed)
    )
    found = counts(removed)
    return SupplierClaims(
        raw=raw,
        raw_responses=answers,
        claims=claims,
        responses=responses,
        by_month=_by_month(raw, scope),
        removed=pd.DataFrame(sorted(found.items()), columns=["kind", "pieces"]),
    )


def _allowed(
    raw: pd.DataFrame, redactor: Redactor, removed: list[Removal]
) -> pd.DataFrame:
    """Return the columns that he may see, made fit for his eyes."""
    made = raw.assign(
        serial=[
            redactor.serial(serial) if isinstance(serial, str) else None
            for serial in raw["serial"]
        ],
        age_months=raw["age_days"] / DAYS_PER_MONTH,
        **{name: _amounts(raw[f"{name}_e4"]) for name in _COSTS},
        **{name: _redacted(raw[name], redactor.redact, removed) for name in _TEXTS},
        **{name: _as_told(raw[name]) for name in _CODES},
    ).rename(columns={"claim_class": "class"})
    return made[list(ALLOWED)]


def _as_told(values: pd.Series) -> pd.Series:
    """Return codes as text, missing ones as such."""
    told = [value if isinstance(value, str) else None for value in values]
    return pd.Series(told, index=values.index, dtype="str")


def _redacted(
    texts: Iterable[object],
    take_out: Callable[[str], Redacted],
    removed: list[Removal],
) -> list[str | None]:
    """Return texts without what tells of a person, and note what was removed."""
    result: list[str | None] = []
    for text in texts:
        if not isinstance(text, str):
            result.append(None)
            continue
        clean = take_out(text)
        removed.extend(clean.removed)
        result.append(clean.text)
    return result


def _amounts(values: pd.Series) -> list[Decimal | None]:
    """Return amounts that came in ten-thousandths."""
    return [None if pd.isna(value) else int(value) * _E4 for value in values]


def _by_month(raw: pd.DataFrame, scope: Scope) -> pd.DataFrame:
    """Count claims by month of report, from the first to the last."""
    if raw.empty:
        return pd.DataFrame(columns=["month", "claims", "counted"])
    month = raw["reported_on"].dt.to_period("M").dt.to_timestamp()
    counted = raw["claim_class"].eq("counted").astype(int)
    months = pd.date_range(month.min(), pd.Timestamp(scope.as_of), freq="MS")
    table = counted.groupby(month).agg(["size", "sum"]).reindex(months, fill_value=0)
    return pd.DataFrame(
        {
            "month": months,
            "claims": table["size"].to_numpy(),
            "counted": table["sum"].to_numpy(),
        }
    )
