"""The tables of the pack for a supplier as raw data, in the order of its page."""

from __future__ import annotations

import pandas as pd

from claimlens.handover import Kind, ReportTables, Sheet
from claimlens.report import formats
from claimlens.report.column_kinds import make_sheet
from claimlens.report.definitions import definitions
from claimlens.report.provenance import provenance
from claimlens.report.supplier_answers import questions
from claimlens.report.supplier_words import cut_off
from claimlens.report_inputs.supplier import SupplierInputs

__all__ = ["supplier_tables"]


def supplier_tables(inputs: SupplierInputs) -> ReportTables:
    """Return everything that the pack tells, as tables.

    Parameters
    ----------
    inputs : SupplierInputs
        What the page is made from; every figure is passed on as it is.

    Returns
    -------
    ReportTables
        Sheets, definitions and where they come from.
    """
    meta = inputs.meta
    month = formats.month_name(meta.as_of)
    return ReportTables(
        report="supplier",
        title=f"Warranty claims on parts of {inputs.supplier}, {month}".replace(
            "\N{NO-BREAK SPACE}", " "
        ),
        about=(("workspace", meta.workspace), *provenance(meta)),
        sheets=_sheets(inputs),
        definitions=definitions(meta),
    )


def _sheets(inputs: SupplierInputs) -> tuple[Sheet, ...]:
    end = f"; {cut_off(inputs)}.".replace("\N{NO-BREAK SPACE}", " ")
    units = f"Units that carry your part, first failure inside the cover{end}"
    report = inputs.meta.report_currency
    to_come = inputs.to_come
    if report and len(to_come):
        to_come = to_come.assign(currency=to_come["currency"].fillna(report))
    return (
        make_sheet(
            "questions",
            "Questions",
            questions(inputs),
            basis="What needs an answer, and by when.",
            question_no="key",
            due_on="date",
        ),
        make_sheet(
            "parts", "Parts", inputs.parts, basis=f"Your parts{end}",
            part_no="key", superseded_by="key",
        ),
        make_sheet(
            "claims-by-month", "Claims by month", inputs.claims_by_month,
            basis=f"Claims on your parts by month of report{end}",
            note=inputs.no_rates,
        ),
        make_sheet("rates", "Rates", inputs.rates, basis=units, limits="share",
                   note=inputs.no_rates),
        make_sheet("life", "Life", inputs.life, basis=units, note=inputs.no_rates),
        make_sheet(
            "against", "Beside other suppliers", _without_rank(inputs.against),
            basis=f"Your part beside that of all others, at equal ages{end}",
            limits="ratio", shrunk_lower="ratio", shrunk_upper="ratio",
            other_units="count", other_claims="count",
        ),
        make_sheet("windows", "Production windows", inputs.windows, basis=units,
                   limits="ratio"),
        make_sheet("window-months", "Months of build", inputs.window_months,
                   basis=units, observed="number"),
        make_sheet(
            "lots", "Lots", _without_rank(inputs.lots),
            basis=f"Your lots against each other, at equal ages{end}",
            limits="ratio", shrunk_lower="ratio", shrunk_upper="ratio",
        ),
        make_sheet(
            "claims-to-come", "Claims to come", to_come,
            basis=f"Claims of the next 12 months by component{end}", claims="number",
            currency=report or "currency", note=inputs.not_ahead,
        ),
        make_sheet(
            "statement", "Statement", inputs.statement,
            basis=f"Cost of the claims that an agreement fits, and your share{end}",
            **_all("money", "cost_parts cost_labour cost_freight owed charged "
                   "accepted received not_charged not_received"),
        ),
        make_sheet("not-owed", "Without a share", inputs.not_owed,
                   basis=f"Claims without a share of cost, by reason{end}"),
        make_sheet(
            "agreements", "Agreements",
            pd.DataFrame(
                [(term.place, term.words) for term in inputs.terms],
                columns=["agreement", "words"],
            ),
            basis="What was agreed on the cost of claims.", agreement="count",
            words="text",
        ),
        make_sheet(
            "claims", "Claims", inputs.claims,
            basis=f"Every claim on your parts, of every class{end}",
            **_all("key", "claim_no serial build_lot part_no lot"),
            **_all("money", "cost_parts cost_labour cost_freight owed"),
            **_all("text", "failure_mode told_by class state finding not_owed "
                   "narrative technician_note resolution finding_note safety"),
            age_months="months", agreement="count", share="share",
            inspected_on="date",
        ),
        make_sheet(
            "responses", "Asked before", inputs.responses,
            basis=f"What was asked and answered before{end}",
            **_all("key", "question_no part_no claim_no"),
            **_all("money", "charged accepted received"),
            **_all("date", "asked_on due_on answered_on charged_on"),
            answer="text",
        ),
        make_sheet("removed", "Taken out", inputs.removed,
                   basis="Personal pieces taken out of texts, by kind.",
                   pieces="count"),
    )  # fmt: skip


def _all(kind: Kind, names: str) -> dict[str, Kind]:
    """Give one kind to several columns."""
    return dict.fromkeys(names.split(), kind)


def _without_rank(frame: pd.DataFrame) -> pd.DataFrame:
    """Leave out the place among all: it would tell of the others."""
    return frame.drop(
        columns=["rank", "rank_lower", "rank_upper", "told_apart"], errors="ignore"
    )
