"""Every table of the monthly report leaves as it was counted."""

from __future__ import annotations

import io

import fixture_monthly
import openpyxl
import pandas as pd
import pytest

from claimlens.handover import Sheet, typed, workbook_bytes
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report.monthly_data import monthly_sheets, monthly_tables

IDS = [
    *(
        "decisions",
        "dangerous-claims",
        "month-counts",
        "month-costs",
        "sources",
        "arrivals-amiss",
        "signals",
    ),
    *("signal-months", "blind-spots", "windows", "window-months"),
    *("engineering-changes", "engineering-change-curves", "rising-words"),
    *("claims-by-month", "failures-by-month", "reporting-delays", "claims-so-far"),
    *("claims-to-come", "claims-to-come-by-component", "forecasts-tested"),
    *("forecasts-tested-by-month", "reserve", "reserve-by-model-year", "spare-parts"),
    *("components", "rates-by-model-year", "rates-by-age", "rates-by-build-month"),
    *("share-failed", "lives", "life-points", "life-lines", "before-delivery"),
    *("supplier-answers", "supplier-money"),
    *("classes", "quality", "flags", "rejected-rows", "row-account", "files"),
]


@pytest.fixture(scope="module")
def inputs() -> MonthlyInputs:
    return fixture_monthly.build()


@pytest.fixture(scope="module")
def sheets(inputs: MonthlyInputs) -> dict[str, Sheet]:
    return {sheet.id: sheet for sheet in monthly_sheets(inputs)}


def test_the_names_of_the_tables_stay(sheets: dict[str, Sheet]) -> None:
    assert list(sheets) == IDS


def test_no_figure_is_changed_on_its_way(
    inputs: MonthlyInputs, sheets: dict[str, Sheet]
) -> None:
    for id_, frame in {
        "rates-by-model-year": inputs.rates_by_model_year,
        "failures-by-month": inputs.late_months,
        "signals": inputs.rising.signals,
        "claims-to-come": inputs.to_come.months_to_come,
        "reserve-by-model-year": inputs.reserve.reserve_years,
        "lives": inputs.life,
        "components": inputs.ranking,
        "spare-parts": inputs.spares.spare_parts,
    }.items():
        table = typed(sheets[id_])
        assert list(table.columns) == list(frame.columns)
        assert len(table) == len(frame) > 0
        for name in frame.columns:
            if pd.api.types.is_float_dtype(frame[name]):
                there = table[name].astype("float64")
                pd.testing.assert_series_equal(there, frame[name], check_names=False)


def test_each_table_says_what_it_rests_on(sheets: dict[str, Sheet]) -> None:
    for sheet in sheets.values():
        assert sheet.basis.endswith("."), sheet.id
        assert len(sheet.title) <= 31
    assert "first counted failure" in sheets["rates-by-age"].basis
    told = [id_ for id_, sheet in sheets.items() if "ut-off" not in sheet.basis]
    assert told == ["row-account", "files"]


def test_rates_are_shares_and_limits_follow_what_they_limit(
    sheets: dict[str, Sheet],
) -> None:
    assert sheets["rates-by-age"].kinds["lower"] == "share"
    assert sheets["signals"].kinds["lower"] == "ratio"
    assert sheets["failures-by-month"].kinds["upper"] == "number"
    assert sheets["reserve"].kinds["upper95"] == "money"
    assert sheets["claims-to-come"].kinds["upper95"] == "number"


def test_the_workbook_holds_all_tables_and_the_words_of_the_page(
    inputs: MonthlyInputs,
) -> None:
    tables = monthly_tables(inputs)
    contents = workbook_bytes(tables)
    assert contents == workbook_bytes(monthly_tables(inputs))
    book = openpyxl.load_workbook(io.BytesIO(contents))
    titles = [sheet.title.replace(":", "") for sheet in tables.sheets]
    assert book.sheetnames == ["About", *titles, "Columns", "Definitions"]
    terms = {row[0].value: row[1].value for row in book["Definitions"].iter_rows()}
    assert terms["Months in service"].startswith("Days from the in-service date")
    page = book["Rates by age"]
    first = inputs.rates_by_component.iloc[0]
    header = [cell.value for cell in page[1]]
    assert page.cell(2, header.index("rate") + 1).value == pytest.approx(
        first["rate"], rel=1e-15
    )


def test_a_month_without_register_or_forecast_still_has_every_table() -> None:
    bare = fixture_monthly.build()
    rising = bare.rising
    empty = {
        name: getattr(rising, name).iloc[:0]
        for name in ("signals", "signal_months", "blind_spots", "windows")
    }
    sheets = monthly_sheets(
        fixture_monthly.build(
            rising=type(rising)(
                **{
                    **{name: getattr(rising, name) for name in rising.__slots__},
                    **empty,
                    "judged_on": None,
                    "not_judged": "Nothing is judged without a register.",
                }
            )
        )
    )
    assert [sheet.id for sheet in sheets] == IDS
    [signals] = [sheet for sheet in sheets if sheet.id == "signals"]
    assert signals.note == "Nothing is judged without a register."
