"""Reserve and spare parts on the page: sums, words, silence."""

from __future__ import annotations

import json

import fixture_monthly
import fixture_outstanding
import pytest
from page_reader import read

from claimlens.charts import theme
from claimlens.charts.monthly_to_come import reserve_chart
from claimlens.errors import ReportError
from claimlens.monthly_inputs import RESERVE_PARTS, MonthlyInputs
from claimlens.report.monthly import render_monthly
from claimlens.report.outstanding_section import reserve_section, spares_section
from claimlens.report.view import SectionView

HOSTILE = '"><img src=x onerror=broken()>'


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def told(section: SectionView) -> str:
    return plain(" ".join((*section.lead, *section.reading)))


def with_currencies(*currencies: str) -> MonthlyInputs:
    return fixture_monthly.build(
        reserve=fixture_outstanding.reserve(currencies=currencies)
    )


@pytest.fixture(scope="module")
def inputs() -> MonthlyInputs:
    return fixture_monthly.build()


def test_the_reserve_is_told_part_by_part(inputs: MonthlyInputs) -> None:
    """222,200 in all; the bands of the fixture are a tenth and 15 % of it."""
    said = told(reserve_section(inputs, {}))
    assert said.startswith(
        "222,200 EUR are still to be paid: 199,980–244,420 with 80 % chance, "
        "188,870–255,530 with 95 %. Of it (a) reported and open 4,600, (b) failed, "
        "not yet reported 8,400, (c) to fail under cover 203,000, (d) shipped, not "
        "yet sold 6,200. Most of it is for model year 2025: 124,000 EUR."
    )
    assert "An estimate from claims data, not an accounting opinion." in said
    assert "not discounted" in said


def test_the_table_has_the_parts_and_leaves_ended_covers_out(
    inputs: MonthlyInputs,
) -> None:
    [table] = reserve_section(inputs, {}).tables
    assert [row[0] for row in table.rows] == ["2024", "2025", "2026"]
    assert [plain(cell) for cell in table.rows[2]] == [
        "2026", "191", "300", "700", "31,000", "6,200", "38,200", "34,380–42,020",
        "32,470–43,930", "EUR",
    ]  # fmt: skip
    assert table.total[6] == "222,200"
    assert [column.title for column in table.columns[2:6]] == [
        words[:3] for words in RESERVE_PARTS.values()
    ]


def test_each_currency_stands_for_itself() -> None:
    section = reserve_section(with_currencies("EUR", "SEK"), {})
    [table] = section.tables
    assert table.total == ()
    assert [(row[0], row[-1]) for row in table.rows[-2:]] == [
        ("all", "EUR"),
        ("all", "SEK"),
    ]
    assert "222,200 SEK are still to be paid" in told(section)


def test_a_box_says_what_the_reserve_rests_on(inputs: MonthlyInputs) -> None:
    box = reserve_section(inputs, {}).box
    assert box is not None
    assert box.lines[0] == (
        "13,480 units under cover, 312 shipped and not yet in service."
    )


def test_the_chart_stacks_the_parts_and_marks_the_band(inputs: MonthlyInputs) -> None:
    chart = reserve_chart(inputs, "reserve")
    assert chart is not None
    spec = json.loads(chart.spec)
    [panel] = spec["concat"]
    bars = panel["layer"][0]["encoding"]
    assert bars["y"]["stack"] == "zero"
    assert bars["color"]["scale"]["domain"] == list(RESERVE_PARTS.values())
    rows = [row for values in spec["datasets"].values() for row in values]
    stacked = sum(
        row["amount"] for row in rows if row.get("year") == "2025" and "part" in row
    )
    [total] = [row for row in rows if row.get("year") == "2025" and "upper95" in row]
    assert stacked == total["amount"] == 124_000
    assert {row["year"] for row in rows} == {"2024", "2025", "2026"}
    low, high = bars["y"]["scale"]["domain"]
    assert low == 0
    assert high > total["upper95"]
    assert len(chart.table.rows) == 4 * 5


def test_every_currency_gets_a_panel() -> None:
    chart = reserve_chart(with_currencies("EUR", "SEK"), "reserve")
    assert chart is not None
    titles = [panel["title"]["text"] for panel in json.loads(chart.spec)["concat"]]
    assert titles == ["still to be paid, EUR", "still to be paid, SEK"]
    assert chart.spec_narrow is not None
    for panel in json.loads(chart.spec_narrow)["concat"]:
        assert panel["width"] <= theme.NARROW.width


def test_spares_name_the_parts_with_most_demand(inputs: MonthlyInputs) -> None:
    section = spares_section(inputs)
    [table] = section.tables
    assert len(table.rows) == 20, "of 23"
    assert [plain(cell) for cell in table.rows[1]] == [
        "PT-001", "part of kind 1", "wiring harness", "31", "39.0", "49", "12.50 EUR",
        "612 EUR",
    ]  # fmt: skip
    assert [plain(cell) for cell in table.rows[0][-2:]] == ["–", "–"], "no price"
    said = told(section)
    assert said.startswith(
        "Most pieces are expected of part of kind 0 (40.0), part of kind 1 (39.0) and "
        "part of kind 2 (38.0)."
    )
    # 12.50 for each of 49 + 48 + ... + 28 pieces
    assert "of all 23 parts with a demand is worth 10,588 EUR" in said
    assert "suffices with a chance of 95 per cent" in said
    assert "over each part's lead time and the month between orders" in section.basis


def test_silence_has_its_reason() -> None:
    why, none = "No claim has a cost.", "Neither a parts list nor a claim names a part."
    inputs = fixture_monthly.build(
        reserve=fixture_outstanding.no_reserve(why),
        spares=fixture_outstanding.no_spares(none),
    )
    reserve, spares = reserve_section(inputs, {}), spares_section(inputs)
    assert reserve.empty == f"Nothing is said of money still to be paid. {why}"
    assert (reserve.tables, reserve.box, spares.tables) == ((), None, ())
    assert spares.empty == f"No spare part is told. {none}"
    assert reserve_chart(inputs, "reserve") is None
    assert why in read(render_monthly(inputs, {})).text


def test_nothing_outstanding_is_told_without_a_chart() -> None:
    built = fixture_outstanding.reserve()
    figures = ["claims", "amount", "lower80", "upper80", "lower95", "upper95"]
    frames = {
        name: getattr(built, name).assign(**dict.fromkeys(figures, 0.0))
        for name in ("reserve_years", "reserve_all")
    }
    inputs = fixture_monthly.build(reserve=fixture_outstanding.reserve(**frames))
    assert reserve_chart(inputs, "reserve") is None
    section = reserve_section(inputs, {})
    assert section.tables[0].rows == ()
    assert told(section).startswith("0 EUR are still to be paid")
    assert "Most of it" not in told(section)


def test_names_are_text_on_the_page() -> None:
    frame = fixture_outstanding.spares().spare_parts
    frame.loc[0, "description"] = HOSTILE
    inputs = fixture_monthly.build(spares=fixture_outstanding.spares(spare_parts=frame))
    page = render_monthly(inputs, {})
    assert "<img" not in page
    assert HOSTILE in read(page).text


def test_a_frame_that_lacks_a_column_is_refused() -> None:
    frame = fixture_outstanding.reserve().reserve_all.drop(columns="upper95")
    with pytest.raises(ReportError, match="reserve_all lacks upper95"):
        fixture_outstanding.reserve(reserve_all=frame)
