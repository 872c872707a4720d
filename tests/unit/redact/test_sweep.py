"""What one text gives away is taken out of all of them."""

from __future__ import annotations

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
