"""The dossier of a component as a reader meets it, in a headless Chromium."""

from __future__ import annotations

from pathlib import Path

import fixture_component
import pytest
from devtools_pipe import Browser

from claimlens.charts.component import build
from claimlens.charts.embed import library_bundle
from claimlens.handover import write_text
from claimlens.report.component import render_component

pytestmark = pytest.mark.browser

CHARTS = 10
SHOWN = (
    "[...document.querySelectorAll('.chart svg')]"
    ".filter(s => s.getBoundingClientRect().width > 100).length"
)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the page of the fixture."""
    path = tmp_path_factory.mktemp("component") / "page.html"
    inputs = fixture_component.build()
    charts = build(inputs)
    assert len(charts) == CHARTS
    page = render_component(inputs, charts, library=library_bundle())
    write_text(page, path, overwrite=True)
    return path


def test_the_page_asks_for_nothing_and_complains_of_nothing(
    browser: Browser, page: Path
) -> None:
    browser.open(page)
    assert browser.requests() == [page.as_uri()]
    assert browser.complaints() == []
    assert browser.value(SHOWN) == CHARTS


def test_pictures_are_there_with_scripts_off(browser: Browser, page: Path) -> None:
    browser.open(page, scripts=False)
    assert browser.value(SHOWN) == CHARTS
    assert browser.complaints() == []


@pytest.mark.parametrize("width", [320, 360, 800, 1280])
def test_the_page_never_scrolls_sideways(
    browser: Browser, page: Path, width: int
) -> None:
    browser.open(page, width=width, height=800)
    assert browser.value("document.documentElement.scrollWidth") <= width
    assert browser.value(SHOWN) == CHARTS


def test_what_is_wrong_stands_on_the_first_screen(browser: Browser, page: Path) -> None:
    browser.open(page, width=1280, height=900)
    bottom = browser.value(
        "document.querySelectorAll('.decisions > li')[2].getBoundingClientRect().bottom"
    )
    assert bottom < 900


def test_a_text_from_right_to_left_begins_on_the_right(
    browser: Browser, page: Path
) -> None:
    browser.open(page)
    directions = browser.value(
        "[...document.querySelectorAll('blockquote')]"
        ".map(q => getComputedStyle(q).direction)"
    )
    assert directions == ["ltr", "rtl"]
