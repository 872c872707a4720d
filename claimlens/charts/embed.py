"""From a chart to what a page carries: a static SVG and a live spec."""

from __future__ import annotations

import json
import re

import altair as alt
import vl_convert

from claimlens.charts import theme
from claimlens.results import ChartHtml, ChartTable

__all__ = ["Drawing", "chart_html", "library_bundle", "to_spec", "to_svg"]

#: What every chart function returns: single, layered, or panels side by side.
Drawing = alt.Chart | alt.LayerChart | alt.ConcatChart

_ID = re.compile(r'(\bid="|url\(#)([A-Za-z][\w-]*)')
_COLOUR = re.compile(
    "|".join(light for light, _ in theme.TOKENS.values()), re.IGNORECASE
)
_TOKEN_OF = {light: name for name, (light, _) in theme.TOKENS.items()}


def to_spec(chart: Drawing) -> str:
    """Return the chart as Vega-Lite JSON, theme included, keys sorted."""
    with alt.theme.enable(theme.NAME), alt.data_transformers.disable_max_rows():
        spec = chart.to_dict()
    return json.dumps(spec, sort_keys=True, separators=(",", ":"), allow_nan=False)


def to_svg(chart: Drawing, *, prefix: str = "chart") -> str:
    """Draw a chart as an SVG that follows the light or dark mode of its page.

    Parameters
    ----------
    chart : Drawing
        The chart; its data must be in it.
    prefix : str, default "chart"
        Put before every id inside, so that two drawings can share a page.

    Returns
    -------
    str
        The ``<svg>`` element, the same bytes at each call. No font is
        embedded, nothing is fetched.
    """
    svg = vl_convert.vegalite_to_svg(json.loads(to_spec(chart)), allowed_base_urls=[])
    return _follow_mode(_ID.sub(rf"\g<1>{prefix}-\g<2>", svg))


def chart_html(
    name: str, *, wide: Drawing, narrow: Drawing, summary: str, table: ChartTable
) -> ChartHtml:
    """Return the drawings of one chart, ready for a page.

    Parameters
    ----------
    name : str
        Unique on its page; made of letters, digits and hyphens.
    wide, narrow : Drawing
        For the desktop and paper, and for a phone.
    summary : str
        What is drawn and how to read it.
    table : ChartTable
        The numbers behind it.

    Returns
    -------
    ChartHtml
        Both drawings as SVG and as spec.
    """
    return ChartHtml(
        svg=to_svg(wide, prefix=f"{name}-wide"),
        spec=_follow_mode(to_spec(wide)),
        summary=summary,
        table=table,
        svg_narrow=to_svg(narrow, prefix=f"{name}-narrow"),
        spec_narrow=_follow_mode(to_spec(narrow)),
    )


def library_bundle() -> str:
    """Return the drawing libraries as one script, about 0.9 MB.

    It sets ``vegaEmbed`` on ``window``. A page carries it once; the
    interpreter for chart expressions is in it, so that the page's security
    policy need not allow code made from text.
    """
    return str(vl_convert.javascript_bundle("window.vegaEmbed=vegaEmbed;"))


def _follow_mode(text: str) -> str:
    """Turn each token's light value into its CSS custom property."""
    return _COLOUR.sub(
        lambda match: f"var(--{_TOKEN_OF[match[0].lower()]},{match[0].lower()})", text
    )
