"""Sorting, searching, copying, and one component on the whole page."""

from __future__ import annotations

from pathlib import Path

import fixture_monthly
import pytest
from devtools_pipe import Browser

from claimlens.charts.embed import library_bundle
from claimlens.charts.monthly import build
from claimlens.handover import write_text
from claimlens.report.monthly import render_monthly

pytestmark = pytest.mark.browser

ADDED = ".tools, button, select, input"
TABLE = "document.querySelector('#ranking-table')"
ROWS = f"[...{TABLE}.tBodies[0].rows].filter(r => !r.hidden)"
# the clipboard of a file belongs to the reader: the test looks at what is handed over
CATCH = (
    "Object.defineProperty(navigator, 'clipboard', {value: {writeText: t =>"
    " {window.copied = t; return Promise.resolve()}}})"
)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("tables") / "page.html"
    inputs = fixture_monthly.build(
        ranking=fixture_monthly.build().ranking.replace(
            {"component": {"controller": '=HYPERLINK("x"), too'}}
        )
    )
    write_text(
        render_monthly(inputs, build(inputs), library=library_bundle()),
        path,
        overwrite=True,
    )
    return path


def heading(browser: Browser, name: str) -> str:
    """Press the heading of that name; return how the column is sorted then."""
    button = f"[...{TABLE}.querySelectorAll('th button')].find(b => b.textContent ==="
    browser.value(f"{button} {name!r}).click()")
    return str(
        browser.value(f"{button} {name!r}).closest('th').getAttribute('aria-sort')")
    )


def column(browser: Browser, place: int) -> list[str]:
    return [
        str(text)
        for text in browser.value(f"{ROWS}.map(r => r.cells[{place}].textContent)")
    ]


def test_nothing_of_it_shows_where_scripts_are_off(
    browser: Browser, page: Path
) -> None:
    browser.open(page, scripts=False)
    assert browser.value(f"document.querySelectorAll('{ADDED}').length") == 0
    browser.open(page)
    assert browser.value(f"document.querySelectorAll('{ADDED}').length") > 20


def test_a_heading_sorts_up_and_down_by_number(browser: Browser, page: Path) -> None:
    browser.open(page)
    assert heading(browser, "claims") == "ascending"
    counts = [int(text.replace(",", "")) for text in column(browser, 1)]
    assert counts == sorted(counts)
    assert heading(browser, "claims") == "descending"
    counts = [int(text.replace(",", "")) for text in column(browser, 1)]
    assert counts == sorted(counts, reverse=True)
    assert heading(browser, "component") == "ascending"
    sorted_by = f"[...{TABLE}.querySelectorAll('[aria-sort]')].length"
    assert browser.value(sorted_by) == 1


def test_missing_figures_come_last_either_way(browser: Browser, page: Path) -> None:
    browser.open(page)
    for _ in range(2):
        heading(browser, "cost")
        missing = [text == "–" for text in column(browser, 5)]
        assert missing == sorted(missing)


def test_the_detail_of_a_row_stays_below_it(browser: Browser, page: Path) -> None:
    browser.open(page)
    rows = (
        "[...document.querySelector('#signals-table').tBodies[0].rows]"
        ".map(r => r.cells[0].textContent)"
    )
    before = browser.value(rows)
    place = next(n for n, text in enumerate(before) if text.startswith("of these"))
    above = before[place - 1]
    for _ in range(2):
        browser.value("document.querySelector('#signals-table th button').click()")
        after = browser.value(rows)
        assert after[after.index(before[place]) - 1] == above


def test_a_search_leaves_the_rows_that_hold_it(browser: Browser, page: Path) -> None:
    browser.open(page)
    browser.value(
        f"(() => {{ const box = {TABLE}.closest('figure').querySelector('input');"
        " box.value = 'BRAKE'; box.dispatchEvent(new Event('input')); })()"
    )
    names = column(browser, 0)
    assert names
    assert all("brake" in name for name in names)
    said = browser.value(f"{TABLE}.closest('figure').querySelector('output').value")
    assert said.startswith(f"{len(names)} of ")


def test_a_copy_is_csv_with_raw_numbers_and_no_formula(
    browser: Browser, page: Path
) -> None:
    browser.open(page)
    browser.value(CATCH)
    browser.value(f"{TABLE}.closest('figure').querySelector('.tools button').click()")
    browser.wait("window.copied")
    text = browser.value("window.copied")
    lines = text.split("\r\n")
    assert lines[-1] == ""
    assert lines[0] == (
        "component,claims,share of all claims,units failed,repeats,cost,currency"
    )
    hostile = [line for line in lines if "HYPERLINK" in line]
    assert hostile[0].startswith('"\'=HYPERLINK(""x""), too",')
    costs = [line.rsplit(",", 2)[1] for line in lines[1:-1]]
    assert any(len(cost) > 4 and cost.isdigit() for cost in costs)
    browser.wait(
        f"{TABLE}.closest('figure').querySelector('output').value.includes('copied')"
    )


def test_one_component_is_shown_in_tables_and_charts(
    browser: Browser, page: Path
) -> None:
    browser.open(page)
    browser.value(
        "document.querySelectorAll('details.fold').forEach(d => { d.open = true })"
    )
    panels = (
        "document.querySelectorAll('#rate-by-model-year-figure .chart-wide"
        " .role-scope').length"
    )
    before = browser.value(panels)
    choose = (
        "(() => {{ const box = document.querySelector('select'); box.value = {!r};"
        " box.dispatchEvent(new Event('change')); }})()"
    )
    browser.value(choose.format("wiring harness"))
    browser.wait(
        "[...document.querySelectorAll('.chart-wide')].every("
        "c => c.dataset.state === 'live' && c.dataset.component === 'wiring harness')"
    )
    assert set(column(browser, 0)) == {"wiring harness"}
    assert 0 < browser.value(panels) < before
    browser.value(choose.format(""))
    browser.wait(
        "[...document.querySelectorAll('.chart-wide')].every(c => !c.dataset.component)"
    )
    assert browser.value(panels) == before
    assert browser.complaints() == []


def test_a_table_can_be_sorted_by_keyboard(browser: Browser, page: Path) -> None:
    browser.open(page)
    browser.value("document.querySelector('#changes-table th button').focus()")
    for kind in ("keyDown", "keyUp"):
        browser.call(
            "Input.dispatchKeyEvent",
            type=kind,
            key="Enter",
            code="Enter",
            text="\r",
            windowsVirtualKeyCode=13,
        )
    first = "document.querySelector('#changes-table th').getAttribute('aria-sort')"
    assert browser.value(first) == "ascending"
