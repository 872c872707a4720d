"""What is usual of a source, told by its settings or by its own files."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from claimlens.analysis.arrival_sizes import sizes, usual_size
from claimlens.analysis.arrivals import _due_after, _months_away
from claimlens.analysis.file_shapes import name_shape
from claimlens.settings import SourceSettings


def files(*rows: int, name: str = "desk_{}.csv") -> pd.DataFrame:
    names = [name.format(number) for number in range(len(rows))]
    return pd.DataFrame({"file": names, "rows_read": rows})


def told(**stated: object) -> SourceSettings:
    given = {"name": "desk", "files": "desk_*.csv", "kind": "claims", **stated}
    return SourceSettings.model_validate(given)


def said(rows: int, earlier: pd.DataFrame, source: SourceSettings | None) -> list[str]:
    file = pd.Series({"file": "desk_99.csv", "rows_read": rows})
    return [
        f"{'small' if is_small else 'large'}: {text}"
        for is_small, text in sizes(file, earlier, source)
    ]


@pytest.mark.parametrize(
    ("stated", "rows", "expected"),
    [
        ({"rows": 100}, 60, "small: 60 rows, where the settings say 100"),
        ({"rows": 100}, 61, ""),
        ({"rows": 100, "least_share": 0.9}, 90, "small: 90 rows, where"),
        ({"rows": [60, 90]}, 59, "small: 59 rows, where the settings say 60 to 90"),
        ({"rows": [60, 90]}, 60, ""),
        ({"rows": [60, 90]}, 91, "large: 91 rows, more than usual"),
    ],
)
def test_the_settings_say_what_is_usual(
    stated: dict[str, object], rows: int, expected: str
) -> None:
    found = said(rows, files(1_000, 1_000), told(**stated))
    assert len(found) == bool(expected)
    assert all(text.startswith(expected) for text in found)


def test_earlier_files_say_it_where_the_settings_do_not() -> None:
    earlier = files(400, 380, 0, 420, 4_000)
    assert usual_size(earlier, None, "desk_99.csv") == (410, "4 files before")
    [text] = said(240, earlier, None)
    assert "the 4 files before had 410 in the middle" in text
    assert "the settings state no size" in text
    assert said(250, earlier, None) == []


def test_what_chance_may_bring_is_not_much_smaller() -> None:
    # 10 expected, 5 seen: with chance 0.07 (Poisson), 3 seen: 0.01
    assert said(5, files(10, 10, 10), None) == []
    assert len(said(3, files(10, 10, 10), None)) == 1
    assert len(said(10, files(20, 20), None)) == 1


def test_one_file_before_tells_less() -> None:
    assert said(58, files(100), None) == []
    [text] = said(50, files(100), None)
    assert "the file before had 100" in text


def test_files_of_other_names_tell_nothing_where_one_is_alike() -> None:
    earlier = pd.concat([files(900, name="year_{}.csv"), files(80, 84)])
    assert usual_size(earlier, None, "desk_99.csv")[0] == 82
    assert usual_size(earlier, None, "other.csv")[0] == 84


@pytest.mark.parametrize(
    ("file", "shape"),
    [
        ("claims_de_2026-04.csv.gz", "claims_de_*.csv"),
        ("Reklamationen März 2026.xlsx", "reklamationen *.xlsx"),
        ("april.csv", "*.csv"),
        ("mayor_list.csv", "mayor_list.csv"),
        ("CLAIMS-MAI-26.TXT", "claims-*.txt"),
    ],
)
def test_a_date_in_a_name_makes_no_difference(file: str, shape: str) -> None:
    assert name_shape(file) == shape


def test_months_are_counted_on_the_calendar() -> None:
    assert _months_away(date(2026, 4, 30), -1) == date(2026, 3, 31)
    assert _months_away(date(2026, 3, 30), -1) == date(2026, 2, 28)
    assert _months_away(date(2026, 1, 15), -1) == date(2025, 12, 15)
    assert _months_away(date(2024, 2, 29), 12) == date(2025, 2, 28)
    assert _due_after(date(2026, 6, 30), "quarter") == date(2026, 3, 31)
    assert _due_after(date(2026, 6, 30), "week") == date(2026, 6, 23)
    assert _due_after(date(2026, 6, 30), 10) == date(2026, 6, 20)
