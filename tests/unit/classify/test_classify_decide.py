"""Sources weighed against each other, and the account of a decision."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from claimlens.classify.decide import COLUMNS, classify, explain
from claimlens.classify.taxonomy import load_taxonomy
from claimlens.classify.terms import Terms, load_terms
from claimlens.errors import InputError

Run = Callable[..., pd.Series]

DISPLAY = {"part_no": "P-1", "component": "display", "unknown": False}
CONFIRMED = {"finding": "confirmed fault", "inspected_on": "2024-05-01"}


def test_a_reviewed_label_wins_over_everything(one: Run) -> None:
    row = one(
        "The display is dead.",
        parts=[DISPLAY],
        findings=[{**CONFIRMED, "component": "display"}],
        labels=[
            {
                "component": "motor",
                "failure_mode": "worn",
                "reviewer": "ab",
                "reviewed_on": "2024-06-01",
            }
        ],
    )
    assert (row["component"], row["failure_mode"]) == ("motor", "worn")
    assert (row["source"], row["confidence"]) == ("label", 1.0)


def test_the_newest_label_wins(one: Run) -> None:
    labels = [
        {"component": "motor", "reviewer": "a", "reviewed_on": "2024-06-02"},
        {"component": "display", "reviewer": "b", "reviewed_on": "2024-06-01"},
    ]
    assert one("x", labels=labels)["component"] == "motor"
    assert one("x", labels=labels[::-1])["component"] == "motor"


def test_a_label_without_a_mode_takes_it_from_the_texts(one: Run) -> None:
    labels = [{"component": "display", "reviewer": "a", "reviewed_on": "2024-06-02"}]
    row = one("The display flickers.", labels=labels)
    assert row["failure_mode"] == "intermittent"


def test_a_finding_beats_the_part_replaced(one: Run) -> None:
    row = one(
        "The display is dead.",
        parts=[DISPLAY],
        findings=[{**CONFIRMED, "component": "connector", "failure_mode": "corrosion"}],
    )
    assert (row["component"], row["failure_mode"]) == ("connector", "corrosion")
    assert row["source"] == "finding"


def test_the_part_replaced_beats_note_and_narrative(one: Run) -> None:
    row = one("The motor is dead.", "Motor has no power.", parts=[DISPLAY])
    assert (row["component"], row["source"]) == ("display", "part")


def test_the_technician_beats_the_owner(one: Run) -> None:
    row = one("The display is dead.", "Controller has no output.")
    assert (row["component"], row["source"]) == ("controller", "technician note")


def test_what_the_technician_found_well_is_not_believed_of_the_owner(
    one: Run,
) -> None:
    row = one("I think the battery is dead.", "Battery tested, fine.")
    assert row["component"] == "unclassified"


def test_the_resolution_decides_where_nothing_else_does(one: Run) -> None:
    row = one("please call me", None, "Replaced the display under warranty.")
    assert (row["component"], row["source"]) == ("display", "resolution")


def test_agreement_of_sources_makes_surer(one: Run) -> None:
    alone = one("The display is dead.")["confidence"]
    both = one("The display is dead.", "Display has no power.")["confidence"]
    assert both > alone


def test_a_sound_returned_part_keeps_its_component(one: Run) -> None:
    row = one(
        "The motor makes noise.",
        findings=[{"finding": "no fault found", "component": "motor"}],
    )
    assert (row["component"], row["failure_mode"]) == ("motor", "no fault found")


def test_a_sound_part_gives_way_to_the_one_confirmed(one: Run) -> None:
    row = one(
        None,
        findings=[
            {"finding": "no fault found", "component": "battery pack"},
            {**CONFIRMED, "component": "controller", "failure_mode": "burnt"},
        ],
    )
    assert row["component"] == "controller"
    assert row["failure_mode"] == "short circuit/burnt"
    assert "battery pack" not in row["other_components"]


@pytest.mark.parametrize("kind", ["misuse", "transport damage"])
def test_misuse_and_transport_damage_of_a_finding_are_the_mode(
    one: Run, kind: str
) -> None:
    row = one("Fork bent.", findings=[{"finding": kind, "component": "fork"}])
    assert (row["component"], row["failure_mode"]) == ("fork/suspension", kind)


def test_a_finding_takes_its_component_from_the_part_number(one: Run) -> None:
    row = one(
        None,
        parts=[DISPLAY],
        findings=[{**CONFIRMED, "part_no": "P-1", "note": "water inside"}],
    )
    assert (row["component"], row["failure_mode"]) == ("display", "water ingress")


def test_no_fault_found_without_a_part_is_its_own_class(one: Run) -> None:
    row = one(None, "Test ride, could not reproduce, no fault found.")
    assert (row["component"], row["failure_mode"]) == (
        "none/no fault found",
        "no fault found",
    )


def test_the_owner_s_part_is_kept_when_the_technician_finds_nothing(one: Run) -> None:
    row = one("The motor makes noise.", "No fault found.")
    assert (row["component"], row["failure_mode"]) == ("motor", "no fault found")


@pytest.mark.parametrize(
    ("description", "component"),
    [
        ("Display, colour, 48 V", "display"),
        ("CABLE HARNESS MAIN", "wiring harness"),
        ("Holder for headlight", "headlight"),
        ("Brake pad set", "brake pad/rotor"),
        ("Motor connector 6-pin", "connector"),
        ("BATTERY 48V 14AH GEN2", "battery pack"),
        ("Ladegerät 48 V", "charger"),
        ("Pantalla LCD", "display"),
    ],
)
def test_a_part_without_component_is_read_by_its_description(
    one: Run, description: str, component: str
) -> None:
    parts = [{"part_no": "P-9", "description": description, "unknown": False}]
    row = one("please call", parts=parts)
    assert (row["component"], row["source"]) == (component, "part")


@pytest.mark.parametrize(
    "description", ["Cable tie 4.8 mm", "Screw M5 for display", "Grease, motor"]
)
def test_screws_ties_and_grease_decide_nothing(one: Run, description: str) -> None:
    parts = [{"part_no": "P-9", "description": description, "unknown": False}]
    assert one("please call", parts=parts)["component"] == "unclassified"
    assert one("The horn is dead.", parts=parts)["component"] == "switchgear"


def test_a_kit_yields_to_a_firm_note(one: Run) -> None:
    parts = [{"part_no": "P-9", "description": "Service kit brake pads, pads only"}]
    row = one(None, "Chain snapped.", parts=parts)
    assert row["component"] == "drivetrain"


def test_an_unknown_part_number_says_nothing(one: Run) -> None:
    row = one("The horn is dead.", parts=[{"part_no": "Z", "unknown": True}])
    assert row["component"] == "switchgear"


def test_two_replaced_parts_make_one_main_and_one_other(one: Run) -> None:
    parts = [DISPLAY, {"part_no": "P-2", "component": "motor", "unknown": False}]
    row = one("The motor is dead.", parts=parts)
    assert (row["component"], row["other_components"]) == ("motor", "display")


def test_a_higher_threshold_abstains(one: Run) -> None:
    text = "The display is dead."
    assert one(text, threshold=0.5)["component"] == "display"
    assert one(text, threshold=1.0)["component"] == "unclassified"


def test_missing_values_of_every_kind_read_as_empty(terms: Terms) -> None:
    claims = pd.DataFrame(
        {
            "claim_no": ["A", "B", "C"],
            "narrative": [None, np.nan, pd.NA],
            "technician_note": ["Display dead.", None, "  "],
            "resolution": [pd.NaT, None, None],
        }
    )
    empty = pd.DataFrame()
    result = classify(claims, empty, empty, empty, terms=terms)
    assert result["component"].tolist() == ["display", "unclassified", "unclassified"]


def test_the_result_has_one_row_a_claim_and_the_documented_columns(
    terms: Terms,
) -> None:
    claims = pd.DataFrame({"claim_no": ["9", "1", "5"], "narrative": "Display dead."})
    empty = pd.DataFrame(columns=["claim_no"])
    result = classify(claims, empty, empty, empty, terms=terms)
    assert list(result.columns) == list(COLUMNS)
    assert result["claim_no"].tolist() == ["9", "1", "5"]
    assert result["confidence"].between(0, 1).all()


def test_no_claims_give_an_empty_result(terms: Terms) -> None:
    empty = pd.DataFrame(columns=["claim_no"])
    result = classify(empty, empty, empty, empty, terms=terms)
    assert list(result.columns) == list(COLUMNS)
    assert result.empty


def test_the_evidence_never_holds_the_whole_narrative(one: Run) -> None:
    text = "Mr Example of 12 Sample Street says that the display is dead. " * 5
    row = one(text)
    assert "Sample Street" not in row["evidence"]
    assert "display" in row["evidence"]


def test_claims_without_numbers_are_refused(terms: Terms) -> None:
    empty = pd.DataFrame()
    with pytest.raises(InputError, match="claim_no"):
        classify(pd.DataFrame({"x": [1]}), empty, empty, empty, terms=terms)


def test_a_threshold_beyond_one_is_refused(one: Run) -> None:
    with pytest.raises(InputError, match="between 0 and 1"):
        one("Display dead.", threshold=50)


def test_explain_shows_every_piece_with_place_and_fate(
    told: Callable[..., str],
) -> None:
    text = told(
        "Display dead, harness chafed. Brakes are fine.",
        "Motor was replaced last year.",
    )
    assert "[narrative 14-21] 'harness .. chafed' -> wiring harness" in text
    assert "outvoted" in text
    assert "ruled out" in text
    assert "history, not counted" in text
    assert "chafed/cut" in text


def test_explain_takes_one_claim_at_a_time(terms: Terms) -> None:
    two = pd.DataFrame({"claim_no": ["1", "2"]})
    empty = pd.DataFrame()
    with pytest.raises(InputError, match="2 rows"):
        explain(two, empty, empty, empty, terms=terms)


def test_a_taxonomy_of_a_workspace_is_all_that_is_used(tmp_path: Path) -> None:
    components = tmp_path / "components.csv"
    components.write_text("component,names\nscreen unit,display|screen\nmotor,\n")
    modes = tmp_path / "modes.csv"
    modes.write_text("failure_mode\nworn\nbroken/cracked\n")
    extra = tmp_path / "terms.csv"
    extra.write_text(
        "group,component,failure_mode,weight,terms\n"
        "part,screen unit,,1,display|screen\n"
    )
    terms = load_terms(load_taxonomy(components, modes), extra)
    claims = pd.DataFrame(
        {
            "claim_no": ["1", "2", "3", "4"],
            "narrative": [
                "The display is not ok.",
                "Motor worn out.",
                "The chain snapped.",
                "Tested, no fault found.",
            ],
        }
    )
    empty = pd.DataFrame()
    result = classify(claims, empty, empty, empty, terms=terms)
    assert result["component"].tolist() == [
        "screen unit",
        "motor",
        "unclassified",
        "unclassified",
    ]
    assert result["failure_mode"].tolist()[1] == "worn"


def test_what_tested_well_is_not_the_claim_where_another_part_failed(
    one: Run,
) -> None:
    row = one(None, "Controller dead. Battery and motor tested ok.")
    assert (row["component"], row["failure_mode"]) == ("controller", "no power")


def test_a_question_about_a_part_is_no_claim_for_it(one: Run) -> None:
    row = one(
        "Hello, I would like to buy a second charger for my trike, which one fits?"
    )
    assert row["component"] == "unclassified"


def test_a_part_that_was_never_delivered_is_missing_and_not_dead(one: Run) -> None:
    row = one("There was no charger in the box.")
    assert (row["component"], row["failure_mode"]) == ("charger", "missing part")


def test_sources_that_disagree_make_it_less_sure_and_say_so(one: Run) -> None:
    part = {"part_no": "P1", "component": "display", "unknown": False}
    agreed = one(None, "Display dead, replaced.", parts=[part])
    against = one(None, "Fault traced to the chafed harness.", parts=[part])
    assert against["component"] == "display"
    assert against["confidence"] < agreed["confidence"]
    assert "disagrees: technician note" in str(against["evidence"])
    assert "wiring harness" in str(against["evidence"])
    assert "disagrees" not in str(agreed["evidence"])


def test_an_inspection_settles_what_part_and_note_dispute(one: Run) -> None:
    row = one(
        None,
        "Fault traced to the chafed harness.",
        parts=[{"part_no": "P1", "component": "display", "unknown": False}],
        findings=[
            {
                "inspected_on": "2026-01-05",
                "finding": "confirmed fault",
                "component": "display",
            }
        ],
    )
    assert row["component"] == "display"
    assert "disagrees" not in str(row["evidence"])
