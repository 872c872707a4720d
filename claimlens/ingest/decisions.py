"""Decide date format, decimal sign, currency and word maps for a whole file."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from claimlens.ingest.columns import ColumnProfile, value_word
from claimlens.ingest.numbers import currency_of
from claimlens.ingest.proposal import Assignment
from claimlens.ingest.skips import fold
from claimlens.tables import Table

__all__ = [
    "CurrencyChoice",
    "DateChoice",
    "DecimalChoice",
    "WordMap",
    "choose_currency",
    "choose_dates",
    "choose_decimal",
    "map_words",
]

_CODES = r"EUR|CHF|GBP|USD|CAD|AUD|NZD|SEK|NOK|DKK|PLN|CZK|HUF|JPY"
_CODE_IN_TEXT = re.compile(rf"(?<![A-Za-z])({_CODES})(?![A-Za-z])|([€£$])")
_AMOUNT_WORDS = re.compile(
    r"betr[aä]g|amount|currency|w[aä]hrung|montant|devise|bedrag|valuta|importe|"
    r"moneda|divisa|import[oi]|cost|kosten|co[uû]t|price|preis",
    re.IGNORECASE,
)
_ALWAYS_READ = re.compile(r"yyyy[-/.]mm[-/.]dd|d mmm yyyy|mmm d, yyyy|yyyy mmm d")
_SWAPPABLE = re.compile(r"(?:dd(.)mm|mm(.)dd)[./\- ](y+)")


@dataclass(frozen=True, slots=True)
class DateChoice:
    """How a file writes its dates.

    Parameters
    ----------
    file_wide : str or None
        The format of most columns.
    by_field : dict of str to str
        Formats of fields that differ from it.
    undecided : dict of str to tuple
        Header to the two formats between which the file does not decide.
    notes : tuple of str
        Why.
    """

    file_wide: str | None
    by_field: dict[str, str]
    undecided: dict[str, tuple[str, ...]]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DecimalChoice:
    """Which sign marks decimals, and whether the file leaves it open."""

    sign: str | None
    ambiguous: bool
    why: str


@dataclass(frozen=True, slots=True)
class CurrencyChoice:
    """The currency of rows that do not name their own."""

    code: str | None
    why: str


@dataclass(frozen=True, slots=True)
class WordMap:
    """How a file writes a closed vocabulary.

    Parameters
    ----------
    field : str
        Canonical field.
    words : dict of str to str
        Word of the file to canonical word.
    unknown : dict of str to int
        Words that no list knows, and how often they stand.
    """

    field: str
    words: dict[str, str]
    unknown: dict[str, int]


def _order(format_words: str) -> str | None:
    """Return ``day`` or ``month`` for what a numeric format writes first."""
    for word in format_words.split(" or "):
        match = _SWAPPABLE.fullmatch(word)
        if match:
            return "day" if match.group(1) else "month"
    return None


def _separator(format_words: str) -> str | None:
    """Return separator and length of the year of a format that may be swapped."""
    for word in format_words.split(" or "):
        match = _SWAPPABLE.fullmatch(word)
        if match:
            return (match.group(1) or match.group(2)) + match.group(3)
    return None


def choose_dates(
    assignments: Sequence[Assignment],
    profiles: Mapping[str, ColumnProfile],
    table: Table,
) -> DateChoice:
    """Choose date formats; a column that decides lends its order to the others.

    Parameters
    ----------
    assignments : sequence of Assignment
        Columns with their fields.
    profiles : mapping of str to ColumnProfile
        Every column of the file.
    table : Table
        The kind.

    Returns
    -------
    DateChoice
        ``undecided`` is empty where the file decides by itself.
    """
    orders: dict[str, set[str]] = {}
    witness: dict[str, str] = {}
    for profile in profiles.values():
        reading = profile.dates
        if profile.date_share < 0.8 or not reading.candidates or reading.ambiguous:
            continue
        if reading.note.startswith("every value reads the same"):
            continue
        mark, order = _separator(reading.candidates[0]), _order(reading.candidates[0])
        if mark is not None and order is not None:
            orders.setdefault(mark, set()).add(order)
            witness.setdefault(mark, profile.name)
    formats: dict[str, str] = {}
    undecided: dict[str, tuple[str, ...]] = {}
    notes: list[str] = []
    for one in assignments:
        if table.field(one.field).type not in ("date", "timestamp"):
            continue
        reading = profiles[one.header].dates
        if not reading.candidates:
            continue
        if not reading.ambiguous:
            formats[one.field] = reading.candidates[0]
            notes.append(f"{one.header}: {reading.note}")
            continue
        mark = _separator(reading.candidates[0])
        known = orders.get(mark or "", set())
        fits = [text for text in reading.candidates if _order(text) in known]
        if len(known) == 1 and fits:
            formats[one.field] = fits[0]
            notes.append(
                f"{one.header}: ambiguous by itself; the order is taken from "
                f"{witness[mark or '']}"
            )
        else:
            undecided[one.header] = reading.candidates
            notes.append(f"{one.header}: {reading.note}")
    return _one_format(formats, undecided, notes)


def _essential(format_words: str) -> str:
    """Leave out alternatives that are read whatever the settings say."""
    words = format_words.split(" or ")
    needed = [word for word in words if not _ALWAYS_READ.fullmatch(word)]
    return " or ".join(needed or words[:1])


def _one_format(
    formats: dict[str, str],
    undecided: dict[str, tuple[str, ...]],
    notes: list[str],
) -> DateChoice:
    """Put the formats of all columns into one, and exceptions to it."""
    plain = {name: _essential(text) for name, text in formats.items()}
    telling = Counter(
        text for text in plain.values() if not _ALWAYS_READ.fullmatch(text)
    )
    if not plain:
        return DateChoice(None, {}, undecided, tuple(notes))
    if undecided:
        # a format for the whole file would decide what the file leaves open
        return DateChoice(None, plain, undecided, tuple(notes))
    if not telling:
        return DateChoice(next(iter(plain.values())), {}, {}, tuple(notes))
    common = telling.most_common(1)[0][0]
    others = {
        name: text
        for name, text in plain.items()
        if text != common and not _ALWAYS_READ.fullmatch(text)
    }
    return DateChoice(common, others, {}, tuple(notes))


def choose_decimal(
    assignments: Sequence[Assignment],
    profiles: Mapping[str, ColumnProfile],
    table: Table,
) -> DecimalChoice:
    """Choose the decimal sign by the votes of all amounts.

    Returns
    -------
    DecimalChoice
        Amounts of money count before other numbers.
    """
    named = {one.field: profiles[one.header] for one in assignments}
    for wanted in ("money", "number"):
        readings = [
            profile.numbers
            for name, profile in named.items()
            if table.field(name).type == wanted and profile.filled
        ]
        decided = [reading for reading in readings if reading.sign is not None]
        if decided:
            signs = Counter(reading.sign for reading in decided)
            sign = signs.most_common(1)[0][0]
            why = next(reading.why for reading in decided if reading.sign == sign)
            return DecimalChoice(sign, False, why)
        doubtful = next((one for one in readings if one.ambiguous), None)
        if doubtful is not None and wanted == "number":
            return DecimalChoice(None, True, doubtful.why)
        if doubtful is not None:
            numbers = [
                profile.numbers
                for name, profile in named.items()
                if table.field(name).type == "number" and profile.numbers.sign
            ]
            if numbers:
                return DecimalChoice(numbers[0].sign, False, numbers[0].why)
            return DecimalChoice(None, True, doubtful.why)
    return DecimalChoice(None, False, "no amount has decimals")


def choose_currency(
    assignments: Sequence[Assignment],
    profiles: Mapping[str, ColumnProfile],
    table: Table,
    titles: Sequence[str],
) -> CurrencyChoice | None:
    """Choose the currency of amounts that name none.

    Parameters
    ----------
    assignments, profiles, table
        As for `choose_dates`.
    titles : sequence of str
        Lines above the header.

    Returns
    -------
    CurrencyChoice or None
        None where the file has no amounts or a currency column that is full.
    """
    money = [one for one in assignments if table.field(one.field).type == "money"]
    if not money or "currency" not in table.field_names:
        return None
    column = next((one for one in assignments if one.field == "currency"), None)
    if column is not None:
        words = profiles[column.header].values
        if profiles[column.header].null_share == 0 or len(words) != 1:
            return None
        code = currency_of(next(iter(words)))
        return CurrencyChoice(code, f"the only currency in {column.header}")
    return _currency_inside(money, profiles, assignments, titles)


def _currency_inside(
    money: Sequence[Assignment],
    profiles: Mapping[str, ColumnProfile],
    assignments: Sequence[Assignment],
    titles: Sequence[str],
) -> CurrencyChoice:
    """Choose by signs in the amounts, then by headers, titles and countries."""
    signs = Counter(
        code for one in money for code in profiles[one.header].numbers.currencies[:3]
    )
    if len(signs) == 1:
        return CurrencyChoice(next(iter(signs)), "its sign stands in the amounts")
    if len(signs) > 1:
        return CurrencyChoice(None, "each amount names its own currency")
    named = _named_currency(money, profiles, titles)
    return named or _currency_of_countries(assignments, profiles)


def _named_currency(
    money: Sequence[Assignment],
    profiles: Mapping[str, ColumnProfile],
    titles: Sequence[str],
) -> CurrencyChoice | None:
    """Look for a currency in headers and in the lines above them."""
    for where, texts in (
        ("header", [one.header for one in money]),
        ("header", [name for name in profiles if _AMOUNT_WORDS.search(name)]),
        ("title", [text for text in titles if _AMOUNT_WORDS.search(text)]),
        ("title", list(titles)),
    ):
        found = Counter(code for text in texts if (code := _code_in(text)))
        if len(found) == 1:
            return CurrencyChoice(next(iter(found)), f"named in the {where}")
    return None


_EURO = "AT BE CY DE EE ES FI FR GR HR IE IT LT LU LV MT NL PT SI SK"
_COUNTRY_CURRENCY = {
    **dict.fromkeys(_EURO.split(), "EUR"),
    **dict.fromkeys(
        (
            *("deutschland", "germany", "allemagne", "duitsland", "alemania"),
            *("germania", "osterreich", "austria", "autriche", "oostenrijk"),
            *("france", "frankreich", "frankrijk", "francia", "italia", "italy"),
            *("italien", "italie", "espana", "spain", "spanien", "espagne", "spanje"),
            *("nederland", "netherlands", "niederlande", "pays bas", "paesi bassi"),
            *("belgie", "belgium", "belgique", "belgien", "spagna", "belgio"),
        ),
        "EUR",
    ),
    **dict.fromkeys(
        ("CH", "LI", "schweiz", "suisse", "svizzera", "switzerland", "suiza"), "CHF"
    ),
    **dict.fromkeys(
        ("GB", "UK", "united kingdom", "great britain", "grossbritannien"), "GBP"
    ),
    **dict.fromkeys(("US", "USA", "united states"), "USD"),
}


def _currency_of_countries(
    assignments: Sequence[Assignment], profiles: Mapping[str, ColumnProfile]
) -> CurrencyChoice:
    """Propose the money of the countries that the file is from, to be checked."""
    column = next((one.header for one in assignments if one.field == "region"), None)
    places = profiles[column].values if column else {}
    codes = {
        _COUNTRY_CURRENCY.get(place.strip().upper())
        or _COUNTRY_CURRENCY.get(fold(place))
        for place in places
    }
    if len(codes) == 1 and (code := codes.pop()) is not None:
        return CurrencyChoice(
            code,
            f"CHECK, the file names no currency; it is the money of {column} "
            f"{', '.join(sorted(places)[:4])}",
        )
    return CurrencyChoice(None, "the file names no currency")


def _code_in(text: str) -> str | None:
    """Return the currency that a header or title names."""
    match = _CODE_IN_TEXT.search(text)
    if match is None:
        return None
    return match.group(1) or currency_of(match.group(2))


def map_words(
    assignments: Sequence[Assignment],
    profiles: Mapping[str, ColumnProfile],
    table: Table,
) -> tuple[WordMap, ...]:
    """Map the words of closed vocabularies.

    Returns
    -------
    tuple of WordMap
        One for each such field; words that are canonical already are left out.
    """
    maps = []
    for one in assignments:
        field = table.field(one.field)
        if not field.allowed:
            continue
        words: dict[str, str] = {}
        unknown: dict[str, int] = {}
        for text, count in sorted(profiles[one.header].values.items()):
            if text.strip().casefold() in field.allowed:
                continue
            meaning = value_word(field.name, text)
            if meaning is None:
                unknown[text] = count
            else:
                words[text] = meaning
        if words or unknown:
            maps.append(WordMap(field.name, words, unknown))
    return tuple(maps)
