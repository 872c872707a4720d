"""The two lists and the free spellings that lead to them."""

from __future__ import annotations

from pathlib import Path

import pytest

from claimlens.classify.taxonomy import NO_FAULT, load_taxonomy
from claimlens.errors import SettingsError

COMPONENTS = (
    "battery pack, charger, motor, controller, display, wiring harness, connector, "
    "throttle, pedal-assist sensor, speed sensor, brake hydraulic, brake pad/rotor, "
    "headlight, rear light, switchgear, drivetrain, wheel/spokes, tyre/tube, frame, "
    "fork/suspension, steering/headset, seat/seatpost, rack/accessories, kickstand, "
    "mudguard, lock/key, tracker/alarm, firmware, none/no fault found"
)
MODES = (
    "no power, intermittent, short circuit/burnt, water ingress, corrosion, "
    "chafed/cut, broken/cracked, worn, loose/unseated, leaking, noise/vibration, "
    "overheating, reduced performance, misadjusted, swollen, deformed, "
    "software fault, transport damage, misuse, no fault found, missing part"
)


def test_the_default_lists_are_those_of_the_design_in_order() -> None:
    taxonomy = load_taxonomy()
    assert list(taxonomy.components) == COMPONENTS.split(", ")
    assert list(taxonomy.modes) == MODES.split(", ")


@pytest.mark.parametrize(
    ("text", "component"),
    [
        ("Battery Pack", "battery pack"),
        ("battery-pack", "battery pack"),
        ("BATT", "battery pack"),
        ("Batery Pack", "battery pack"),
        (" Brake_Pads ", "brake pad/rotor"),
        ("tire / tube", "tyre/tube"),
        ("Bremsbeläge", "brake pad/rotor"),
        ("faisceau", "wiring harness"),
        ("NFF", NO_FAULT),
        ("flux coil", None),
        ("", None),
        (None, None),
        (float("nan"), None),
    ],
)
def test_a_free_spelling_leads_to_its_component(text: object, component: str) -> None:
    assert load_taxonomy().component_for(text) == component


@pytest.mark.parametrize(
    ("text", "mode"),
    [
        ("Water-Ingress", "water ingress"),
        ("burnt", "short circuit/burnt"),
        ("durchgescheuert", "chafed/cut"),
        ("ok", "no fault found"),
        ("purple", None),
    ],
)
def test_a_free_spelling_leads_to_its_failure_mode(text: str, mode: str) -> None:
    assert load_taxonomy().mode_for(text) == mode


def test_every_id_names_itself() -> None:
    taxonomy = load_taxonomy()
    assert all(taxonomy.component_for(name) == name for name in taxonomy.components)
    assert all(taxonomy.mode_for(name) == name for name in taxonomy.modes)


def test_a_workspace_can_bring_its_own_components(tmp_path: Path) -> None:
    own = tmp_path / "components.csv"
    own.write_text("component,names\nBattery Pack,\nTow Bar,hitch|coupling\n")
    taxonomy = load_taxonomy(own)
    assert list(taxonomy.components) == ["battery pack", "tow bar"]
    assert taxonomy.component_for("Coupling") == "tow bar"
    assert taxonomy.component_for("akku") == "battery pack"
    assert taxonomy.component_for("motor") is None


def test_a_name_that_stands_twice_is_refused_with_its_line(tmp_path: Path) -> None:
    own = tmp_path / "components.csv"
    own.write_text("component\nmotor\nMotor\n")
    with pytest.raises(SettingsError) as caught:
        load_taxonomy(own)
    assert caught.value.line == 3
    assert caught.value.source == "components.csv"


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("component\nmotor\nbell\nMOTOR\n", 4, "'motor' stands twice"),
        ("component\nwheel/spokes\nWheel - Spokes\n", 3, "stands twice"),
        ("component,group\nmotor,drive\n,drive\n", 3, "has no name"),
        ("component,names\ntow bar,hitch\nbell,ding|Hitch\n", 3, "'Hitch' leads to"),
        ("component,names\ntow bar,bell\nbell,\n", 2, "'bell' leads to"),
        ("component,dead_mode\nmotor,kaput\n", 2, "'kaput' is not in the list"),
        ("component\nmotor,drive\n", 2, "more cells than the header"),
    ],
)
def test_a_list_of_components_that_contradicts_itself_is_refused(
    tmp_path: Path, text: str, line: int, words: str
) -> None:
    own = tmp_path / "components.csv"
    own.write_text(text)
    with pytest.raises(SettingsError, match=words) as caught:
        load_taxonomy(own)
    assert caught.value.line == line
    assert caught.value.source == "components.csv"
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("failure_mode\nworn\nbent\nWorn\n", "'worn' stands twice"),
        ("failure_mode,kind\nworn,cause\nbent,because\n", "'because' is not known"),
        ("failure_mode,names\nworn,thin\nbent,thin\n", "'thin' leads to"),
    ],
)
def test_a_list_of_modes_that_contradicts_itself_is_refused(
    tmp_path: Path, text: str, words: str
) -> None:
    own = tmp_path / "modes.csv"
    own.write_text(text)
    with pytest.raises(SettingsError, match=words) as caught:
        load_taxonomy(None, own)
    assert caught.value.source == "modes.csv"
    assert caught.value.remedy


def test_modes_of_ones_own_do_without_the_shipped_ones(tmp_path: Path) -> None:
    own = tmp_path / "modes.csv"
    own.write_text("failure_mode\nworn\nbent\n")
    taxonomy = load_taxonomy(None, own)
    assert list(taxonomy.modes) == ["worn", "bent"]
    assert {part.dead_mode for part in taxonomy.components.values()} == {None}


def test_a_list_without_its_column_is_refused(tmp_path: Path) -> None:
    own = tmp_path / "modes.csv"
    own.write_text("name\nworn\n")
    with pytest.raises(SettingsError, match="failure_mode is missing"):
        load_taxonomy(None, own)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="cannot be read"):
        load_taxonomy(tmp_path / "none.csv")
