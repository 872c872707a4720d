"""The pack for a supplier and the dossier of a component, in a browser."""

from __future__ import annotations

from pathlib import Path

import fixture_component
import fixture_supplier
import pytest
from devtools_pipe import Browser
from test_browser_access import OPEN_ALL, violations

from claimlens.charts import component, supplier
from claimlens.charts.embed import library_bundle
from claimlens.handover import write_text
from claimlens.report.component import render_component
from claimlens.report.supplier import render_supplier

pytestmark = pytest.mark.browser

PAGES = ("component", "supplier")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("documents")
    library = library_bundle()
    fault, pack = fixture_component.build(), fixture_supplier.build()
    pages = {
        "component": render_component(fault, component.build(fault), library=library),
        "supplier": render_supplier(pack, supplier.build(pack), library=library),
    }
    for name, page in pages.items():
        write_text(page, folder / f"{name}.html", overwrite=True)
    return folder


@pytest.mark.parametrize("name", PAGES)
def test_a_document_asks_for_nothing_and_its_charts_live(
    browser: Browser, folder: Path, name: str
) -> None:
    page = folder / f"{name}.html"
    browser.open(page)
    browser.wait("document.documentElement.dataset.charts === 'ready'")
    assert browser.requests() == [page.as_uri()]
    assert browser.complaints() == []


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("width", [360, 1280])
def test_a_document_never_scrolls_sideways(
    browser: Browser, folder: Path, name: str, width: int
) -> None:
    browser.open(folder / f"{name}.html", width=width, height=800)
    browser.value(OPEN_ALL)
    assert browser.value("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize(("width", "dark"), [(1280, False), (360, True)])
def test_axe_finds_no_violation_in_a_document(
    browser: Browser, folder: Path, name: str, width: int, dark: bool
) -> None:
    browser.open(folder / f"{name}.html", width=width, height=900, dark=dark)
    browser.value(OPEN_ALL)
    browser.wait(
        "[...document.querySelectorAll('.chart')].filter(c => c.offsetParent)"
        ".every(c => c.dataset.state === 'live')"
    )
    assert violations(browser) == []


@pytest.mark.parametrize("name", PAGES)
def test_a_document_shows_its_charts_with_scripts_off(
    browser: Browser, folder: Path, name: str
) -> None:
    browser.open(folder / f"{name}.html", scripts=False)
    drawn = "[...document.querySelectorAll('.chart-wide svg')].map(s => s.clientWidth)"
    widths = browser.value(drawn)
    assert widths
    # one panel alone is the narrowest drawing
    assert min(widths) > 200
