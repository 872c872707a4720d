"""What leaves is safe to open, complete, and the same each time."""

from __future__ import annotations

import csv
import io
import json
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from claimlens.errors import InputError
from claimlens.handover import (
    neutral,
    records,
    to_csv,
    to_json,
    write_text,
    write_workbook,
)


@given(st.text(max_size=30))
def test_no_text_leaves_as_a_formula(text: str) -> None:
    safe = neutral(text)
    assert not safe.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert safe.endswith(text)


@pytest.mark.parametrize("sign", "=+-@＝＋－＠﹦﹢﹣﹫⁼⁺")
@pytest.mark.parametrize("before", ["", " ", "\u3000", "\ufeff", "\u200b \u202e"])
def test_a_sign_of_any_width_behind_anything_unseen_is_no_formula(
    sign: str, before: str
) -> None:
    assert neutral(f"{before}{sign}1+1") == f"'{before}{sign}1+1"


@given(st.lists(st.text(st.characters(exclude_categories=["Cs"])), min_size=1))
def test_csv_reads_back_as_it_was_but_for_the_apostrophe(texts: list[str]) -> None:
    out = to_csv(pd.DataFrame({"a": pd.array(texts, dtype=object)}))
    back = [row[0] if row else "" for row in csv.reader(io.StringIO(out, newline=""))]
    assert back[1:] == [neutral(text) for text in texts]


def test_numbers_keep_their_sign_and_are_no_text() -> None:
    assert to_csv(pd.DataFrame({"x": [-1.5, 2.0]})) == "x\r\n-1.5\r\n2.0\r\n"


def test_json_holds_no_nan_and_no_infinity() -> None:
    frame = pd.DataFrame(
        {
            "rate": [np.nan, np.inf, 0.5],
            "day": pd.to_datetime(["2024-01-05", None, "2024-01-06"]),
            "word": ["a", None, "c"],
            "n": pd.array([1, None, 3], dtype="Int64"),
            "yes": [True, False, True],
        }
    )
    assert json.loads(to_json(records(frame))) == [
        {"rate": None, "day": "2024-01-05", "word": "a", "n": 1, "yes": True},
        {"rate": None, "day": None, "word": None, "n": None, "yes": False},
        {"rate": 0.5, "day": "2024-01-06", "word": "c", "n": 3, "yes": True},
    ]


def test_dates_times_and_decimals_become_plain_values() -> None:
    frame = pd.DataFrame(
        {
            "a": pd.array([date(2024, 1, 5)], dtype=object),
            "b": pd.array([datetime(2024, 1, 5, 13, 30)], dtype=object),
            "c": pd.array([Decimal("12.50")], dtype=object),
        }
    )
    assert records(frame) == [
        {"a": "2024-01-05", "b": "2024-01-05 13:30:00", "c": 12.5}
    ]


def test_a_workbook_holds_texts_and_numbers_and_no_formula(tmp_path: Path) -> None:
    frame = pd.DataFrame({"=name": ["=1+1", "0012", "http://x"], "n": [1.5, None, -2]})
    path = tmp_path / "out.xlsx"
    write_workbook(frame, path, sheet="claims", overwrite=False)
    page = openpyxl.load_workbook(path)["claims"]
    rows = [[cell.value for cell in row] for row in page.iter_rows()]
    assert rows == [
        ["'=name", "n"],
        ["'=1+1", 1.5],
        ["0012", None],
        ["http://x", -2],
    ]
    assert all(cell.data_type != "f" for row in page.iter_rows() for cell in row)
    assert page.freeze_panes == "A2"


def test_a_file_that_is_there_is_not_overwritten_unasked(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    write_text("one", path, overwrite=False)
    with pytest.raises(InputError, match="--replace"):
        write_text("two", path, overwrite=False)
    assert path.read_text(encoding="utf-8") == "one"
    write_text("two", path, overwrite=True)
    assert path.read_text(encoding="utf-8") == "two"
    assert [child.name for child in tmp_path.iterdir()] == ["a.txt"]


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="nowhere"):
        write_text("one", tmp_path / "nowhere" / "a.txt", overwrite=False)
