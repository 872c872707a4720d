"""How one shape of export is written: the blocks ``[[source]]``."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator

from claimlens.settings.sections import Currency, Section
from claimlens.tables import TABLES

__all__ = ["SourceSettings", "check_fields"]


class SourceSettings(Section):
    """One shape of export: which files, which columns, how values are written."""

    name: str
    files: str
    kind: Literal[
        "units",
        "shipments",
        "claims",
        "claim_parts",
        "parts",
        "findings",
        "changes",
        "unit_changes",
        "fitted_parts",
        "responses",
        "labels",
    ]
    encoding: str | None = None
    delimiter: Annotated[str, Field(min_length=1, max_length=1)] | None = None
    header_row: Annotated[int, Field(ge=1)] | None = None
    sheet: str | None = None
    records: str | None = None
    date_format: str | None = None
    date_formats: dict[str, str] = Field(default_factory=dict)
    decimal: Literal[",", "."] | None = None
    currency: Currency | None = None
    columns: dict[str, str] = Field(default_factory=dict)
    values: dict[str, dict[str, str]] = Field(default_factory=dict)

    @field_validator("columns")
    @classmethod
    def _one_header_for_each_field(cls, value: dict[str, str]) -> dict[str, str]:
        seen: dict[str, str] = {}
        for header, field in value.items():
            if field in seen:
                raise ValueError(
                    f"{field} is filled from two columns, {seen[field]!r} and "
                    f"{header!r}; name one"
                )
            seen[field] = header
        return value


def check_fields(source: SourceSettings) -> None:
    """Refuse a source that names a field or a value which is none."""
    table = TABLES[source.kind]
    for field in (*source.columns.values(), *source.date_formats, *source.values):
        if field not in table.field_names:
            raise ValueError(
                f"source {source.name!r} names {field!r}, which is no field of "
                f"{source.kind}; its fields are {', '.join(table.field_names)}"
            )
    for name in ("status", "finding"):
        for word, meaning in source.values.get(name, {}).items():
            if meaning not in (allowed := table.field(name).allowed):
                raise ValueError(f"{word!r} means {meaning!r}, not one of {allowed}")
