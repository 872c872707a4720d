"""The canonical tables, and how a file is known by its headers."""

from __future__ import annotations

from typing import get_args

import pytest

from claimlens.tables import KINDS, TABLES, FieldType, kind_from_headers


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_with_all_canonical_headers_is_known(kind: str) -> None:
    assert kind_from_headers(TABLES[kind].field_names) == kind


@pytest.mark.parametrize("kind", [k for k in KINDS if len(TABLES[k].required) > 1])
def test_the_required_fields_alone_make_a_file_known(kind: str) -> None:
    required = TABLES[kind].required
    found = kind_from_headers(required)
    assert found is None or set(TABLES[found].required) <= set(required)


def test_case_and_blanks_do_not_matter() -> None:
    assert kind_from_headers((" Claim_No", "REPORTED_ON ", "serial")) == "claims"


def test_a_claims_file_without_its_report_date_is_still_a_claims_file() -> None:
    """So that the message can name the field that is missing."""
    assert kind_from_headers(("claim_no", "serial", "failed_on")) == "claims"


@pytest.mark.parametrize(
    "headers",
    [("colour", "size"), ("serial",), ("claim_no", "a", "b", "c", "d"), ()],
)
def test_anything_else_is_not_guessed(headers: tuple[str, ...]) -> None:
    assert kind_from_headers(headers) is None


@pytest.mark.parametrize("kind", KINDS)
def test_keys_and_dates_of_a_table_are_among_its_fields(kind: str) -> None:
    table = TABLES[kind]
    assert set(table.key) <= set(table.field_names)
    assert set(table.known_by) <= set(table.field_names)
    assert {field.type for field in table.fields} <= set(get_args(FieldType))
    assert len(set(table.field_names)) == len(table.field_names)
