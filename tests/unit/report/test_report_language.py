"""The page in the reader's language: catalogue, figures, dates, drawings."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import date
from decimal import Decimal
from string import Formatter

import fixture_monthly
import pytest
from babel.messages.catalog import Message as Entry
from catalogue_maker import Message, catalogue, messages

from claimlens.language import (
    LANGUAGES,
    _,
    language,
    ngettext,
    speaking,
    vega_locale,
)
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats
from claimlens.report.arrivals_section import arrivals_section
from claimlens.report.decisions import danger, decisions
from claimlens.report.definitions import definitions
from claimlens.report.late_section import late_section
from claimlens.report.monthly import render_monthly
from claimlens.report.open_section import open_section
from claimlens.report.rising_section import rising_section
from claimlens.report.supplier_answers_section import answers_section
from claimlens.report.view import SectionView
from claimlens.report.waiting import beside

ENGLISH = re.compile(r"\b(?:the|of|and|claims|with|by|from)\b")
OTHERS = [name for name in LANGUAGES if name != "en"]


def key_of(message: Message) -> str:
    return message if isinstance(message, str) else message[0]


def texts(entry: Entry) -> list[str]:
    return list(entry.string) if isinstance(entry.string, tuple) else [entry.string]


def fields(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name}


@pytest.fixture(scope="module")
def inputs() -> MonthlyInputs:
    return fixture_monthly.build()


@pytest.fixture(params=OTHERS)
def spoken(request: pytest.FixtureRequest) -> Iterator[str]:
    with speaking(request.param):
        yield request.param


@pytest.mark.parametrize("name", OTHERS)
def test_every_message_is_translated_and_none_is_left_over(name: str) -> None:
    entries = {key_of(e.id): e for e in catalogue(name) if e.id}
    said = {key_of(message) for message in messages()}
    assert set(entries) == said, "run tests/unit/report/catalogue_maker.py"
    for entry in entries.values():
        assert not entry.fuzzy
        assert all(texts(entry)), entry.id


@pytest.mark.parametrize("name", OTHERS)
def test_the_same_values_are_filled_in(name: str) -> None:
    for entry in catalogue(name):
        if entry.id:
            source = fields(entry.id if isinstance(entry.id, str) else entry.id[1])
            for text in texts(entry):
                assert fields(text) <= source, entry.id
            assert fields(texts(entry)[-1]) == source, entry.id


@pytest.mark.parametrize("name", OTHERS)
def test_a_sentence_ends_as_in_the_source(name: str) -> None:
    for entry in catalogue(name):
        if entry.id:
            ends = key_of(entry.id)[-1] in ".!"
            assert all((text[-1] in ".!") == ends for text in texts(entry)), entry.id


def test_figures_and_dates_are_written_as_their_reader_writes_them() -> None:
    """Separators and months of CLDR 46 and later, as Babel has them."""
    day = date(2026, 3, 1)
    assert formats.count(12345) == "12,345"
    assert formats.day(day) == "1\u00a0March\u00a02026"
    with speaking("de"):
        assert formats.decimal_text(1234.5) == "1.234,5"
        assert formats.cents(Decimal("-1234.50")) == "\u22121.234,50"
        assert formats.rate(0.0215, formats.PER_CENT) == "2,2"
        assert formats.PER_CENT.suffix == "\u00a0%"
        assert formats.day(day) == "1.\u00a0März\u00a02026"
        assert formats.month_name(day) == "März\u00a02026"
        assert formats.p_value(0.0001) == "< 0,001"
        open_side = formats.interval(0.01, None, formats.PER_CENT)
        assert open_side == "ab 1,0, ohne obere Grenze"
    with speaking("fr"):
        assert formats.decimal_text(1234.5) == "1\u202f234,5"
        assert formats.PER_CENT.suffix == "\u202f%"
        assert formats.day(day) == "1er\u00a0mars\u00a02026"
        assert formats.day(date(2026, 4, 30)) == "30\u00a0avril\u00a02026"
    assert formats.count(12345) == "12,345"


def test_one_and_many_follow_the_rules_of_the_language() -> None:
    one, many = (
        "{number} smaller matter that can wait, and keeping house",
        "{number} smaller matters that can wait, and keeping house",
    )
    assert ngettext(one, many, 1) == one
    with speaking("fr"):
        # nothing is singular in French
        assert ngettext(one, many, 0).startswith("{number} point mineur")
    with speaking("de"):
        assert ngettext(one, many, 0).startswith("{number} kleinere Sachen")


def test_the_language_holds_for_one_report_only() -> None:
    with speaking("de"):
        assert _("Danger") == "Gefahr"
    assert language() == "en"
    assert _("Danger") == "Danger"
    assert _("no message of the catalogue") == "no message of the catalogue"


def test_drawings_write_figures_and_months_in_the_language() -> None:
    assert vega_locale() is None
    with speaking("de"):
        spoken = vega_locale()
    assert spoken is not None
    assert spoken["number"]["decimal"] == ","
    months, days = spoken["time"]["months"], spoken["time"]["days"]
    assert isinstance(months, list)
    assert months[2] == "März"
    assert isinstance(days, list)
    assert days[0] == "Sonntag"


def test_definitions_are_whole_sentences_in_the_language(
    inputs: MonthlyInputs, spoken: str
) -> None:
    said = catalogue(spoken)
    terms = dict(definitions(inputs.meta))
    assert said.get("Which claims count").string in terms
    assert "95" in terms[said.get("Interval").string]
    assert not any("{" in text for text in terms.values())


@pytest.mark.parametrize(
    "section",
    [
        lambda inputs: late_section(inputs, {}),
        lambda inputs: rising_section(inputs, {}),
        open_section,
        answers_section,
        arrivals_section,
    ],
    ids=["late", "rising", "open", "answers", "arrivals"],
)
def test_a_section_is_in_one_language(
    inputs: MonthlyInputs,
    spoken: str,
    section: Callable[[MonthlyInputs], SectionView],
) -> None:
    view = section(inputs)
    said = [view.heading, view.basis, *view.lead, *view.reading, view.empty]
    if view.box:
        said += [view.box.heading, *view.box.lines]
    for table in filter(None, (view.listing, *view.tables)):
        said += [table.caption, *(column.title for column in table.columns)]
    assert not [text for text in said if ENGLISH.search(text)]


def test_decisions_are_in_one_language(inputs: MonthlyInputs, spoken: str) -> None:
    asked = decisions(inputs)
    views = [view for view in (danger(inputs), *asked.now, *asked.later) if view]
    assert len(views) > 3
    for view in views:
        for text in (view.what, view.sure, view.waiting, view.who, view.where_text):
            assert not ENGLISH.search(text), text


def test_nouns_keep_their_capitals_in_german(inputs: MonthlyInputs) -> None:
    assert beside(inputs, "management") == "management"
    with speaking("fr"):
        assert beside(inputs, "management") == "direction"
    with speaking("de"):
        assert beside(inputs, "management") == "Leitung"


def test_the_page_holds_no_sentence_of_the_source(
    inputs: MonthlyInputs, spoken: str
) -> None:
    page = render_monthly(inputs, {})
    assert f'<html lang="{spoken}">' in page
    shown = re.sub(r"<script.*?</script>|<style.*?</style>", "", page, flags=re.DOTALL)
    sentences = [key for key in map(key_of, messages()) if key.endswith(".")]
    left = [key for key in sentences if key in shown]
    assert left == []
