"""What live charts are made from, each thing once on a page.

The drawings for a wide and for a narrow window share most of what they say and
all of their data. Data travel by column, and what several drawings say alike
travels once; ``reports/charts.js`` puts both together again.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from claimlens.results import ChartHtml

__all__ = ["Live", "live"]

# anything that JSON can say
_Json = Any

# shorter parts cost less than a reference to them
_LEAST = 24


@dataclass(frozen=True, slots=True)
class Live:
    """The live charts of one page, as JSON texts.

    Parameters
    ----------
    shared : str
        ``parts``, a list: where a drawing holds ``{"$": 7}``, the part of that
        place belongs; and ``data``: by name a list of columns, each with its
        name and its cells, or with its name, its words, and which word each
        cell is.
    drawings : tuple of str
        One a chart, in the order given: its ``wide`` and its ``narrow`` drawing.
    """

    shared: str
    drawings: tuple[str, ...]


def live(charts: Sequence[ChartHtml]) -> Live:
    """Say all live charts of a page with each part and each datum once.

    Parameters
    ----------
    charts : sequence of ChartHtml
        With their specs; a chart without a narrow one has the wide one alone.
    """
    data: dict[str, _Json] = {}
    drawings = []
    for chart in charts:
        specs = {"wide": chart.spec, "narrow": chart.spec_narrow}
        drawing: dict[str, _Json] = {}
        for name, text in specs.items():
            if text:
                spec = json.loads(text)
                data |= spec.pop("datasets", {})
                drawing[name] = spec
        drawings.append(drawing)
    parts = _Parts(drawings)
    written = tuple(_dump(parts.shortened(drawing)) for drawing in drawings)
    return Live(
        _dump(
            {
                "data": {name: _by_column(rows) for name, rows in data.items()},
                "parts": parts.listed(),
            }
        ),
        written,
    )


class _Parts:
    """Parts that return, each with its place in a list."""

    def __init__(self, drawings: Sequence[_Json]) -> None:
        self._times: Counter[str] = Counter()
        for drawing in drawings:
            self._count(drawing)
        self._places: dict[str, int] = {}
        self._texts: list[str] = []

    def _count(self, node: _Json) -> None:
        if not isinstance(node, dict | list):
            return
        text = _dump(node)
        self._times[text] += 1
        # what returns is one part as a whole: its own parts are counted once
        if self._times[text] == 1:
            for child in _children(node):
                self._count(child)

    def shortened(self, node: _Json) -> _Json:
        """Return the node with references in place of parts that return."""
        if not isinstance(node, dict | list):
            return node
        text = _dump(node)
        if self._times[text] < 2 or len(text) < _LEAST:
            return self._inside(node)
        if text not in self._places:
            # its own parts first: a reader can put the list together in order
            inner = _dump(self._inside(node))
            self._places[text] = len(self._texts)
            self._texts.append(inner)
        return {"$": self._places[text]}

    def _inside(self, node: _Json) -> _Json:
        if isinstance(node, dict):
            return {key: self.shortened(value) for key, value in node.items()}
        return [self.shortened(value) for value in node]

    def listed(self) -> list[_Json]:
        """Return the parts that were referred to, in order."""
        return [json.loads(text) for text in self._texts]


def _children(node: _Json) -> list[_Json]:
    return list(node.values()) if isinstance(node, dict) else node


def _by_column(rows: _Json) -> _Json:
    """Turn rows of equal keys into columns; words that return are said once."""
    if not isinstance(rows, list) or not rows or not isinstance(rows[0], dict):
        return {"rows": rows}
    names = list(rows[0])
    table = [row for row in rows if isinstance(row, dict)]
    if len(table) < len(rows) or any(list(row) != names for row in table):
        return {"rows": rows}
    return [_column(name, [row[name] for row in table]) for name in names]


def _column(name: str, cells: list[_Json]) -> _Json:
    words = list(dict.fromkeys(cell for cell in cells if isinstance(cell, str)))
    if len(words) * 2 > len(cells) or any(not isinstance(c, str) for c in cells):
        return [name, cells]
    place = {word: number for number, word in enumerate(words)}
    return [name, list(words), [place[str(cell)] for cell in cells]]


def _dump(value: object) -> str:
    """Write JSON with sorted keys, without blanks and without NaN."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False)
