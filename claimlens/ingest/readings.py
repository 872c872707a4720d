"""Read each distinct text of a typed column once: dates, amounts, words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import pandas as pd

from claimlens.errors import InputError, MappingError, SettingsError
from claimlens.ingest import dates, numbers
from claimlens.settings import SourceSettings
from claimlens.tables import FieldType, Table

__all__ = ["newest_date", "read_texts", "read_words"]

Texts = dict[str, set[str]]

# the table of readings holds 22 digits before the point
_TOO_LARGE = Decimal(10) ** 22
_MOST_DIGITS = 40
_MOST_DECIMALS = 40

_AMOUNTS: tuple[FieldType, ...] = ("money", "number", "integer")


def read_texts(
    texts: Texts,
    table: Table,
    source: SourceSettings | None,
    path: Path,
    *,
    date_epoch: int | None,
) -> pd.DataFrame:
    """Read the distinct texts of all typed columns of a file.

    Parameters
    ----------
    texts : dict of str to set of str
        Distinct texts by canonical field.
    table : Table
        The kind of the file.
    source : SourceSettings or None
        Its date format and decimal sign, where the settings say them.
    path : Path
        For messages.
    date_epoch : int or None
        1900 or 1904 where numbers in date columns may be serial days.

    Returns
    -------
    pandas.DataFrame
        ``column_name, text, day, moment, amount`` for the table ``readings``;
        null where a text does not read.

    Raises
    ------
    MappingError
        If a date column reads both as day/month and as month/day, or no text
        tells the decimal sign.
    """
    rows: list[tuple[str, str, object, object, str | None]] = []
    decimal = _decimal_sign(texts, table, source, path)
    for name, distinct in sorted(texts.items()):
        kind = table.field(name).type
        ordered = sorted(distinct)
        if kind in ("date", "timestamp"):
            form = _date_format(name, ordered, source, path)
            days = dates.parse(
                [_as_day(text, name) for text in ordered],
                form,
                excel_serials=date_epoch or False,
            )
            moments = (
                dates.parse_timestamp(ordered, form, excel_serials=date_epoch or False)
                if kind != "date"
                else {}
            )
            rows.extend(
                (name, text, days.get(_as_day(text, name)), moments.get(text), None)
                for text in ordered
            )
        elif kind in _AMOUNTS:
            plain = [
                _as_year(text) if name.endswith("year") else text for text in ordered
            ]
            amounts = numbers.parse(plain, decimal)
            rows.extend(
                (name, text, None, None, _exact(amounts.get(as_read)))
                for text, as_read in zip(ordered, plain, strict=True)
            )
    frame = pd.DataFrame(
        rows, columns=["column_name", "text", "day", "moment", "amount"]
    )
    return frame.astype(
        {
            "column_name": "str",
            "text": "str",
            "day": "datetime64[us]",
            "moment": "datetime64[us]",
            "amount": "str",
        }
    )


def _exact(amount: object) -> str | None:
    """Return an amount as text that the database casts; None beyond its digits."""
    if not isinstance(amount, Decimal) or not amount.is_finite():
        return None
    if amount == 0:
        return "0"
    # arithmetic with an exponent such as 1e999999999 raises, writing it out never ends
    if not -_MOST_DECIMALS <= amount.adjusted() < _MOST_DIGITS:
        return None
    return None if abs(amount) >= _TOO_LARGE else format(amount, "f")


def _as_day(text: str, name: str) -> str:
    """Return a month such as 2024-03 as its first day."""
    if name == "month" and re.fullmatch(r"\d{4}-\d{2}", text):
        return f"{text}-01"
    return text


def _as_year(text: str) -> str:
    """Return a model year such as 'MY24' as 2024."""
    match = re.fullmatch(r"(?:MY|my)?\s*'?(\d{4}|\d{2})(?:[.,]0+)?", text.strip())
    if not match:
        return text
    year = match.group(1)
    return year if len(year) == 4 else f"20{year}"


def _date_format(
    name: str, ordered: list[str], source: SourceSettings | None, path: Path
) -> str | None:
    """Return how a column writes its dates, or refuse to guess."""
    if source is not None:
        said = source.date_formats.get(name) or source.date_format
        if said:
            _check_said(said, source)
            return said
    reading = dates.detect(ordered)
    if reading.ambiguous:
        example = next(iter(ordered))
        header = name
        if source is not None:
            header = next((k for k, v in source.columns.items() if v == name), name)
        raise MappingError(
            f"Every date of this column, such as {example!r}, reads both as day/month "
            "and as month/day.",
            source=str(path),
            column=header,
            remedy=f"say which in the [[source]] of claimlens.toml: date_format = "
            f'"{reading.candidates[0]}" or date_format = "{reading.candidates[1]}" '
            f"(claimlens describe {path.name} --source-block proposes the block)",
        )
    return reading.candidates[0] if reading.candidates else None


def _check_said(said: str, source: SourceSettings) -> None:
    """Refuse a date format of the settings that no date can have."""
    try:
        dates.check_format(said)
    except InputError as error:
        raise SettingsError(
            error.problem,
            source=f"claimlens.toml, source {source.name!r}",
            column="date_format",
            remedy=error.remedy,
        ) from error


def _decimal_sign(
    texts: Texts, table: Table, source: SourceSettings | None, path: Path
) -> str | None:
    """Return the decimal sign of the file's amounts."""
    if source is not None and source.decimal:
        return source.decimal
    amounts: set[str] = set()
    for name, distinct in texts.items():
        if table.field(name).type in ("money", "number"):
            amounts |= distinct
    if not amounts:
        return None
    reading = numbers.detect_decimal(amounts)
    if reading.ambiguous:
        raise MappingError(
            f"The amounts do not tell their decimal sign: {reading.why}.",
            source=str(path),
            remedy='say it in the [[source]] of claimlens.toml: decimal = "," or '
            'decimal = "."',
        )
    return reading.sign


