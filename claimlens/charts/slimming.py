"""A static picture without what only a script or a pointer could use.

What most marks of a group share is written once, on the group; lines of one
stroke are one path. The picture stays the same to a tenth of a pixel, at less than
half of the bytes.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

__all__ = ["slimmed"]

# a child takes these from its group: SVG 2, property index, "inherited"
_INHERITED = (
    *("fill", "fill-opacity", "stroke", "stroke-width", "stroke-dasharray"),
    *("stroke-dashoffset", "stroke-linecap", "stroke-linejoin", "stroke-opacity"),
    *("stroke-miterlimit", "font-size", "font-weight", "font-style", "font-family"),
    *("text-anchor",),
)
_UNUSED = frozenset(
    {"pointer-events", "aria-hidden", "role", "aria-roledescription", "xmlns:xlink"}
)
_DEFAULTS = {"opacity": "1", "version": "1.1", "stroke-dasharray": "1,0"}
_TOKEN = re.compile(r"<(/?)([\w:-]+)((?:[^>\"]|\"[^\"]*\")*?)(/?)>|([^<]+)")
_ATTRIBUTE = re.compile(r'([\w:-]+)="([^"]*)"')
_NUMBER = re.compile(r"-?\d+\.\d+")
_SHIFT = re.compile(r"^translate\((-?[\d.]+),(-?[\d.]+)\)$")
_NOWHERE = "translate(0,0)"
_MEASURES = ("d", "transform", "x", "y", "x2", "y2", "width", "height")
_LENGTH = r"(-?[\d.]+)"
_CIRCLE = re.compile(rf"M{_LENGTH},0A(?:\1,\1,0,1,1,-?\1,0A?){{2}}Z?")
_POINT = re.compile(rf"{_LENGTH},{_LENGTH}")
_POLYGON = re.compile(rf"M{_POINT.pattern}(?:L{_POINT.pattern})+Z?")


@dataclass(slots=True)
class _Node:
    tag: str
    attributes: dict[str, str]
    children: list[_Node | str] = field(default_factory=list)

    @property
    def elements(self) -> list[_Node]:
        return [child for child in self.children if isinstance(child, _Node)]

    def walk(self) -> Iterator[_Node]:
        yield self
        for child in self.elements:
            yield from child.walk()


def slimmed(svg: str, *, font: str) -> str:
    """Return the picture in fewer bytes.

    Parameters
    ----------
    svg : str
        As the drawing library writes it: attributes in double quotes.
    font : str
        The one font of the picture, said once.

    Returns
    -------
    str
        The ``<svg>`` element. Texts of the data stay as they are.
    """
    root = _read(svg)
    for node in root.walk():
        _clean(node, font)
    _drop_unseen(root)
    _join_lines(root)
    for node in root.walk():
        _settle(node)
    _unwrap(root)
    _lift(root)
    root.attributes = {"font-family": font, **root.attributes}
    return "".join(_write(root))


def _read(svg: str) -> _Node:
    """Read the elements; the library writes no comment and no CDATA."""
    top = _Node("", {})
    open_ones = [top]
    for token in _TOKEN.finditer(svg):
        closing, tag, attributes, alone, text = token.groups()
        if text is not None:
            open_ones[-1].children.append(text)
        elif closing:
            open_ones.pop()
        else:
            node = _Node(tag, dict(_ATTRIBUTE.findall(attributes)))
            open_ones[-1].children.append(node)
            if not alone:
                open_ones.append(node)
    return top.elements[0]


def _clean(node: _Node, font: str) -> None:
    """Drop what is of no use, and round what is measured."""
    kept = {}
    for name, value in node.attributes.items():
        if name in _UNUSED or _DEFAULTS.get(name) == value:
            continue
        if name == "font-family" and value == font:
            continue
        if name == "transform" and value == _NOWHERE:
            continue
        kept[name] = _NUMBER.sub(_tenth, value) if name in _MEASURES else value
    marks = kept.get("class", "").split()
    if node.tag != "svg" and marks:
        # a group of marks keeps its kind, frames and axes need none
        kind = [name for name in marks if name.startswith("mark-")]
        if kind and kind[0] != "mark-group" and "role-mark" in marks:
            kept["class"] = kind[0]
        elif marks != ["background"]:
            del kept["class"]
    node.attributes = kept


def _tenth(match: re.Match[str]) -> str:
    """Write a number to a tenth of a pixel."""
    return _short(float(match[0]))


def _short(value: float) -> str:
    """Write a number without an idle sign or zero."""
    return f"{round(value, 1) + 0.0:g}"


def _drop_unseen(node: _Node) -> None:
    """Drop paths that are not drawn, and groups in which nothing is left."""
    kept: list[_Node | str] = []
    for child in node.children:
        if isinstance(child, _Node):
            _drop_unseen(child)
            if _is_unseen(child):
                continue
        kept.append(child)
    node.children = kept


def _is_unseen(node: _Node) -> bool:
    given = node.attributes
    if node.tag == "path":
        paints = "fill" in given or "stroke" in given
        is_ground = given.get("class") == "background" and not paints
        return (
            given.get("opacity") == "0" or given.get("display") == "none" or is_ground
        )
    return node.tag == "g" and not node.children and "clip-path" not in given


def _join_lines(root: _Node) -> None:
    """Make one path of the lines of a group that are drawn alike."""
    for group in root.walk():
        if group.tag != "g" or any(child.tag != "line" for child in group.elements):
            continue
        paths: dict[tuple[tuple[str, str], ...], _Node] = {}
        kept: list[_Node | str] = []
        for line in group.elements:
            step = _step_of(line)
            if step is None or "opacity" in line.attributes:
                kept.append(line)
                continue
            look = _look(line, ("transform", "x2", "y2"))
            path = paths.get(tuple(look.items()))
            if path is None:
                path = paths[tuple(look.items())] = _Node("path", {**look, "d": ""})
                kept.append(path)
            path.attributes["d"] += step
        group.children = kept


def _look(node: _Node, without: tuple[str, ...]) -> dict[str, str]:
    return {n: v for n, v in node.attributes.items() if n not in without}


def _step_of(line: _Node) -> str | None:
    """Write a line as a step of a path; None where it is turned."""
    given = line.attributes
    place = _SHIFT.match(given.get("transform", _NOWHERE))
    if place is None:
        return None
    across, down = given.get("x2", "0"), given.get("y2", "0")
    if across == "0":
        return f"M{place[1]},{place[2]}v{down}"
    if down == "0":
        return f"M{place[1]},{place[2]}h{across}"
    return f"M{place[1]},{place[2]}l{across},{down}"


def _settle(node: _Node) -> None:
    """Put a mark where its shift would put it: texts, circles, polygons."""
    given = node.attributes
    place = _SHIFT.match(given.get("transform", ""))
    if place is None:
        return
    x, y = float(place[1]), float(place[2])
    rest = _look(node, ("transform", "d"))
    if node.tag == "text" and not {"x", "y"} & set(given):
        node.attributes = {"x": place[1], "y": place[2], **rest}
    elif node.tag == "path" and (circle := _CIRCLE.fullmatch(given.get("d", ""))):
        node.tag = "circle"
        node.attributes = {"cx": place[1], "cy": place[2], "r": circle[1], **rest}
    elif node.tag == "path" and _POLYGON.fullmatch(given.get("d", "")):
        moved = _POINT.sub(
            lambda at: f"{_short(float(at[1]) + x)},{_short(float(at[2]) + y)}",
            given["d"],
        )
        node.attributes = {"d": moved, **rest}


def _unwrap(node: _Node) -> None:
    """Take away groups that say nothing."""
    kept: list[_Node | str] = []
    for child in node.children:
        if isinstance(child, _Node):
            _unwrap(child)
            if child.tag == "g" and not child.attributes:
                kept += child.children
                continue
        kept.append(child)
    node.children = kept


def _lift(node: _Node) -> None:
    """Say on a group what most of its elements say, if all say something."""
    for child in node.elements:
        _lift(child)
    below = node.elements
    if node.tag != "g" or not below:
        return
    for name in _INHERITED:
        said = Counter(child.attributes.get(name) for child in below)
        if None in said:
            continue
        value = str(said.most_common(1)[0][0])
        node.attributes[name] = value
        for child in below:
            if child.attributes[name] == value:
                del child.attributes[name]


def _write(node: _Node) -> Iterator[str]:
    said = "".join(f' {name}="{value}"' for name, value in node.attributes.items())
    if not node.children:
        yield f"<{node.tag}{said}/>"
        return
    yield f"<{node.tag}{said}>"
    for child in node.children:
        if isinstance(child, _Node):
            yield from _write(child)
        else:
            yield child
    yield f"</{node.tag}>"
