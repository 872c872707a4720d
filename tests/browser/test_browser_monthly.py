"""The page of the month as a reader meets it, in a headless Chromium."""

from __future__ import annotations

import re
from pathlib import Path

import fixture_monthly
import pytest
from devtools_pipe import Browser

from claimlens.charts.embed import library_bundle
from claimlens.charts.monthly import build
from claimlens.charts.theme import TOKENS
from claimlens.handover import write_text
from claimlens.report.monthly import render_monthly

pytestmark = pytest.mark.browser

CHARTS = 13
ATTACK = '<img src=x onerror="window.broken=1">'
OPEN_ALL = "document.querySelectorAll('details.fold').forEach(d => { d.open = true })"
STATES = "[...document.querySelectorAll('.chart')].map(c => c.dataset.state || '-')"
SHOWN = (
    "[...document.querySelectorAll('.chart svg')]"
    ".filter(s => s.checkVisibility() && s.getBoundingClientRect().width > 100).length"
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the page: whole, and with a library that fails."""
    folder = tmp_path_factory.mktemp("pages")
    inputs = fixture_monthly.build()
    names = {"controller": ATTACK}
    frames = {
        name: getattr(inputs, name).replace({"component": names})
        for name in ("ranking", "curves", "rates_by_model_year", "build_months")
    }
    hostile = fixture_monthly.build(**frames)
    charts = build(hostile)
    library = library_bundle()
    failing = "window.vegaEmbed=()=>Promise.reject(new Error('no'));"
    write_text(
        render_monthly(hostile, charts, library=library),
        folder / "page.html",
        overwrite=True,
    )
    write_text(
        render_monthly(hostile, charts, library=failing),
        folder / "fails.html",
        overwrite=True,
    )
    return folder


def unfold(browser: Browser) -> None:
    """Open every section, and wait for the charts in it where scripts run."""
    browser.value(OPEN_ALL)
    browser.wait(
        "!window.vegaEmbed || [...document.querySelectorAll('.chart')].every(c =>"
        " !c.checkVisibility() || ['live', 'static'].includes(c.dataset.state))"
    )


@pytest.fixture(scope="module")
def page(folder: Path) -> Path:
    return folder / "page.html"


def test_the_page_asks_for_nothing_but_itself(browser: Browser, page: Path) -> None:
    browser.open(page)
    assert browser.requests() == [page.as_uri()]
    assert browser.complaints() == []


def test_charts_become_live_where_scripts_run(browser: Browser, page: Path) -> None:
    browser.open(page)
    # what is folded away comes to life when it is opened
    states = browser.value(STATES)
    assert 5 < states.count("live") == browser.value(SHOWN) < CHARTS
    unfold(browser)
    assert browser.value(STATES) == ["live", "-"] * CHARTS
    assert browser.value("document.querySelectorAll('.chart canvas').length") == 0


def test_pictures_are_there_with_scripts_off(browser: Browser, page: Path) -> None:
    browser.open(page, scripts=False)
    unfold(browser)
    assert browser.value(STATES) == ["-"] * 2 * CHARTS
    assert browser.value(SHOWN) == CHARTS
    assert browser.complaints() == []


def test_pictures_stay_where_the_library_fails(browser: Browser, folder: Path) -> None:
    browser.open(folder / "fails.html")
    unfold(browser)
    assert browser.value(STATES) == ["static", "-"] * CHARTS
    assert browser.value(SHOWN) == CHARTS
    assert browser.complaints() == []


def test_the_hint_is_shown_only_where_charts_are_alive(
    browser: Browser, page: Path
) -> None:
    shown = (
        "[...document.querySelectorAll('.hint')]"
        ".filter(h => getComputedStyle(h).display !== 'none').length"
    )
    browser.open(page, scripts=False)
    assert browser.value(shown) == 0
    browser.open(page)
    unfold(browser)
    assert browser.value(shown) == CHARTS


def test_picture_and_live_chart_have_the_same_size(
    browser: Browser, page: Path
) -> None:
    """Nothing on the page may jump when a chart comes to life."""
    sizes = (
        "[...document.querySelectorAll('.chart-wide svg')]"
        ".map(s => { const b = s.getBoundingClientRect(); return [b.width, b.height] })"
    )
    browser.open(page, scripts=False)
    unfold(browser)
    still = browser.value(sizes)
    browser.open(page)
    unfold(browser)
    for (width, height), (live_width, live_height) in zip(
        still, browser.value(sizes), strict=True
    ):
        assert live_width == pytest.approx(width, abs=6)
        assert live_height == pytest.approx(height, abs=6)


def test_a_hostile_name_neither_runs_nor_makes_an_element(
    browser: Browser, page: Path
) -> None:
    browser.open(page)
    browser.value(
        "document.querySelector('#ranking-figure .chart-wide').scrollIntoView()"
    )
    box = browser.value(
        "(() => { const boxes = [...document.querySelectorAll("
        "'#ranking-figure .chart-wide .mark-rect path')]"
        ".map(path => path.getBoundingClientRect()).sort((a, b) => a.left - b.left"
        " || b.width - a.width); const b = boxes[0];"
        " return [b.left + b.width / 2, b.top + b.height / 2] })()"
    )
    browser.call("Input.dispatchMouseEvent", type="mouseMoved", x=box[0], y=box[1])
    tooltip = "document.querySelector('#vg-tooltip-element')"
    browser.wait(f"{tooltip} && {tooltip}.classList.contains('visible')")
    assert "onerror" in browser.value(f"{tooltip}.textContent")
    assert browser.value("document.querySelectorAll('img').length") == 0
    assert browser.value("typeof window.broken") == "undefined"
    assert browser.complaints() == []


@pytest.mark.parametrize("width", [320, 360, 390, 600, 800, 1280])
def test_the_page_never_scrolls_sideways(
    browser: Browser, page: Path, width: int
) -> None:
    browser.open(page, width=width, height=844)
    unfold(browser)
    assert browser.value("document.documentElement.scrollWidth") <= width
    assert browser.value(SHOWN) == CHARTS


def test_a_phone_gets_its_own_drawings_and_they_come_to_life(
    browser: Browser, page: Path
) -> None:
    browser.open(page, width=390, height=844)
    unfold(browser)
    assert browser.value(STATES) == ["-", "live"] * CHARTS
    smallest = browser.value(
        "Math.min(...[...document.querySelectorAll('.chart-narrow svg')].map(s =>"
        " s.getBoundingClientRect().width / s.viewBox.baseVal.width))"
    )
    assert smallest > 0.95  # text keeps its size
    assert browser.complaints() == []


def test_every_figure_has_a_summary_and_its_table(browser: Browser, page: Path) -> None:
    browser.open(page)
    unfold(browser)
    figures = browser.value(
        "[...document.querySelectorAll('figure')].map(f => ["
        "f.querySelector('figcaption').innerText.length,"
        "f.querySelectorAll('details table tbody tr').length])"
    )
    assert len(figures) == CHARTS
    assert all(words > 100 and rows >= 14 for words, rows in figures)


def test_the_accessibility_tree_names_each_picture(
    browser: Browser, page: Path
) -> None:
    browser.open(page)
    unfold(browser)
    nodes = browser.call("Accessibility.getFullAXTree")["nodes"]
    named = [
        node["name"]["value"]
        for node in nodes
        if node.get("role", {}).get("value") in ("image", "img")
        and not node.get("ignored")
    ]
    assert len(named) == CHARTS
    assert all(len(name) > 60 for name in named)


def test_the_first_tab_reaches_the_skip_link(browser: Browser, page: Path) -> None:
    browser.open(page)
    for kind in ("keyDown", "keyUp"):
        browser.call("Input.dispatchKeyEvent", type=kind, key="Tab", code="Tab")
    assert browser.value("document.activeElement.className") == "skip"
    left = browser.value("document.activeElement.getBoundingClientRect().left")
    assert left >= 0


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_page_and_charts_follow_the_mode(
    browser: Browser, page: Path, dark: bool
) -> None:
    browser.open(page, dark=dark)
    bar = "document.querySelector('#ranking-figure .chart-wide .mark-rect path')"
    colours = browser.value(
        f"[getComputedStyle(document.body).backgroundColor,getComputedStyle({bar}).fill]"
    )
    expected = [TOKENS["chart-paper"][dark], TOKENS["chart-mark"][dark]]
    assert [as_hex(colour) for colour in colours] == expected


def as_hex(colour: str) -> str:
    """Turn ``rgb(1, 2, 3)`` into hexadecimal digits."""
    return "#" + "".join(f"{int(part):02x}" for part in re.findall(r"\d+", colour)[:3])


def test_a_phone_that_turns_gets_the_wide_drawings_alive(
    browser: Browser, page: Path
) -> None:
    browser.open(page, width=390, height=844)
    unfold(browser)
    browser.call(
        "Emulation.setDeviceMetricsOverride",
        width=900,
        height=390,
        deviceScaleFactor=1,
        mobile=False,
    )
    browser.wait(f"{STATES}.every(state => state === 'live')")
    assert browser.value(SHOWN) == CHARTS


@pytest.mark.parametrize("letter", [False, True], ids=["A4", "Letter"])
def test_the_page_prints_on_either_paper(
    browser: Browser, page: Path, tmp_path: Path, letter: bool
) -> None:
    browser.open(page)
    printed = tmp_path / "page.pdf"
    browser.pdf(printed, letter=letter)
    raw = printed.read_bytes()
    assert raw.startswith(b"%PDF")
    pages = len(re.findall(rb"/Type\s*/Page\b", raw))
    assert 6 <= pages <= 30


def test_paper_shows_whole_charts_and_no_controls(browser: Browser, page: Path) -> None:
    # 182 mm between the margins of A4, at 96 pixels an inch
    browser.open(page, width=688, height=1000)
    browser.call("Emulation.setEmulatedMedia", media="print")
    try:
        hidden = browser.value(
            "['nav', '.numbers', '.skip'].map(s =>"
            " getComputedStyle(document.querySelector(s)).display)"
        )
        assert hidden == ["none"] * 3
        right = browser.value(
            "Math.max(...[...document.querySelectorAll('.chart-wide svg, table')]"
            ".map(e => e.getBoundingClientRect().right))"
        )
        assert right <= 688.5
        heights = browser.value(
            "[...document.querySelectorAll('figure')]"
            ".map(f => f.getBoundingClientRect().height)"
        )
        # 249 mm between the margins of Letter: no figure may be torn
        assert max(heights) <= 941
    finally:
        browser.call("Emulation.setEmulatedMedia", media="")


def test_paper_shows_what_a_screen_folds_away_with_scripts_off(
    browser: Browser, page: Path
) -> None:
    browser.open(page, width=688, height=1000, scripts=False)
    seen = (
        "[...document.querySelectorAll('.fold > :not(summary)')].map(e =>"
        " e.checkVisibility({contentVisibilityAuto: true})"
        " && e.getBoundingClientRect().height > 0)"
    )
    folded = browser.value(seen)
    assert len(folded) > 10
    assert not any(folded)
    shown = browser.value(SHOWN)
    browser.call("Emulation.setEmulatedMedia", media="print")
    try:
        browser.wait(f"{seen}.every(Boolean)")
        assert browser.value(SHOWN) == CHARTS > shown > 5
        # what is cut to a height on a screen runs over its neighbours on paper
        limits = browser.value(
            "[...document.querySelectorAll('.scroll')].filter(s => s.offsetParent)"
            ".map(s => getComputedStyle(s).maxHeight)"
        )
        assert set(limits) == {"none"}
        heads = browser.value(
            "[...document.querySelectorAll('thead')].map(h =>"
            " getComputedStyle(h).display)"
        )
        assert set(heads) == {"table-header-group"}
        torn = browser.value(
            "[...document.querySelectorAll('figure, svg')].filter(f =>"
            " f.tagName === 'FIGURE' && getComputedStyle(f).breakInside !== 'avoid')"
            ".length"
        )
        assert torn == 0
    finally:
        browser.call("Emulation.setEmulatedMedia", media="")


def test_a_link_into_a_folded_section_opens_it(browser: Browser, page: Path) -> None:
    browser.open(page)
    fold = "document.querySelector('#life details.fold')"
    assert browser.value(f"{fold}.open") is False
    browser.value("location.hash = '#life'")
    browser.wait(f"{fold}.open")
    browser.wait("document.querySelector('#life .chart-wide').dataset.state === 'live'")


def test_the_page_is_the_same_bytes_after_it_was_read(
    browser: Browser, page: Path
) -> None:
    before = page.read_bytes()
    browser.open(page)
    assert page.read_bytes() == before