def read_words(
    texts: Texts, table: Table, currencies: Iterable[tuple[str, str]]
) -> pd.DataFrame:
    """Return the allowed words of closed vocabularies, for the table ``words``.

    Parameters
    ----------
    texts : dict of str to set of str
        Distinct texts by canonical field.
    table : Table
        The kind.
    currencies : iterable of (str, str)
        Text of the file and the code it means.

    Returns
    -------
    pandas.DataFrame
        ``column_name, text, word``.
    """
    rows = [
        (field.name, word, word)
        for field in table.fields
        for word in field.allowed
        if field.name in texts
    ]
    rows += [
        ("goodwill", said, word)
        for word, ways in _YES_NO.items()
        for said in ways
        if "goodwill" in texts
    ]
    rows += [("currency", text.strip().lower(), code) for text, code in currencies]
    frame = pd.DataFrame(rows, columns=["column_name", "text", "word"], dtype="str")
    return frame.drop_duplicates(["column_name", "text"])


_YES_NO = {
    "yes": ("y", "true", "1", "x", "ja", "oui", "si", "sí", "sì"),
    "no": ("n", "false", "0", "nein", "non", "nee"),
}


def newest_date(days: Iterable[date]) -> date | None:
    """Return the newest believable date of a file.

    Parameters
    ----------
    days : iterable of date
        Distinct dates that tell by when the file's facts were known.

    Returns
    -------
    date or None
        The newest; one that stands alone, far beyond the next newest (half a
        year in a file of 200 days or more, three years in one of fewer than 20,
        else one year), is taken for a slip of the pen and passed over. A rule of
        ours. None without dates.
    """
    ordered = sorted(set(days), reverse=True)
    gap = timedelta(days=183 if len(ordered) >= 200 else 366)
    if len(ordered) < 20:
        gap = timedelta(days=1096)
    for later, earlier in pairwise(ordered):
        if later - earlier <= gap:
            return later
    return ordered[-1] if ordered else None
