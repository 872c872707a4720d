"""The page of the month: safe, self-contained, complete, the same each time."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import fixture_monthly
import fixture_open
import fixture_outstanding
import fixture_rising
import fixture_to_come
import pandas as pd
import pytest
from page_reader import Element, read

from claimlens.charts.embed import library_bundle
from claimlens.charts.monthly import build
from claimlens.errors import InputError, ReportError
from claimlens.handover import write_text
from claimlens.monthly_inputs import COLUMNS, MonthlyInputs, SafetyClaim
from claimlens.report.live import live
from claimlens.report.monthly import render_monthly
from claimlens.report.render import content_policy, inline_json
from claimlens.results import ChartHtml

HOSTILE = (
    "<script>window.broken=1</script>",
    "{{7*7}}",
    "](javascript:broken())",
    '"><img src=x onerror=broken()>',
    "a & b 'c'",
)


@pytest.fixture(scope="module")
def inputs() -> MonthlyInputs:
    return fixture_monthly.build()


@pytest.fixture(scope="module")
def charts(inputs: MonthlyInputs) -> dict[str, ChartHtml]:
    return build(inputs)


@pytest.fixture(scope="module")
def page(inputs: MonthlyInputs, charts: dict[str, ChartHtml]) -> str:
    return render_monthly(inputs, charts, library=library_bundle())


@pytest.fixture(scope="module")
def tree(inputs: MonthlyInputs, charts: dict[str, ChartHtml]) -> Element:
    return read(render_monthly(inputs, charts))


def renamed(inputs: MonthlyInputs) -> MonthlyInputs:
    """Put hostile names into every column of words."""
    names = list(fixture_monthly.COMPONENTS)
    changed = dict(zip(names, HOSTILE, strict=False))
    frames = {}
    for name in COLUMNS:
        frame = getattr(inputs, name)
        for column in ("component", "model", "file", "kind", "class", "note"):
            if column in frame.columns and len(frame):
                frame = frame.assign(
                    **{column: frame[column].replace(changed).astype("object")}
                )
                if column != "component":
                    frame.iloc[0, list(frame.columns).index(column)] = HOSTILE[0]
        frames[name] = frame
    return replace(
        inputs,
        **frames,
        meta=replace(inputs.meta, workspace=HOSTILE[0], coverage=HOSTILE[3]),
        changes=replace(
            inputs.changes,
            new_in_top_five=(HOSTILE[1],),
            safety_claims=(
                SafetyClaim(
                    claim_no=HOSTILE[0],
                    serial=HOSTILE[1],
                    component=HOSTILE[3],
                    failure_mode=HOSTILE[4],
                    reported_on=fixture_monthly.AS_OF,
                    told_on=fixture_monthly.AS_OF,
                    words_read=HOSTILE[2],
                    why="reported",
                ),
            ),
        ),
        quality=replace(inputs.quality, flags=((HOSTILE[3], 2),)),
    )


def test_the_page_holds_no_address_that_could_be_fetched(tree: Element) -> None:
    for element in tree.walk():
        for name in ("src", "href", "xlink:href", "action", "poster", "srcset"):
            address = element.attributes.get(name, "#")
            assert address.startswith("#") or address == "data:,", element
        for value in element.attributes.values():
            assert "url(http" not in value
    assert "@import" not in tree.text
    assert "@font-face" not in tree.text


def test_the_policy_allows_these_three_scripts_and_nothing_else(page: str) -> None:
    policy = read(page).all("meta")[1].attributes["content"]
    allowed = re.findall(r"'sha256-([^']+)'", policy)
    scripts = re.findall(r"<script>(.*?)</script>", page, flags=re.DOTALL)
    digests = [
        base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        for text in scripts
    ]
    assert len(scripts) == 3
    assert allowed == digests
    assert policy.startswith("default-src 'none'")
    assert "unsafe-eval" not in policy
    assert "connect-src 'none'" in policy


def test_without_a_library_no_script_is_on_the_page(tree: Element) -> None:
    assert tree.all("script") == []
    assert "script-src 'none'" in tree.all("meta")[1].attributes["content"]
    assert len(tree.all("svg")) == 26


@pytest.fixture(scope="module")
def hostile(inputs: MonthlyInputs) -> MonthlyInputs:
    return renamed(inputs)


@pytest.fixture(scope="module")
def hostile_charts(hostile: MonthlyInputs) -> dict[str, ChartHtml]:
    return build(hostile)


def test_hostile_names_stay_text(
    hostile: MonthlyInputs, hostile_charts: dict[str, ChartHtml]
) -> None:
    html = render_monthly(hostile, hostile_charts, library="window.vegaEmbed=0;")
    page = read(html)
    assert not page.all("img")
    assert all("onerror" not in element.attributes for element in page.walk())
    assert all("window.broken" not in s.text for s in page.all("script")[-3:])
    plain = " ".join(part.text for part in page.all("main"))
    for name in HOSTILE[:4]:
        assert " ".join(name.split()) in plain
    assert "49" not in page.all("ol")[0].text
    for link in page.all("a"):
        assert link.attributes["href"].startswith("#")


def test_specs_survive_inside_their_script_elements(
    hostile: MonthlyInputs, hostile_charts: dict[str, ChartHtml]
) -> None:
    charts = hostile_charts
    page = read(render_monthly(hostile, charts, library="window.vegaEmbed=0;"))
    specs = [
        script
        for script in page.all("script")
        if script.attributes.get("type") == "application/json"
    ]
    texts = {s.attributes["id"]: json.loads("".join(s.own_text)) for s in specs}
    shared = texts.pop("live-shared")
    assert len(texts) == 13
    for name, drawings in texts.items():
        chart = charts[name.split("-figure-spec")[0]]
        for drawing, spec in (("wide", chart.spec), ("narrow", chart.spec_narrow)):
            assert put_together(drawings[drawing], shared) == json.loads(spec)


def put_together(drawing: Any, shared: Any) -> Any:
    """Do what the script of the page does with a drawing."""

    def whole(node: Any) -> Any:
        if isinstance(node, list):
            return [whole(one) for one in node]
        if not isinstance(node, dict):
            return node
        if list(node) == ["$"]:
            return whole(shared["parts"][node["$"]])
        return {key: whole(value) for key, value in node.items()}

    def rows(columns: Any) -> Any:
        if isinstance(columns, dict):
            return columns["rows"]
        filled = {
            column[0]: [column[1][place] for place in column[2]]
            if len(column) > 2
            else column[1]
            for column in columns
        }
        count = len(next(iter(filled.values())))
        return [{key: cells[n] for key, cells in filled.items()} for n in range(count)]

    spec = whole(drawing)
    text = json.dumps(spec)
    named = {key: rows(own) for key, own in shared["data"].items() if key in text}
    return spec | {"datasets": named}


def test_what_drawings_share_is_said_once(charts: dict[str, ChartHtml]) -> None:
    packed = live(list(charts.values()))
    whole = sum(len(c.spec) + len(c.spec_narrow) for c in charts.values())
    assert len(packed.shared) + sum(map(len, packed.drawings)) < whole / 3
    parts = json.loads(packed.shared)["parts"]
    # a reader can put the list together in order
    for place, part in enumerate(parts):
        for found in re.findall(r'\{"\$": (\d+)\}', json.dumps(part)):
            assert int(found) < place


def test_inline_json_holds_no_character_that_ends_a_script() -> None:
    text = json.dumps("</script><!-- \u2028 & >", ensure_ascii=False)
    escaped = str(inline_json(text))
    assert not set("<>&\u2028") & set(escaped)
    assert json.loads(escaped) == json.loads(text)


def test_a_library_that_closes_its_element_is_refused(
    inputs: MonthlyInputs, charts: dict[str, ChartHtml]
) -> None:
    with pytest.raises(ReportError, match="end of a script"):
        render_monthly(inputs, charts, library="x='</SCRIPT>'")


def test_the_same_inputs_give_the_same_bytes(inputs: MonthlyInputs, page: str) -> None:
    again = fixture_monthly.build()
    assert render_monthly(again, build(again), library=library_bundle()) == page
    assert inputs is not again


def test_the_page_stays_below_two_megabytes(page: str) -> None:
    assert len(page.encode()) < 2_000_000


def test_every_figure_has_a_summary_and_a_table(tree: Element) -> None:
    figures = tree.all("figure")
    assert len(figures) == 13
    for figure in figures:
        pictures = [
            element
            for element in figure.walk()
            if element.attributes.get("role") == "img"
        ]
        assert len(pictures) == 2
        names = {picture.attributes["aria-labelledby"] for picture in pictures}
        [label] = [p for p in figure.all("p") if p.attributes.get("id") in names]
        assert len(label.text) > 60
        assert len(figure.all("figcaption")[0].text) > 100
        table = figure.all("details")[0].all("table")[0]
        assert len(table.all("tbody")[0].all("tr")) >= 14


def test_every_table_has_a_caption_and_scoped_headings(tree: Element) -> None:
    tables = tree.all("table")
    assert len(tables) >= 14
    for table in tables:
        assert table.all("caption")[0].text
        width = len(table.all("thead")[0].all("th"))
        for row in table.all("tr"):
            cells = [cell for cell in row.children if cell.tag in ("th", "td")]
            assert len(cells) == width
        assert all(
            head.attributes["scope"] in ("col", "row") for head in table.all("th")
        )


def test_ids_are_unique_and_every_reference_has_its_target(tree: Element) -> None:
    ids = [e.attributes["id"] for e in tree.walk() if "id" in e.attributes]
    assert len(ids) == len(set(ids))
    for element in tree.walk():
        href = element.attributes.get("href", "")
        if href.startswith("#"):
            assert href[1:] in ids
        for name in element.attributes.get("aria-labelledby", "").split():
            assert name in ids
        for name in re.findall(r"url\(#([^)]+)\)", str(element.attributes)):
            assert name in ids


def test_the_page_has_its_landmarks_and_one_main_heading(tree: Element) -> None:
    for landmark in ("header", "main", "nav", "footer"):
        assert len(tree.all(landmark)) == 1
    assert len(tree.all("h1")) == 1
    assert tree.all("html")[0].attributes["lang"] == "en"
    assert tree.all("body")[0].children[0].attributes["href"] == "#main"


def test_danger_comes_before_everything_else(tree: Element) -> None:
    sections = [s.attributes["id"] for s in tree.all("section")]
    assert sections[:4] == ["safety", "decisions", "changes", "dangers"]
    safety, dangers = tree.all("section")[0], tree.all("section")[3]
    assert safety.text.startswith("Danger first 2 claims tell of a danger")
    assert "▲" in safety.text
    assert "Nobody rides or charges such a unit" in safety.text
    assert "local law" in safety.text
    [link] = safety.all("a")
    assert link.attributes["href"] == "#dangers"
    assert "C-2026-0412" in dangers.text
    assert "Local law" in dangers.text


def test_a_month_without_danger_says_so_without_promising_anything(
    inputs: MonthlyInputs, charts: dict[str, ChartHtml]
) -> None:
    calm = replace(inputs, changes=replace(inputs.changes, safety_claims=()))
    page = read(render_monthly(calm, charts))
    assert "was recognised as telling of a danger" in page.all("section")[0].text
    assert "no problem" not in page.text.lower()
    assert "local law" in page.text.lower()


def test_the_classes_add_up_to_the_claims_read(tree: Element) -> None:
    table = next(t for t in tree.all("table") if t.attributes["id"] == "classes-table")
    counts = [
        int(row.children[1].text.replace(",", ""))
        for row in table.all("tbody")[0].all("tr")
    ]
    total = table.all("tfoot")[0].all("td")[0].text
    assert sum(counts) == int(total.replace(",", "")) > 1000


def test_late_months_are_told_in_words_and_in_tables(tree: Element) -> None:
    section = next(s for s in tree.all("section") if s.attributes["id"] == "late")
    said = section.text.replace("\N{NO-BREAK SPACE}", " ")
    assert "Of the failures of March 2026 we have seen about 35 %." in said
    assert "61 of the 140 claims reported in August 2025 came on 29 August" in said
    restated = next(
        t for t in section.all("table") if t.attributes["id"] == "restated-table"
    )
    rows = [
        [cell.text for cell in row.children]
        for row in restated.all("tbody")[0].all("tr")
    ]
    assert len(rows) == 6
    assert rows[0][1] == rows[0][3]  # the last month is shown for the first time
    assert [row[-1] for row in rows] == ["no", "yes", "yes", "yes", "yes", "yes"]
    delays = next(
        t for t in section.all("table") if t.attributes["id"] == "delays-table"
    )
    assert len(delays.all("tbody")[0].all("tr")) == 6


def test_the_foot_tells_what_made_the_page(tree: Element) -> None:
    foot = tree.all("footer")[0].text
    for word in ("0.1.0", "2026-03-31", "5b0c2f9d11aa", "a1b2c3d4e5f6", "29,744", "15"):
        assert word in foot


def test_frames_without_rows_give_a_page_of_sentences() -> None:
    empty = {name: pd.DataFrame({c: [] for c in COLUMNS[name]}) for name in COLUMNS}
    inputs = fixture_monthly.build(
        **empty,
        claims_read=0,
        rising=fixture_rising.nothing("Nothing is known yet."),
        to_come=fixture_to_come.nothing("No claim is known yet."),
        reserve=fixture_outstanding.no_reserve("No claim has a cost."),
        spares=fixture_outstanding.no_spares("No part is known."),
        open_claims=fixture_open.nothing(),
    )
    charts = build(inputs)
    page = read(render_monthly(inputs, charts))
    assert charts == {}
    assert not page.all("figure")
    assert "No failure has been counted yet." in page.text
    assert "No component has enough failures for a fit." in page.text
    assert "nan" not in page.text.lower().split()


def test_the_page_prints_no_missing_number_as_a_number(tree: Element) -> None:
    words = set(re.findall(r"[A-Za-z]+", tree.all("main")[0].text))
    assert not words & {"nan", "NaN", "None", "NaT", "inf", "Infinity", "undefined"}


def test_the_words_the_trade_must_not_use_are_absent(tree: Element) -> None:
    """Methods of reporting: no claim of proof, no significance without effect."""
    text = tree.all("main")[0].text.lower()
    for word in ("statistically significant", "no problem", "proved", "mtbf"):
        assert not re.search(rf"\b{word}\b", text), word


def test_a_policy_without_scripts_lets_none_run() -> None:
    assert "script-src 'none'" in content_policy([])


def test_writing_replaces_the_page_whole_and_leaves_nothing_beside(
    tmp_path: Path,
) -> None:
    target = tmp_path / "month.html"
    target.write_text("old", encoding="utf-8")
    write_text("neu: ä\n", target, overwrite=True)
    assert target.read_bytes() == "neu: ä\n".encode()
    assert list(tmp_path.iterdir()) == [target]


def test_a_page_that_cannot_be_written_says_where_and_leaves_the_old_one(
    tmp_path: Path,
) -> None:
    with pytest.raises(InputError) as caught:
        write_text("x", tmp_path / "nowhere" / "month.html", overwrite=True)
    assert "nowhere" in str(caught.value)
    assert caught.value.remedy
    assert list(tmp_path.iterdir()) == []


def test_ages_that_no_unit_reached_are_not_printed_as_lives(
    inputs: MonthlyInputs, charts: dict[str, ChartHtml]
) -> None:
    """The fit reaches to 36 months, units to 24: later B-lives are guesses."""
    page = read(render_monthly(inputs, charts))
    table = next(t for t in page.all("table") if t.attributes["id"] == "life-table")
    cells = {row.children[0].text: row for row in table.all("tbody")[0].all("tr")}
    display = cells["display"].children
    assert display[5].text == "1.2 (1.0–1.4)"
    assert display[6].text.startswith("> 2")
    assert display[6].text.endswith("(54.9 or more)")
    assert "61.1" not in cells["display"].text


def test_a_page_whose_figures_are_all_mature_says_so(
    inputs: MonthlyInputs, charts: dict[str, ChartHtml]
) -> None:
    rates = inputs.rates_by_model_year.assign(mature=True)
    page = read(render_monthly(replace(inputs, rates_by_model_year=rates), charts))
    assert "All 84 figures are mature." in page.text
