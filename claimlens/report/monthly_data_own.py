"""The tables of the month that are put together for leaving: its counts, its data."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, fields

import pandas as pd

from claimlens.handover import Kind, Sheet
from claimlens.monthly_inputs import MonthlyInputs, SafetyClaim, ShownCounts
from claimlens.report import findings, formats
from claimlens.report.column_kinds import make_sheet
from claimlens.report.decisions import danger, decisions

__all__ = ["Bases", "cut_off", "data_sheets", "first_screen", "plain"]

#: What each section of the page rests on, by its id.
Bases = Mapping[str, str]


def cut_off(inputs: MonthlyInputs) -> str:
    """Return the cut-off in words."""
    return plain(f"cut-off {formats.day(inputs.meta.as_of)}")


def plain(text: str) -> str:
    """Return a text of the page without spaces that do not break."""
    return text.replace("\xa0", " ").replace("\u202f", " ")


def first_screen(inputs: MonthlyInputs, _: Bases) -> Iterator[Sheet]:
    """Tell what the first screen of the page tells."""
    changes = inputs.changes
    until = cut_off(inputs)
    yield make_sheet(
        "decisions",
        "Changes and decisions",
        _told(inputs),
        basis=f"The first screen of the page; {until}.",
    )
    yield make_sheet(
        "dangerous-claims",
        "Dangerous claims",
        pd.DataFrame(
            [asdict(claim) for claim in changes.safety_claims],
            columns=[field.name for field in fields(SafetyClaim)],
        ),
        basis=(
            "Claims of any class that tell of a danger: of the month, found by an "
            f"inspection of the month, or older and still open; {until}."
        ),
    )
    names = [field.name for field in fields(ShownCounts)]
    kinds: dict[str, Kind] = dict.fromkeys(names, "count")
    told = [(changes.this_month, changes.this_month.month, "now")]
    rows = [
        (month, when, *(getattr(counts, name) for name in names))
        for counts, month, when in told
    ]
    costs = [(changes.this_month.month, m) for m in changes.this_month.cost]
    if changes.last_month is not None:
        month = changes.last_month.month
        counts = changes.last_month
        rows.append((month, "now", *(getattr(counts, name) for name in names)))
        costs += [(month, m) for m in counts.cost]
        if changes.last_shown is not None:
            shown = changes.last_shown
            rows.append((month, "then", *(getattr(shown, name) for name in names)))
    yield make_sheet(
        "month-counts",
        "The month and the one before",
        pd.DataFrame(rows, columns=["month", "as_seen", *names]),
        basis=(
            "Claims reported and first failures of the month, open claims and units "
            "in service at its end; as_seen tells what is known now and what the "
            f"report of that month showed then; {until}."
        ),
        **kinds,
    )
    yield make_sheet(
        "month-costs",
        "Cost of the month",
        pd.DataFrame(
            [(month, cost.amount, cost.currency) for month, cost in costs],
            columns=["month", "cost", "currency"],
        ),
        basis=f"Cost of the claims reported in the month; {until}.",
    )


def _told(inputs: MonthlyInputs) -> pd.DataFrame:
    """Return what the first screen tells, a row a decision and a row a change."""
    found, first = decisions(inputs), danger(inputs)
    asked = [("danger", first)] if first is not None else []
    asked += [("needs a decision", item) for item in found.now]
    asked += [("can wait", item) for item in found.later]
    rows = [
        (part, *map(plain, (item.what, item.sure, item.waiting, item.who)))
        for part, item in asked
    ]
    rows += [
        ("what changed", plain(line), "", "", "") for line in findings.changes(inputs)
    ]
    columns = ["part", "what", "how_sure", "waiting_costs", "who_acts"]
    return pd.DataFrame(rows, columns=columns)


def data_sheets(inputs: MonthlyInputs, bases: Bases) -> Iterator[Sheet]:
    """Tell what was read, and how far it carries."""
    quality, basis = inputs.quality, bases["quality"]
    yield make_sheet(
        "classes",
        "Classes of claims",
        inputs.classes,
        basis=f"Every claim read, by the class it counts in; {cut_off(inputs)}.",
    )
    yield _quality(inputs, basis)
    for id_, title, pairs in (
        ("flags", "Flags", quality.flags),
        ("rejected-rows", "Rejected rows", quality.rejects),
    ):
        frame = pd.DataFrame(list(pairs), columns=["reason", "rows"])
        yield make_sheet(id_, title, frame, basis=basis)
    yield make_sheet(
        "row-account", "Row account", inputs.account, basis=bases["account"]
    )
    yield make_sheet(
        "files",
        "Files",
        pd.DataFrame(
            [
                (item.file, item.kind, item.sha256, item.rows_read, item.rejected)
                for item in inputs.meta.inputs
            ],
            columns=["file", "kind", "sha256", "rows_read", "rejected"],
        ),
        basis="Files behind the report; sha256 is the start of the file's SHA-256.",
    )


def _quality(inputs: MonthlyInputs, basis: str) -> Sheet:
    quality = inputs.quality
    measured = quality.accuracy
    row = {
        "claims_read": inputs.claims_read,
        "unclassified_claims": quality.unclassified_claims,
        "unclassified_share": quality.unclassified_share,
        "undated_units": quality.undated_units,
        "undated_claims": quality.undated_claims,
        "unknown_serial_claims": quality.unknown_serial_claims,
        "unknown_serial_bound": quality.unknown_serial_bound,
        "right_share": measured.share if measured else None,
        "right_lower": measured.lower if measured else None,
        "right_upper": measured.upper if measured else None,
        "audited_claims": measured.audited if measured else None,
        "note": measured.note if measured else "accuracy not measured",
    }
    kinds: dict[str, Kind] = {
        name: "share"
        if name.endswith(("share", "bound", "lower", "upper"))
        else "count"
        for name in row
        if name != "note"
    }
    return make_sheet("quality", "Quality", pd.DataFrame([row]), basis=basis, **kinds)
