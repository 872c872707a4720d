"""Pieces of evidence: what each field of a claim says for which component."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from claimlens.classify.danger import dangers_in
from claimlens.classify.likelihood import chances
from claimlens.classify.reading import Mark, Reading, read, spans
from claimlens.classify.spelling import plain
from claimlens.classify.taxonomy import NO_FAULT, NO_FAULT_MODE
from claimlens.classify.terms import Entry, Terms
from claimlens.classify.votes import Vote
from claimlens.classify.voting import vote

__all__ = [
    "TEXT_FIELDS",
    "Finding",
    "Part",
    "Piece",
    "Source",
    "TextSays",
    "finding_pieces",
    "part_pieces",
    "text_may_say",
    "text_says",
]

Source = Literal[
    "label", "finding", "part", "technician note", "narrative", "resolution", "none"
]
# column of the claims, name of the source
TEXT_FIELDS: tuple[tuple[str, Source], ...] = (
    ("technician_note", "technician note"),
    ("narrative", "narrative"),
    ("resolution", "resolution"),
)

_LISTED, _DESCRIBED, _SMALL, _KIT = 1.0, 0.85, 0.2, 0.45
_MANY = 4
_RULED_OUT = 0.5


@dataclass(frozen=True, slots=True)
class Part:
    """One replaced part of a claim, as the parts list knows it."""

    part_no: str
    description: str | None
    component: str | None
    unknown: bool


@dataclass(frozen=True, slots=True)
class Finding:
    """One inspection of a returned part."""

    inspected_on: str
    part_no: str | None
    finding: str
    component: str | None
    failure_mode: str | None
    note: str | None


class Told:
    """Words of a text that make a piece; put together only where they're shown."""

    __slots__ = ("marks", "reading")

    def __init__(self, reading: Reading, vote: Vote) -> None:
        self.reading = reading
        self.marks = (vote.mark, *vote.said)

    def __str__(self) -> str:
        marks = sorted(set(self.marks), key=lambda mark: mark.first)
        return " .. ".join(self.reading.words(mark) for mark in marks)


class Piece(NamedTuple):
    """One piece of evidence for one component.

    Parameters
    ----------
    source : Source
        The field it comes from.
    component : str
        What it speaks for.
    strength : float
        How firmly, 0 to 1; 0 where it rules the component out or is history.
    role : str
        cause, fault, deed, effect, mention, aside, history, cleared; for
        structured fields: replaced, inspected, sound.
    words : str or Told
        The words or the part number that were read.
    modes : tuple of (str, float)
        Failure modes that go with it.
    order : int
        Place within the source, for ties.
    """

    source: Source
    component: str
    strength: float
    role: str
    words: str | Told
    modes: tuple[tuple[str, float], ...] = ()
    order: int = 0
    span: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class TextSays:
    """What one text says, ready to be combined."""

    pieces: tuple[Piece, ...] = ()
    verdicts: tuple[tuple[str, str], ...] = ()
    loose: tuple[Entry, ...] = ()
    dangers: tuple[str, ...] = ()
    chances: Mapping[str, float] = field(default_factory=dict)


_NOTHING = TextSays()


def text_says(
    text: str | None, source: Source, terms: Terms, *, with_spans: bool = False
) -> TextSays:
    """Return what a text says.

    Parameters
    ----------
    text : str or None
        The field.
    source : Source
        Its name in the evidence.
    terms : Terms
        Compiled terms.
    with_spans : bool, default False
        Whether each piece tells where in the text it stands.

    Returns
    -------
    TextSays
    """
    if not text:
        return _NOTHING
    reading, *others = read(text, terms)
    dangers = tuple(
        each.words(mark) for each in (reading, *others) for mark in dangers_in(each)
    )
    if not reading.marks:
        return TextSays(dangers=dangers) if dangers else _NOTHING
    return _said_in(reading, source, terms, dangers, text if with_spans else None)


def text_may_say(text: str, source: Source, terms: Terms) -> list[TextSays]:
    """Return what a text says in each language that it may be in, likeliest first.

    Of a few words the language is often open: "Display tot" is German, yet "tot" is
    a small word of Dutch.
    """
    return [_said_in(r, source, terms) for r in read(text, terms) if r.marks]


def _said_in(
    reading: Reading,
    source: Source,
    terms: Terms,
    dangers: tuple[str, ...] = (),
    text: str | None = None,
) -> TextSays:
    """Return what one reading says; with the text, where each piece stands in it."""
    said = vote(reading, terms)
    pieces = []
    for v in said.votes:
        if text is not None or v.role != "aside":
            span = None if text is None else spans(text, v.mark)
            told = Told(reading, v)
            pieces.append(
                Piece(
                    source, v.component, v.weight, v.role, told, v.modes, v.order, span
                )
            )
    return TextSays(
        tuple(pieces),
        tuple((mode, reading.words(mark)) for mode, mark in said.verdicts),
        tuple(s.mark.entry for s in said.loose),
        dangers,
        chances(said, reading.length, terms.taxonomy),
    )


@dataclass(slots=True)
class _Described:
    """What the description of a part names."""

    component: str | None = None
    small: bool = False
    kit: bool = False
    words: list[str] = field(default_factory=list)


