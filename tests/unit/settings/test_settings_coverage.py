"""Settings of cover: what is understood, what is refused, what the starter shows."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from claimlens.analysis.cover_terms import cover_words
from claimlens.errors import SettingsError
from claimlens.settings import Settings, read_settings, starter_text


def read(folder: Path, text: str) -> Settings:
    path = folder / "claimlens.toml"
    path.write_text(text, encoding="utf-8")
    return read_settings(path)


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("[coverage]\ndistance = -5\n", 2, "write a distance above 0"),
        ('[coverage]\ndistance = "far"\n', 2, "write a distance above 0"),
        ("[coverage]\ndistance = true\n", 2, "write a distance above 0"),
        ("[coverage]\ndistance = inf\n", 2, "write a distance above 0"),
        ('[coverage]\ndistance_unit = "m"\n', 2, "'km' or 'mi'"),
        ("[coverage]\nrestart = true\n", 2, "'none', 'part' or 'repair'"),
        ("[coverage]\nrestart_months = 3\n", 1, "restart_months goes with restart"),
        (
            '[[coverage.terms]]\nmonths = 1\n[[coverage.terms]]\nmodel = "X"\n',
            3,
            "a term states months, distance or restart",
        ),
        (
            '[[coverage.terms]]\nmonths = 3\nrestart = "none"\nrestart_months = 3\n',
            1,
            "restart_months goes with restart",
        ),
        (
            "[[coverage.extensions]]\nmore_months = 3\nadd_repair_days = true\n",
            1,
            "exactly one of",
        ),
        ('[[coverage.extensions]]\nname = "a"\n', 1, "exactly one of"),
        ("[[coverage.extensions]]\nmore_months = 0\n", 2, "greater than or equal to 1"),
        (
            "[[coverage.extensions]]\nmore_months = 3\nwhole_unit = true\n",
            1,
            "whole_unit goes with",
        ),
        (
            "[[coverage.extensions]]\nmore_months = 3\n"
            "in_service_from = 2024-05-01\nin_service_to = 2024-01-01\n",
            1,
            "must not be later",
        ),
        ("[[coverage.usage]]\nper_year = 0\nspread = 1\n", 2, "greater than 0"),
        ("[[coverage.usage]]\nspread = 1\n", None, "per_year is missing"),
        (
            "[[coverage.usage]]\nper_year = 9\nspread = 1\n"
            "[[coverage.usage]]\nper_year = 8\nspread = 1\n",
            None,
            "two usage rates are for every model",
        ),
        ('[counting]\nrecorded_from = "spring"\n', 2, "valid date"),
    ],
)
def test_nonsense_is_refused_where_it_stands(
    text: str, line: int | None, words: str, tmp_path: Path
) -> None:
    with pytest.raises(SettingsError) as caught:
        read(tmp_path, text)
    message = str(caught.value)
    assert words in message
    assert "to do:" in message
    if line is not None:
        assert f"line {line}" in message


def test_every_line_that_the_starter_shows_is_a_setting(tmp_path: Path) -> None:
    """One effect of an extension at a time, as it says."""
    text = starter_text("Maker")
    cover = text[text.index("[coverage]") : text.index("[counting]")]
    shown = re.sub(r"(?m)^# (?=\[\[|[a-z_]+ = )", "", cover)
    effects = ("more_months", "after_repair_months", "add_repair_days", "whole_unit")
    one = re.sub(rf"(?m)^({'|'.join(effects)}) = .*\n", "", shown)
    told = read(tmp_path, one).coverage
    assert told.distance == 10_000
    assert told.restart == "part"
    assert told.restart_months == 12
    assert told.terms[0].distance == "none"
    assert told.extensions[0].at_least_months == 36
    assert told.extensions[0].in_service_to == date(2027, 12, 31)
    assert told.usage[0].per_year == 3000
    for effect in effects[:3]:
        others = {"at_least_months", *effects} - {effect}
        if effect != "more_months":
            others -= {"whole_unit"}
        other = re.sub(rf"(?m)^({'|'.join(others)}) = .*\n", "", shown)
        assert getattr(read(tmp_path, other).coverage.extensions[0], effect)
    assert "Law differs from place to place" in text


def test_the_starter_shows_the_defaults(tmp_path: Path) -> None:
    assert read(tmp_path, starter_text("Maker")).coverage == Settings().coverage
    assert Settings().counting.recorded_from is None


def test_the_cover_is_said_in_words(tmp_path: Path) -> None:
    told = read(
        tmp_path,
        "[coverage]\ndistance = 6000\ndistance_unit = 'mi'\nrestart = 'repair'\n"
        "[[coverage.terms]]\ncomponent = 'motor'\nmodel_year = 2024\nmonths = 36\n"
        "distance = 'none'\n"
        "[[coverage.extensions]]\nname = 'long law'\nat_least_months = 30\n"
        "in_service_from = 2024-01-01\n"
        "[[coverage.extensions]]\nregion = 'North'\nafter_repair_months = 12\n"
        "whole_unit = true\n"
        "[[coverage.extensions]]\nadd_repair_days = true\n",
    )
    assert cover_words(told.coverage) == (
        "24 months from the in-service date, last day included, or 6,000 mi, "
        "whichever comes first; 2024, motor: 36 months, no limit by distance; every "
        "repair starts the component's cover anew; long law: at least 30 months, in "
        "service from 2024-01-01; North: cover of the whole unit at least 12 months "
        "from repair; every unit: cover longer by the days in repair"
    )
