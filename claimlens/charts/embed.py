"""From a chart to what a page carries: a static SVG and a live spec."""

from __future__ import annotations

import json
import re

import altair as alt
import vl_convert

from claimlens.charts import theme
from claimlens.charts.slimming import slimmed
from claimlens.language import vega_locale
from claimlens.marks import visible
from claimlens.results import ChartHtml, ChartTable

__all__ = ["Drawing", "chart_html", "library_bundle", "to_spec", "to_svg"]

#: What every chart function returns: single, layered, or panels side by side.
Drawing = alt.Chart | alt.LayerChart | alt.ConcatChart

_ID = re.compile(r'(\bid="|url\(#)([A-Za-z][\w-]*)')
_COLOUR = re.compile(
    r'\b(fill|stroke)="('
    + "|".join(light for light, _ in theme.TOKENS.values())
    + ')"',
    re.IGNORECASE,
)
_TOKEN_OF = {light: name for name, (light, _) in theme.TOKENS.items()}
# keys of a spec under which words and figures of the data stand, never a colour
_WORDS = frozenset({"datasets", "description", "domain", "sort", "values"})
_TEXTS = frozenset({"subtitle", "text", "title"})


def to_spec(chart: Drawing, *, validate: bool = False) -> str:
    """Return the chart as Vega-Lite JSON, theme included, keys sorted.

    Parameters
    ----------
    chart : Drawing
        The chart.
    validate : bool, default False
        Check it against the schema of Vega-Lite again; its parts were checked
        when they were made, and the whole costs a third of the time.
    """
    with alt.theme.enable(theme.NAME), alt.data_transformers.disable_max_rows():
        spec = chart.to_dict(validate=validate)
    spoken = vega_locale()
    if spoken is not None:
        spec.setdefault("config", {})["locale"] = spoken
    return _dump(_readable(spec))


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
    return _draw(to_spec(chart), prefix)


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
    specs = {"wide": to_spec(wide), "narrow": to_spec(narrow)}
    return ChartHtml(
        svg=_draw(specs["wide"], f"{name}-wide"),
        spec=_live_spec(specs["wide"]),
        summary=summary,
        table=table,
        svg_narrow=_draw(specs["narrow"], f"{name}-narrow"),
        spec_narrow=_live_spec(specs["narrow"]),
    )


def library_bundle() -> str:
    """Return the drawing libraries as one script, about 0.9 MB.

    It sets ``vegaEmbed`` on ``window``. A page carries it once; the
    interpreter for chart expressions is in it, so that the page's security
    policy need not allow code made from text.
    """
    return str(vl_convert.javascript_bundle("window.vegaEmbed=vegaEmbed;"))


def _follow_mode(svg: str) -> str:
    """Turn each token's light value into its CSS custom property.

    Only whole attributes are touched: a part could be named like a colour.
    """
    return _COLOUR.sub(lambda match: f'{match[1]}="{_property(match[2])}"', svg)


def _draw(spec: str, prefix: str) -> str:
    """Draw a spec."""
    svg = vl_convert.vegalite_to_svg(json.loads(spec), allowed_base_urls=[])
    owned = _ID.sub(rf"\g<1>{prefix}-\g<2>", svg)
    return _follow_mode(slimmed(owned, font=theme.FONT))


def _live_spec(spec: str) -> str:
    """Return the spec with CSS custom properties for the theme's colours."""
    return _dump(_recoloured(json.loads(spec)))


def _readable(node: object) -> object:
    """Walk a spec and make visible what hides in its texts."""
    if isinstance(node, dict):
        return {key: _readable(value) for key, value in node.items()}
    if isinstance(node, list):
        return [_readable(value) for value in node]
    return visible(node) if isinstance(node, str) else node


def _recoloured(node: object) -> object:
    """Walk a spec and swap colours, leaving texts and data alone."""
    if isinstance(node, dict):
        return {
            key: value
            if key in _WORDS or (key in _TEXTS and isinstance(value, str))
            else _recoloured(value)
            for key, value in node.items()
        }
    if isinstance(node, list):
        return [_recoloured(value) for value in node]
    if isinstance(node, str) and node in _TOKEN_OF:
        return _property(node)
    return node


def _property(light: str) -> str:
    """Return the CSS value of a colour: its token, or the light value without."""
    return f"var(--{_TOKEN_OF[light.lower()]},{light.lower()})"


def _dump(spec: object) -> str:
    """Write JSON with sorted keys, without blanks and without NaN."""
    return json.dumps(spec, sort_keys=True, separators=(",", ":"), allow_nan=False)
