"""The locked sets: whole, within the stated bounds, and each package licensed."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / ".ci" / "requirements"
SETS = ("run", "test", "lowest")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))[
    "project"
]
NEEDED = [Requirement(text) for text in PROJECT["dependencies"]]
# may be part of what a company hands on without opening its own work
PERMISSIVE = {
    "0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "ISC", "MIT",
    "PSF-2.0", "Zlib",
}  # fmt: skip


def locked(name: str) -> dict[str, list[Requirement]]:
    """Return what a set holds; a package may stand twice, for unlike Pythons."""
    text = (FOLDER / f"{name}.txt").read_text(encoding="utf-8")
    found: dict[str, list[Requirement]] = {}
    for entry in text.replace("\\\n", " ").splitlines():
        if entry and not entry.startswith("#"):
            one = Requirement(entry.split(" --hash=")[0])
            found.setdefault(canonicalize_name(one.name), []).append(one)
    return found


def version(requirement: Requirement) -> Version:
    [pin] = requirement.specifier
    assert pin.operator == "=="
    return Version(pin.version)


@pytest.mark.parametrize("name", SETS)
def test_a_set_pins_every_package_by_digest_and_names_no_place(name: str) -> None:
    text = (FOLDER / f"{name}.txt").read_text(encoding="utf-8")
    assert "//" not in text
    assert "index" not in text.lower()
    entries = re.sub(r"#.*\n", "", text).replace("\\\n", " ").splitlines()
    assert len(entries) > len(NEEDED)
    for entry in entries:
        assert re.match(r"[a-z0-9-]+==\S+ .*--hash=sha256:[0-9a-f]{64}", entry), entry


@pytest.mark.parametrize("name", SETS)
def test_a_set_keeps_to_the_bounds(name: str) -> None:
    pins = locked(name)
    wanted = list(NEEDED)
    if name == "test":
        wanted += map(Requirement, PROJECT["optional-dependencies"]["test"])
    for need in wanted:
        for pin in pins[canonicalize_name(need.name)]:
            assert need.specifier.contains(version(pin)), need


def test_the_lowest_set_is_the_lower_bounds() -> None:
    pins = locked("lowest")
    for need in NEEDED:
        [bound] = [one for one in need.specifier if one.operator == ">="]
        lowest = min(map(version, pins[need.name]))
        asked = Version(bound.version)
        # the first release of a line may have been a later one: 3.0.0.1 for 3
        assert lowest.release[: len(asked.release)] == asked.release, need


def test_what_runs_is_what_is_tested() -> None:
    run, tested = locked("run"), locked("test")
    for name, pins in run.items():
        assert {*map(version, pins)} == {*map(version, tested[name])}, name


def test_every_locked_package_tells_its_licence() -> None:
    text = (FOLDER / "LICENCES.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\S+) \| (.+?) \| (run|test) \|$", text, re.M)
    licences = {name: (licence, needed) for name, licence, needed in rows}
    assert set(licences) == {name for one in SETS for name in locked(one)}
    for name in locked("run").keys() | locked("lowest").keys():
        licence, needed = licences[name]
        assert needed == "run"
        assert set(re.split(r" AND | OR | / ", licence)) <= PERMISSIVE, name
    for name, (licence, _) in licences.items():
        assert licence.lower() not in {"", "unknown", "proprietary"}, name
