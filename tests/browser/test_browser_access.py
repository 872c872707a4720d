"""Whether everybody can read the page: the rules of axe-core, by width and mode.

axe-core is Deque's open engine for the W3C's guidelines (WCAG 2.2 AA and its best
practices); it is put into the page by the test, never by us.
"""

from __future__ import annotations

from importlib import resources
from itertools import pairwise
from pathlib import Path

import fixture_monthly
import pytest
from devtools_pipe import Browser

from claimlens.charts.embed import library_bundle
from claimlens.charts.monthly import build
from claimlens.handover import write_text
from claimlens.report.monthly import render_monthly

pytestmark = pytest.mark.browser

AXE = (resources.files("axe_playwright_python") / "axe.min.js").read_text("utf-8")
RUN = """
axe.run(document, {resultTypes: ['violations']}).then(result => {
  window.found = result.violations.flatMap(v => v.nodes.slice(0, 3).map(
    n => `${v.id}: ${n.target.join(' ')}: ${n.failureSummary}`));
  window.passed = result.passes.length;
})
"""
OPEN_ALL = "document.querySelectorAll('details').forEach(d => { d.open = true })"


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("access") / "page.html"
    inputs = fixture_monthly.build()
    write_text(
        render_monthly(inputs, build(inputs), library=library_bundle()),
        path,
        overwrite=True,
    )
    return path


def violations(browser: Browser) -> list[str]:
    """Put the engine into the page and return what it finds."""
    # the page's own policy forbids foreign scripts: it is set aside for the test
    browser.value(AXE)
    browser.value(RUN)
    browser.wait("window.found")
    assert browser.value("window.passed") > 20
    return [str(line) for line in browser.value("window.found")]


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [1280, 360])
def test_axe_finds_no_violation(
    browser: Browser, page: Path, width: int, dark: bool
) -> None:
    """Every section is open and every chart alive: nothing is left out."""
    browser.open(page, width=width, height=900, dark=dark)
    browser.value(OPEN_ALL)
    browser.wait(
        "[...document.querySelectorAll('.chart')].filter(c => c.offsetParent)"
        ".every(c => c.dataset.state === 'live')"
    )
    assert violations(browser) == []


@pytest.mark.parametrize("width", [1280, 360])
def test_axe_finds_no_violation_with_scripts_off(
    browser: Browser, page: Path, tmp_path: Path, width: int
) -> None:
    """The engine is a script: the page is made without any of its own instead."""
    still = tmp_path / "still.html"
    inputs = fixture_monthly.build()
    write_text(render_monthly(inputs, build(inputs)), still, overwrite=True)
    browser.open(still, width=width, height=900)
    assert violations(browser) == []


def test_the_engine_sees_what_is_wrong(browser: Browser, tmp_path: Path) -> None:
    bad = tmp_path / "bad.html"
    bad.write_text(
        "<html><body><main><img src='data:,'><p style='color:#bbb'>pale</p>"
        + "<p>x</p>" * 30
        + "</main></body></html>",
        encoding="utf-8",
    )
    browser.open(bad)
    browser.value(AXE)
    browser.value(RUN)
    browser.wait("window.found")
    found = " ".join(browser.value("window.found"))
    for rule in ("image-alt", "color-contrast", "html-has-lang"):
        assert rule in found


def test_headings_lead_from_one_level_to_the_next(browser: Browser, page: Path) -> None:
    browser.open(page, scripts=False)
    levels = browser.value(
        "[...document.querySelectorAll('h1,h2,h3,h4')].map(h => Number(h.tagName[1]))"
    )
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(then - now <= 1 for now, then in pairwise(levels))
    # a folded section keeps its heading where it can be found
    headings = browser.value(
        "[...document.querySelectorAll('main > section')].map(s =>"
        " s.querySelector('h2').checkVisibility())"
    )
    assert all(headings)