def _described(description: str | None, terms: Terms) -> _Described:
    """Read a part's description: "display, colour, 48 V" names a display."""
    result = _Described()
    if not description:
        return result
    reading, *others = read(description, terms)
    # "cable tie" can be read in several languages, but a tie stays a tie
    result.small = any(m.entry.group == "small" for r in others for m in r.marks)
    found: Mark | None = None
    for mark in reading.marks:
        group = mark.entry.group
        if group == "small":
            result.small = True
        elif group == "kit":
            result.kit = True
        elif group in ("place", "soft", "hard"):
            if found is not None or result.small:
                break
        elif group in ("part", "sign") and mark.entry.parts:
            found = mark
    if found is not None:
        strongest = max(weight for _, weight in found.entry.parts)
        if len(found.entry.parts) == 1 and strongest >= _RULED_OUT:
            result.component = found.entry.parts[0][0]
            result.words = [reading.words(found)]
    return result


def _named(description: str | None, terms: Terms) -> str | None:
    """Return the component whose name a description opens with.

    The names of the taxonomy hold other languages too: "Ladegerät 48 V".
    """
    words = plain(description or "").split()[:3]
    for count in range(len(words), 0, -1):
        component = terms.taxonomy.component_names.get(" ".join(words[:count]))
        if component is not None:
            return component
    return None


def part_pieces(parts: Iterable[Part], terms: Terms) -> list[Piece]:
    """Return what the replaced parts speak for.

    Parameters
    ----------
    parts : iterable of Part
        Parts replaced under one claim.
    terms : Terms
        Compiled terms, for parts that the list gives no component.

    Returns
    -------
    list of Piece
        One for each part that names a component. Screws, ties and grease are
        weak, kits and claims with many different parts likewise.
    """
    pieces = []
    for part in sorted(parts, key=lambda p: (p.part_no, p.description or "")):
        described = _described(part.description, terms)
        component = terms.taxonomy.component_for(part.component)
        strength = _LISTED
        if component is None:
            component, strength = described.component, _DESCRIBED
        if component is None and not described.small:
            component = _named(part.description, terms)
        if component is None or component == NO_FAULT:
            continue
        if described.small:
            strength = _SMALL
        elif described.kit:
            strength = _KIT
        words = f"part {part.part_no}"
        if described.words:
            words += f" ({described.words[0]})"
        pieces.append(Piece("part", component, strength, "replaced", words))
    many = len({piece.component for piece in pieces}) >= _MANY
    if not many:
        return pieces
    return [
        Piece(p.source, p.component, p.strength * _KIT, p.role, p.words) for p in pieces
    ]


def finding_pieces(
    findings: Iterable[Finding], parts: Iterable[Part], terms: Terms
) -> tuple[list[Piece], list[str]]:
    """Return what the inspections of returned parts speak for.

    Parameters
    ----------
    findings : iterable of Finding
        Inspections under one claim.
    parts : iterable of Part
        Parts of the same claim: they tell the component of a finding that
        gives only a part number.
    terms : Terms
        Compiled terms, for the note.

    Returns
    -------
    pieces : list of Piece
        A confirmed fault speaks at full strength, a sound part at half.
    verdicts : list of str
        Modes of findings that name no component at all.
    """
    by_number = {part.part_no: part for part in parts}
    taxonomy = terms.taxonomy
    pieces: list[Piece] = []
    verdicts: list[str] = []
    ordered = sorted(
        findings,
        key=lambda f: (f.inspected_on, f.part_no or "", f.finding, f.note or ""),
    )
    for number, finding in enumerate(ordered):
        note = text_says(finding.note, "finding", terms)
        component = taxonomy.component_for(finding.component)
        part = by_number.get(finding.part_no or "")
        if component is None and part is not None:
            own = part_pieces([part], terms)
            component = own[0].component if own else None
        if component is None:
            component = _loudest(note)
        kind = finding.finding.strip().lower()
        mode = taxonomy.mode_for(finding.failure_mode)
        strength, role = _strength_of(kind)
        if kind in (NO_FAULT_MODE, "misuse", "transport damage"):
            mode = kind if kind in taxonomy.modes else mode
        if component in (None, NO_FAULT):
            if mode is not None:
                verdicts.append(mode)
            continue
        assert component is not None  # for the type checker; handled above
        modes = ((mode, 1.0),) if mode else _note_modes(note, component)
        pieces.append(Piece("finding", component, strength, role, kind, modes, number))
    return pieces, verdicts


def _loudest(note: TextSays) -> str | None:
    """Return the component that an inspector's note speaks of, if it does."""
    voices = [piece for piece in note.pieces if piece.strength >= _RULED_OUT]
    if not voices:
        return None
    return max(voices, key=lambda piece: (piece.strength, -piece.order)).component


def _strength_of(kind: str) -> tuple[float, str]:
    if kind == NO_FAULT_MODE:
        return 0.6, "sound"
    if kind == "other":
        return 0.75, "inspected"
    return 1.0, "inspected"


def _note_modes(note: TextSays, component: str) -> tuple[tuple[str, float], ...]:
    """Return the modes in an inspector's note, when the column is empty."""
    own = [m for p in note.pieces if p.component == component for m in p.modes]
    if own:
        return tuple(own)
    return tuple(m for entry in note.loose for m in entry.modes_for(component))
