"""What a word tells by itself of being a name."""

from __future__ import annotations

import re

from claimlens.redact import cues
from claimlens.redact.tokens import Token
from claimlens.redact.words import Words

__all__ = ["Judge"]

_VOWEL = re.compile("[aeiouy]")
_NEVER = cues.CLOSINGS | cues.THANKS


class Judge:
    """Judges single words of one text.

    Parameters
    ----------
    text : str
        In ordinary characters.
    tokens : list of Token
        Its words.
    lists : Words
        The lists of words and names.
    """

    def __init__(self, text: str, tokens: list[Token], lists: Words) -> None:
        self.text = text
        self.tokens = tokens
        self.lists = lists
        self.marked: set[int] = set()

    def listed(self, token: Token) -> bool:
        """Tell whether a list of names holds the word."""
        fold, lists = token.fold, self.lists
        return fold in lists.given or fold in lists.both or fold in lists.rare

    def sure(self, token: Token) -> bool:
        """Tell whether the word is a name wherever it stands."""
        fold, lists = token.fold, self.lists
        if (
            fold in _NEVER
            or fold in lists.small
            or fold in lists.eponyms
            or len(fold) < 3
        ):
            return False
        if fold in lists.given and fold not in lists.trade:
            return len(fold) > 3 or token.capital or fold not in lists.ordinary
        if fold in lists.family:
            return fold not in lists.ordinary or (
                token.capital and fold not in lists.trade
            )
        return fold in lists.rare and not lists.known(fold)

    def odd(self, token: Token) -> bool:
        """Tell whether a word without a capital of its own is not known at all."""
        fold, lists = token.fold, self.lists
        if token.capital or not 4 <= len(fold) <= 16 or not _VOWEL.search(fold):
            return False
        return not lists.known(fold) and not lists.near_trade(fold)

    def strange(self, token: Token) -> bool:
        """Tell whether the word has a capital and is not known at all."""
        fold, lists = token.fold, self.lists
        if not token.capital or token.shape in ("initial", "mixed") or len(fold) < 3:
            return False
        if token.shape == "upper" and len(fold) < 6:
            return fold in lists.towns and not lists.known(fold)
        if fold in _NEVER:
            return False
        after = self.text[token.end : token.end + 2]
        if len(fold) < 5 and after[:1] == "." and after[1:].strip():
            return False
        # nouns are put together, and capitalised, in German alone
        noun = token.nouns or token.opens
        if lists.known(fold) if noun else lists.listed(fold):
            return False
        return fold in lists.towns or not lists.near_trade(fold)

    def homely(self, token: Token) -> bool:
        """Tell whether the word can be a name by its capital, though ordinary."""
        if not token.capital or token.opens or token.german:
            return False
        fold, lists = token.fold, self.lists
        if fold in lists.eponyms:
            return False
        if fold not in lists.both or fold in lists.small or len(fold) < 3:
            return False
        return not token.nouns or fold not in lists.trade

    def fits(self, token: Token, *, trade: bool = False) -> bool:
        """Tell whether the word can go on a name that has begun."""
        fold, lists = token.fold, self.lists
        if not token.open or fold in lists.small:
            return False
        if token.shape == "initial":
            return token.capital and self.text[token.end : token.end + 1] in (".", " ")
        if self.listed(token):
            return trade or token.capital or fold not in lists.trade
        if token.capital:
            return trade or fold not in lists.trade
        return not lists.known(fold) and not lists.near_trade(fold)
