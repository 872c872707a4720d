"""Propose the kind of a file and the field of each column, and say why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from claimlens.ingest.columns import ColumnProfile
from claimlens.ingest.header_words import HeaderMatch, match_header, normal_words
from claimlens.tables import TABLES, Field, Table

__all__ = ["Assignment", "KindProposal", "assign", "propose_kind"]

_LEAST = 0.45
_FOREIGN = 0.92  # words of another language than the other headers
_MISSING_REQUIRED = 2.5
# Fields that tell a kind apart from kinds that share its other columns.
_TELLING = {
    "claims": ("claim_no", "reported_on", "failed_on", "narrative", "status"),
    "units": ("build_date", "ship_date", "build_lot", "plant", "retired_on"),
    "shipments": ("month", "quantity"),
    "claim_parts": ("claim_no", "part_no", "quantity"),
    "parts": ("part_no", "description", "superseded_by", "lead_time_days"),
    "findings": ("claim_no", "finding", "inspected_on"),
    "changes": ("change_no", "effective_build_date", "effective_serial"),
    "unit_changes": ("change_no", "serial", "done_on"),
    "fitted_parts": ("fitted_on", "removed_on", "component_serial", "lot"),
    "responses": ("question_no", "answered_on", "answer", "amount_accepted", "due_on"),
    "labels": ("reviewer", "reviewed_on"),
}
_FILE_WORDS = {
    "claims": (
        "claim",
        "garantie",
        "antrag",
        "reklam",
        "reclam",
        "dossier",
        "richiest",
    ),
    "units": ("unit", "fahrzeug", "vehic", "register", "voertuig", "veicol"),
    "shipments": ("shipment", "versand", "liefer", "expedi", "spediz", "verzend"),
    "claim_parts": ("claimpart", "partsused", "verbaut", "positions"),
    "parts": ("part", "teil", "piece", "pieza", "ricamb", "onderde", "recamb"),
    "findings": ("finding", "befund", "inspec", "expertis", "bevinding", "hallazg"),
    "changes": ("change", "aender", "ander", "modif", "wijzig", "cambio"),
    "unit_changes": ("retrofit", "umrust", "nachrust", "unitchange"),
    "fitted_parts": ("fitted", "einbau", "verbaut", "monte", "ingebouwd", "montat"),
    "responses": ("response", "antwort", "reponse", "antwoord", "respuest", "rispost"),
    "labels": ("label", "review"),
}


@dataclass(frozen=True, slots=True)
class Assignment:
    """A column that fills a field.

    Parameters
    ----------
    header : str
        The column.
    field : str
        The canonical field.
    certainty : float
        0 to 1.
    why : str
        The header words and values that speak for it.
    """

    header: str
    field: str
    certainty: float
    why: str


@dataclass(frozen=True, slots=True)
class KindProposal:
    """A kind and the columns that fill its fields.

    Parameters
    ----------
    kind : str
        The table.
    certainty : float
        0 to 1.
    why : str
        What speaks for it.
    assignments : tuple of Assignment
        In the order of the columns.
    missing : tuple of str
        Required fields that no column fills.
    score : float
        For comparing kinds of one file.
    """

    kind: str
    certainty: float
    why: str
    assignments: tuple[Assignment, ...]
    missing: tuple[str, ...]
    score: float


def _value_fit(field: Field, profile: ColumnProfile) -> tuple[float, str]:
    """Return how well values fit a field, 0 to 1, and in which words."""
    if not profile.filled:
        return 0.5, "no values"
    if field.type in ("date", "timestamp"):
        share = profile.date_share
        if profile.dates.candidates and share >= 0.45:
            share = max(share, profile.dates.share)
        return share, f"{share:.0%} of the values are dates"
    if field.type in ("money", "number", "integer"):
        return _number_fit(field, profile)
    if field.allowed:
        share = profile.word_share(field.name)
        return share, f"{share:.0%} of the values are known words"
    if field.name == "currency":
        return profile.currency_share, f"{profile.currency_share:.0%} currency codes"
    fit = _key_fit if field.type == "key" else _text_fit
    return fit(field, profile)


def _number_fit(field: Field, profile: ColumnProfile) -> tuple[float, str]:
    """Judge amounts, counts and years."""
    if "year" in field.name:
        return profile.year_share, f"{profile.year_share:.0%} of the values are years"
    share = profile.number_share * (1.0 - min(profile.date_share, 0.9))
    if field.name == "quantity" and profile.numbers.sign and profile.distinct > 10:
        return 0.3 * share, "the values have decimals, as amounts have"
    return share, f"{share:.0%} of the values are numbers"


_SINGULAR = ("claim_no", "serial", "part_no", "change_no", "component_serial")


def _key_fit(field: Field, profile: ColumnProfile) -> tuple[float, str]:
    """Judge identifiers: short, and telling where they name one thing."""
    if profile.date_share > 0.9 and profile.dates.candidates != ("yyyymmdd",):
        return 0.05, "the values are dates"
    if profile.length > 45 or profile.words > 6:
        return 0.1, "the values are long texts"
    if field.name in _SINGULAR:
        return _singular_fit(field, profile)
    if profile.uniqueness > 0.95 and profile.filled > 50 and field.name != "part_no":
        return 0.4, "every value differs"
    return 0.9, f"{profile.distinct} distinct short values"


def _singular_fit(field: Field, profile: ColumnProfile) -> tuple[float, str]:
    """Judge identifiers of single things: digits, and many of them."""
    if profile.digit_share < 0.3:
        return 0.25, "the values hold no digits"
    few = profile.filled > 20 and profile.distinct <= max(3, 0.02 * profile.counted)
    if field.name in ("claim_no", "serial") and few:
        return 0.3, "few distinct values"
    return 1.0, f"{profile.distinct} distinct short identifiers"


_PROSE = ("narrative", "technician_note", "note", "resolution", "description")


def _text_fit(field: Field, profile: ColumnProfile) -> tuple[float, str]:
    """Judge free texts: prose where prose belongs, words elsewhere."""
    if profile.date_share > 0.9 or profile.number_share > 0.95:
        return 0.1, "the values are dates or numbers"
    if field.name in _PROSE:
        fit = 1.0 if profile.words >= 2.5 else 0.75 if profile.words > 1.4 else 0.45
        return fit, f"texts of {profile.words:.0f} words"
    fit = 0.9 if profile.length <= 60 else 0.4
    return fit, f"texts of {profile.length:.0f} characters"


def _certainty(
    match: HeaderMatch, field: Field, profile: ColumnProfile | None
) -> tuple[float, str]:
    """Weigh header words with values."""
    if profile is None:
        return match.score, match.why
    fit, seen = _value_fit(field, profile)
    if fit < 0.35:
        return match.score * fit, f"{match.why}, but {seen}"
    return match.score * (0.6 + 0.4 * fit), f"{match.why}; {seen}"


_DISTANCE_UNITS = frozenset(
    ("km", "kms", "mi", "mile", "miles", "m", "h", "hr", "hrs", "hours", "std", "uur")
)


def _by_values(profile: ColumnProfile, table: Table) -> list[tuple[float, str, str]]:
    """Propose fields by the values alone, where they are unmistakable."""
    found: list[tuple[float, str, str]] = []
    if not profile.filled:
        return found
    names = table.field_names
    for name in ("status", "finding"):
        share = profile.word_share(name)
        if name in names and share >= 0.8 and profile.distinct >= 2:
            found.append((0.55 + 0.2 * share, name, f"{share:.0%} known words"))
    if "currency" in names and profile.currency_share >= 0.9:
        found.append((0.8, "currency", "the values are currency codes"))
    if "narrative" in names and profile.words >= 4 and profile.date_share < 0.2:
        found.append((0.5, "narrative", f"texts of {profile.words:.0f} words"))
        found.append((0.47, "technician_note", f"texts of {profile.words:.0f} words"))
    if (
        "usage_unit" in names
        and profile.values
        and all(text.casefold() in _DISTANCE_UNITS for text in profile.values)
    ):
        found.append((0.7, "usage_unit", "the values are units of distance or time"))
    key = table.required[0]
    if key in _SINGULAR and profile.uniqueness >= 0.95 and _looks_like_key(profile):
        found.append((0.5, key, "nearly every value differs, short, with digits"))
    return found


def _language(headers: Sequence[str]) -> str | None:
    """Return the language of most headers, if one is spoken by most."""
    spoken: Counter[str] = Counter()
    heard = 0
    for header in headers:
        matches = match_header(header)
        if matches and matches[0].score >= 0.8 and matches[0].languages:
            heard += 1
            spoken.update(matches[0].languages)
    if heard < 3:
        return None
    (language, count), *others = spoken.most_common(2)
    alone = not others or others[0][1] < count
    return language if alone and 2 * count > heard else None


def _looks_like_key(profile: ColumnProfile) -> bool:
    """Tell short identifiers with digits from dates, amounts and texts."""
    return (
        profile.filled >= 3
        and profile.null_share < 0.05
        and profile.digit_share > 0.95
        and profile.words < 1.5
        and profile.length <= 30
        and profile.date_share < 0.2
        and not profile.numbers.sign
    )


def assign(
    headers: Sequence[str],
    table: Table,
    profiles: Mapping[str, ColumnProfile] | None = None,
) -> tuple[Assignment, ...]:
    """Give each field of a kind the column that fits it best.

    Parameters
    ----------
    headers : sequence of str
        Columns of the file.
    table : Table
        The kind.
    profiles : mapping of str to ColumnProfile, optional
        What the columns hold; without it header words decide alone.

    Returns
    -------
    tuple of Assignment
        No column and no field twice, in the order of the columns.
    """
    offers: list[tuple[float, int, str, str]] = []
    language = _language(headers)
    for position, header in enumerate(headers):
        profile = profiles.get(header) if profiles is not None else None
        if profile is not None and _holds_lists(profile):
            continue
        for match in match_header(header):
            if match.field not in table.field_names:
                continue
            certainty, why = _certainty(match, table.field(match.field), profile)
            if match.languages and language and language not in match.languages:
                certainty *= _FOREIGN
            offers.append((certainty, position, match.field, why))
        if profile is not None:
            offers += [
                (certainty, position, name, why)
                for certainty, name, why in _by_values(profile, table)
            ]
    offers.sort(key=lambda offer: (-offer[0], offer[1], offer[2]))
    taken: dict[int, Assignment] = {}
    filled: set[str] = set()
    for certainty, position, name, why in offers:
        if certainty < _LEAST or position in taken or name in filled:
            continue
        taken[position] = Assignment(headers[position], name, certainty, why)
        filled.add(name)
    return tuple(taken[position] for position in sorted(taken))


def _holds_lists(profile: ColumnProfile) -> bool:
    """Tell a list inside a record, kept as JSON text, from a value."""
    return bool(profile.examples) and all(
        text.startswith(("[", "{")) for text in profile.examples
    )


def propose_kind(
    headers: Sequence[str],
    profiles: Mapping[str, ColumnProfile] | None,
    *,
    path: Path | None = None,
    kinds: Sequence[str] | None = None,
) -> KindProposal:
    """Propose the kind of a file.

    Parameters
    ----------
    headers : sequence of str
        Its columns.
    profiles : mapping of str to ColumnProfile or None
        What they hold.
    path : Path, optional
        A word in the file's name tips the scales between equals.
    kinds : sequence of str, optional
        The kinds to choose from; all of them by default.

    Returns
    -------
    KindProposal
        The kind whose required fields are filled and that explains most
        columns.
    """
    ranked = sorted(
        (_judge(headers, profiles, TABLES[kind], path) for kind in kinds or TABLES),
        key=lambda one: -one.score,
    )
    best = ranked[0]
    gap = best.score - ranked[1].score if len(ranked) > 1 else best.score
    sure = sum(one.certainty for one in best.assignments)
    share = sure / max(len(best.assignments), 1)
    certainty = min(0.99, share * min(1.0, 0.6 + 0.2 * gap))
    if best.missing:
        certainty *= 0.4
    return KindProposal(
        best.kind, certainty, best.why, best.assignments, best.missing, best.score
    )


def _judge(
    headers: Sequence[str],
    profiles: Mapping[str, ColumnProfile] | None,
    table: Table,
    path: Path | None,
) -> KindProposal:
    """Score one kind."""
    found = assign(headers, table, profiles)
    names = {one.field for one in found}
    missing = tuple(name for name in table.required if name not in names)
    score = sum(
        one.certainty * (1.5 if one.field in table.required else 1.0) for one in found
    )
    telling = [name for name in _TELLING[table.name] if name in names]
    score += 0.6 * len(telling)
    score -= _MISSING_REQUIRED * len(missing)
    # a small table must not win over a large one by having less to miss,
    # nor a large one by having more to match
    explained = len(found) / max(len(headers), 1)
    score += 2.0 * explained
    stem = "".join(normal_words(path.name.split(".")[0])) if path else ""
    if any(word in stem for word in _FILE_WORDS[table.name]):
        score += 0.5
    required = [name for name in table.required if name in names]
    why = f"columns for {', '.join(required) or 'no required field'}" + (
        f", and {', '.join(name for name in telling if name not in required)}"
        if set(telling) - set(required)
        else ""
    )
    return KindProposal(table.name, 0.0, why, found, missing, score)
