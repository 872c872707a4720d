"""``claimlens.toml`` as typed, validated settings; every default lives here."""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    ValidationError,
    field_validator,
)

from claimlens.currencies import CURRENCIES
from claimlens.errors import SettingsError
from claimlens.tables import KINDS, TABLES

__all__ = [
    "Settings",
    "SourceSettings",
    "digest",
    "read_settings",
    "starter_text",
]

SETTINGS_FILE = "claimlens.toml"

_MONTH_PATTERN = re.compile(r"^\d{4}-(0[1-9]|1[0-2])$")

Months = Annotated[int, Field(ge=0, le=600)]
Age = Annotated[float, Field(gt=0, le=600)]


def _is_currency(code: str) -> str:
    if code not in CURRENCIES:
        raise ValueError("no currency code of ISO 4217, such as EUR")
    return code


Currency = Annotated[str, AfterValidator(_is_currency)]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class WorkspaceSettings(_Section):
    """Name of the workspace, printed on reports."""

    name: str = "warranty claims"


class CoverageTerm(_Section):
    """Cover that differs for a model, component or region."""

    model: str | None = None
    component: str | None = None
    region: str | None = None
    months: Months


class CoverageSettings(_Section):
    """How long a unit is covered, counted from its in-service date.

    ``late_report_days``: a failure inside the cover still counts when it is
    reported up to so many days after the end of cover.
    """

    months: Months = 24
    late_report_days: Annotated[int, Field(ge=0, le=3650)] = 60
    terms: tuple[CoverageTerm, ...] = ()


class CountingSettings(_Section):
    """Which claims enter the rates beside the covered, unexcused ones."""

    no_fault_found: bool = False
    misuse: bool = False
    transport_damage: bool = False
    goodwill: bool = False
    outside_coverage: bool = False
    same_event_days: Annotated[int, Field(ge=0, le=365)] = 3
    predelivery_tolerance_days: Annotated[int, Field(ge=0, le=365)] = 0


class RateSettings(_Section):
    """Ages at which rates are shown, and when a rate is old enough to trust."""

    at_months: tuple[Age, ...] = (1, 3, 6, 12, 18, 24)
    confidence: Annotated[float, Field(gt=0, lt=1)] = 0.95
    mature_units: Annotated[int, Field(ge=1)] = 30
    provisional_months: Annotated[int, Field(ge=0, le=24)] = 3


class LifeSettings(_Section):
    """What a life fit needs."""

    min_failures: Annotated[int, Field(ge=3)] = 5
    quantile_failures: Annotated[int, Field(ge=5)] = 10
    bootstrap: Annotated[int, Field(ge=19, le=9999)] = 199
    seed: Annotated[int, Field(ge=0)] = 20240607


class CurrencySettings(_Section):
    """Report currency, and the value of one unit of each other, by month."""

    report: Currency | None = None
    rates: dict[str, dict[Currency, Annotated[Decimal, Field(gt=0)]]] = {}

    @field_validator("rates")
    @classmethod
    def _months_are_months(
        cls, value: dict[str, dict[str, Decimal]]
    ) -> dict[str, dict[str, Decimal]]:
        for month in value:
            if not _MONTH_PATTERN.match(month):
                raise ValueError(f"{month!r} is no month; write it as YYYY-MM")
        return value


class ClassifySettings(_Section):
    """Below ``threshold`` a claim stays unclassified."""

    threshold: Annotated[float, Field(ge=0, le=1)] = 0.5
    terms: str | None = None
    components: str | None = None
    failure_modes: str | None = None


class ReportSettings(_Section):
    """From where on a figure of the report asks for a decision."""

    unclassified_share: Annotated[float, Field(ge=0, le=1)] = 0.05
    open_days: Annotated[int, Field(ge=0, le=3650)] = 30
    table_at_months: tuple[Age, ...] = (3, 6, 12, 24)
    rate_at_months: Age = 12
    build_rate_at_months: Age = 6


