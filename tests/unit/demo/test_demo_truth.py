"""The written truth is read whole, and refused where it contradicts itself."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from claimlens.demo import load_truth
from claimlens.errors import SettingsError
from claimlens.resources import find


def _edited(folder: Path, before: str, after: str) -> Path:
    text = find("demo_data/truth.toml").read_text(encoding="utf-8")
    assert before in text
    path = folder / "truth.toml"
    path.write_text(text.replace(before, after), encoding="utf-8")
    return path


def test_the_shipped_truth_names_what_is_planted_and_what_is_plain() -> None:
    truth = load_truth()

    assert set(truth.planted_components) == {
        "controller",
        "wiring harness",
        "connector",
        "throttle",
        "fork/suspension",
    }
    assert "display" in truth.plain_components  # its change did nothing
    assert "pedal-assist sensor" not in truth.plain_components  # trikes only
    assert len(truth.plain_components) >= 20


def test_the_share_failed_follows_the_weibull_law() -> None:
    component = load_truth().component("motor")

    expected = -math.expm1(-((12 / component.scale_months) ** component.shape))

    assert component.share_failed(12) == pytest.approx(expected, rel=1e-12)
    assert component.share_failed(24) == pytest.approx(0.014, rel=0.01)


def test_every_mode_and_component_belongs_to_the_default_taxonomy() -> None:
    # the words of the project's default lists, typed again as a witness
    modes = {
        *("no power", "intermittent", "short circuit/burnt", "water ingress"),
        *("corrosion", "chafed/cut", "broken/cracked", "worn", "loose/unseated"),
        *("leaking", "noise/vibration", "overheating", "reduced performance"),
        *("misadjusted", "swollen", "deformed", "software fault", "missing part"),
    }

    for component in load_truth().components:
        assert set(component.modes) <= modes, component.name


def test_a_missing_file_is_one_readable_error(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="cannot be read"):
        load_truth(tmp_path / "none.toml")


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ('component = "throttle"\nsuppliers', 'component = "thr"\nsuppliers', "thr"),
        ("shape = 1.8", "shape = -1.8", "above 0"),
        ("no_fault_share = 0.1\n", "no_fault_share = 1.1\n", "no_fault_share"),
        ("0.98, 1.0]", "0.98, 0.9]", "rise to 1"),
        ("undated_share = 0.15", "", "undated_share"),
        ("[maker]", "[maker", "cannot be read"),
    ],
)
def test_a_truth_that_contradicts_itself_is_refused(
    tmp_path: Path, before: str, after: str, words: str
) -> None:
    with pytest.raises(SettingsError, match=words):
        load_truth(_edited(tmp_path, before, after))
