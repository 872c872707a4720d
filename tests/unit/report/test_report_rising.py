"""What rises, on the page: first screen, list, chance, blind spots, and silence."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import fixture_monthly
import fixture_rising
import pandas as pd
import pytest
from page_reader import Element, read

from claimlens.monthly_inputs import MonthlyInputs, Rising
from claimlens.report import findings
from claimlens.report.monthly import render_monthly, view
from claimlens.report.production_section import (
    change_section,
    window_section,
    word_section,
)
from claimlens.report.rising_section import rising_section
from claimlens.report.rising_sentences import (
    chance_sentence,
    rising_news,
    times,
)

HOSTILE = '"><img src=x onerror=broken()>'


def month_with(rising: Rising) -> MonthlyInputs:
    return fixture_monthly.build(rising=rising)


@pytest.fixture(scope="module")
def inputs() -> MonthlyInputs:
    return fixture_monthly.build()


@pytest.fixture(scope="module")
def tree(inputs: MonthlyInputs) -> Element:
    return read(render_monthly(inputs, {}))


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_the_first_screen_says_what_stands(inputs: MonthlyInputs) -> None:
    assert findings.changes(inputs)[0] == (
        "Rising: 1 alarm and 2 watches stand; among them 1 new alarm."
    )


@pytest.mark.parametrize(
    ("states", "said"),
    [
        ([], "Nothing rises beyond what chance explains."),
        (["steady"], "no alarm and 1 watch stands; none is new or growing."),
        (
            ["new", "growing", "growing"],
            "no alarm and 3 watches stand; among them 1 new watch, 2 growing watches.",
        ),
        (["cleared"], "Nothing rises beyond what chance explains."),
    ],
)
def test_news_count_what_stands(states: list[str], said: str) -> None:
    rows = [
        fixture_rising.signal(f"part {number}", state=state)
        for number, state in enumerate(states)
    ]
    rising = fixture_rising.build(signals=fixture_rising.signals(*rows))
    assert list(rising_news(month_with(rising))) == [said]


@pytest.mark.parametrize(
    ("a_month", "said"),
    [
        ((2.34, 0.4), ("about 2.3 new signals a month", "about 5 new alarms a year")),
        ((0.68, 0.054), ("about 8 new signals a year", "one new alarm in about 19")),
        ((0.03, 0.0001), ("one new signal in about 3 years", "hardly any new alarm")),
    ],
)
def test_chance_is_told_in_months_or_years(
    a_month: tuple[float, float], said: tuple[str, str]
) -> None:
    rising = fixture_rising.build(chance_signals=a_month[0], chance_alarms=a_month[1])
    sentence = chance_sentence(month_with(rising))
    assert all(part in sentence for part in said)


def test_a_level_is_a_word_and_a_shape(tree: Element) -> None:
    table = next(
        e for e in tree.all("table") if e.attributes.get("id") == "signals-table"
    )
    cells = [[cell.text for cell in row.all("td")] for row in table.all("tr")[1:]]
    heads = [row.all("th")[0].text for row in table.all("tr")[1:]]
    assert [row[0] for row in cells] == ["▲ alarm", "▲ alarm"] + 3 * ["◇ watch"]
    assert heads[1] == "of these, Hauler 3 alone"
    assert plain(cells[0][3]) == "4.0 (2.0–7.0)"
    assert cells[4][1] == "cleared"


def test_a_list_tells_why_where_and_who_knows(inputs: MonthlyInputs) -> None:
    section = rising_section(inputs, {})
    said = {entry.heading: " ".join(entry.lines) for entry in section.entries}
    assert len(said) == 3, "what has cleared is in the table alone"
    harness = said["Alarm: wiring harness, all models, new"]
    assert "Most claims by model Hauler 3 (9), Finch S (3); by region DE (7)" in harness
    assert "Hauler 3 alone, alarm, steady: 12 of 812" in harness
    assert "Look first: 7 of 12" in said["Watch: connector, all models, steady"]
    charger = plain(said["Watch: charger, all models, acknowledged"])
    assert (
        "Acknowledged by R. Vantongeren at the cut-off of 28 February 2026" in charger
    )
    assert "until 30 June 2026: known, the supplier sorts" in charger


def test_the_box_says_what_cannot_be_seen(inputs: MonthlyInputs) -> None:
    box = rising_section(inputs, {}).box
    assert box is not None
    assert box.lines[0].startswith("1 of 2 components have fewer than 4")
    assert "3 of 4 pairs of component and model" in box.lines[0]
    assert box.table is not None
    assert box.table.rows == (("mudguard", "0.6", "8.3", "21.3 to over 50"),)


def test_models_that_are_not_built_any_more_are_no_blind_spot() -> None:
    frame = fixture_rising.build().blind_spots
    ended = frame.assign(expected=frame["expected"].where(frame["model"] == "", 0.0))
    box = rising_section(month_with(fixture_rising.build(blind_spots=ended)), {}).box
    assert box is not None
    assert "pairs" not in box.lines[0]
    assert box.table is not None
    assert len(box.table.columns) == 3


def test_without_a_register_each_section_says_so_in_one_sentence() -> None:
    why = "No unit register is loaded, so nothing can be said."
    inputs = month_with(fixture_rising.nothing(why))
    page = read(render_monthly(inputs, {}))
    for anchor in ("rising", "windows", "engineering-changes"):
        section = next(
            e for e in page.all("section") if e.attributes.get("id") == anchor
        )
        assert why in section.text
        assert not section.all("table")
    assert "Rising:" not in " ".join(findings.changes(inputs))


def test_a_quiet_month_says_so_and_keeps_the_chances() -> None:
    rising = fixture_rising.build()
    quiet = fixture_rising.build(
        signals=rising.signals.iloc[:0],
        signal_months=rising.signal_months.iloc[:0],
        windows=rising.windows.iloc[:0],
        window_months=rising.window_months.iloc[:0],
        rising_words=rising.rising_words.iloc[:0],
        design_changes=rising.design_changes.iloc[:0],
        no_changes="No list of engineering changes is loaded, so none is judged.",
    )
    inputs = month_with(quiet)
    section = rising_section(inputs, {})
    assert section.lead[0] == "Nothing rises beyond what chance explains."
    assert "chance alone" in section.lead[1]
    assert section.listing is None
    assert section.empty == ""
    assert "No window" in window_section(inputs, {}).empty
    assert change_section(inputs, {}).empty == quiet.no_changes
    assert word_section(inputs).empty.startswith("No word")


def test_windows_are_told_with_p_and_those_of_chance_are_hints(
    inputs: MonthlyInputs,
) -> None:
    section = window_section(inputs, {})
    first, hint = map(plain, section.lead)
    assert first.startswith(
        "Wiring harness: units built in March 2024 to June 2024 fail 6.1 (4.4–8.3)"
    )
    assert "1,589 not yet" in first
    assert hint.startswith("1 further window is a hint only")
    [table] = section.tables
    assert plain(" ".join(table.rows[1])).endswith(
        "0.04 0.41 November 2021 to January 2023"
    )
    assert [len(row) for row in table.rows] == 2 * [len(table.columns)]


def test_a_note_of_a_window_gets_a_column() -> None:
    frame = fixture_rising.build().windows.assign(note="oldest unit inside: 3 months")
    section = window_section(month_with(fixture_rising.build(windows=frame)), {})
    [table] = section.tables
    assert table.columns[-1].title == "note"
    assert table.rows[0][-1] == "oldest unit inside: 3 months"


def test_changes_show_verdicts_and_why_there_is_none(inputs: MonthlyInputs) -> None:
    section = change_section(inputs, {})
    [said] = map(plain, section.lead)
    assert said == (
        "DC-0412 (connector, from September 2023): verdict improved; the rate since "
        "is 0.40 (0.29–0.54) times that before (71 failures against 178.0 expected)."
    )
    [table] = section.tables
    assert table.rows[1][3] == "not judged"
    assert table.rows[0][5] == "96 of 4,100"
    old = section.entries[1]
    assert old.heading == "DC-0007, charger: not judged"
    assert old.lines == ("Older than 5 years; claimlens change DC-0007 judges it.",)


def test_words_are_told_by_claim_number(inputs: MonthlyInputs) -> None:
    section = word_section(inputs)
    assert section.lead[0].startswith("2 words rise, 1 of them unknown")
    [table] = section.tables
    row = dict(
        zip((column.title for column in table.columns), table.rows[0], strict=True)
    )
    assert row["word"] == "whistle (en)"
    assert row["among"] == "all texts, newest month"
    assert row["texts"] == "9 of 80"
    assert row["claims to read"] == "C-2026-0388, C-2026-0412"
    assert row["means"] == "not in the list"


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ((5.733, 3.209, 9.4567), "5.7 (3.2–9.5)"),
        ((0.3779, 0.2892, 0.4937), "0.38 (0.28–0.50)"),
        ((float("nan"), 1.0, 2.0), "–"),
        ((2.0, float("nan"), float("nan")), "2.0"),
    ],
)
def test_a_ratio_is_told_with_its_interval_outward(
    values: tuple[float, float, float], said: str
) -> None:
    assert times(*values) == said


def test_hostile_words_stay_words() -> None:
    frame = fixture_rising.build().signals.assign(
        component=HOSTILE, why=HOSTILE, note=HOSTILE, models=HOSTILE + " 3"
    )
    rising = fixture_rising.build(signals=frame)
    rising = replace(
        rising,
        rising_words=rising.rising_words.assign(word=HOSTILE, examples=HOSTILE),
        design_changes=rising.design_changes.assign(
            description=HOSTILE, change_no=HOSTILE
        ),
    )
    page = render_monthly(month_with(rising), {})
    assert HOSTILE not in page
    assert not read(page).all("img")


def test_basis_names_population_period_and_cut_off(inputs: MonthlyInputs) -> None:
    basis = plain(rising_section(inputs, {}).basis)
    for part in ("14 components", "31 March 2026", "18 build months", "cover"):
        assert part in basis
    shown = view(inputs, {})
    assert [section.id for section in shown.sections][:5] == [
        "arrivals",
        "rising",
        "windows",
        "engineering-changes",
        "words",
    ]
    assert isinstance(inputs.rising.judged_on, date)
    assert isinstance(inputs.rising.signals, pd.DataFrame)
