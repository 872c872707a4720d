"""The canonical tables: every field, its type and its key, declared once.

Ingest types by it, ``describe`` maps header words onto it, the demo writes it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["KINDS", "TABLES", "Field", "FieldType", "Table", "kind_from_headers"]

FieldType = Literal["key", "text", "date", "timestamp", "integer", "number", "money"]


@dataclass(frozen=True, slots=True)
class Field:
    """One canonical field.

    Parameters
    ----------
    name : str
        The canonical name, also the column name in the public views.
    type : FieldType
        ``key`` is an identifier kept as text, leading zeros included.
    required : bool
        A row without a readable value here is rejected.
    allowed : tuple of str
        Closed vocabulary; empty where any text is allowed.
    """

    name: str
    type: FieldType
    required: bool = False
    allowed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """One canonical table (a *kind* of file).

    Parameters
    ----------
    name : str
        The kind.
    fields : tuple of Field
        In the order of the public view.
    key : tuple of str
        Fields that name a row across exports.
    known_by : tuple of str
        Date fields that tell by when the file's facts were known: the newest
        of them is the default known-on date of a batch.
    """

    name: str
    fields: tuple[Field, ...]
    key: tuple[str, ...]
    known_by: tuple[str, ...] = ()

    @property
    def field_names(self) -> tuple[str, ...]:
        """Return the field names in order."""
        return tuple(field.name for field in self.fields)

    @property
    def required(self) -> tuple[str, ...]:
        """Return the names of the required fields."""
        return tuple(field.name for field in self.fields if field.required)

    def field(self, name: str) -> Field:
        """Return the field of that name; raise ``KeyError`` if there is none."""
        for field in self.fields:
            if field.name == name:
                return field
        raise KeyError(name)


def _fields(
    text: str, allowed: dict[str, tuple[str, ...]] | None = None
) -> tuple[Field, ...]:
    """Read ``name:type`` words; a star after the type marks a required field."""
    fields = []
    for word in text.split():
        name, type_name = word.split(":")
        required = type_name.endswith("*")
        fields.append(
            Field(
                name,
                type_name.rstrip("*"),  # type: ignore[arg-type]  # checked by a test
                required,
                (allowed or {}).get(name, ()),
            )
        )
    return tuple(fields)


STATUSES = ("open", "approved", "denied", "cancelled", "closed")
FINDINGS = (
    "confirmed fault",
    "no fault found",
    "misuse",
    "transport damage",
    "other",
)

TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        Table(
            "units",
            _fields(
                "serial:key* model:key* model_year:integer* generation:key "
                "build_date:date build_lot:key plant:key ship_date:date "
                "in_service_date:date region:key dealer:key retired_on:date"
            ),
            ("serial",),
            ("build_date", "ship_date", "in_service_date", "retired_on"),
        ),
        Table(
            "shipments",
            _fields(
                "model:key* model_year:integer* month:date* quantity:integer* "
                "region:key"
            ),
            ("model", "model_year", "month", "region"),
            ("month",),
        ),
        Table(
            "claims",
            _fields(
                "claim_no:key* reported_on:date* serial:key model:key "
                "model_year:integer in_service_date:date failed_on:date "
                "decided_on:date closed_on:date status:text decision_reason:text "
                "amount_requested:money amount_approved:money narrative:text "
                "technician_note:text resolution:text usage:number usage_unit:text "
                "region:key dealer:key part_no:key quantity:number "
                "cost_parts:money cost_labour:money cost_freight:money "
                "cost_total:money currency:text goodwill:text "
                "updated_at:timestamp",
                {"status": STATUSES, "goodwill": ("yes", "no")},
            ),
            ("claim_no",),
            ("reported_on", "decided_on", "closed_on", "updated_at"),
        ),
        Table(
            "claim_parts",
            _fields(
                "claim_no:key* part_no:key* quantity:number unit_cost:money "
                "currency:text"
            ),
            ("claim_no", "part_no"),
        ),
        Table(
            "parts",
            _fields(
                "part_no:key* description:text component:text supplier:key "
                "generation:key superseded_by:key fits_model:key "
                "fits_from_year:integer fits_to_year:integer unit_cost:money "
                "currency:text lead_time_days:integer"
            ),
            ("part_no",),
        ),
        Table(
            "findings",
            _fields(
                "claim_no:key* inspected_on:date part_no:key finding:text* "
                "component:text failure_mode:text note:text",
                {"finding": FINDINGS},
            ),
            ("claim_no", "inspected_on", "part_no"),
            ("inspected_on",),
        ),
        Table(
            "changes",
            _fields(
                "change_no:key* component:text* description:text model:key "
                "effective_build_date:date effective_serial:key"
            ),
            ("change_no", "component", "model"),
        ),
        Table(
            "unit_changes",
            _fields("serial:key* change_no:key* done_on:date"),
            ("serial", "change_no"),
            ("done_on",),
        ),
        Table(
            "fitted_parts",
            _fields(
                "serial:key* component:text* part_no:key supplier:key lot:key "
                "component_serial:key fitted_on:date removed_on:date"
            ),
            ("serial", "component", "part_no", "component_serial", "fitted_on"),
            ("fitted_on", "removed_on"),
        ),
        Table(
            "responses",
            _fields(
                "supplier:key* question_no:key* component:text part_no:key "
                "claim_no:key asked_on:date due_on:date answered_on:date answer:text "
                "charged_on:date amount_charged:money amount_accepted:money "
                "amount_received:money currency:text"
            ),
            ("supplier", "question_no"),
            ("asked_on", "answered_on", "charged_on"),
        ),
        Table(
            "labels",
            _fields(
                "claim_no:key* component:text failure_mode:text reviewer:text "
                "reviewed_on:date"
            ),
            ("claim_no", "reviewer"),
            ("reviewed_on",),
        ),
    )
}

KINDS: tuple[str, ...] = tuple(TABLES)


def kind_from_headers(headers: tuple[str, ...]) -> str | None:
    """Return the kind whose canonical names these headers are.

    Parameters
    ----------
    headers : tuple of str
        Header row, case and surrounding blanks ignored.

    Returns
    -------
    str or None
        The kind that explains most headers, and among equals the one whose
        required fields are all there; None where no kind explains two headers
        and half of them, or two explain equally well.
    """
    names = {header.strip().lower() for header in headers}
    scores: list[tuple[int, bool, str]] = []
    for table in TABLES.values():
        explained = len(names & set(table.field_names))
        if explained >= 2 and 2 * explained >= len(names):
            scores.append((explained, set(table.required) <= names, table.name))
    scores.sort(reverse=True)
    if not scores or (len(scores) > 1 and scores[0][:2] == scores[1][:2]):
        return None
    return scores[0][2]