class EngineSettings(_Section):
    """Limits of the database engine; empty means its own defaults."""

    memory_limit: Annotated[str, Field(pattern=r"^\d+(\.\d+)? ?[KMGT]i?B$")] | None = (
        None
    )
    threads: Annotated[int, Field(ge=1, le=256)] | None = None


class SourceSettings(_Section):
    """One shape of export: which files, which columns, how values are written."""

    name: str
    files: str
    kind: Literal[
        "units",
        "shipments",
        "claims",
        "claim_parts",
        "parts",
        "findings",
        "changes",
        "unit_changes",
        "fitted_parts",
        "labels",
    ]
    encoding: str | None = None
    delimiter: Annotated[str, Field(min_length=1, max_length=1)] | None = None
    header_row: Annotated[int, Field(ge=1)] | None = None
    sheet: str | None = None
    records: str | None = None
    date_format: str | None = None
    date_formats: dict[str, str] = {}
    decimal: Literal[",", "."] | None = None
    currency: Currency | None = None
    columns: dict[str, str] = {}
    values: dict[str, dict[str, str]] = {}

    @field_validator("columns")
    @classmethod
    def _one_header_for_each_field(cls, value: dict[str, str]) -> dict[str, str]:
        seen: dict[str, str] = {}
        for header, field in value.items():
            if field in seen:
                raise ValueError(
                    f"{field} is filled from two columns, {seen[field]!r} and "
                    f"{header!r}; name one"
                )
            seen[field] = header
        return value


Sources = tuple[SourceSettings, ...]


class Settings(_Section):
    """The whole of ``claimlens.toml``."""

    workspace: WorkspaceSettings = WorkspaceSettings()
    coverage: CoverageSettings = CoverageSettings()
    counting: CountingSettings = CountingSettings()
    rates: RateSettings = RateSettings()
    life: LifeSettings = LifeSettings()
    currency: CurrencySettings = CurrencySettings()
    classify: ClassifySettings = ClassifySettings()
    report: ReportSettings = ReportSettings()
    engine: EngineSettings = EngineSettings()
    source: Sources = ()

    @field_validator("source")
    @classmethod
    def _names_and_fields(cls, value: Sources) -> Sources:
        names: set[str] = set()
        for source in value:
            if source.name in names:
                raise ValueError(f"two sources are called {source.name!r}")
            names.add(source.name)
            _check_fields(source)
        return value


def _check_fields(source: SourceSettings) -> None:
    table = TABLES[source.kind]
    for field in (*source.columns.values(), *source.date_formats, *source.values):
        if field not in table.field_names:
            raise ValueError(
                f"source {source.name!r} names {field!r}, which is no field of "
                f"{source.kind}; its fields are {', '.join(table.field_names)}"
            )
    for name in ("status", "finding"):
        for word, meaning in source.values.get(name, {}).items():
            if meaning not in (allowed := table.field(name).allowed):
                raise ValueError(f"{word!r} means {meaning!r}, not one of {allowed}")


