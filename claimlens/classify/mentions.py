"""How a text speaks of a part again, and how it accuses one without a fault's name."""

from __future__ import annotations

from claimlens.classify.chunks import Chunk
from claimlens.classify.languages import Language
from claimlens.classify.reading import Mark, Reading

__all__ = ["DENIERS", "accused", "refer_back"]

# "it's the battery": the words before a part that accuse it, by language.
_ACCUSING: dict[str, frozenset[tuple[str, ...]]] = {
    "en": frozenset(
        (*it, article)
        for it in (
            ("it's",), ("its",), ("it", "is"), ("it", "was"), ("that's",),
            ("that", "was"), ("must", "be"), ("have", "been"), ("was", "only"),
            ("was", "just"),
        )
        for article in ("the", "my", "your", "our", "a")
    ),
    "de": frozenset(
        (*it, article)
        for it in (
            ("es", "ist"), ("ist", "es"), ("es", "war"), ("war", "es"), ("war's",),
            ("wars",), ("es", "sind"), ("es", "waren"), ("waren", "es"),
            ("das", "war"), ("muss", "es"), ("war", "nur"), ("war", "doch"),
            ("war", "aber"), ("aber", "nur"),
        )
        for article in ("der", "die", "das", "mein", "meine", "ein", "eine")
    ),
    "fr": frozenset(
        (*it, article)
        for it in (("c'", "est"), ("c'", "était"), ("ce", "sont"), ("c'", "étaient"))
        for article in ("le", "la", "l'", "les", "mon", "ma", "un", "une")
    ),
    "es": frozenset(
        (it, article)
        for it in ("es", "era", "eran", "son", "fue")
        for article in ("el", "la", "los", "las", "mi", "un", "una")
    ),
    "nl": frozenset(
        (*it, article)
        for it in (
            ("het", "is"), ("is", "het"), ("het", "was"), ("was", "het"), ("'t", "is"),
            ("het", "zijn"), ("het", "waren"), ("waren", "het"), ("moet",),
        )
        for article in ("de", "het", "mijn", "een")
    ),
}  # fmt: skip
_ARTICLES = {
    code: frozenset(phrase[-1] for phrase in phrases)
    for code, phrases in _ACCUSING.items()
}
DENIERS = frozenset({"not", "no", "nicht", "pas", "ne", "niet", "ni"})
_SHORTEST = 4


def accused(tokens: list[str], mark: Mark, code: str) -> bool:
    """Tell whether the words before a part accuse it: "it was the battery".

    Parameters
    ----------
    tokens : list of str
        Of the text.
    mark : Mark
        The part.
    code : str
        Language of the text.

    Returns
    -------
    bool
    """
    first = mark.tokens[0]
    articles = _ARTICLES.get(code)
    if articles is None or first < 2 or tokens[first - 1] not in articles:
        return False
    phrases = _ACCUSING[code]
    for length in (2, 3):
        if tuple(tokens[first - length : first]) in phrases:
            before = tokens[first - length - 1] if first > length else ""
            return before not in DENIERS
    return False


def refer_back(chunks: list[Chunk], reading: Reading, language: Language) -> None:
    """Read a part's short name as the part named in full elsewhere in the text.

    "Twist grip sticks, spring inside the grip broken": the grip is the throttle.
    In languages that put the head first it is the first word that stays.

    Parameters
    ----------
    chunks : list of Chunk
        All of a text, in order; changed in place.
    reading : Reading
        What they were cut from.
    language : Language
        Of the text.
    """
    heads = [mark for chunk in chunks for mark in chunk.heads]
    if len(heads) < 2:
        return
    # a name said many times is one name
    named = {id(mark.entry): mark for mark in heads if _is_full(mark, language)}
    full = list(named.values())
    if not full:
        return
    for chunk in chunks:
        for place, mark in enumerate(chunk.heads):
            short = reading.words(mark)
            if " " not in short:
                chunk.heads[place] = _in_full(mark, short, full, language)


def _is_full(mark: Mark, language: Language) -> bool:
    """Tell whether a part is named in more than one word, for one component."""
    one = len(mark.entry.parts) == 1
    return one and (" " in mark.entry.text or language.compounds)


def _in_full(mark: Mark, short: str, full: list[Mark], language: Language) -> Mark:
    """Return a part with the meaning of its full name, if the text has it."""
    own = mark.entry.parts
    for other in full:
        name = other.entry.text
        if len(name) > len(short) and other.entry.parts != own:
            if language.head == "first":
                same = name.startswith(short + " ")
            else:
                whole = len(short) >= _SHORTEST and language.compounds
                same = name.endswith(short if whole else " " + short)
            if same:
                return mark._replace(entry=other.entry)
    return mark
