"""Values of JSON as text, and what is a list of records among them."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from typing import Any

__all__ = [
    "Flat",
    "TooDeepError",
    "compact",
    "flatten",
    "has_objects",
    "loads",
    "record_paths",
]

_DEPTH = 3
_DEEPEST = 20
_MOST_DIGITS = 300

Flat = dict[str, str | None]


class TooDeepError(ValueError):
    """JSON is nested deeper than anything that is a table."""


def _float(value: Decimal) -> str:
    """Keep a number as written; a fourth decimal tells 1.234 from thousands."""
    text = str(value)
    if "E" in text and abs(value.adjusted()) <= _MOST_DIGITS:
        text = format(value, "f")
    whole = re.fullmatch(r"(-?\d+)\.0+", text)
    if whole:
        return whole.group(1)
    return text + "0" if re.fullmatch(r"-?\d+\.\d{3}", text) else text


def _nothing(_: str) -> None:
    return None


def _whole_number(text: str) -> int | str:
    """Keep a number that is no number of anything as it is written."""
    return int(text) if len(text) <= _MOST_DIGITS else text


def loads(text: str) -> Any:  # JSON has no narrower type
    """Return what a text says; raise ``ValueError`` if it is no JSON."""
    try:
        return json.loads(
            text, parse_float=Decimal, parse_int=_whole_number, parse_constant=_nothing
        )
    except RecursionError as error:
        raise TooDeepError("it is nested too deep") from error


def _scalar(value: Any) -> str | None:
    """Return a value as text; None where nothing stands."""
    if value is None:
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return _whole_characters(value).strip() or None
    if isinstance(value, int):
        return str(value)
    if isinstance(value, Decimal):
        return _float(value)
    return compact(value) if value else None


def _whole_characters(text: str) -> str:
    """Return a text with halves of characters, which JSON can write, as U+FFFD."""
    if text.isascii():
        return text
    return text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")


def compact(value: Any) -> str:
    """Return a value as JSON text on one line."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), default=float)
    return _whole_characters(text)


def flatten(record: dict[str, Any], prefix: str = "", depth: int = _DEEPEST) -> Flat:
    """Return a record with nested objects flattened with dots, down to a depth."""
    flat: Flat = {}
    for name, value in record.items():
        key = prefix + " ".join(_whole_characters(name).split())
        if isinstance(value, dict) and depth:
            flat.update(flatten(value, key + ".", depth - 1))
        else:
            flat[key] = _scalar(value)
    return flat


def has_objects(values: list[Any]) -> bool:
    """Tell whether a list holds records."""
    return any(isinstance(one, dict) for one in values)


def record_paths(value: Any, prefix: str = "", depth: int = _DEPTH) -> dict[str, int]:
    """Return the paths of lists of objects inside a value, with their lengths."""
    found: dict[str, int] = {}
    if isinstance(value, dict) and depth:
        for name, below in value.items():
            path = f"{prefix}{name}"
            if isinstance(below, list) and has_objects(below):
                found[path] = sum(isinstance(one, dict) for one in below)
            elif isinstance(below, dict):
                found.update(record_paths(below, f"{path}.", depth - 1))
    return found
