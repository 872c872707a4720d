"""Each number of the monthly page is the number of the Python API at its cut-off."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "unit" / "report"))

from page_reader import Element, read

import claimlens
from claimlens.report import formats
from claimlens.report.formats import MISSING
from claimlens.workspace import Workspace

AGES = [3, 6, 12, 24]
Rows = list[list[str]]


@pytest.fixture(scope="module")
def ws(filled: Path) -> Workspace:
    return claimlens.open(filled)


@pytest.fixture(scope="module")
def page(ws: Workspace, tmp_path_factory: pytest.TempPathFactory) -> Element:
    path = tmp_path_factory.mktemp("page") / "month.html"
    ws.report_monthly(path, workbook=False)
    return read(path.read_text(encoding="utf-8"))


def text_of(cell: Element) -> str:
    return cell.text.replace("\N{NO-BREAK SPACE}", " ")


def plain(value: str) -> str:
    return " ".join(value.replace("\N{NO-BREAK SPACE}", " ").split())


def rows_of(page: Element, name: str) -> Rows:
    """Return the cells of a table's body."""
    [table] = [t for t in page.all("table") if t.attributes.get("id") == name]
    return [
        [text_of(cell) for cell in row.children if cell.tag in ("th", "td")]
        for row in table.all("tbody")[0].all("tr")
    ]


def month(value: object) -> str:
    return plain(formats.month_name(pd.Timestamp(str(value)).date()))


def share(row: pd.Series, unit: formats.RateUnit) -> list[str]:
    return [
        formats.rate(row["rate"], unit),
        formats.rate(row["lower"], unit, "lower"),
        formats.rate(row["upper"], unit, "upper"),
    ]


def times(row: pd.Series) -> str:
    return (
        f"{formats.ratio(row['rate_ratio'])} ({formats.ratio(row['lower'], 'lower')}–"
        f"{formats.ratio(row['upper'], 'upper')})"
    )


def band(row: pd.Series, level: str) -> str:
    lower = formats.decimal_text(row[f"lower{level}"], 0, "lower")
    return f"{lower}–{formats.decimal_text(row[f'upper{level}'], 0, 'upper')}"


def sums(values: Iterable[float]) -> float:
    return float(pd.Series(list(values)).sum())


def test_rates_by_age(ws: Workspace, page: Element) -> None:
    frame = ws.rates(by=["component"], at=AGES)
    unit = formats.rate_unit(frame["rate"])
    known = dict(frame.set_index(["component", "at_months"]).iterrows())
    rows = rows_of(page, "rates-by-age-table")
    assert {row[0] for row in rows} == set(frame["component"])
    for name, units, *cells in rows:
        assert units == formats.count(max(known[name, age]["units"] for age in AGES))
        for place, age in enumerate(AGES):
            row = known[name, age]
            printed = cells[2 * place : 2 * place + 2]
            if pd.isna(row["rate"]):
                assert printed[0] == MISSING
                continue
            mark = "" if row["mature"] else "*"
            interval = formats.interval(row["lower"], row["upper"], unit)
            assert printed == [formats.rate(row["rate"], unit) + mark, interval]


def test_rates_by_model_year(ws: Workspace, page: Element) -> None:
    frame = ws.rates(by=["component", "model_year"], at=12)
    known = {
        (str(row["component"]), str(row["model_year"])): row
        for _, row in frame.iterrows()
    }
    rows = rows_of(page, "rate-by-model-year-table")
    unit = formats.rate_unit(known[row[0], row[1]]["rate"] for row in rows)
    assert len(rows) == len(known) > 100
    for name, year, *cells in rows:
        row = known[name, year]
        counts = [formats.count(row["units"]), formats.count(row["claims"])]
        assert cells[:5] == [*counts, *share(row, unit)], (name, year)
        assert cells[5] == ("yes" if row["mature"] else "no")


def test_lives(ws: Workspace, page: Element) -> None:
    frame = ws.life(by=["component"]).set_index("component")
    rows = rows_of(page, "life-table")
    assert [row[0] for row in rows[:3]] == list(
        frame.reset_index()
        .sort_values(["failures", "component"], ascending=[False, True])["component"]
        .head(3)
    )
    assert len(rows) == len(frame)
    for name, units, failures, shape, *cells in rows:
        row = frame.loc[name]
        assert [units, failures] == [
            formats.count(row["units"]),
            formats.count(row["failures"]),
        ]
        if pd.isna(row["shape"]):
            assert shape == MISSING
        elif pd.notna(row["shape_lower"]) and pd.notna(row["shape_upper"]):
            assert shape == (
                f"{formats.ratio(row['shape'])} "
                f"({formats.ratio(row['shape_lower'], 'lower')}–"
                f"{formats.ratio(row['shape_upper'], 'upper')})"
            )
        assert cells[3] == ("" if pd.isna(row["pattern"]) else row["pattern"])
        assert cells[4] == formats.p_value(row["fit_p_value"])


def test_signals_and_windows(ws: Workspace, page: Element) -> None:
    signals = ws.signals()
    tables = {t.attributes.get("id") for t in page.all("table")}
    assert ("signals-table" in tables) is bool(len(signals))
    if len(signals):
        rows = rows_of(page, "signals-table")
        assert [row[4] for row in rows] == [times(r) for _, r in signals.iterrows()]
    windows = ws.windows()
    assert len(windows) > 0
    rows = rows_of(page, "windows-table")
    assert len(rows) == len(windows)
    for printed, (_, row) in zip(rows, windows.iterrows(), strict=True):
        assert printed[0] == row["component"]
        assert printed[2:9] == [
            times(row),
            formats.count(row["claims"]),
            formats.decimal_text(row["expected"]),
            formats.count(row["units"]),
            formats.count(row["not_yet_failed"]),
            formats.p_value(row["p_value"]),
            formats.p_value(row["adjusted_p"]),
        ]


