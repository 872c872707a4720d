"""What a supplier owes by agreement: shares of the cost of claims, to the cent."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from fnmatch import fnmatchcase

import pandas as pd

from claimlens.analysis.money import CENT
from claimlens.analysis.suppliers import Supplier
from claimlens.report_inputs.supplier import SupplierTerms
from claimlens.settings import AgreementSettings
from claimlens.stats.unit_months import DAYS_PER_MONTH

__all__ = ["SHARE_COLUMNS", "settle_shares", "statement", "terms_of"]

SHARE_COLUMNS = ("agreement", "share", "owed", "not_owed")

_E4 = Decimal("0.0001")
# classes in which the supplier's part has failed under cover
_OWN_FAULT = "counted"


def settle_shares(
    claims: pd.DataFrame, agreements: Sequence[AgreementSettings], supplier: Supplier
) -> pd.DataFrame:
    """Say of each claim what the supplier owes, or why he owes nothing.

    Parameters
    ----------
    claims : DataFrame
        Rows of ``supplier_claims``.
    agreements : sequence of AgreementSettings
        Those of the workspace; the first that fits a claim counts.
    supplier : Supplier
        Whose claims they are.

    Returns
    -------
    DataFrame
        ``SHARE_COLUMNS``, a row for each claim: the place of the agreement from 1
        (missing where none fits), its ``share``, what is ``owed`` in the claim's
        currency (Decimal, missing where nothing can be owed), and why not.
    """
    own = [
        (place, agreement)
        for place, agreement in enumerate(agreements, start=1)
        if supplier.is_meant_by(agreement.supplier)
    ]
    rows = [_settled(row, own) for row in claims.to_dict("records")]
    return pd.DataFrame(rows, columns=list(SHARE_COLUMNS), index=claims.index)


def _settled(
    claim: dict[object, object], own: Iterable[tuple[int, AgreementSettings]]
) -> tuple[object, ...]:
    """Return the agreement, share, amount and reason of one claim."""
    if claim["claim_class"] != _OWN_FAULT:
        return (None, None, None, str(claim["claim_class"]))
    if claim["state"] != "settled":
        return (None, None, None, "not decided yet")
    for place, agreement in own:
        if _fits(claim, agreement):
            owed, why_not = _owed(claim, agreement)
            return (place, agreement.share, owed, why_not)
    return (None, None, None, "no agreement fits")


def _owed(
    claim: dict[object, object], agreement: AgreementSettings
) -> tuple[Decimal | None, str]:
    """Return what is owed by an agreement that fits, or why nothing is."""
    if agreement.confirmed and claim["finding"] != "confirmed fault":
        return None, "no inspection has confirmed the fault"
    cost = _shared_cost(claim, agreement)
    if cost is None:
        return None, "no cost told, or not by parts and labour"
    if not claim["currency"]:
        return None, "its cost has no currency"
    return (cost * agreement.share).quantize(CENT, ROUND_HALF_UP), ""


def _fits(claim: dict[object, object], agreement: AgreementSettings) -> bool:
    failed = pd.Timestamp(str(claim["failed_on"])).date()
    if not (agreement.since or date.min) <= failed <= (agreement.until or date.max):
        return False
    part = claim["part_no"]
    if agreement.parts:
        # a claim that names no part is one of none of them
        if not isinstance(part, str):
            return False
        named = part.casefold()
        if not any(fnmatchcase(named, p.casefold()) for p in agreement.parts):
            return False
    age = claim["age_days"]
    if agreement.within_months is not None:
        if pd.isna(age):
            return False
        return float(str(age)) <= agreement.within_months * DAYS_PER_MONTH
    return True


def _shared_cost(
    claim: dict[object, object], agreement: AgreementSettings
) -> Decimal | None:
    """Return what is shared of a claim's cost; None where that is not told."""
    parts, labour, freight, total = (
        _amount(claim[name])
        for name in ("cost_parts_e4", "cost_labour_e4", "cost_freight_e4", "cost_e4")
    )
    if parts is None and labour is None and freight is None:
        return total if agreement.labour and agreement.freight else None
    wanted = [
        parts,
        labour if agreement.labour else None,
        freight if agreement.freight else None,
    ]
    return sum((each for each in wanted if each is not None), Decimal(0))


