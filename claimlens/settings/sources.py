"""How one shape of export is written: the blocks ``[[source]]``."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator

from claimlens.settings.sections import Currency, Section
from claimlens.tables import TABLES

__all__ = ["SourceSettings", "check_fields"]


#: Longest rhythm in days.
MOST_DAYS = 400
RHYTHMS = ("week", "month", "quarter")


class SourceSettings(Section):
    """One shape of export: which files, which columns, how values are written.

    ``every``: its rhythm, ``week``, ``month``, ``quarter`` or a number of days.
    ``rows``: how many rows a file usually has, or the least and the most. A file is
    much smaller than usual up to ``least_share`` of that (of the least, below it).
    """

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
    every: str | int | None = None
    rows: int | tuple[int, int] | None = None
    least_share: Annotated[float, Field(gt=0, lt=1)] = 0.6

    @field_validator("every", mode="before")
    @classmethod
    def _a_rhythm(cls, value: object) -> object:
        is_days = isinstance(value, int) and not isinstance(value, bool)
        if value in RHYTHMS or (is_days and 1 <= int(str(value)) <= MOST_DAYS):
            return value
        raise ValueError(
            f"write {', '.join(RHYTHMS)}, or a number of days up to {MOST_DAYS}"
        )

    @field_validator("rows", mode="before")
    @classmethod
    def _a_size(cls, value: object) -> object:
        numbers = value if isinstance(value, list | tuple) else [value]
        whole = [n for n in numbers if isinstance(n, int) and not isinstance(n, bool)]
        sizes = len(whole) == len(numbers) and all(n > 0 for n in whole)
        if sizes and (value == whole[0] or (len(whole) == 2 and whole[0] <= whole[1])):
            return value
        raise ValueError(
            "write the usual number of rows, such as 800, or the least and the most, "
            "such as [600, 1200]"
        )

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
