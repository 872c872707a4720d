"""Read a page into elements: what a test can ask about without a browser."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

_VOID = {"meta", "link", "br", "img", "input", "hr"}


@dataclass
class Element:
    """An element with its text and children."""

    tag: str
    attributes: dict[str, str]
    children: list[Element] = field(default_factory=list)
    own_text: list[str] = field(default_factory=list)

    def walk(self) -> Iterator[Element]:
        """Yield this element and all below it."""
        yield self
        for child in self.children:
            yield from child.walk()

    def all(self, tag: str) -> list[Element]:
        """Return the elements of that tag below."""
        return [element for element in self.walk() if element.tag == tag]

    @property
    def text(self) -> str:
        """Return all text below, blanks collapsed."""
        parts = [*self.own_text, *(child.text for child in self.children)]
        return " ".join(" ".join(parts).split())


class _Builder(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("root", {})
        self.open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.open[-1].children.append(element)
        if tag not in _VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].children.append(
            Element(tag, {name: value or "" for name, value in attrs})
        )

    def handle_endtag(self, tag: str) -> None:
        assert self.open[-1].tag == tag, f"</{tag}> closes <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].own_text.append(data)


def read(html: str) -> Element:
    """Parse a page; raises where tags are not closed in order."""
    builder = _Builder()
    builder.feed(html)
    builder.close()
    assert len(builder.open) == 1, "an element is left open"
    return builder.root
