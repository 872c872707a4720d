"""The sections of ``claimlens.toml`` but for the sources; every default."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, field_validator

from claimlens.currencies import CURRENCIES
from claimlens.language import Language

__all__ = [
    "ClassifySettings",
    "CountingSettings",
    "Currency",
    "CurrencySettings",
    "EngineSettings",
    "LifeSettings",
    "MailSettings",
    "Months",
    "PrivacySettings",
    "RateSettings",
    "ReportSettings",
    "Section",
    "ShipmentSettings",
    "SparesSettings",
    "WorkspaceSettings",
]

_ADDRESS_PATTERN = re.compile(r"^[^@\s<>,;\"]+@[^@\s<>,;\"]+$", re.ASCII)
_MONTH_PATTERN = re.compile(r"^\d{4}-(0[1-9]|1[0-2])$")

Months = Annotated[int, Field(ge=0, le=600)]
Age = Annotated[float, Field(gt=0, le=600)]
RoleName = Literal["quality", "service", "purchasing", "management", "records"]
ShortText = Annotated[str, Field(min_length=1, max_length=60)]


def _is_currency(code: str) -> str:
    if code not in CURRENCIES:
        raise ValueError("no currency code of ISO 4217, such as EUR")
    return code


Currency = Annotated[str, AfterValidator(_is_currency)]


def _is_address(text: str) -> str:
    if not _ADDRESS_PATTERN.match(text):
        raise ValueError("no mail address, such as quality@example.com")
    return text


MailAddress = Annotated[str, AfterValidator(_is_address)]


class Section(BaseModel):
    """Frozen, and closed to keys it does not know."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class WorkspaceSettings(Section):
    """Name of the workspace, printed on reports."""

    name: str = "warranty claims"


class CountingSettings(Section):
    """Which claims enter the rates beside the covered, unexcused ones.

    ``recorded_from``: failures before that day were not recorded, so that older
    units are watched from it only.
    """

    no_fault_found: bool = False
    misuse: bool = False
    transport_damage: bool = False
    goodwill: bool = False
    outside_coverage: bool = False
    same_event_days: Annotated[int, Field(ge=0, le=365)] = 3
    predelivery_tolerance_days: Annotated[int, Field(ge=0, le=365)] = 0
    recorded_from: date | None = None


class RateSettings(Section):
    """Ages at which rates are shown, and when a rate is old enough to trust.

    ``mature_completeness``: share of the failures of the last three months of age
    that must have been reported by now. ``lag_claims``: claims that it takes to
    allow for late reports; ``lag_group_claims``: to do so for a region of its own.
    """

    at_months: tuple[Age, ...] = (1, 3, 6, 12, 18, 24)
    confidence: Annotated[float, Field(gt=0, lt=1)] = 0.95
    mature_units: Annotated[int, Field(ge=1)] = 30
    mature_completeness: Annotated[float, Field(ge=0, le=1)] = 0.9
    lag_claims: Annotated[int, Field(ge=1)] = 20
    lag_group_claims: Annotated[int, Field(ge=1)] = 200


class ShipmentSettings(Section):
    """What is known of units that no register names.

    ``sales_lag_months``: mean time from shipment to first use; it wins over what
    claims or other models tell.
    """

    sales_lag_months: Annotated[float, Field(ge=0, le=60)] | None = None


class LifeSettings(Section):
    """What a life fit needs."""

    min_failures: Annotated[int, Field(ge=3)] = 5
    quantile_failures: Annotated[int, Field(ge=5)] = 10
    bootstrap: Annotated[int, Field(ge=19, le=9999)] = 199
    seed: Annotated[int, Field(ge=0)] = 20240607


class SparesSettings(Section):
    """How many spare parts to hold.

    ``service_level``: chance that what is held lasts until the next delivery.
    ``review_months``: time from one order to the next. ``lead_time_days``: of a part
    whose lead time nobody tells. ``service_years``: how long parts are to be had after
    the last cover has ended (``service_from`` is ``coverage``) or after the last unit
    came into service (``last_sale``). ``after_cover_share``: claims per unit then,
    against those under cover. ``returned_to_stock``: whether parts of claims found
    without fault go back to stock.
    """

    service_level: Annotated[float, Field(ge=0.5, le=0.999)] = 0.95
    review_months: Annotated[float, Field(ge=0, le=24)] = 1.0
    lead_time_days: Annotated[int, Field(ge=0, le=730)] = 60
    service_years: Annotated[float, Field(ge=0, le=30)] = 0.0
    service_from: Literal["coverage", "last_sale"] = "coverage"
    after_cover_share: Annotated[float, Field(ge=0, le=1)] = 1.0
    returned_to_stock: bool = False


class CurrencySettings(Section):
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


class ClassifySettings(Section):
    """Below ``threshold`` a claim stays unclassified.

    ``languages``: those that texts are read in, the first settles doubts; all
    by default. ``terms``: a file of the maker's own words. ``replace_terms``:
    languages in which only that file counts. ``label_map``: a file with the new
    names of what an earlier taxonomy called otherwise.
    """

    threshold: Annotated[float, Field(ge=0, le=1)] = 0.65
    languages: tuple[str, ...] = ()
    terms: str | None = None
    replace_terms: tuple[str, ...] = ()
    components: str | None = None
    failure_modes: str | None = None
    label_map: str | None = None


class ReportSettings(Section):
    """From where on a figure of the report asks for a decision.

    ``answer_days``: days that a supplier has for an answer.
    ``roles``: what those who act are called; a name left out keeps its own.
    ``return_days``: so long after closing a claim its part is waited for.
    ``off_road_column``: the column of the claims, kept as it came, that says
    whether the vehicle is off the road.
    ``language``: that of the pages, "en", "de" or "fr".
    ``keep``: reports that `run` leaves in the out tray, by cut-off; 0 keeps all.
    """

    unclassified_share: Annotated[float, Field(ge=0, le=1)] = 0.05
    open_days: Annotated[int, Field(ge=0, le=3650)] = 30
    table_at_months: tuple[Age, ...] = (3, 6, 12, 24)
    rate_at_months: Age = 12
    build_rate_at_months: Age = 6
    answer_days: Annotated[int, Field(ge=1, le=365)] = 14
    return_days: Annotated[int, Field(ge=1, le=364)] = 90
    off_road_column: str | None = None
    roles: dict[RoleName, ShortText] = Field(default_factory=dict)
    language: Language = "en"
    keep: Annotated[int, Field(ge=0, le=1000)] = 24


class PrivacySettings(Section):
    """How long what people wrote is kept.

    ``keep_months``: claims reported longer ago lose their texts and numbers with the
    next run; without it they are kept.
    """

    keep_months: Annotated[int, Field(ge=1, le=600)] | None = None


class MailSettings(Section):
    """To whom the summary of a run is addressed; nothing is ever sent.

    ``attach``: whether the page goes with it.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)

    sender: MailAddress | None = Field(default=None, alias="from")
    to: tuple[MailAddress, ...] = ()
    attach: bool = False


class EngineSettings(Section):
    """Limits of the database engine; empty means its own defaults."""

    memory_limit: Annotated[str, Field(pattern=r"^\d+(\.\d+)? ?[KMGT]i?B$")] | None = (
        None
    )
    threads: Annotated[int, Field(ge=1, le=256)] | None = None
