"""How high a row must be for its wrapped texts; some programs do not work it out."""

from __future__ import annotations

import math
from collections.abc import Sequence

__all__ = ["height_of"]

_LINE = 15.0
# the highest row that a workbook can hold
_HIGHEST = 405.0
# characters that a wrapped line loses, as a word does not fit any more
_LOST = 3


def height_of(texts: Sequence[str], widths: Sequence[float]) -> float:
    """Return the height of a row.

    Parameters
    ----------
    texts : sequence of str
        Its cells.
    widths : sequence of float
        Width of each column in characters.

    Returns
    -------
    float
        In points, for a font of 11 points.
    """
    lines = 1
    for text, width in zip(texts, widths, strict=True):
        room = max(1.0, width - _LOST)
        needed = sum(max(1, math.ceil(len(line) / room)) for line in text.split("\n"))
        lines = max(lines, needed)
    return min(_HIGHEST, lines * _LINE + 2)
