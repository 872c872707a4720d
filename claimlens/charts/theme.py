"""The one chart theme: palette tokens, fonts, line widths.

Every colour is a token with a light and a dark value. Charts are drawn with
the light values; ``embed`` swaps each for a CSS custom property, so that one
picture follows the reader's light or dark mode and prints in light.
"""

from __future__ import annotations

from dataclasses import dataclass

import altair as alt

__all__ = ["FONT", "NAME", "NARROW", "TOKENS", "WIDE", "Layout", "claimlens_theme"]

NAME = "claimlens"

# metric-compatible with each other, so that text laid out here fits elsewhere
FONT = "Liberation Sans, Arial, Helvetica, sans-serif"

#: token -> (light, dark). Blues and oranges are the colour-blind-safe set of
#: Okabe and Ito (2008), "Color Universal Design"; ``soft`` is a tint of its blue.
TOKENS: dict[str, tuple[str, str]] = {
    "chart-paper": ("#fefefd", "#16191d"),
    "chart-ink": ("#20252b", "#e9e7e2"),
    "chart-quiet": ("#565e68", "#adb4bc"),
    "chart-grid": ("#dde0e4", "#363c44"),
    "chart-mark": ("#0072b2", "#56b4e9"),
    "chart-soft": ("#c3ddec", "#204a64"),
    "chart-accent": ("#c75800", "#e69f00"),
}

PAPER, INK, QUIET, GRID, MARK, SOFT, ACCENT = (light for light, _ in TOKENS.values())


@dataclass(frozen=True, slots=True)
class Layout:
    """How wide a chart may be and how many panels stand in a row.

    Parameters
    ----------
    width : int
        Width of a single plot without its axis labels, in pixels.
    panels : int
        Panels in a row of small multiples.
    panel_width : int
        Width of one panel, in pixels.
    """

    width: int
    panels: int
    panel_width: int

    @property
    def is_narrow(self) -> bool:
        """Tell whether this is the drawing for a phone."""
        return self.panels == 1


WIDE = Layout(width=742, panels=3, panel_width=204)
NARROW = Layout(width=272, panels=1, panel_width=268)


@alt.theme.register(NAME, enable=False)
def claimlens_theme() -> alt.theme.ThemeConfig:
    """Return the theme; ``embed`` enables it for the time of one drawing."""
    return {
        "config": {
            "aria": False,  # the page labels the whole picture and gives its table
            "background": "transparent",
            "font": FONT,
            "padding": {"left": 2, "right": 6, "top": 6, "bottom": 4},
            "view": {"stroke": None, "continuousHeight": 180},
            "axis": {
                "domainColor": QUIET,
                "gridColor": GRID,
                "gridWidth": 0.75,
                "labelColor": INK,
                "labelFontSize": 11.5,
                "labelPadding": 5,
                "tickColor": QUIET,
                "tickSize": 4,
                "titleColor": QUIET,
                "titleFontSize": 11.5,
                "titleFontWeight": "normal",
                "titlePadding": 8,
            },
            # a label at the upper end stays inside, or headings would not line up
            "axisYQuantitative": {"labelFlush": 7},
            "title": {
                "anchor": "start",
                "color": INK,
                "fontSize": 12.5,
                "fontWeight": "bold",
                "frame": "group",
                "offset": 6,
                "subtitleColor": QUIET,
                "subtitleFontSize": 11,
                "subtitlePadding": 3,
            },
            "legend": {
                "labelColor": INK,
                "labelFontSize": 11.5,
                "orient": "top",
                "symbolSize": 70,
                "titleColor": QUIET,
                "titleFontSize": 11.5,
                "titleFontWeight": "normal",
            },
            "area": {"color": SOFT, "opacity": 0.75},
            "bar": {"color": MARK},
            "line": {"color": MARK, "strokeWidth": 1.8},
            "point": {"color": MARK, "filled": True, "size": 44},
            "rule": {"color": MARK, "strokeWidth": 1.4},
            "text": {"color": INK, "fontSize": 11},
            "range": {"category": [MARK, ACCENT, QUIET, INK]},
        }
    }
