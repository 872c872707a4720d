"""Names that the words around them announce."""

from __future__ import annotations

import re

from claimlens.redact import cues
from claimlens.redact.judge import Judge
from claimlens.redact.tokens import Token

__all__ = ["BESIDE", "Announced"]

BESIDE = re.compile(r"[ \t]{1,3}'?|[ \t]?\r?\n[ \t]?|-|'|[.][ \t]{0,2}|[ \t]?[(][ \t]?")
_NEAR = re.compile(r"[ \t]{0,3}'?|[ \t]{0,3}\n?[ \t]{0,2}|-|'|[.:][ \t]{0,2}")
_AFTER_CLOSING = re.compile(r"[\s,.;:!–—*_~-]{0,10}")
_FROM = frozenset({"aus", "uit", "from", "near"})
_TOWNWARDS = frozenset(
    [
        "in",
        "aus",
        "from",
        "near",
        "uit",
        "te",
        "en",
        "a",
        "de",
        "nach",
        "naar",
        "bei",
        "bij",
        "desde",
    ]
)
_HAS = frozenset({"hat", "a", "ha", "heeft", "has", "had", "wollte", "avait"})
_PARTICIPLES = frozenset(
    [
        "angerufen",
        "gesagt",
        "gemeldet",
        "geschrieben",
        "mitgeteilt",
        "gebeten",
        "berichtet",
        "erzahlt",
        "gefragt",
        "gemeint",
        "reklamiert",
        "beanstandet",
        "gebracht",
        "dit",
        "appele",
        "ecrit",
        "telephone",
        "signale",
        "demande",
        "explique",
        "gebeld",
        "gezegd",
        "gemeld",
        "geschreven",
        "gevraagd",
        "verteld",
        "gebracht",
        "dicho",
        "llamado",
        "escrito",
        "pedido",
        "comentado",
        "avisado",
        "traido",
        "called",
        "said",
        "told",
        "reported",
        "written",
        "asked",
        "phoned",
        "rung",
        "complained",
        "brought",
        "bestatigt",
        "unterschrieben",
        "abgegeben",
        "abgeholt",
    ]
)


