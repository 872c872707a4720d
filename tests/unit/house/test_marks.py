"""What hides in a text is shown, what a language needs stays."""

from __future__ import annotations

import sys
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from claimlens.marks import visible

# signs of the category that are written around or before numbers and have a shape
# (Prepended_Concatenation_Mark in PropList.txt of Unicode 14.0), notes of shorthand
# and of hieroglyphs
_WITH_A_SHAPE = {
    *range(0x600, 0x606),
    *(0x6DD, 0x70F, 0x890, 0x891, 0x8E2, 0x110BD, 0x110CD),
    *range(0x13430, 0x13440),
}


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("claim\u202egpj.exe", "claim⟨U+202E⟩gpj.exe"),
        ("SN\u200b1", "SN⟨U+200B⟩1"),
        ("\ufeffSN1", "⟨U+FEFF⟩SN1"),
        ("a\x00b\x1b[31m\x9b2J\rc", "a⟨U+0000⟩b⟨U+001B⟩[31m⟨U+009B⟩2J⟨U+000D⟩c"),
        ("\x1b]0;title\x07", "⟨U+001B⟩]0;title⟨U+0007⟩"),
        ("a\u2028b\U000e0041", "a⟨U+2028⟩b⟨U+E0041⟩"),
        ("one\r\ntwo\n\tthree", "one\ntwo\n\tthree"),
        ("\u200d\u200c", "⟨U+200D⟩⟨U+200C⟩"),
        ("SN\u200d1\ufe0f", "SN⟨U+200D⟩1⟨U+FE0F⟩"),
    ],
)
def test_what_hides_or_turns_a_text_is_shown(text: str, shown: str) -> None:
    assert visible(text) == shown


@pytest.mark.parametrize(
    "text",
    [
        "Rahmen gebrochen – 20 % Größe M, çà, žluťoučký",
        "нет питания",
        "ο φορτιστής δεν φορτίζει",
        "הפנס לא נדלק אחרי הגשם",
        "می\u200cخواهم",
        "क्\u200dष",
        "👩\u200d🔧 ❤\ufe0f\u200d🔥 ⚠\ufe0f 1\ufe0f\u20e3",
        "10 kΩ, 47 µF, 47 μF, ΔT, Ø 12",
        "двигатель motor",
    ],
)
def test_what_people_write_stays(text: str) -> None:
    assert visible(text) == text


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("SN-АB12", "SN-А⟨U+0410⟩B12"),
        ("Mоtor", "Mо⟨U+043E⟩tor"),
        ("ΒRAKE", "Β⟨U+0392⟩RAKE"),
        ("двигaтель", "двигa⟨U+0061⟩тель"),
        ("Mоtоr", "Mо⟨U+043E⟩tо⟨U+043E⟩r"),
        ("дaоbc", "дaо⟨U+043E⟩bc"),
        ("SN\u200bА", "SN⟨U+200B⟩А⟨U+0410⟩"),
    ],
)
def test_a_look_alike_in_a_word_of_another_script_is_numbered(
    text: str, shown: str
) -> None:
    assert visible(text) == shown
    assert visible(shown) == shown


def test_a_cell_of_one_line_stays_one() -> None:
    assert visible("WC-1\r\nWC-2\nx", one_line=True) == "WC-1↵WC-2↵x"


def test_every_control_and_format_character_is_shown() -> None:
    kept = {
        code
        for code in range(sys.maxunicode + 1)
        if unicodedata.category(chr(code)) in ("Cc", "Cf", "Cs", "Zl", "Zp")
        and visible(f"a{chr(code)}b") == f"a{chr(code)}b"
    }
    assert kept - _WITH_A_SHAPE == {0x9, 0xA}


@given(st.text(st.characters(), max_size=40))
def test_what_is_shown_is_text_and_stays_when_shown_again(text: str) -> None:
    shown = visible(text)
    shown.encode("utf-8")
    assert visible(shown) == shown
