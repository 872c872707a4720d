"""Reading ``claimlens.toml``: the whole of it, and what to say when it is wrong."""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from pathlib import Path

from pydantic import BaseModel, ValidationError, field_validator

from claimlens.errors import SettingsError
from claimlens.settings.agreements import AgreementSettings, RedactionSettings
from claimlens.settings.coverage import CoverageSettings
from claimlens.settings.limits import LimitSettings
from claimlens.settings.sections import (
    ClassifySettings,
    CountingSettings,
    CurrencySettings,
    EngineSettings,
    LifeSettings,
    MailSettings,
    PrivacySettings,
    RateSettings,
    ReportSettings,
    Section,
    ShipmentSettings,
    SparesSettings,
    WorkspaceSettings,
)
from claimlens.settings.sources import SourceSettings, check_fields
from claimlens.tables import KINDS

__all__ = ["SETTINGS_FILE", "Settings", "digest", "read_settings"]

SETTINGS_FILE = "claimlens.toml"

Sources = tuple[SourceSettings, ...]


class Settings(Section):
    """The whole of ``claimlens.toml``."""

    workspace: WorkspaceSettings = WorkspaceSettings()
    coverage: CoverageSettings = CoverageSettings()
    counting: CountingSettings = CountingSettings()
    rates: RateSettings = RateSettings()
    shipments: ShipmentSettings = ShipmentSettings()
    life: LifeSettings = LifeSettings()
    spares: SparesSettings = SparesSettings()
    currency: CurrencySettings = CurrencySettings()
    classify: ClassifySettings = ClassifySettings()
    report: ReportSettings = ReportSettings()
    redaction: RedactionSettings = RedactionSettings()
    privacy: PrivacySettings = PrivacySettings()
    agreement: tuple[AgreementSettings, ...] = ()
    mail: MailSettings = MailSettings()
    limits: LimitSettings = LimitSettings()
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
            check_fields(source)
        return value


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
        remedy = "add it"
        if keys[0] == "source":
            remedy += "; `claimlens describe FILE --source-block` writes whole sources"
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
    return [field.alias or name for name, field in model.model_fields.items()]


def _line_of(text: str, keys: list[int | str]) -> int | None:
    """Return the line on which the key stands, as far as TOML's shape tells."""
    names = [str(key) for key in keys if not isinstance(key, int)]
    place = next((n for n, key in enumerate(keys) if isinstance(key, int)), None)
    index = 0 if place is None else keys[place]
    array = ".".join(str(key) for key in keys[:place])
    if not names:
        return None
    table, seen, found = "", -1, None
    for number, line in enumerate(text.splitlines(), start=1):
        header = re.match(r"\s*\[\[?\s*([^\]]+?)\s*\]\]?", line)
        if header:
            table = header.group(1).replace('"', "")
            if table == array and line.lstrip().startswith("[["):
                seen += 1
        is_there = seen < 0 or seen == index
        if header and table == ".".join(names) and is_there and found is None:
            found = number
        key = re.match(r'\s*"?([^"=]+?)"?\s*=', line)
        if not key or not is_there:
            continue
        if ".".join(filter(None, (table, key.group(1)))) == ".".join(names):
            return number
    return found


def digest(settings: Settings) -> str:
    """Return a SHA-256 of every setting that can move a number."""
    told = settings.model_dump(
        mode="json",
        exclude={
            "engine": True,
            "limits": True,
            "mail": True,
            "privacy": True,
            "report": {"keep", "language", "roles"},
        },
    )
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()
