"""The canonical tables of Python and the SQL files of every kind say the same."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from sql_desk import Desk

from claimlens.tables import TABLES, Table

TYPES = {
    "key": "VARCHAR",
    "text": "VARCHAR",
    "date": "DATE",
    "timestamp": "TIMESTAMP",
    "integer": "INTEGER",
    "number": "DOUBLE",
    "money": "DECIMAL(18,4)",
}
UNREAD = "unread"
STAGING = {"known_on": "2025-01-31", "columns": ""}


@pytest.fixture(params=list(TABLES))
def table(request: pytest.FixtureRequest) -> Table:
    """Return each canonical table in turn."""
    return TABLES[request.param]


@pytest.fixture(scope="module")
def laid_out() -> Desk:
    """Lay out a warehouse in memory, ready to stage."""
    desk = Desk()
    for script in ("schema/tables", "schema/views", "schema/flags"):
        desk.run(script)
    for script in ("staging/raw_tables", "staging/readings", "staging/fold_macros"):
        desk.run(script)
    return desk


@pytest.fixture
def desk(laid_out: Desk) -> Iterator[Desk]:
    """Return that warehouse; whatever a test does to it is taken back."""
    laid_out.connection.execute("begin")
    yield laid_out
    laid_out.connection.execute("rollback")


def canonical(columns: dict[str, str], table: Table) -> dict[str, str]:
    return {name: columns[name] for name in columns if name in table.field_names}


def typed(table: Table) -> dict[str, str]:
    return {field.name: TYPES[field.type] for field in table.fields}


def read_as(desk: Desk, table: Table, name: str, text: str) -> None:
    """Tell the readings how a text of a column reads."""
    kind = table.field(name).type
    day = "2025-01-02" if kind in ("date", "timestamp") else None
    amount = text if kind in ("integer", "number", "money") else None
    desk.connection.execute(
        "insert into readings values (?, ?, ?, ?, ?)", [name, text, day, day, amount]
    )
    for word in table.field(name).allowed[:1]:
        desk.connection.execute(
            "insert into words values (?, ?, ?)", [name, text.lower(), word]
        )


def stage(desk: Desk, table: Table, *rows: dict[str, str]) -> None:
    """Stage rows given as text by field."""
    desk.connection.execute(f"delete from raw_{table.name}")
    for number, row in enumerate(rows, start=2):
        names = ", ".join(["source_row", *row])
        marks = ", ".join("?" for _ in range(len(row) + 1))
        desk.connection.execute(
            f"insert into raw_{table.name} ({names}) values ({marks})",
            [number, *row.values()],
        )
        for name, text in row.items():
            if text != UNREAD:
                read_as(desk, table, name, text)
    desk.run(f"staging/stg_{table.name}", STAGING)


def full_row(table: Table) -> dict[str, str]:
    return dict.fromkeys(table.required, "7")


@pytest.mark.parametrize("stage_name", ["versions", "current"])
def test_the_warehouse_has_every_field_in_order_and_type(
    stage_name: str, table: Table, desk: Desk
) -> None:
    columns = desk.columns(f"{table.name}_{stage_name}")
    found = canonical(columns, table)
    assert list(found) == list(table.field_names)
    assert found == typed(table)
    assert set(columns) >= {"row_key", "extra", "issues", "known_on"}


def test_the_public_view_has_the_fields_and_what_was_left_over(
    table: Table, desk: Desk
) -> None:
    columns = desk.columns(f"{table.name}_now")
    assert list(columns) == [*table.field_names, "extra"]
    assert canonical(columns, table) == typed(table)


def test_a_raw_table_takes_every_field_as_text(table: Table, desk: Desk) -> None:
    columns = desk.columns(f"raw_{table.name}")
    assert list(columns) == ["source_row", *table.field_names, "extra"]
    assert {columns[name] for name in table.field_names} == {"VARCHAR"}


def test_staging_types_every_field(table: Table, desk: Desk) -> None:
    stage(desk, table, full_row(table))
    columns = desk.columns("staged")
    assert canonical(columns, table) == typed(table)
    ((reason,),) = desk.rows("select reject_reason from staged")
    assert reason is None


def test_folding_gives_the_columns_of_the_current_table(
    table: Table, desk: Desk
) -> None:
    desk.given("touched", "row_key varchar")
    parameters = {"as_known": "9999-12-31", "only_touched": False}
    desk.run(f"staging/fold_{table.name}", parameters)
    current = desk.columns(f"{table.name}_current")
    folded = desk.columns("folded")
    assert set(folded) == set(current)
    assert canonical(folded, table) == canonical(current, table)


def test_a_row_without_a_required_field_is_rejected_with_its_name(
    table: Table, desk: Desk
) -> None:
    whole = full_row(table)
    rows = [{k: v for k, v in whole.items() if k != name} for name in table.required]
    stage(desk, table, *rows)
    found = desk.rows(
        "select reject_column, reject_reason from staged order by source_row"
    )
    assert found == [(name, f"{name} is missing") for name in table.required]


def test_a_required_field_that_does_not_read_is_rejected_with_its_value(
    table: Table, desk: Desk
) -> None:
    typed_names = [
        name
        for name in table.required
        if table.field(name).type not in ("key", "text") or table.field(name).allowed
    ]
    whole = full_row(table)
    stage(desk, table, *({**whole, name: UNREAD} for name in typed_names))
    found = desk.rows(
        "select reject_column, reject_value, reject_reason from staged "
        "order by source_row"
    )
    assert len(found) == len(typed_names)
    for name, (column, value, reason) in zip(typed_names, found, strict=True):
        assert (column, value) == (name, UNREAD)
        assert name in str(reason)


def test_an_optional_field_that_does_not_read_is_an_issue_of_the_row(
    table: Table, desk: Desk
) -> None:
    whole = full_row(table)
    optional = [
        field.name
        for field in table.fields
        if not field.required and (field.type not in ("key", "text") or field.allowed)
    ]
    stage(desk, table, *({**whole, name: UNREAD} for name in optional))
    found = desk.rows("select reject_reason, issues from staged order by source_row")
    assert len(found) == len(optional)
    for name, (reason, issues) in zip(optional, found, strict=True):
        assert reason is None
        assert [(i["column_name"], i["value"]) for i in issues] == [(name, UNREAD)]


def test_the_key_alone_tells_rows_apart(table: Table, desk: Desk) -> None:
    base = dict.fromkeys((*table.required, *table.key), "7")
    rows = [base]
    for name in table.field_names:
        row = {**base, name: "8"}
        rows.append(row)
    desk.connection.execute("delete from readings")
    desk.connection.execute("delete from words")
    stage(desk, table, *rows)
    # 8 reads as another day, so that a date in the key makes another key
    desk.connection.execute(
        "update readings set day = date '2025-09-09', moment = '2025-09-09' "
        "where text = '8'"
    )
    desk.run(f"staging/stg_{table.name}", STAGING)
    keys = [
        row[0] for row in desk.rows("select row_key from staged order by source_row")
    ]
    for name, key in zip(table.field_names, keys[1:], strict=True):
        assert (key != keys[0]) == (name in table.key), name
