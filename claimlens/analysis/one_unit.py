"""The tables of one unit alone: the same rules, and nothing to wait for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pandas as pd

from claimlens.analysis.cover import watch_cover
from claimlens.analysis.cover_terms import put_cover
from claimlens.analysis.evidence import read_claims
from claimlens.analysis.learning import usable_model
from claimlens.analysis.question import Question
from claimlens.analysis.sales_lag import put_sales_lag
from claimlens.analysis.scope import cut_off, open_known, put_component_words
from claimlens.analysis.shipments import put_shipments
from claimlens.classify.learned import Learned
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings

__all__ = ["UnitCard", "prepare_unit"]

_KINDS = (
    "units", "claims", "claim_parts", "findings", "labels", "unit_changes",
    "fitted_parts", "shipments",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitCard:
    """What is known of a unit itself.

    Parameters
    ----------
    serial : str
        As the register writes it.
    row : pandas.Series
        Columns of ``unit_card``.
    in_service_date : date or None
        First day in service; None where nothing tells it.
    in_service_source : str
        ``register`` (or a claim), ``estimated``, or empty.
    as_of : date
        Cut-off in force.
    notes : tuple of str
        What to tell with the answer.
    """

    serial: str
    row: pd.Series
    in_service_date: date | None
    in_service_source: str
    as_of: date
    notes: tuple[str, ...]

    def text(self, name: str) -> str | None:
        """Return a column as text; None where it is empty."""
        value = self.row[name]
        return None if pd.isna(value) else str(value)

    def day(self, name: str) -> date | None:
        """Return a column as a date; None where it is empty."""
        value = self.row[name]
        return None if pd.isna(value) else pd.Timestamp(value).date()


def prepare_unit(
    session: Session,
    settings: Settings,
    serial: str,
    *,
    terms: Terms,
    question: Question,
    learned: Learned | None = None,
) -> UnitCard:
    """Make the tables that cover and claims are judged by, for one unit alone.

    Parameters
    ----------
    session : Session
        On the warehouse.
    settings : Settings
        Coverage and counting rules.
    serial : str
        The unit; capitals and blanks around it do not matter.
    terms : Terms
        For claims not read yet.
    question : Question
        Cut-off and known-by date; its filters have no meaning here.
    learned : Learned, optional
        As for `claimlens.analysis.scope.prepare`.

    Returns
    -------
    UnitCard

    Raises
    ------
    InputError
        If neither the register nor a claim knows the unit; the nearest serials are
        offered.
    """
    key = serial.strip().upper()
    session.put("wanted", pd.DataFrame({"column_name": [], "value": []}, dtype="str"))
    open_known(session, question.as_known)
    as_of, notes = cut_off(session, question)
    found = session.frame("marts/unit_card", {"serial_key": key, "as_of": as_of})
    if found.empty or pd.isna(found.iloc[0]["serial"]):
        raise _unknown(session, serial, key)
    card = _card(found.iloc[0], as_of, notes)
    session.run(
        "staging/one_unit",
        {"serial_key": key, "in_service_date": card.in_service_date},
    )
    for kind in _KINDS:
        session.alias(f"{kind}_known", f"one_{kind}")
    model = usable_model(
        learned, settings, terms, as_of=as_of, as_known=question.as_known
    )
    read_claims(session, settings, terms, as_of=as_of, learned=model.learned)
    put_component_words(session, terms)
    put_cover(session, settings, terms.taxonomy)
    session.run("intermediate/int_shipped", {"as_of": as_of})
    session.run("intermediate/int_units", {"as_of": as_of})
    session.run("intermediate/int_cover")
    sales_lag = put_sales_lag(session, settings, as_of)
    put_shipments(session, settings, as_of, sales_lag)
    session.run(
        "intermediate/int_service",
        {"as_of": as_of, "share_dated": sales_lag.dates.share_dated},
    )
    watch_cover(session, settings, as_of)
    return card


def _unknown(session: Session, serial: str, key: str) -> InputError:
    near = session.frame("marts/near_serials", {"serial_key": key})["serial"].tolist()
    return InputError(
        f"No unit and no claim has the serial {serial.strip()[:60]!r}.",
        remedy="did you mean " + ", ".join(near) + "?"
        if near
        else "check the serial; no other one looks like it",
    )


def _card(row: pd.Series, as_of: date, notes: tuple[str, ...]) -> UnitCard:
    """Settle the first day in service, and how it is known."""

    def day(name: str) -> date | None:
        return None if pd.isna(row[name]) else pd.Timestamp(row[name]).date()

    told = day("in_service_date") or day("claimed_in_service_date")
    likely = day("likely_in_service_date")
    first_failed = day("first_failed_on")
    if told is None and likely is not None and first_failed is not None:
        # a claim proves that the unit had been sold by then
        likely = min(likely, first_failed)
    source = "register" if told is not None else "estimated" if likely else ""
    if not row["is_in_register"]:
        notes += ("the register does not hold this unit; its claims tell of it",)
    if source == "estimated":
        notes += (
            "no in-service date is recorded: estimated from the shipping date and the "
            "usual time to the sale",
        )
    elif not source:
        notes += ("nothing tells when this unit came into service: cover not known",)
    return UnitCard(
        serial=str(row["serial"]),
        row=row,
        in_service_date=told or likely,
        in_service_source=source,
        as_of=as_of,
        notes=notes,
    )
