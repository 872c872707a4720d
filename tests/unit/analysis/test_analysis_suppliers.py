"""Whose part failed, and what was known of a supplier's payments at the cut-off."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import duckdb
import pandas as pd
import pytest

from claimlens.db import Session


@pytest.fixture
def session() -> Iterator[Session]:
    with duckdb.connect() as connection:
        yield Session(connection)


def _empty(*names: str) -> pd.DataFrame:
    return pd.DataFrame({name: pd.array([], dtype="str") for name in names})


@pytest.mark.parametrize(
    ("others", "told"),
    [
        (["Lumo Lights"], True),
        (["LUMO-lights "], True),  # the same supplier
        (["Lumo Lights", "Glint Works"], False),
    ],
)
def test_the_only_supplier_of_a_component_is_told_however_his_name_is_written(
    session: Session, others: list[str], told: bool
) -> None:
    suppliers = ["Lumo Lights", *others]
    session.put(
        "int_claims",
        pd.DataFrame(
            {
                "claim_no": ["C1"],
                "serial_key": ["S1"],
                "component": ["headlight"],
                "failed_on": [pd.Timestamp("2025-06-01")],
            }
        ),
    )
    session.put("int_replaced", _empty("claim_no", "component", "supplier", "part_no"))
    session.put(
        "fitted_parts_known",
        _empty("serial", "component", "supplier", "part_no", "lot").assign(
            fitted_on=pd.Series(dtype="datetime64[s]"),
            removed_on=pd.Series(dtype="datetime64[s]"),
        ),
    )
    session.put(
        "parts_known",
        pd.DataFrame({"component": "headlight", "supplier": suppliers}, dtype="str"),
    )
    session.put(
        "component_words",
        pd.DataFrame({"text": ["headlight"], "component": ["headlight"]}),
    )
    session.run("intermediate/int_claim_suppliers")
    assert session.count("int_claim_suppliers") == int(told)


def _answers(session: Session, as_of: date) -> dict[str, object]:
    session.put(
        "responses_known",
        pd.DataFrame(
            {
                "supplier": ["Lumo Lights"],
                "question_no": ["Q1"],
                "component": ["headlight"],
                "part_no": [None],
                "claim_no": [None],
                "asked_on": [pd.Timestamp("2025-01-10")],
                "due_on": [pd.Timestamp("2025-02-10")],
                "charged_on": [pd.Timestamp("2025-03-01")],
                "answered_on": [pd.Timestamp("2025-04-01")],
                "answer": ["agreed"],
                "amount_charged": [100],
                "amount_accepted": [80],
                "amount_received": [80],
                "currency": ["EUR"],
            }
        ),
    )
    [row] = session.frame("marts/responses", {"as_of": as_of}).to_dict("records")
    return {
        name: None if pd.isna(value) else value
        for name, value in row.items()
        if name in ("charged_on", "charged_e4", "accepted_e4", "received_e4")
    }


def test_a_cut_off_knows_no_later_charge_and_no_later_payment(
    session: Session,
) -> None:
    assert set(_answers(session, date(2025, 2, 28)).values()) == {None}
    charged = _answers(session, date(2025, 3, 31))
    assert charged["charged_e4"] == 1_000_000
    # paid before it was answered: nobody could have known
    assert charged["accepted_e4"] is charged["received_e4"] is None
    after = _answers(session, date(2025, 4, 1))
    assert (after["accepted_e4"], after["received_e4"]) == (800_000, 800_000)
