"""Stock files: read whole, or every fault told with its place."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from claimlens.errors import SourceError
from claimlens.ingest.stock import StockLine, read_stock


def written(folder: Path, text: str) -> Path:
    path = folder / "stock.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_canonical_columns_are_read(tmp_path: Path) -> None:
    stock = read_stock(
        written(
            tmp_path,
            "part_no,on_hand,on_order,minimum_order,pack_size,lead_time_days,"
            "last_order_date\n"
            "0042,3,2,10,5,45,2026-12-31\n"
            "B-7,0,,,,,\n",
        )
    )
    assert stock.skipped == 0
    assert stock.lines == (
        StockLine(
            part_no="0042",
            on_hand=3,
            on_order=2,
            minimum_order=10,
            pack_size=5,
            lead_time_days=45,
            last_order_date=date(2026, 12, 31),
            place="line 2",
        ),
        StockLine(part_no="B-7", on_hand=0, place="line 3"),
    )


def test_headers_may_be_written_freely_and_others_stand_beside(tmp_path: Path) -> None:
    stock = read_stock(
        written(
            tmp_path, "Shelf;Part No;On hand;Packsize;Ends\nA4;X-1;7;0;31.12.2026\n"
        )
    )
    [line] = stock.lines
    assert (line.part_no, line.on_hand, line.pack_size) == ("X-1", 7, 1)
    assert line.last_order_date == date(2026, 12, 31)


@pytest.mark.parametrize(
    ("text", "days"),
    [("45", 45), ("8 weeks", 56), ("2 months", 61), ("10 d", 10), ("1.5 weeks", 11)],
)
def test_a_lead_time_may_name_its_unit(text: str, days: int, tmp_path: Path) -> None:
    path = written(tmp_path, f"part_no,on_hand,lead_time_days\nX-1,1,{text}\n")
    assert read_stock(path).lines[0].lead_time_days == days


def test_a_workbook_keeps_zeros_dates_and_rows(tmp_path: Path) -> None:
    path = tmp_path / "stock.xlsx"
    pd.DataFrame(
        {
            "part_no": ["0042", "B-7"],
            "on_hand": [3.0, 4.0],
            "ends": pd.to_datetime(["2026-12-31", None]),
        }
    ).to_excel(path, index=False)
    first, second = read_stock(path).lines
    assert (first.part_no, first.on_hand) == ("0042", 3)
    assert first.last_order_date == date(2026, 12, 31)
    assert second.place == "row 3"


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ("X-1,-3,,", "line 2, column on_hand: '-3' is below 0"),
        ("X-1,12 pcs,,", "column on_hand: '12 pcs' is no number of pieces"),
        ("X-1,2.5,,", "column on_hand: '2.5' is no number of pieces"),
        ('X-1,"1,000",,', "'1,000' is no number of pieces"),
        ("X-1,,,", "column on_hand: empty; write 0 where there is none"),
        ("X-1,n/a,,", "column on_hand: empty"),
        (",4,3 weeks,", "column part_no: empty; write the part number"),
        ("X-1,4,8 fortnights,", "'8 fortnights' is no time"),
        ("X-1,4,-5,", "column lead_time_days: '-5' is below 0"),
        ("X-1,4,4000,", "longer than 730 days"),
        ("X-1,4,,soon", "column last_order_date: 'soon' is no date"),
        ("X-1,4,,03/04/2026", "can be day/month or month/day"),
        ("X-1,4,,\nx-1,5,,", "x-1 stands in line 2 too"),
        ("X-1,999999999999,,", "more than 100,000,000 pieces"),
    ],
)
def test_a_cell_that_cannot_be_used_is_told_with_its_place(
    cells: str, said: str, tmp_path: Path
) -> None:
    path = written(
        tmp_path, f"part_no,on_hand,lead_time_days,last_order_date\n{cells}\nY-2,1,2,\n"
    )
    with pytest.raises(SourceError) as caught:
        read_stock(path)
    assert said in str(caught.value)
    assert str(path) in str(caught.value)
    assert "to do:" in str(caught.value)


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    rows = "".join(f"X-{n},-1\n" for n in range(30))
    with pytest.raises(SourceError) as caught:
        read_stock(written(tmp_path, f"part_no,on_hand\n{rows}"))
    assert "30 faults" in str(caught.value)
    assert "and 10 more" in str(caught.value)


@pytest.mark.parametrize(
    ("headers", "said"),
    [
        ("part_no,onhnd", "call the column 'onhnd' on_hand"),
        ("part_no,stock", "No column of the stock file is called on_hand"),
        ("part_no,on_hand,minimun_order", "call the column 'minimun_order'"),
        ("part_no,on_hand,ends,last order date", "both mean last_order_date"),
    ],
)
def test_a_column_that_is_missing_or_misspelt_is_told(
    headers: str, said: str, tmp_path: Path
) -> None:
    cells = ",".join("1" for _ in headers.split(","))
    with pytest.raises(SourceError) as caught:
        read_stock(written(tmp_path, f"{headers}\n{cells}\n"))
    assert said in str(caught.value)


def test_lines_that_are_no_rows_are_counted(tmp_path: Path) -> None:
    text = "part_no,on_hand\nX-1,3\n\nY-2,4\nTotal,7\n"
    stock = read_stock(written(tmp_path, text))
    assert [line.part_no for line in stock.lines] == ["X-1", "Y-2"]
    assert stock.skipped == 2


def test_a_file_without_rows_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="no row below the headers"):
        read_stock(written(tmp_path, "part_no,on_hand\n"))
