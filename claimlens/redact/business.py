"""Names of companies: known ones wherever they stand, others by their legal form."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from claimlens.redact.kinds import Span
from claimlens.redact.plain import squeezed
from claimlens.redact.words import Words

__all__ = ["Names", "form_spans"]

_FORM_WORDS = (
    r"(?:gmbh|ag|kg|ohg|gbr|ug|e\.?[ ]?k\.?|mbh|se|ltd|limited|plc|llc|llp|inc|corp|co|company"
    r"|s\.?a\.?r\.?l|s\.?a\.?s|s\.?a|eurl|b\.?v|n\.?v|v\.?o\.?f|s\.?l\.?u?|s\.?r\.?l|s\.?p\.?a|oy|ab"
    r"|aps|a/s|sp\.[ ]?z[ ]o\.?o|s\.?r\.?o)"
)
_TAIL = re.compile(rf"(?i)(?:[ ,.&+-]*(?<![^\W_]){_FORM_WORDS}\.?)+$")
_COMPANY = re.compile(
    r"(?<![^\W_])(?:[A-ZÀ-Þ][^\W_]{0,30}(?:['’-][^\W_]{1,20})?(?:[ ](?:&|\+|und|and|et|en|y|de|du|van|der)"
    r")?[ ]){1,5}(?:GmbH|mbH|AG|KG|OHG|GbR|UG|e\.[ ]?K\.|SE|Ltd|Limited|PLC|plc|LLC|LLP|Inc|Corp"
    r"|SARL|S\.A\.R\.L\.|SAS|S\.A\.S\.|S\.A\.|EURL|B\.V\.|BV|N\.V\.|NV|VOF|v\.o\.f\.|S\.L\.U?\.?|SL|SLU|S\.r\.l\."
    r"|SRL|S\.p\.A\.|SpA|Oy|AB|ApS|A/S)(?:[ ]?&[ ]?Co\.?(?:[ ]?(?:KG|OHG|KGaA))?)?\.?(?![^\W_])"
)
_SHORTEST = 3
_AND_WORDS = ("", "und", "u", "and", "et", "en", "y", "e")
_AND = re.compile(r" ?[&+] ?| (?:und|u\.|and|et|en|y) ")


class Names:
    """Names found wherever they stand, case, spacing and accents ignored.

    Parameters
    ----------
    names : iterable of str
        Names as the workspace has them.
    lists : Words or None
        Where given, a name is also found without its legal form, unless what is
        left is an ordinary word.
    """

    def __init__(self, names: Iterable[str], lists: Words | None = None) -> None:
        self._by_start: dict[str, set[str]] = {}
        for name in names:
            for form in self._forms(name, lists):
                self._by_start.setdefault(form[:_SHORTEST], set()).add(form)
        self._sorted = {
            start: sorted(forms, key=len, reverse=True)
            for start, forms in self._by_start.items()
        }

    @staticmethod
    def _forms(name: str, lists: Words | None) -> Iterator[str]:
        """Return the squeezed spellings of a name."""
        whole, _ = squeezed(name)
        if len(whole) >= _SHORTEST:
            yield whole
        if lists is None:
            return
        if _AND.search(name):
            for word in _AND_WORDS:
                yield squeezed(_AND.sub(f" {word} ", name))[0]
        bare = _TAIL.sub("", name.strip())
        core, _ = squeezed(bare)
        several = len(bare.split()) > 1 and len(core) > 5
        if len(core) > 3 and core != whole and (several or core not in lists.ordinary):
            yield core

    def spans(self, text: str) -> Iterator[tuple[int, int]]:
        """Return where the names stand, as whole words.

        Parameters
        ----------
        text : str
            In ordinary characters.

        Yields
        ------
        (int, int)
            Begin and end, the longest name at each place.
        """
        if not self._sorted:
            return
        bare, places = squeezed(text)
        done = 0
        for at, place in enumerate(places):
            if at < done or (at and places[at - 1] == place):
                continue
            if place and text[place - 1].isalnum():
                continue
            for form in self._sorted.get(bare[at : at + _SHORTEST], ()):
                end = at + len(form)
                if bare.startswith(form, at) and self._ends(text, places, end):
                    yield place, places[end - 1] + 1
                    done = end
                    break

    @staticmethod
    def _ends(text: str, places: list[int], end: int) -> bool:
        """Tell whether a word ends there, or goes on by an ending of a name alone."""
        last = places[end - 1]
        rest = re.match(r"[^\W_]{0,3}", text[last + 1 : last + 4])
        tail = rest.group().lower() if rest else ""
        if tail in ("e", "s", "es") and places[end : end + 1] != [last + 1]:
            return True
        return tail in ("", "s") and (
            not tail or not text[last + 2 : last + 3].isalnum()
        )


def form_spans(text: str) -> Iterator[Span]:
    """Find companies by their legal form."""
    for match in _COMPANY.finditer(text):
        yield Span(*match.span(), "business")
