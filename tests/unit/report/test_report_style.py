"""The style sheet: contrast by WCAG 2.2, one palette, no colour elsewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from claimlens.charts import theme
from claimlens.resources import find

STYLE = find("reports/style.css").read_text(encoding="utf-8")
TEXTS = ("ink", "quiet", "link", "danger")
CHART_TEXTS = ("chart-ink", "chart-quiet")
CHART_MARKS = ("chart-mark", "chart-accent")


def tokens(block: str) -> dict[str, str]:
    """Read the colour tokens of a block."""
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block))


LIGHT = tokens(STYLE[: STYLE.index("@media screen and (prefers-color-scheme: dark)")])
DARK = {
    **LIGHT,
    **tokens(STYLE[STYLE.index("(prefers-color-scheme: dark)") :].split("\n}\n")[0]),
}
MODES = pytest.mark.parametrize("mode", [LIGHT, DARK], ids=["light", "dark"])


def luminance(colour: str) -> float:
    """Compute relative luminance; W3C, WCAG 2.2, definition of the term."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [
        value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4
        for value in channels
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Compute the contrast ratio; W3C, WCAG 2.2, definition of the term."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_knows_its_end_points() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    # the lightest grey that passes AA on white; value from memory
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@MODES
@pytest.mark.parametrize("text", TEXTS)
@pytest.mark.parametrize("ground", ["paper", "raised"])
def test_text_reaches_the_contrast_of_aa(
    mode: dict[str, str], text: str, ground: str
) -> None:
    assert contrast(mode[text], mode[ground]) >= 4.5  # success criterion 1.4.3


@MODES
@pytest.mark.parametrize("text", CHART_TEXTS)
def test_chart_text_reaches_the_contrast_of_aa(mode: dict[str, str], text: str) -> None:
    assert contrast(mode[text], mode["paper"]) >= 4.5
    assert mode["chart-paper"] == mode["paper"]


@MODES
@pytest.mark.parametrize("mark", CHART_MARKS)
def test_chart_marks_reach_the_contrast_of_graphics(
    mode: dict[str, str], mark: str
) -> None:
    assert contrast(mode[mark], mode["paper"]) >= 3  # success criterion 1.4.11


@MODES
def test_marks_stand_out_from_the_band_they_lie_on(mode: dict[str, str]) -> None:
    for mark in CHART_MARKS:
        assert contrast(mode[mark], mode["chart-soft"]) >= 3


def test_charts_and_page_share_one_palette() -> None:
    assert {
        name: (LIGHT[name], DARK[name]) for name in LIGHT if name.startswith("chart-")
    } == theme.TOKENS


def test_the_palette_is_named_in_the_style_sheet() -> None:
    assert "Okabe and Ito (2008)" in STYLE


def test_colours_are_written_in_the_theme_and_the_style_sheet_only() -> None:
    folder = Path(theme.__file__).parents[1]
    for room in ("charts", "report"):
        for module in sorted((folder / room).glob("*.py")):
            if module.name != "theme.py":
                text = module.read_text(encoding="utf-8")
                assert not re.search(r"#[0-9a-fA-F]{6}\b", text), module
    for template in sorted(find("reports").glob("*.j2")):
        assert not re.search(r"#[0-9a-fA-F]{6}\b", template.read_text("utf-8"))


def test_templates_hold_no_number_to_compare_with() -> None:
    """Decisions are made in Python; a template only asks whether there is one."""
    for template in sorted(find("reports").glob("*.j2")):
        statements = re.findall(r"{%.*?%}|{{.*?}}", template.read_text("utf-8"))
        for statement in statements:
            assert not re.search(r"[<>]=?|==|[+*/]|\b\d", statement), statement


def test_print_hides_what_paper_cannot_use() -> None:
    printed = STYLE[STYLE.index("@media print") :]
    hidden = ".skip, nav, .numbers, .tools, .fold > summary, figure .hint"
    assert f"{hidden} {{ display: none !important; }}" in printed
    assert ".fold::details-content { content-visibility: visible;" in printed
    assert "break-inside: avoid" in printed
