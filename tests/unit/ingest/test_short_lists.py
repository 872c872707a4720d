"""Short lists that come with a question."""

from __future__ import annotations

from pathlib import Path

import pytest

from claimlens.errors import InputError
from claimlens.ingest.short_lists import ListRow, read_short_list


def row(value: str | None) -> ListRow:
    return ListRow("list.csv", 7, {"quantity": value, "month": value})


def written(folder: Path, text: str) -> Path:
    path = folder / "sales.csv"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("text", "month"),
    [
        ("2026-05", 2026 * 12 + 4),
        ("2026-05-01", 2026 * 12 + 4),
        ("2026-05-01 00:00:00", 2026 * 12 + 4),
        ("05/2026", 2026 * 12 + 4),
        ("12.2026", 2026 * 12 + 11),
    ],
)
def test_a_month_is_read_as_people_write_it(text: str, month: int) -> None:
    assert row(text).month("month") == month


@pytest.mark.parametrize("text", ["2026-13", "May", "2026", "13/2026"])
def test_what_is_no_month_is_named_with_its_row_and_column(text: str) -> None:
    with pytest.raises(InputError, match=r"list.csv, row 7, column month.*no month"):
        row(text).month("month")


@pytest.mark.parametrize(("text", "value"), [("120", 120), ("0", 0), (None, None)])
def test_a_whole_number_is_read(text: str | None, value: int | None) -> None:
    assert row(text).whole("quantity") == value


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("-3", "negative"),
        ("2.5", "not whole"),
        ("many", "no number"),
        ("99999999999", "too large"),
    ],
)
def test_a_number_that_cannot_be_meant_is_refused(text: str, why: str) -> None:
    with pytest.raises(InputError, match=rf"row 7, column quantity.*{why}"):
        row(text).whole("quantity")


def test_headers_are_known_by_their_letters(tmp_path: Path) -> None:
    path = written(tmp_path, "MODEL;On hand;ignored\nA;3;x\n\nB;;y\n")
    rows = read_short_list(path, required=("model", "on_hand"))
    assert [(one.number, one.text("model"), one.whole("on_hand")) for one in rows] == [
        (2, "A", 3),
        (4, "B", None),
    ]


@pytest.mark.parametrize(
    ("text", "why"),
    [("model,month\nA,2026-05\n", "no column quantity"), ("model,quantity\n", "rows")],
)
def test_a_list_that_says_nothing_is_refused(
    text: str, why: str, tmp_path: Path
) -> None:
    with pytest.raises(InputError, match=why):
        read_short_list(written(tmp_path, text), required=("model", "quantity"))


def test_an_empty_field_that_is_needed_is_named() -> None:
    with pytest.raises(InputError, match="column month: nothing stands there"):
        row(None).needed("month")
