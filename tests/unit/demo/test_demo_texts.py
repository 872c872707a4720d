"""The demo's texts agree with what each claim really is, in every language."""

from __future__ import annotations

import pandas as pd
import pytest

from claimlens.demo import World, load_truth
from claimlens.demo.phrases import LANGUAGES, load_phrases

SECTIONS = (
    "opener",
    "closer",
    "aside",
    "vague",
    "no fault",
    "misuse",
    "transport",
    "transport owner",
    "resolution",
    "resolution no fault",
    "resolution refused",
    "resolution firmware",
)


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_language_has_words_for_every_fault(language: str) -> None:
    phrases = load_phrases(language)

    assert set(SECTIONS) <= set(phrases.general)
    assert all(phrases.general[name] for name in SECTIONS)
    for component in load_truth().components:
        assert phrases.names[component.name]
        for mode in component.modes:
            assert phrases.of("o", component.name, mode)
            assert phrases.of("t", component.name, mode)


def test_a_fault_without_words_is_an_error_not_a_blank() -> None:
    with pytest.raises(KeyError):
        load_phrases("en").of("o", "motor", "leaking")


def test_every_claim_is_told_by_its_owner_without_a_gap_left_open(
    demo_world: World,
) -> None:
    for name in ("narrative", "technician_note", "resolution"):
        texts = demo_world.claims[name].dropna()
        assert (texts.str.len() > 5).all()
        assert not texts.str.contains("[{}]").any()
    assert demo_world.claims["narrative"].notna().all()
    # owners repeat themselves, but not word for word
    assert demo_world.claims["narrative"].nunique() > len(demo_world.claims) / 2


def test_nobody_notes_anything_before_the_decision(demo_world: World) -> None:
    claims = demo_world.claims
    waiting = claims["status"] == "open"

    assert waiting.any()
    assert claims["technician_note"][waiting].isna().all()
    assert claims["resolution"][claims["closed_on"].isna()].isna().all()


def test_regions_write_in_their_own_language(demo_world: World) -> None:
    spoken = demo_world.claims["region"].to_frame()
    spoken["language"] = demo_world.claim_truth["language"]
    found = spoken.groupby("region")["language"].agg(set).to_dict()

    assert found["DE"] == {"de"}
    assert found["CH"] == {"de", "fr"}
    assert found["BE"] == {"fr", "nl"}
    assert found["GB"] == {"en"}


def test_a_technician_who_finds_no_fault_says_so(demo_world: World) -> None:
    real, claims = demo_world.claim_truth, demo_world.claims
    mine = (real["origin"] == "no fault found") & claims["technician_note"].notna()
    says = {
        "en": "no fault found|NFF",
        "de": "kein Fehler|ohne Befund",
        "fr": "aucun défaut|rien à signaler",
        "nl": "geen fout gevonden|Geen defect gevonden",
        "es": "sin defecto",
    }

    for language, words in says.items():
        notes = claims["technician_note"][mine & (real["language"] == language)]
        assert len(notes) > 5
        assert notes.str.contains(words, case=False).all(), language


def test_english_notes_name_a_component_that_fits_the_truth(demo_world: World) -> None:
    """The stem of each component's trade word, checked apart from the phrases."""
    stems = {
        "battery pack": "batter|pack",
        "charger": "charger",
        "motor": "motor|hall sensor",
        "brake hydraulic": "brake|caliper",
        "tyre/tube": "tyre|tube",
        "frame": "frame",
        "kickstand": "stand",
        "mudguard": "mudguard",
        "rear light": "rear light|tail lamp",
        "headlight": "headlight|front light",
        "wheel/spokes": "wheel|spoke|rim",
    }
    real = demo_world.claim_truth
    notes = demo_world.claims["technician_note"]
    english = (real["language"] == "en") & notes.notna()
    for component, stem in stems.items():
        mine = notes[english & (real["component"] == component)]
        assert len(mine) > 0
        assert mine.str.contains(stem, case=False).all(), component


def test_slips_of_the_pen_leave_the_length_of_a_text(demo_world: World) -> None:
    again = pd.Series(demo_world.claims["narrative"])

    assert again.str.contains("  ").sum() == 0
    assert (again == again.str.strip()).all()