class Announced(Judge):
    """Marks the names of one text that a title, a verb or a formula announces."""

    def _told(self, at: int, token: Token) -> bool:
        """Tell a name by what follows: it says, or it owns."""
        fold, lists = token.fold, self.lists
        listed = fold in lists.both or fold in lists.family
        bare = fold not in lists.trade and len(fold) > 2
        if fold in lists.small or not (listed or bare):
            return False
        if at + 1 == len(self.tokens):
            return False
        after = self.tokens[at + 1]
        before = self.tokens[at - 1] if at else None
        led = (
            before is not None
            and before.fold in cues.ARTICLES
            and "\n" not in token.gap
            and not (token.capital and not token.nouns)
        )
        if after.gap == "'" and after.fold == "s":
            return token.shape != "lower" and fold in lists.both and not led
        if led or after.gap.strip() or after.fold in cues.SAID:
            return not led and not after.gap.strip()
        if after.fold not in _HAS:
            return False
        return any(t.fold in _PARTICIPLES for t in self.tokens[at + 2 : at + 9])

    def _town(self, at: int, token: Token) -> bool:
        """Tell a town by the word before it."""
        fold, lists = token.fold, self.lists
        if not at or token.gap != " " or fold in lists.trade:
            return False
        before = self.tokens[at - 1].fold
        if token.capital and before in _FROM and len(fold) > 3:
            return fold in lists.towns or fold not in lists.ordinary
        return (
            before in _TOWNWARDS
            and fold in lists.towns
            and (token.capital or fold not in lists.ordinary)
        )

    def _cue(self, at: int, token: Token) -> None:
        """Mark the name that a word before it announces."""
        fold = token.fold
        if fold in ("fr", "hr") and token.shape == "lower":
            self._named(at + 1, talked=False, family=True)
        elif fold in cues.TITLES and self._titled(token):
            self._take(at + 1, limit=4, free=token.capital or token.opens)
        elif fold in cues.CLOSINGS and self._closes(at):
            self._close(at + 1)
        elif fold in cues.THANKS:
            self._thank(at + 1)
        if fold in cues.GREETINGS:
            self._greet(at + 1)
        if fold in cues.ROLES or fold in cues.TALKED:
            self._named(at + 1, talked=fold not in cues.ROLES)
        if fold in cues.SIGNED and self._colon(at):
            self._take(at + 1, limit=5, free=True)
        if any(self._phrase(at, words) for words in cues.PHRASES.get(fold, ())):
            self._phrased(at + 1)

    def _titled(self, token: Token) -> bool:
        """Tell a title from a unit or a small word."""
        if token.fold in (
            "m",
            "ms",
            "fr",
            "don",
            "ing",
            "ir",
            "do",
            "pan",
            "bay",
            "mw",
            "sir",
        ):
            dotted = self.text[token.end : token.end + 1] == "."
            loud = token.capital or token.shouted
            return loud and (dotted or len(token.fold) > 1)
        return True

    def _closes(self, at: int) -> bool:
        """Tell a closing formula from the same word within a sentence."""
        token = self.tokens[at]
        if len(token.fold) > 3:
            return True
        return (
            token.shouted
            or token.opens
            or self.text[token.end : token.end + 1] in ",.\n "
        )

    def _colon(self, at: int) -> bool:
        token = self.tokens[at]
        after = self.text[token.end : token.end + 3].strip()
        return after[:1] in (":", "=") or (
            token.fold in ("gez", "attn", "zhd") and True
        )

    def _phrase(self, at: int, words: tuple[str, ...]) -> bool:
        first = at + 1 - len(words)
        if first < 0:
            return False
        return all(self.tokens[first + k].fold == word for k, word in enumerate(words))

    def _beside(self, at: int) -> bool:
        """Tell whether a word stands directly after the one before it."""
        return (
            at < len(self.tokens) and _NEAR.fullmatch(self.tokens[at].gap) is not None
        )

    def _skip(self, at: int) -> int:
        """Step over titles and particles, at most four."""
        for _ in range(4):
            if not self._beside(at) or (
                self.tokens[at].capital and self.fits(self.tokens[at])
            ):
                return at
            fold = self.tokens[at].fold
            if fold not in cues.TITLES and fold not in cues.PARTICLES:
                return at
            at += 1
        return at

    def _take(self, at: int, *, limit: int, free: bool) -> None:
        """Mark the words after a title or a label."""
        at = self._skip(at)
        first = True
        for _ in range(limit):
            if not self._beside(at) or not self.tokens[at].open:
                return
            token = self.tokens[at]
            fold = token.fold
            stopped = "." in token.gap or ":" in token.gap
            if stopped and not first and len(self.tokens[at - 1].text) > 3:
                return
            if fold in cues.PARTICLES and not first:
                at += 1
                continue
            loose = token.capital and free and (first or fold not in self.lists.trade)
            if fold in self.lists.small or not (
                loose or self.fits(token, trade=first and self.listed(token))
            ):
                return
            self.marked.add(at)
            first = False
            at += 1

    def _close(self, at: int) -> None:
        """Mark the words after a closing formula, to the end of their line."""
        begun = False
        for _ in range(7):
            if at >= len(self.tokens):
                return
            token = self.tokens[at]
            gap = BESIDE if begun else _AFTER_CLOSING
            if not token.open or gap.fullmatch(token.gap) is None:
                return
            fold = token.fold
            particle = fold in cues.PARTICLES and (begun or token.shape == "lower")
            if not particle and not self._signs(token):
                return
            if not particle or token.capital:
                self.marked.add(at)
                begun = True
            at += 1

    def _signs(self, token: Token) -> bool:
        """Tell whether a word can stand below a letter."""
        fold, lists = token.fold, self.lists
        if fold in cues.CLOSINGS:
            return False
        if fold in lists.small:
            return False
        if token.capital or self.listed(token):
            return True
        return fold not in lists.trade or len(fold) <= 2

    def _thank(self, at: int) -> None:
        """Mark who is thanked, or signs after thanks."""
        if at >= len(self.tokens):
            return
        token = self.tokens[at]
        if not token.open or _AFTER_CLOSING.fullmatch(token.gap) is None:
            return
        fold, lists = token.fold, self.lists
        ends = not self.text[token.end : token.end + 40].strip(" .!\n\t")
        known = fold in lists.trade or fold in lists.small
        if fold in lists.both or fold in lists.family:
            if (token.capital and (not known or ends)) or ends:
                self.marked.add(at)
        elif ends and not known and (token.capital or not lists.known(fold)):
            self.marked.add(at)

    def _greet(self, at: int) -> None:
        """Mark who is greeted."""
        if at >= len(self.tokens):
            return
        token = self.tokens[at]
        gap = token.gap.strip()
        if not token.open or (gap and gap != ",") or "\n" in token.gap:
            return
        if token.fold in cues.TITLES or token.fold in cues.GREETINGS:
            return
        stop = self.text[token.end : token.end + 2].strip(" ")[:1] in (
            ",",
            "!",
            "\n",
            "",
            ":",
        )
        fold, lists = token.fold, self.lists
        if fold in lists.small or (gap and not stop):
            return
        listed = self.listed(token) and (fold not in lists.trade or fold in lists.both)
        alone = token.capital and not gap and not token.german
        named = listed and (stop or alone or fold in lists.given)
        if named or (stop and not lists.known(fold)):
            self.marked.add(at)

    def _named(self, at: int, *, talked: bool, family: bool = False) -> None:
        """Mark a name after "customer", "by" and their like."""
        if at < len(self.tokens) and self.tokens[at].gap in (" (", ", ", ": "):
            near = not talked
        else:
            near = self._beside(at) and "\n" not in self.tokens[at].gap
        if not near:
            return
        at = self._skip(at)
        if at >= len(self.tokens):
            return
        token = self.tokens[at]
        fold, lists = token.fold, self.lists
        if not token.open or fold in lists.small:
            return
        if token.capital:
            common = fold in lists.trade or (token.nouns and lists.known(fold))
            noun = talked and (token.german or fold in lists.trade)
            both = fold in lists.both and fold not in lists.trade
            if both or (self.listed(token) and not noun) or not common:
                self.marked.add(at)
        elif fold in lists.trade:
            if not talked and (fold in lists.both or (family and fold in lists.family)):
                self.marked.add(at)
        elif fold in lists.given or (
            not talked and (fold in lists.both or fold not in lists.ordinary)
        ):
            self.marked.add(at)

    def _phrased(self, at: int) -> None:
        """Mark a name after words that announce one."""
        at = self._skip(at)
        if not self._beside(at) or not self.tokens[at].open:
            return
        token = self.tokens[at]
        fold, lists = token.fold, self.lists
        if fold in lists.small or fold in cues.ROLES:
            return
        noun = token.german and fold in lists.trade and not self.listed(token)
        if (
            (token.capital and not noun and fold not in lists.trade)
            or self.listed(token)
            or fold not in lists.trade
        ):
            self.marked.add(at)

    def _last_word(self) -> None:
        """Mark a word that stands alone after the last sentence."""
        if len(self.tokens) < 3:
            return
        token = self.tokens[-1]
        fold, lists = token.fold, self.lists
        alone = token.open and token.opens and len(fold) > 2
        name = self.listed(token) or not lists.known(fold)
        if alone and name and fold not in lists.trade:
            self.marked.add(len(self.tokens) - 1)

    def _last_line(self) -> None:
        """Mark a last line that holds nothing but a name."""
        body = self.text.rstrip()
        begin = body.rfind("\n") + 1
        line = [k for k, t in enumerate(self.tokens[-5:], max(0, len(self.tokens) - 5))
                if t.start >= begin]  # fmt: skip
        if (
            not line
            or len(line) > 4
            or not begin
            or any(c.isdigit() for c in body[begin:])
        ):
            return
        tokens = [self.tokens[k] for k in line]
        names = [
            t.open and t.capital and t.fold not in self.lists.trade for t in tokens
        ]
        if all(names) or (len(tokens) == 1 and self.listed(tokens[0]) and tokens[0].open
                          and tokens[0].fold not in self.lists.trade):  # fmt: skip
            self.marked.update(line)
