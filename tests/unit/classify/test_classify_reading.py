"""From a text to marks: phrases, negation, cause, history and places."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest

Run = Callable[..., pd.Series]


@pytest.mark.parametrize(
    ("text", "component"),
    [
        # negation and what is well
        ("Brakes are fine, the motor is dead.", "motor"),
        ("Battery ok, charger dead.", "charger"),
        ("No noise from the motor. The horn does not work.", "switchgear"),
        ("It is not the controller, it's the throttle.", "throttle"),
        ("Checked the display, fine. Controller has no output.", "controller"),
        ("Battery and charger ruled out. Fault lies in the controller.", "controller"),
        ("Battery, charger and display are fine, the motor is dead.", "motor"),
        ("Neither battery nor display is faulty, the throttle is dead.", "throttle"),
        # cause over symptom
        ("Display dead, harness chafed.", "wiring harness"),
        ("Harness chafed, display dead.", "wiring harness"),
        ("Headlight dead due to a corroded connector.", "connector"),
        ("Display blank, caused by a cut wire.", "wiring harness"),
        ("A loose plug caused the motor to cut out.", "connector"),
        ("Motor stutters because the plug is wet.", "connector"),
        ("Motor cuts out, traced to the controller.", "controller"),
        # history
        ("Motor was replaced last year, now the display is dead.", "display"),
        ("Battery already replaced in May, now the horn is silent.", "switchgear"),
        ("Replaced the controller, no change. Throttle has no signal.", "throttle"),
        # it is spoken of again without its name
        ("I have a problem with my display. It stays black.", "display"),
        ("The motor was replaced last year. Now the same noise from it again.",
         "motor"),
        # only where it is, not what it is
        ("Crack in the weld of the frame under the seat.", "frame"),
        ("Noise from the motor at the rear wheel.", "motor"),
        ("Rattling behind the display? No: the headlight is loose.", "headlight"),
    ],
)  # fmt: skip
def test_the_failed_part_is_told_from_the_ones_only_named(
    one: Run, text: str, component: str
) -> None:
    assert one(text)["component"] == component


@pytest.mark.parametrize(
    ("text", "component"),
    [
        ("The charge socket is broken.", "connector"),
        ("Ring terminal corroded.", "wiring harness"),
        ("Motor connector corroded.", "connector"),
        ("The plug of the motor is burnt.", "connector"),
        ("Cable of the speed sensor cut.", "speed sensor"),
        ("Torque sensor lead torn off.", "pedal-assist sensor"),
        ("Charger cable frayed.", "charger"),
        ("Motor cable chafed.", "wiring harness"),
        ("The horn button is stuck.", "switchgear"),
        ("Ignition lock broken.", "lock/key"),
        ("Battery lock jammed.", "lock/key"),
        ("Chain snapped.", "drivetrain"),
        ("Differential is leaking oil.", "drivetrain"),
        ("Crank sensor without signal.", "pedal-assist sensor"),
        ("Play in the folding hinge.", "frame"),
        ("Drum brake shoes worn.", "brake pad/rotor"),
        ("The brake light stays off.", "rear light"),
        ("Brake light switch broken.", "switchgear"),
    ],
)
def test_the_seams_between_components_are_kept(
    one: Run, text: str, component: str
) -> None:
    assert one(text)["component"] == component


@pytest.mark.parametrize(
    "text",
    [
        "it does not work",
        "please call me",
        "customer unhappy",
        "Error E07 on the display.",
        "Display shows error 21.",
        "My bike won't start.",
        "Is the battery or the charger included in the warranty?",
        "Everything is fine, just a question about my order.",
        "???",
        "2024-03-01",
        "",
        "   ",
    ],
)
def test_a_text_that_tells_nothing_stays_unclassified(one: Run, text: str) -> None:
    row = one(text)
    assert (row["component"], row["failure_mode"]) == ("unclassified", "unclassified")
    assert row["confidence"] < 0.5


@pytest.mark.parametrize(
    ("text", "mode"),
    [
        ("The display is dead.", "no power"),
        ("The display flickers.", "intermittent"),
        ("Charge port melted.", "short circuit/burnt"),
        ("Water in the display.", "water ingress"),
        ("Corroded pins in the plug.", "corrosion"),
        ("Motor cable chafed through.", "chafed/cut"),
        ("The fork is cracked.", "broken/cracked"),
        ("Brake pads worn.", "worn"),
        ("The saddle slips down.", "loose/unseated"),
        ("Brake caliper is leaking.", "leaking"),
        ("Flat tyre again.", "leaking"),
        ("Motor makes a grinding noise.", "noise/vibration"),
        ("The charger overheats.", "overheating"),
        ("Battery only lasts half as long.", "reduced performance"),
        ("Gears skip under load.", "misadjusted"),
        ("The battery is swollen.", "swollen"),
        ("Rim bent.", "deformed"),
        ("After the firmware update the assist level is wrong.", "software fault"),
        ("Display cracked, damaged in transit.", "transport damage"),
        ("Rim bent by misuse.", "misuse"),
        ("Motor tested, no fault found.", "no fault found"),
        ("The mirror was missing from the delivery.", "missing part"),
    ],
)
def test_each_failure_mode_is_read(one: Run, text: str, mode: str) -> None:
    assert one(text)["failure_mode"] == mode


def test_a_signature_and_a_quoted_mail_are_not_read(one: Run) -> None:
    text = (
        "The display is dead.\n> the motor makes a loud noise\n> and the chain snapped"
        "\n\nKind regards\nBattery & Charger Dealers, brake specialists"
    )
    row = one(text)
    assert row["component"] == "display"
    assert row["other_components"] == ""


def test_two_failed_parts_are_both_told(one: Run) -> None:
    row = one("The kickstand is bent and the mudguard is broken.")
    assert {row["component"], *row["other_components"].split("; ")} == {
        "kickstand",
        "mudguard",
    }


def test_a_symptom_of_a_named_cause_is_no_second_failure(one: Run) -> None:
    row = one("Display dead due to a chafed harness.")
    assert (row["component"], row["other_components"]) == ("wiring harness", "")


@pytest.mark.parametrize(
    "text",
    [
        "Il freno non funziona più dopo la pioggia, grazie.",
        "Cykelns motor fungerar inte när det är kallt.",
    ],
)
def test_a_language_without_terms_is_left_unread(one: Run, text: str) -> None:
    assert one(text)["component"] == "unclassified"