def _amount(value: object) -> Decimal | None:
    """Return an amount that came in ten-thousandths; never below 0."""
    if pd.isna(value):
        return None
    return max(int(str(value)) * _E4, Decimal(0))


def statement(claims: pd.DataFrame, responses: pd.DataFrame) -> pd.DataFrame:
    """Add up what is owed, charged, accepted and received, by currency.

    Parameters
    ----------
    claims : DataFrame
        Rows of ``supplier_claims`` with ``SHARE_COLUMNS``.
    responses : DataFrame
        Rows of ``responses`` of the same supplier.

    Returns
    -------
    DataFrame
        One row a currency in alphabetical order: ``currency, claims, cost_parts,
        cost_labour, cost_freight, owed, charged, accepted, received, not_charged,
        not_received`` (Decimal): the costs are those of the claims that something is
        owed for; ``not_charged`` is owed less charged, ``not_received`` accepted less
        received.
    """
    owed = claims[claims["owed"].notna()]
    currencies = sorted(
        {*owed["currency"], *responses.loc[_has_money(responses), "currency"]}
    )
    rows = []
    for currency in currencies:
        own = owed[owed["currency"] == currency]
        told = responses[responses["currency"] == currency]
        row = {
            "currency": currency,
            "claims": len(own),
            **{
                name: _sum_e4(own[f"{name}_e4"])
                for name in ("cost_parts", "cost_labour", "cost_freight")
            },
            "owed": sum(own["owed"], Decimal(0)),
            **{
                name: _sum_e4(told[f"{name}_e4"])
                for name in ("charged", "accepted", "received")
            },
        }
        row["not_charged"] = row["owed"] - row["charged"]
        row["not_received"] = row["accepted"] - row["received"]
        rows.append(row)
    return pd.DataFrame(
        rows,
        columns=[
            "currency", "claims", "cost_parts", "cost_labour", "cost_freight", "owed",
            "charged", "accepted", "received", "not_charged", "not_received",
        ],
    )  # fmt: skip


def terms_of(
    agreements: Sequence[AgreementSettings], supplier: Supplier
) -> tuple[SupplierTerms, ...]:
    """Return the agreements with a supplier in words.

    Parameters
    ----------
    agreements : sequence of AgreementSettings
        Those of the workspace.
    supplier : Supplier
        Whose.
    """
    return tuple(
        SupplierTerms(place, _words(agreement))
        for place, agreement in enumerate(agreements, start=1)
        if supplier.is_meant_by(agreement.supplier)
    )


def _words(agreement: AgreementSettings) -> str:
    """Say what an agreement says."""
    beside = [
        name
        for name, is_in in (
            ("labour", agreement.labour),
            ("freight", agreement.freight),
        )
        if is_in
    ]
    parts = f"parts {', '.join(agreement.parts)}" if agreement.parts else "all parts"
    limits = [
        f"failures from {agreement.since}" if agreement.since else "",
        f"failures up to {agreement.until}" if agreement.until else "",
        f"within {agreement.within_months:g} months in service"
        if agreement.within_months is not None
        else "",
        "fault confirmed by inspection" if agreement.confirmed else "",
    ]
    shared = " and ".join(["the parts", *beside])
    return "; ".join(
        [
            f"{100 * agreement.share:f}".rstrip("0").rstrip(".")
            + f" % of the cost of {shared}",
            parts,
            *filter(None, limits),
        ]
    )


def _has_money(responses: pd.DataFrame) -> pd.Series:
    money = responses[["charged_e4", "accepted_e4", "received_e4"]]
    return money.notna().any(axis=1)


def _sum_e4(values: pd.Series) -> Decimal:
    known = [max(int(value), 0) for value in values.dropna()]
    return (sum(known) * _E4).quantize(CENT, ROUND_HALF_UP)
