"""Open claims, the quality of the data, what folds, and what made the last report."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import fixture_monthly
import fixture_open
import fixture_rising
import pytest
from page_reader import read

from claimlens.monthly_inputs import MadeBy, MonthlyInputs, made_by
from claimlens.report import findings
from claimlens.report.decisions import decisions
from claimlens.report.folding import folded
from claimlens.report.monthly import render_monthly
from claimlens.report.monthly_sections import sections
from claimlens.report.open_section import open_section
from claimlens.report.quality_section import quality_section


@pytest.fixture
def inputs() -> MonthlyInputs:
    return fixture_monthly.build()


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_open_claims_are_told_by_what_they_wait_for(inputs: MonthlyInputs) -> None:
    section = open_section(inputs)
    said = plain(" ".join(section.lead))
    assert (
        "64 claims are open: 26 wait for a decision, 24 wait for a part and 14 wait "
        "for the repair to end." in said
    )
    assert "14 of them are of a vehicle that is probably off the road." in said
    assert "Requested and not yet decided: 310 CHF and 5,110 EUR." in said
    assert "60 claims closed in the last 90 days have a part noted" in said
    assert "of 900 closed earlier in the year 50.0 % were inspected" in said


def test_the_table_of_open_claims_adds_up(inputs: MonthlyInputs) -> None:
    table = open_section(inputs).tables[0]
    bands = slice(2, 7)
    for row in (*table.rows, table.total):
        counts = [int(cell.replace(",", "")) for cell in row[1:7]]
        assert counts[0] == sum(int(cell) for cell in row[bands])
    back = next(row for row in table.rows if "come back" in row[0])
    assert back[-2:] == ("–", "–")  # repaired and settled
    opened = [row for row in table.rows if row[0] != "for the part to come back"]
    for place in range(1, 8):
        total = sum(int(row[place]) for row in opened)
        assert int(table.total[place]) == total
    # 30 days are within 30 days, 31 are not
    repair = next(row for row in table.rows if "repair" in row[0])
    assert repair[2:7] == ("0", "7", "7", "0", "0")


def test_what_was_judged_and_restated_is_among_the_changes(
    inputs: MonthlyInputs,
) -> None:
    said = [plain(one) for one in findings.changes(inputs)]
    [judged] = [one for one in said if one.startswith("Engineering changes judged")]
    frame = inputs.rising.design_changes
    for row in frame[frame["verdict"] != ""].to_dict("records"):
        assert f"{row['change_no']} ({row['component']}) {row['verdict']}" in judged
    [restated] = [one for one in said if "months of failure have" in one]
    assert restated.startswith("Restated: 5 of ")


def test_a_column_of_the_export_is_believed(inputs: MonthlyInputs) -> None:
    told = replace(inputs, open_claims=fixture_open.build(off_road_column="Standzeit"))
    section = open_section(told)
    assert "vehicle that is off the road" in " ".join(section.lead)
    assert "'Standzeit'" in " ".join(section.reading)
    assert "guessed" in " ".join(open_section(inputs).reading)


def test_what_was_requested_stands_beside_what_was_approved(
    inputs: MonthlyInputs,
) -> None:
    rows = open_section(inputs).tables[1].rows
    assert [plain(cell) for cell in rows[0]] == [
        *("the month", "EUR", "130", "120", "14", "22"),
        *("20,000", "17,000", "85.0 %"),
    ]
    assert rows[2][-3:] == ("–", "–", "–")


def test_a_month_without_open_claims_says_so() -> None:
    month = fixture_monthly.build(open_claims=fixture_open.nothing())
    section = open_section(month)
    assert section.tables == ()
    assert section.empty == "No claim is open."


def test_claims_open_for_too_long_cost_what_they_ask_for(inputs: MonthlyInputs) -> None:
    [item] = [d for d in decisions(inputs).now if "been open for more" in d.what]
    assert plain(item.waiting).startswith("310 CHF and 1,900 EUR requested")
    silent = replace(inputs, open_claims=fixture_open.nothing())
    [item] = [d for d in decisions(silent).now if "been open for more" in d.what]
    assert item.waiting.startswith("Not known")


def test_the_quality_of_the_data_is_a_table_of_shares(inputs: MonthlyInputs) -> None:
    rows = {row[0]: row[1:] for row in quality_section(inputs).tables[0].rows}
    assert rows["claims without a component"][0] == "312"
    known = rows["units whose in-service date is known"]
    assert [plain(cell) for cell in known] == ["18,606", "20,540", "90.6 %"]
    assert rows["months of failure restated since the last report"][0] == "5"
    assert rows["rows rejected"][0] == "15"
    last = rows["claims of the last two years without a failure date"]
    assert plain(last[2]) == "4.0 %"


def test_sections_without_news_fold_into_a_sentence(inputs: MonthlyInputs) -> None:
    quiet = replace(
        inputs,
        rising=fixture_rising.build(signals=fixture_rising.signals()),
        changes=replace(inputs.changes, new_in_top_five=()),
        rates_by_model_year=inputs.rates_by_model_year.iloc[:0],
        build_months=inputs.build_months.iloc[:0],
    )
    before = {s.id: s.fold for s in folded(inputs, sections(inputs, {}))}
    after = {s.id: s.fold for s in folded(quiet, sections(quiet, {}))}
    for name in ("rising", "ranking", "model-years", "build-months"):
        assert not before[name], name
        assert after[name], name
    for name in ("months", "late", "open-claims", "to-come", "reserve", "quality"):
        assert not after[name], name
    for name in ("ages", "curves", "life"):
        assert before[name], name


def test_a_forecast_that_missed_does_not_fold(inputs: MonthlyInputs) -> None:
    shown = {s.id: s for s in folded(inputs, sections(inputs, {}))}
    assert shown["forecast-tested"].fold
    frame = inputs.to_come.backtests.assign(actual=9_999.0)
    missed = replace(inputs, to_come=replace(inputs.to_come, backtests=frame))
    shown = {s.id: s for s in folded(missed, sections(missed, {}))}
    assert not shown["forecast-tested"].fold
    assert shown["forecast-tested"].banner


def test_a_folded_section_keeps_its_heading_outside(inputs: MonthlyInputs) -> None:
    page = read(render_monthly(inputs, {}))
    section = next(s for s in page.all("section") if s.attributes["id"] == "life")
    [fold] = [d for d in section.all("details") if d.attributes.get("class") == "fold"]
    assert section.children[0].tag == "h2"
    assert not fold.all("h2")
    assert fold.all("table")
    assert "open" not in fold.attributes


def test_a_page_says_what_made_it_and_the_next_one_compares(
    inputs: MonthlyInputs,
) -> None:
    made = made_by(render_monthly(inputs, {}))
    assert made == MadeBy(
        as_of=date(2026, 3, 31),
        inputs=inputs.meta.loaded,
        version=inputs.meta.version,
        settings=inputs.meta.settings_digest,
        terms=inputs.meta.terms_digest,
    )
    assert made_by("<html><head></head>") is None
    same = replace(inputs, meta=replace(inputs.meta, last_made=made))
    assert not any("Changed since" in said for said in findings.changes(same))


@pytest.mark.parametrize(
    ("field", "word"),
    [("settings", "the settings"), ("terms", "the terms"), ("version", "claimlens")],
)
def test_what_changed_since_the_last_report_is_said(
    inputs: MonthlyInputs, field: str, word: str
) -> None:
    then = {
        "version": inputs.meta.version,
        "settings": inputs.meta.settings_digest,
        "terms": inputs.meta.terms_digest,
    }
    last = MadeBy(as_of=date(2026, 2, 28), **(then | {field: "aaaa00000000"}))
    month = replace(inputs, meta=replace(inputs.meta, last_made=last))
    [said] = [one for one in findings.changes(month) if "Changed since" in one]
    assert "the report of 28 February 2026" in plain(said)
    assert word in said
    assert "aaaa00000000 then" in said
    others = {"the settings", "the terms", "claimlens itself"} - {word}
    assert sum(other in said for other in others) == (1 if word == "claimlens" else 0)
