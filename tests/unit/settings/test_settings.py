"""Settings: what is refused, and how it is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from claimlens.errors import SettingsError
from claimlens.settings import digest, read_settings, starter_text


def written(folder: Path, text: str) -> Path:
    path = folder / "claimlens.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("[coverage]\nmonths = -3\n", 2, ("coverage.months", "-3", "greater")),
        ("\n[coverage]\nmonhts = 3\n", 3, ("monhts", "months, late_report_days")),
        (
            '[[source]]\nname="a"\nfiles="x"\nkind="claim"\n',
            4,
            ("'claim'", "claims, claim_parts"),
        ),
        ('[currency]\nreport = "EURO"\n', 2, ("EURO", "ISO 4217")),
        (
            '[currency.rates."2026-13"]\nCHF = 1.0\n',
            None,
            ("2026-13", "YYYY-MM"),
        ),
        ("[coverage\n", None, ("no valid TOML",)),
        (
            '[[source]]\nname="a"\nfiles="x"\nkind="units"\n'
            '[source.columns]\n"Serie" = "serail"\n',
            1,
            ("'serail'", "no field of units", "serial, model"),
        ),
        (
            '[[source]]\nname="a"\nfiles="x"\nkind="units"\n'
            '[source.columns]\n"A" = "serial"\n"B" = "serial"\n',
            None,
            ("serial is filled from two columns", "'A'", "'B'"),
        ),
        (
            '[[agreement]]\nsupplier = "Ostrel"\nshare = 1.5\n',
            3,
            ("agreement.0.share", "1.5", "less than or equal to 1"),
        ),
        (
            '[[agreement]]\nsupplier = "Ostrel"\nshare = 0.5\n'
            "since = 2026-05-01\nuntil = 2026-04-30\n",
            1,
            ("since 2026-05-01 lies after until 2026-04-30",),
        ),
        (
            "[redaction]\nserial_characters = 0\n",
            2,
            ("redaction.serial_characters", "0"),
        ),
        (
            '[[source]]\nname="a"\nfiles="x"\nkind="units"\n'
            '[[source]]\nname="a"\nfiles="y"\nkind="units"\n',
            1,
            ("two sources are called 'a'",),
        ),
    ],
)
def test_a_fault_names_key_line_and_what_is_allowed(
    tmp_path: Path, text: str, line: int | None, words: tuple[str, ...]
) -> None:
    with pytest.raises(SettingsError) as caught:
        read_settings(written(tmp_path, text))
    message = str(caught.value)
    for word in words:
        assert word in message
    if line is not None:
        assert f"line {line}" in message
    assert "to do:" in message
    assert caught.value.exit_code == 2


def test_the_second_of_two_sources_is_the_one_named(tmp_path: Path) -> None:
    text = (
        '[[source]]\nname="a"\nfiles="x"\nkind="units"\n\n'
        '[[source]]\nname="b"\nfiles="y"\nkind="units"\ndecimal=";"\n'
    )
    with pytest.raises(SettingsError, match="line 10"):
        read_settings(written(tmp_path, text))


def test_a_missing_file_says_how_to_make_a_workspace(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="claimlens init"):
        read_settings(tmp_path / "claimlens.toml")


def test_the_starter_settings_are_valid_and_all_default(tmp_path: Path) -> None:
    plain = read_settings(written(tmp_path, starter_text('Maker "A"')))
    assert plain.workspace.name == 'Maker "A"'
    assert plain.coverage.months == 24


def test_the_digest_moves_with_a_setting_and_not_with_a_comment(
    tmp_path: Path,
) -> None:
    one = read_settings(written(tmp_path, "[coverage]\nmonths = 24\n"))
    two = read_settings(written(tmp_path, "# a remark\n[coverage]\nmonths = 24\n"))
    other = read_settings(written(tmp_path, "[coverage]\nmonths = 36\n"))
    assert digest(one) == digest(two)
    assert digest(one) != digest(other)