def test_changes(ws: Workspace, page: Element) -> None:
    rows = {row[0]: row for row in rows_of(page, "engineering-changes-table")}
    assert rows
    for number, printed in rows.items():
        row = ws.change(number).iloc[0]
        assert printed[1] == row["component"]
        assert printed[3] == row["verdict"]
        assert printed[4] == times(row)
        for place, side in ((5, "before"), (6, "after")):
            claims = formats.count(row[f"claims_{side}"])
            assert (
                printed[place] == f"{claims} of {formats.count(row[f'units_{side}'])}"
            )


def test_the_forecast_by_month(ws: Workspace, page: Element) -> None:
    frame = ws.forecast()
    rows = rows_of(page, "to-come-table")
    assert len(rows) == len(frame) == 12
    total = 0.0
    for printed, (_, row) in zip(rows, frame.iterrows(), strict=True):
        total += row["claims"]
        assert printed[:5] == [
            month(row["month"]),
            formats.count(row["claims"]),
            band(row, "80"),
            band(row, "95"),
            formats.count(total),
        ]


def test_the_forecast_by_component(ws: Workspace, page: Element) -> None:
    frame = ws.forecast(by=["component"], total=True)
    whole = {
        str(name): row
        for name, row in frame.set_index("component").iterrows()
        if isinstance(name, str)
    }
    printed = {row[0]: row[2:] for row in rows_of(page, "components-to-come-table")}
    told = {name: row for name, row in whole.items() if name in printed}
    assert len(told) > 20
    for name, row in told.items():
        claims = row["claims"]
        text = formats.count(claims) if claims >= 10 else formats.decimal_text(claims)
        assert printed[name][:3] == [text, band(row, "80"), band(row, "95")], name


def test_the_reserve(ws: Workspace, page: Element) -> None:
    frame = ws.reserve(by=["model_year"])
    frame["model_year"] = frame["model_year"].astype("Int64").astype(str)
    known = frame.set_index(["model_year", "currency", "part"])
    together = ws.reserve().set_index(["currency", "part"])

    def told(year: str, currency: str, part: str) -> pd.Series:
        if year == "all":
            return together.loc[(currency, part)]
        return known.loc[(year, currency, part)]

    rows = rows_of(page, "reserve-table")
    assert rows
    parts = [part for part in frame["part"].unique() if part != "total"]
    for year, _, *cells in rows:
        currency = cells[-1]
        for place, part in enumerate(parts):
            row = told(year, currency, part)
            assert cells[place] == formats.amount(float(row["amount"]))
        total = told(year, currency, "total")
        assert cells[4] == formats.amount(float(total["amount"]))
    # every amount of the page's detail is an amount of the API
    detail = rows_of(page, "reserve-by-model-year-table")
    for year, part, _, amount, *limits, currency in detail:
        row = known.loc[(year, currency, part)]
        assert amount == formats.amount(float(row["amount"]))
        assert limits[3] == formats.decimal_text(float(row["upper95"]), 0, "upper") or (
            limits[3] == formats.amount(float(row["upper95"]))
        )


def test_spare_parts(ws: Workspace, page: Element) -> None:
    frame = ws.spares().set_index("part_no")
    rows = rows_of(page, "spares-table")
    assert rows
    for part, description, _, lead, pieces, hold, price, _ in rows:
        row = frame.loc[part]
        assert description == row["description"]
        assert [lead, pieces, hold] == [
            formats.count(row["lead_time_days"]),
            formats.decimal_text(row["demand_mean"]),
            formats.count(row["quantity_to_hold"]),
        ]
        assert price.split()[0] == f"{float(row['unit_cost']):,.2f}"


def test_late_months(ws: Workspace, page: Element) -> None:
    frame = ws.lag()
    rows = rows_of(page, "claims-by-failure-month-table")
    assert len(rows) == len(frame)
    for printed, (_, row) in zip(rows, frame.iterrows(), strict=True):
        assert printed[0] == f"{pd.Timestamp(row['month']):%Y-%m}"
        assert printed[1] == formats.count(row["claims"])
        assert printed[3] == formats.decimal_text(row["completed"])
        assert printed[4] == formats.decimal_text(row["lower"], 0, "lower")
        assert printed[5] == formats.decimal_text(row["upper"], 0, "upper")
    first = {row[0]: row for row in rows_of(page, "restated-table")}
    newest = frame.iloc[-1]
    printed = first[month(newest["month"])]
    assert printed[1] == formats.count(newest["first_shown"])
    assert printed[3] == formats.count(newest["claims"])


def test_open_claims_agree_with_each_other(page: Element) -> None:
    """What the first screen counts is what the section adds up."""
    [table] = [
        t for t in page.all("table") if t.attributes.get("id") == "open-claims-table"
    ]
    total = [text_of(cell) for cell in table.all("tfoot")[0].all("td")]
    counted = {row[0]: row[1] for row in rows_of(page, "changes-table")}
    assert counted["claims open at the end"] == total[0]
    late = sums(int(cell.replace(",", "")) for cell in total[3:6])
    decisions = next(
        s for s in page.all("section") if s.attributes.get("id") == "decisions"
    ).text
    if late:
        assert f"{late:.0f} claim" in decisions