def read_settings(path: Path) -> Settings:
    """Read and check a settings file.

    Parameters
    ----------
    path : Path
        The ``claimlens.toml`` of a workspace.

    Returns
    -------
    Settings
        Validated; missing sections hold their defaults.

    Raises
    ------
    SettingsError
        If the file is no TOML, or a key is unknown, or a value not allowed; the
        message names key, line and what is allowed.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
        data = tomllib.loads(text)
    except FileNotFoundError:
        raise SettingsError(
            f"There is no {SETTINGS_FILE} in {path.parent}.",
            remedy=f"make a workspace with: claimlens init {path.parent}",
        ) from None
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(
            f"The settings are no valid TOML: {error}.",
            source=str(path),
            remedy="mend that line; text stands in double quotes",
        ) from error
    except UnicodeDecodeError as error:
        raise SettingsError(
            "The settings are not written in UTF-8.",
            source=str(path),
            remedy="save the file as UTF-8",
        ) from error
    try:
        return Settings.model_validate(data)
    except ValidationError as error:
        raise _settings_error(path, text, error) from error


def _settings_error(path: Path, text: str, error: ValidationError) -> SettingsError:
    """Turn the first complaint of pydantic into our message."""
    first = error.errors()[0]
    keys = [part for part in first["loc"] if part != "[key]"]
    name = ".".join(str(part) for part in keys)
    message = first["msg"].removeprefix("Value error, ")
    if first["type"] == "extra_forbidden":
        problem = f"{name} is no setting of claimlens."
        remedy = f"known here: {', '.join(_known_keys(keys[:-1]))}"
    elif first["type"] == "missing":
        problem = f"{name} is missing."
        remedy = "add it; `claimlens describe FILE --source-block` writes whole sources"
    else:
        shown = first.get("input")
        given = f" is {shown!r}" if isinstance(shown, str | int | float | bool) else ""
        problem = f"{name or 'the settings'}{given}: {message}."
        remedy = "write a value that is allowed"
        if first["type"] == "literal_error":
            remedy = f"allowed: {', '.join(KINDS) if keys[-1] == 'kind' else message}"
    more = len(error.errors()) - 1
    if more:
        remedy += f" ({more} more such fault{'s' if more > 1 else ''} in the file)"
    return SettingsError(
        problem, source=str(path), line=_line_of(text, keys), remedy=remedy
    )


def _known_keys(keys: list[int | str]) -> list[str]:
    """Return the keys that are allowed below this path."""
    model: type[BaseModel] = Settings
    for key in keys:
        if isinstance(key, int):
            continue
        annotation = model.model_fields[key].annotation
        for candidate in (annotation, *getattr(annotation, "__args__", ())):
            if isinstance(candidate, type) and issubclass(candidate, BaseModel):
                model = candidate
                break
    return list(model.model_fields)


def _line_of(text: str, keys: list[int | str]) -> int | None:
    """Return the line on which the key stands, as far as TOML's shape tells."""
    names = [str(key) for key in keys if not isinstance(key, int)]
    index = next((key for key in keys if isinstance(key, int)), 0)
    if not names:
        return None
    table, seen, found = "", -1, None
    for number, line in enumerate(text.splitlines(), start=1):
        header = re.match(r"\s*\[\[?\s*([^\]]+?)\s*\]\]?", line)
        if header:
            table = header.group(1).replace('"', "")
            if table == names[0] and line.lstrip().startswith("[["):
                seen += 1
        if header and table == ".".join(names) and found is None:
            found = number
        key = re.match(r'\s*"?([^"=]+?)"?\s*=', line)
        if not key or (seen >= 0 and seen != index):
            continue
        if ".".join(filter(None, (table, key.group(1)))) == ".".join(names):
            return number
    return found


def digest(settings: Settings) -> str:
    """Return a SHA-256 of every setting that can move a number."""
    told = settings.model_dump(mode="json", exclude={"engine"})
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()


def starter_text(name: str) -> str:
    """Return the commented settings of a new workspace."""
    safe = json.dumps(name, ensure_ascii=False)
    return f"""\
# Settings of this claimlens workspace. Every line that starts with '#' shows a
# default or an example; take the '#' away to change it.

[workspace]
name = {safe}

[coverage]
months = 24                 # from the in-service date, last day included
# late_report_days = 60     # a failure inside the cover may be reported so much later

# Cover that differs; the most exact term wins.
# [[coverage.terms]]
# model = "MODEL"
# months = 36

[counting]
# Which claims enter the rates beside the covered ones (all are always shown).
# no_fault_found = false
# misuse = false
# transport_damage = false
# goodwill = false
# outside_coverage = false
# same_event_days = 3       # claims of one unit and component this close are one event

[rates]
# at_months = [1, 3, 6, 12, 18, 24]
# mature_units = 30         # units at risk that a trustworthy rate needs

[currency]
# report = "EUR"            # one currency for the reports; needs rates for the others
# [currency.rates."2026-01"]
# CHF = 1.05                # value of one CHF in the report currency in that month

[classify]
# threshold = 0.5           # below this confidence a claim stays unclassified

# One block for each shape of export. `claimlens describe FILE --source-block`
# writes a block; paste it (or append it) below.
"""
