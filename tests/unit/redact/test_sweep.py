"""What one text gives away is taken out of all of them."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from claimlens.redact import Known, Redactor


def test_a_name_told_with_a_title_is_taken_out_where_it_stands_bare() -> None:
    redactor = Redactor(Known())
    first = redactor.redact("Herr Quastenflosser hat angerufen.")
    assert "Quastenflosser" not in first.text
    second = "laut quastenflosser geht die bremse nicht"
    assert redactor.sweep(second).text == "laut [name] geht die bremse nicht"
    assert redactor.scan(redactor.sweep(second).text) == ()


def test_nothing_is_swept_from_a_text_without_them() -> None:
    redactor = Redactor(Known())
    redactor.redact("Regards, Tom Baker")
    swept = redactor.sweep("The bakery van has a flat tyre.")
    assert swept.text == "The bakery van has a flat tyre."
    assert swept.removed == ()


def test_what_may_stay_is_not_swept() -> None:
    redactor = Redactor(Known(keep=frozenset({"Baker-2210"})))
    redactor.redact("Regards, Tom Baker")
    assert redactor.sweep("part Baker-2210 sent").text == "part Baker-2210 sent"


@given(st.text(max_size=200))
def test_the_second_look_finds_nothing_in_a_swept_text(text: str) -> None:
    redactor = Redactor(
        Known(
            names=("Fahrradhaus Brockmöller",),
            serials=frozenset({"KVB2503632"}),
            serial_keeps=3,
        )
    )
    told = f"{text} fahrradhaus brockmöller KVB2503632 a@b.example 0171 2345678"
    assert redactor.scan(redactor.sweep(told).text) == ()


def test_a_serial_that_is_short_enough_may_stay_whole() -> None:
    redactor = Redactor(Known(serials=frozenset({"A17", "LONG-4711"}), serial_keeps=4))
    assert redactor.scan("units A17 and …4711") == ()
    assert [r.text for r in redactor.scan("unit LONG-4711")] == ["LONG-4711"]
