"""``claimlens.toml`` as typed, validated settings; every default lives here."""

from __future__ import annotations

from claimlens.settings.agreements import AgreementSettings, RedactionSettings
from claimlens.settings.coverage import CoverageSettings
from claimlens.settings.limits import LimitSettings
from claimlens.settings.reading import SETTINGS_FILE, Settings, digest, read_settings
from claimlens.settings.sections import CurrencySettings
from claimlens.settings.sources import SourceSettings
from claimlens.settings.starter import starter_text

__all__ = [
    "SETTINGS_FILE",
    "AgreementSettings",
    "CoverageSettings",
    "CurrencySettings",
    "LimitSettings",
    "RedactionSettings",
    "Settings",
    "SourceSettings",
    "digest",
    "read_settings",
    "starter_text",
]
