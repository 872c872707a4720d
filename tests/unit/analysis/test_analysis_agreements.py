"""Shares of cost by agreement: which fits, what is shared, and why nothing is."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pandas as pd
import pytest

from claimlens.analysis.agreements import settle_shares, statement, terms_of
from claimlens.analysis.suppliers import Supplier
from claimlens.settings import AgreementSettings

SUPPLIER = Supplier(
    name="Quillfer", spellings=("Quillfer",), alone=("throttle",), fitted=(),
    unplaced=(),
)  # fmt: skip
CLAIM: dict[str, Any] = {
    "claim_class": "counted", "state": "settled", "failed_on": "2025-06-30",
    "part_no": "TH-2210-B", "age_days": 300, "finding": None, "currency": "EUR",
    "cost_parts_e4": 401_000, "cost_labour_e4": 210_500, "cost_freight_e4": 60_000,
    "cost_e4": 671_500,
}  # fmt: skip


def settled(*agreements: dict[str, Any], **changed: Any) -> tuple[Any, ...]:
    own = [
        AgreementSettings.model_validate({"supplier": "quillfer", **each})
        for each in agreements
    ]
    frame = pd.DataFrame([{**CLAIM, **changed}])
    row = settle_shares(frame, own, SUPPLIER).iloc[0]
    owed = None if pd.isna(row["owed"]) else row["owed"]
    return (owed, row["not_owed"])


@pytest.mark.parametrize(
    ("agreement", "owed"),
    [
        ({"share": 0.5}, "20.05"),
        ({"share": 0.5, "labour": True}, "30.58"),  # 30.575, half away from 0
        ({"share": 0.5, "labour": True, "freight": True}, "33.58"),
        ({"share": 1, "freight": True}, "46.10"),
        ({"share": 0}, "0.00"),
        ({"share": 0.5, "parts": ["th-22*"]}, "20.05"),
        ({"share": 0.5, "since": "2025-06-30", "until": "2025-06-30"}, "20.05"),
    ],
)
def test_what_is_shared_is_a_share_of_what_is_in(
    agreement: dict[str, Any], owed: str
) -> None:
    assert settled(agreement) == (Decimal(owed), "")


@pytest.mark.parametrize(
    "agreement",
    [
        {"share": 0.5, "parts": ["TW-*"]},
        {"share": 0.5, "since": "2025-07-01"},
        {"share": 0.5, "until": "2025-06-29"},
        {"share": 0.5, "within_months": 9},
        {"share": 0.5, "supplier": "Taldrin"},
    ],
)
def test_an_agreement_that_does_not_fit_owes_nothing(
    agreement: dict[str, Any],
) -> None:
    assert settled(agreement) == (None, "no agreement fits")


def test_the_first_agreement_that_fits_counts() -> None:
    first, second = {"share": 0.2, "until": "2025-01-31"}, {"share": 0.1}
    assert settled(first, second, {"share": 0.9}) == (Decimal("4.01"), "")


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"claim_class": "no fault found"}, "no fault found"),
        ({"claim_class": "goodwill"}, "goodwill"),
        ({"state": "open"}, "not decided yet"),
        ({"currency": ""}, "its cost has no currency"),
        (
            {"cost_parts_e4": None, "cost_labour_e4": None, "cost_freight_e4": None},
            "no cost told, or not by parts and labour",
        ),
    ],
)
def test_a_claim_without_a_share_says_why(changed: dict[str, Any], why: str) -> None:
    assert settled({"share": 0.5, "labour": True}, **changed) == (None, why)


def test_a_total_alone_is_shared_where_all_of_it_is() -> None:
    bare = {"cost_parts_e4": None, "cost_labour_e4": None, "cost_freight_e4": None}
    whole = {"share": 0.5, "labour": True, "freight": True}
    assert settled(whole, **bare) == (Decimal("33.58"), "")


def test_a_negative_cost_is_none() -> None:
    assert settled({"share": 0.5}, cost_parts_e4=-500_000) == (Decimal("0.00"), "")


def test_a_claim_without_a_part_is_in_no_list_of_parts() -> None:
    got = settled({"share": 0.5, "parts": ["*"]}, part_no=None)
    assert got == (None, "no agreement fits")


def test_an_inspection_must_have_confirmed_it_where_that_was_agreed() -> None:
    strict = {"share": 0.5, "confirmed": True}
    why = "no inspection has confirmed the fault"
    assert settled(strict) == (None, why)
    assert settled(strict, finding="no fault found") == (None, why)
    assert settled(strict, finding="confirmed fault") == (Decimal("20.05"), "")


def test_the_statement_keeps_currencies_apart() -> None:
    claims = pd.DataFrame([CLAIM, {**CLAIM, "currency": "CHF"}, CLAIM])
    own = [AgreementSettings(supplier="Quillfer", share=Decimal("0.5"))]
    shared = pd.concat([claims, settle_shares(claims, own, SUPPLIER)], axis=1)
    responses = pd.DataFrame(
        {
            "currency": ["EUR", "GBP"],
            "charged_e4": [300_000, None],
            "accepted_e4": [250_000, 10_000],
            "received_e4": [None, 5_000],
        }
    ).astype({"charged_e4": "Int64", "accepted_e4": "Int64", "received_e4": "Int64"})
    rows = statement(shared, responses).set_index("currency")
    assert list(rows.index) == ["CHF", "EUR", "GBP"]
    assert rows.loc["EUR", "owed"] == Decimal("40.10")
    assert rows.loc["EUR", "not_charged"] == Decimal("10.10")
    assert rows.loc["EUR", "not_received"] == Decimal("25.00")
    assert rows.loc["CHF", "owed"] == Decimal("20.05")
    assert rows.loc["GBP", "not_received"] == Decimal("0.50")


def test_an_agreement_is_told_in_words() -> None:
    own = AgreementSettings.model_validate(
        {
            "supplier": "Quillfer", "share": 0.125, "labour": True,
            "parts": ["TH-22*"], "since": "2025-01-01", "within_months": 24,
            "confirmed": True,
        }
    )  # fmt: skip
    other = AgreementSettings(supplier="Taldrin", share=Decimal(1))
    [told] = terms_of([other, own], SUPPLIER)
    assert told.place == 2
    assert told.words == (
        "12.5 % of the cost of the parts and labour; parts TH-22*; failures from "
        "2025-01-01; within 24 months in service; fault confirmed by inspection"
    )
