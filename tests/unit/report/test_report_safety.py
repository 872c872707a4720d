"""Dangerous claims on the page: which, why, in which words, with which cautions."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import fixture_monthly
import pytest
from page_reader import read

from claimlens.analysis.cautions import KINDS, caution_lines, kinds_of
from claimlens.monthly_inputs import MonthlyInputs, SafetyClaim
from claimlens.report.monthly import render_monthly
from claimlens.report.safety_section import safety_sentence, safety_table

SMOKE = SafetyClaim(
    claim_no="C-9",
    serial="TRK-1",
    component="mudguard",
    failure_mode="broken/cracked",
    reported_on=date(2026, 3, 21),
    told_on=date(2026, 3, 21),
    words_read="narrative: smoke",
    why="reported",
)
BROKEN_FORK = SafetyClaim(
    claim_no="C-4",
    serial="TRK-2",
    component="fork/suspension",
    failure_mode="broken/cracked",
    reported_on=date(2026, 1, 9),
    told_on=date(2026, 3, 20),
    words_read="finding: fork/suspension, broken/cracked",
    why="inspected",
)
OLD = replace(BROKEN_FORK, claim_no="C-1", told_on=date(2026, 1, 9), why="open")


def with_claims(*claims: SafetyClaim) -> MonthlyInputs:
    inputs = fixture_monthly.build()
    return replace(inputs, changes=replace(inputs.changes, safety_claims=claims))


def plain(text: str) -> str:
    """Turn no-break spaces into spaces."""
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_a_row_tells_claim_unit_day_component_and_the_words_read() -> None:
    rows = safety_table(with_claims(SMOKE, BROKEN_FORK)).rows
    assert [tuple(map(plain, row[:5])) for row in rows] == [
        ("C-9", "TRK-1", "report of 21 March 2026", "mudguard", "narrative: smoke"),
        (
            "C-4",
            "TRK-2",
            "inspection of 20 March 2026",
            "fork/suspension",
            "finding: broken/cracked",
        ),
    ]


def test_words_that_were_cut_off_send_the_reader_to_the_claim() -> None:
    ((*_, read_words, _cautions),) = safety_table(
        with_claims(replace(SMOKE, words_read="", serial=""))
    ).rows
    assert read_words == "see the claim"


def test_older_claims_say_why_they_are_listed() -> None:
    sentence = safety_sentence((SMOKE, BROKEN_FORK, OLD), "March 2026")
    assert sentence.startswith("1 claim reported in March 2026 tells of injury")
    assert sentence.endswith(
        "1 older claim was found dangerous by an inspection this month; 1 older "
        "dangerous claim is still open."
    )


def test_a_calm_month_with_old_dangers_open_is_not_called_calm() -> None:
    sentence = safety_sentence((OLD, replace(OLD, claim_no="C-2")), "March 2026")
    assert sentence.startswith("No claim reported in March 2026 was recognised")
    assert sentence.endswith("2 older dangerous claims are still open.")


@pytest.mark.parametrize(
    ("component", "mode", "words", "kinds"),
    [
        ("battery pack", "swollen", "narrative: swollen", "battery electrical"),
        ("controller", "no power", "technician note: fault", "electrical"),
        ("connector", "short circuit/burnt", "", "battery electrical"),
        ("brake hydraulic", "leaking", "finding: leaking", "brakes"),
        ("steering/headset", "loose/unseated", "", "steering structure"),
        ("fork/suspension", "deformed", "", "steering structure"),
        ("frame", "broken/cracked", "", "structure"),
        # the part replaced is not always what was dangerous
        ("brake pad/rotor", "worn", "narrative: smoke", "battery electrical brakes"),
        ("frame", "worn", "narrative: Rauch", "battery electrical structure"),
        ("display", "worn", "narrative: fumée", "battery electrical"),
        ("display", "worn", "narrative: Bremse versagt", "electrical brakes"),
        ("display", "worn", "narrative: lost steering", "electrical steering"),
    ],
)
def test_the_cautions_fit_the_danger(
    component: str, mode: str, words: str, kinds: str
) -> None:
    claim = replace(SMOKE, component=component, failure_mode=mode, words_read=words)
    assert kinds_of(claim) == tuple(kinds.split())


@pytest.mark.parametrize("component", ["unclassified", "mudguard", "a part of theirs"])
def test_a_component_that_tells_no_kind_gets_every_caution(component: str) -> None:
    assert kinds_of(replace(SMOKE, component=component)) == KINDS


def test_the_charger_is_no_charred_part() -> None:
    """The words are beginnings: one too short would read fire into harmless words."""
    calm = replace(SMOKE, component="frame", words_read="narrative: charger bolted on")
    assert kinds_of(calm) == ("structure",)


def test_only_the_cautions_needed_are_told_with_the_first_and_the_law() -> None:
    frame = replace(SMOKE, component="frame", words_read="finding: broken/cracked")
    headings = [heading for heading, _ in caution_lines([frame])]
    assert headings == ["First", "Frame, fork, wheels, seat", "Law"]
    everything = [heading for heading, _ in caution_lines([])]
    assert len(everything) == len(KINDS) + 2


def test_the_usual_cautions_stand_on_the_page_of_a_swollen_battery() -> None:
    battery = replace(SMOKE, component="battery pack", failure_mode="swollen")
    page = read(render_monthly(with_claims(battery), {}))
    told = next(s for s in page.all("section") if s.attributes["id"] == "dangers").text
    for words in (
        "Do not ride or charge",
        "qualified technician",
        "packing and carrier rules",
        "disconnect the battery and discharge",
        "Local law sets",
        "never makes it",
    ):
        assert words in told
    assert "Brakes" not in told
