"""From a text to marks: the phrases it holds, in order, with their places."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from claimlens.classify.entries import Entry
from claimlens.classify.lexicon import Lexicon, Node
from claimlens.classify.terms import Terms

if TYPE_CHECKING:
    from claimlens.classify.chunks import Chunk
    from claimlens.classify.votes import TextVotes

__all__ = [
    "Found",
    "Mark",
    "Reading",
    "cleaned",
    "lowered",
    "may_close",
    "read",
    "resolved_in",
    "search",
    "spans",
    "tokens_in",
    "tokens_of",
    "understood",
]

_TOKEN = re.compile(
    r"(?:[cdjlmnst]|qu|jusqu|lorsqu|puisqu)'(?=[^\W_])"
    r"|\d+(?:[.,]\d+)+|[^\W_]+(?:'[a-z]+)?|[.;!?\n,():]|(?<=\s)[-–—]+(?=\s)"
)
# Below these lines stand greetings, names and older mails, not the fault.
_CLOSINGS = (
    "regards", "yours sincerely", "yours faithfully", "sincerely,",
    "grüße", "grüsse", "gruß", "gruss", "gruessen", "grüßen", "grüssen", "mfg",
    "cordialement", "salutations", "cdlt", "sincères salutations",
    "groet,", "groeten", "hoogachtend", "mvg", "met vriendelijke groet",
    "saludos", "un saludo", "atentamente", "cordial saludo",
)  # fmt: skip
_TAIL = re.compile(
    r"\n\s*(?:-- ?\n|_{5,}|-{5,}|on .{5,60} wrote:|from: .{3,}|sent from my "
    r"|am .{5,60} schrieb.{0,40}:|von: .{3,}|von meinem .{3,20} gesendet"
    r"|le .{5,60} a écrit ?:|de ?: .{3,}@|envoyé de mon "
    r"|op .{5,60} schreef.{0,40}:|van: .{3,}@|verstuurd vanaf "
    r"|el .{5,60} escribió:|enviado desde mi )"
    r"|\b(?:kind|best|warm|many) regards\b|\bregards,"
    r"|\byours (?:sincerely|faithfully)\b|\bsincerely,"
    r"|\b(?:freundlichen?|viele|liebe|beste[nr]?|schöne) gr(?:ü|ue)(?:ß|ss)en?\b"
    r"|\bmfg\b|\b(?:freundlicher |lieber |schöner )?gru(?:ß|ss)\b"
    r"|\b(?:bien )?cordialement\b|\bcdlt\b"
    r"|\b(?:meilleures|sincères|cordiales) salutations\b"
    r"|\b(?:met )?(?:vriendelijke|hartelijke) groete?n?\b|\bgroet(?:en|jes)?,|\bmvg\b"
    r"|\bhoogachtend\b"
    r"|\b(?:un |cordial |muchos )?saludos?\b[,.\n]|\batentamente\b"
)
_CLAUSE_ENDS = frozenset({"hard", "soft", "and", "break", "when"})
# Behind the second part of a verb a clause goes on with these at most.
_VERB_ENDS = _CLAUSE_ENDS | {"place", "near", "effect", "cause", "then"}
_VERB_REACH = 12
# Word sequences remembered at once in each language; some tens of megabytes.
_REMEMBERED = 20_000
_STOPS = frozenset({"hard", "soft"})
_QUOTED = re.compile(r"^\s*>.*$", re.MULTILINE)


class Mark(NamedTuple):
    """A phrase found in a text; a tuple, since millions of them are made.

    Parameters
    ----------
    entry : Entry
        The phrase.
    at : int
        Place of its first word among the words that count.
    end : int
        Place after its last word among the words that count.
    first, last : int
        The tokens that it covers, for the words as written.
    """

    entry: Entry
    at: int
    end: int
    first: int
    last: int

    @property
    def tokens(self) -> tuple[int, int]:
        """First and last token in the order of the text.

        They stand the other way round where a verb's second part was moved to
        the first.
        """
        low, high = sorted((self.first, self.last))
        return low, high


@dataclass(slots=True, eq=False)
class Found:
    """What texts of the same words in the same order have in common.

    Attributes
    ----------
    marks, dangers : list of Mark
        The phrases, and those of danger.
    length : int
        Words that count.
    votes : TextVotes or None
        What they say, once it was asked.
    chunks : list of Chunk or None
        Its clauses, where its sentences were read before; voting changes them.
    """

    marks: list[Mark]
    dangers: list[Mark]
    length: int
    votes: TextVotes | None = None
    chunks: list[Chunk] | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """The tokens of a text and what was found in them, in one language."""

    lexicon: Lexicon | None
    tokens: list[str]
    found: Found

    @property
    def marks(self) -> list[Mark]:
        """The phrases of the text, in order."""
        return self.found.marks

    @property
    def dangers(self) -> list[Mark]:
        """The phrases of danger, and harmless ones that look like it."""
        return self.found.dangers

    @property
    def length(self) -> int:
        """How many words count."""
        return self.found.length

    def words(self, mark: Mark) -> str:
        """Return the words of a mark as they were written, in lower case."""
        first, last = mark.tokens
        return " ".join(self.tokens[first : last + 1])


def lowered(text: str) -> str:
    """Return the text in lower case, without quoted mail."""
    low = text.lower().replace("’", "'").replace("\r\n", "\n").replace("\r", "\n")
    if not low.isascii():
        low = unicodedata.normalize("NFC", low)
    if "\n>" in low or low.startswith(">"):
        low = _QUOTED.sub("", low)
    return low


def may_close(low: str) -> bool:
    """Tell whether a greeting or the head of an older mail may stand in a text."""
    return "\n" in low or any(word in low for word in _CLOSINGS)


def cleaned(text: str) -> str:
    """Return the text in lower case, without quoted mail and signature."""
    low = lowered(text)
    if may_close(low):
        tail = _TAIL.search(low)
        if tail is not None and tail.start() > 0:
            low = low[: tail.start()]
    return low


def tokens_of(text: str) -> list[str]:
    """Return the words, numbers and stops of a text, lower case."""
    return tokens_in(cleaned(text))


def tokens_in(low: str) -> list[str]:
    """Return the words, numbers and stops of a text that is cleaned."""
    return _TOKEN.findall(low)


def _find(tree: Node, words: list[str], places: list[int]) -> list[Mark]:
    """Return the longest phrases of a tree, left to right, none overlapping."""
    marks = []
    count = len(words)
    free = 0
    for start in [i for i, word in enumerate(words) if word in tree]:
        if start < free:
            continue
        opening = tree[words[start]]
        best, end = opening.entry, start + 1
        node: Node | None = opening
        ahead = end
        while node and ahead < count:
            node = node.get(words[ahead])
            if node is None:
                break
            ahead += 1
            if node.entry is not None:
                best, end = node.entry, ahead
        if best is not None:
            marks.append(Mark(best, start, end, places[start], places[end - 1]))
            free = end
    return marks


def _ends_clause(lexicon: Lexicon, words: list[str], place: int) -> bool:
    """Tell whether a clause ends before a place."""
    if place == len(words):
        return True
    node = lexicon.tree.get(words[place])
    entry = None if node is None else node.entry
    return entry is not None and entry.group in _VERB_ENDS


def _is_phrase(node: Node | None, word: str) -> bool:
    """Tell whether a word and the one after it make a phrase."""
    joined = None if node is None else node.get(word)
    return joined is not None and joined.entry is not None


def _join_verbs(lexicon: Lexicon, words: list[str], places: list[int]) -> None:
    """Move the second part of a verb to the first: "fällt immer wieder aus".

    Only where both make a phrase of the terms and the clause ends there.
    """
    for place, word in enumerate(words):
        if word not in lexicon.particles:
            continue
        if not _ends_clause(lexicon, words, place + 1):
            continue
        for first in range(place - 1, max(-1, place - _VERB_REACH), -1):
            node = lexicon.tree.get(words[first])
            entry = None if node is None else node.entry
            if entry is not None and entry.group in _CLAUSE_ENDS:
                break
            if _is_phrase(node, word) or _is_phrase(
                lexicon.danger.get(words[first]), word
            ):
                words.insert(first + 1, words.pop(place))
                places.insert(first + 1, places.pop(place))
                break


def resolved_in(
    tokens: list[str], lexicon: Lexicon
) -> tuple[list[str], tuple[str, ...]]:
    """Return the stems of a text's words, and what tells it from other texts.

    Parameters
    ----------
    tokens : list of str
        Its words, as ``tokens_of`` cuts them.
    lexicon : Lexicon
        The language that it is read in.

    Returns
    -------
    resolved : list of str
        A stem for each token.
    signature : tuple of str
        The same for texts in which the same is found.
    """
    known = lexicon.known
    resolve = lexicon.resolve
    resolved = [known[t] if t in known else resolve(t) for t in tokens]
    if not lexicon.abbreviations.isdisjoint(tokens):
        _join_abbreviations(tokens, resolved, lexicon.abbreviations)
    signature = tuple(resolved)
    denials = lexicon.denials
    if not denials.isdisjoint(tokens):
        # "no" and "not" are one word, but say different things of a part
        signature += tuple(token for token in tokens if token in denials)
    return resolved, signature


def _read(tokens: list[str], lexicon: Lexicon) -> Reading:
    """Find the phrases of one language."""
    resolved, signature = resolved_in(tokens, lexicon)
    found = lexicon.memory.get(signature)
    if found is None:
        if len(lexicon.memory) >= _REMEMBERED:
            lexicon.memory.clear()
        found = lexicon.memory[signature] = search(resolved, lexicon)
    return Reading(lexicon, tokens, found)


def _join_abbreviations(
    tokens: list[str], resolved: list[str], known: frozenset[str]
) -> None:
    """Pass over the dots of abbreviations: "Akku i. O., Display o. Fkt."."""
    for place in range(1, len(tokens) - 1):
        if tokens[place] == "." and tokens[place - 1] in known:
            resolved[place] = ""


def search(resolved: list[str], lexicon: Lexicon) -> Found:
    """Find the phrases among the words of a text, as its lexicon knows them.

    Parameters
    ----------
    resolved : list of str
        A stem for each token, empty where the token is passed over.
    lexicon : Lexicon
        The language that it is read in.

    Returns
    -------
    Found
    """
    places = [place for place, word in enumerate(resolved) if word]
    words = [word for word in resolved if word]
    if lexicon.language.compounds and any(" " in word for word in words):
        pairs = [
            (place, part)
            for place, word in zip(places, words, strict=True)
            for part in word.split(" ")
        ]
        places = [place for place, _ in pairs]
        words = [word for _, word in pairs]
    if not lexicon.particles.isdisjoint(words):
        _join_verbs(lexicon, words, places)
    dangers: list[Mark] = []
    if not lexicon.danger.keys().isdisjoint(words):
        dangers = _find(lexicon.danger, words, places)
    return Found(_find(lexicon.tree, words, places), dangers, len(words))


def understood(marks: list[Mark]) -> int:
    """Count the words that belong to phrases of the terms."""
    return sum(mark.end - mark.at for mark in marks if mark.entry.group not in _STOPS)


def read(text: str, terms: Terms) -> tuple[Reading, ...]:
    """Find every phrase of the terms in a text.

    Parameters
    ----------
    text : str
        Narrative, note, resolution or description.
    terms : Terms
        Compiled terms.

    Returns
    -------
    tuple of Reading
        First the one that counts: in the language of the text, and without
        marks where claimlens has no terms in it. Where the small words leave
        several, it is the one in which most of the text is understood. Then
        those in languages that the text may be in as well, or, without a
        language, in all: they are looked at for dangers only, since a false
        alarm is better than a miss.
    """
    tokens = tokens_of(text)
    codes = terms.languages_of(tokens)
    if not codes or codes[0] == "":
        unread = Reading(None, tokens, Found([], [], len(tokens)))
        every = terms.lexicons.values()
        return (unread, *(_read(tokens, lexicon) for lexicon in every))
    if len(codes) == 1:
        return (_read(tokens, terms.lexicon(codes[0])),)
    readings = [_read(tokens, terms.lexicon(code)) for code in codes if code]
    return tuple(sorted(readings, key=lambda r: understood(r.marks), reverse=True))


def spans(text: str, mark: Mark) -> tuple[int, int]:
    """Return where a mark stands in the text.

    Parameters
    ----------
    text : str
        The text that was read.
    mark : Mark
        A phrase found in it.

    Returns
    -------
    (int, int)
        Characters from the start of the text without quoted mail, the second
        one excluded.
    """
    found = list(_TOKEN.finditer(cleaned(text)))
    first, last = mark.tokens
    return found[first].start(), found[last].end()
