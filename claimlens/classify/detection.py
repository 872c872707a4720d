"""Which language a text is in, by its small words and the words of the trade."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

__all__ = ["LanguageFinder"]

# A small word counts double; a word of the trade may be one in several languages.
_SMALL, _TRADE = 2, 1
_SLOT = 16
_MASK = (1 << _SLOT) - 1
# A second language this near to the first is looked at for dangers too.
_NEAR = 0.6


class LanguageFinder:
    """Tells the language of a text from its words.

    Parameters
    ----------
    small : mapping of str to iterable of str
        Small words by language, accents folded or not; the language ``""``
        stands for those that have no terms.
    trade : mapping of str to iterable of str
        Words of the terms by language. The order of the languages settles
        ties.
    """

    def __init__(
        self, small: Mapping[str, Iterable[str]], trade: Mapping[str, Iterable[str]]
    ) -> None:
        self._codes = (*trade, *(code for code in small if code not in trade))
        # words and their points for all languages, packed in one number
        self._table: dict[str, int] = {}
        for place, code in enumerate(self._codes):
            smalls = frozenset(small.get(code, ()))
            points = dict.fromkeys(trade.get(code, ()), _TRADE << (_SLOT * place))
            points |= dict.fromkeys(smalls, _SMALL << (_SLOT * place))
            for word, own in points.items():
                self._table[word] = self._table.get(word, 0) + own

    def rank(self, words: Iterable[str]) -> list[str]:
        """Return the languages that a text may be in, likeliest first.

        Parameters
        ----------
        words : iterable of str
            Its words in lower case.

        Returns
        -------
        list of str
            Codes; those after the first are nearly as likely. Empty where no
            word is known.
        """
        known = self._table.get
        packed = sum([known(word, 0) for word in words])
        found = []
        for code in self._codes:
            own = packed & _MASK
            if own:
                found.append((own, code))
            packed >>= _SLOT
            if not packed:
                break
        if len(found) < 2:
            return [code for _, code in found]
        best = max(points for points, _ in found)
        near = [row for row in found if row[0] >= _NEAR * best]
        return [code for _, code in sorted(near, key=lambda row: -row[0])]
