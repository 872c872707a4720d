"""The section ``[coverage]``: how long and how far a unit is covered."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from claimlens.settings.sections import Months, Section

__all__ = [
    "KM_PER_MILE",
    "CoverageExtension",
    "CoverageSettings",
    "CoverageTerm",
    "UsageRate",
]

KM_PER_MILE = 1.609344
"""International yard and pound agreement, 1959; exact."""

LongerMonths = Annotated[int, Field(ge=1, le=600)]


def _is_distance(value: object) -> object:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if value != "none" and not (is_number and 0 < float(str(value)) <= 10_000_000):
        raise ValueError('write a distance above 0, or "none"')
    return float(str(value)) if is_number else value


Distance = Annotated[float | Literal["none"], BeforeValidator(_is_distance)]
Restart = Literal["none", "part", "repair"]


class _Place(Section):
    """Whose cover is meant; a name that is left out means every one."""

    model: str | None = None
    model_year: Annotated[int, Field(ge=1900, le=2200)] | None = None
    component: str | None = None
    region: str | None = None

    @property
    def whose(self) -> str:
        """Return whose cover it is, in words."""
        year = None if self.model_year is None else str(self.model_year)
        named = (self.model, year, self.component, self.region)
        return ", ".join(filter(None, named)) or "every unit"


class CoverageTerm(_Place):
    """Cover that differs for a model, model year, component or region.

    For each of months, distance and restart the most exact term that states it
    holds: component before model, model before model year, model year before
    region; of equals the later one.
    """

    months: Months | None = None
    distance: Distance | None = None
    restart: Restart | None = None
    restart_months: LongerMonths | None = None

    @model_validator(mode="after")
    def _says_something(self) -> CoverageTerm:
        if self.months is None and self.distance is None and self.restart is None:
            raise ValueError("a term states months, distance or restart")
        _check_restart(self.restart, self.restart_months)
        return self


class CoverageExtension(_Place):
    """A rule, such as one of law, that prolongs a cover; it states one effect.

    ``at_least_months``: the cover lasts at least so long from the in-service date.
    ``more_months``: it lasts so much longer. ``after_repair_months``: after a
    repair under cover it lasts at least so long from the end of the repair.
    ``add_repair_days``: it lasts longer by the days of every repair under cover.
    The last two hold for the repaired component, or with ``whole_unit`` for every
    component of the unit. Of units in service from ``in_service_from`` through
    ``in_service_to``.
    """

    name: str = ""
    in_service_from: date | None = None
    in_service_to: date | None = None
    at_least_months: LongerMonths | None = None
    more_months: LongerMonths | None = None
    after_repair_months: LongerMonths | None = None
    add_repair_days: bool = False
    whole_unit: bool = False

    @model_validator(mode="after")
    def _one_effect(self) -> CoverageExtension:
        effects = [
            self.at_least_months is not None,
            self.more_months is not None,
            self.after_repair_months is not None,
            self.add_repair_days,
        ]
        if sum(effects) != 1:
            raise ValueError(
                "an extension states exactly one of at_least_months, more_months, "
                "after_repair_months and add_repair_days"
            )
        if self.whole_unit and not self.follows_repairs:
            raise ValueError(
                "whole_unit goes with after_repair_months or add_repair_days"
            )
        first, last = self.in_service_from, self.in_service_to
        if first is not None and last is not None and first > last:
            raise ValueError("in_service_from must not be later than in_service_to")
        return self

    @property
    def follows_repairs(self) -> bool:
        """Return whether repairs prolong the cover, not the calendar alone."""
        return self.after_repair_months is not None or self.add_repair_days


class UsageRate(Section):
    """How far units go, known from elsewhere than the claims' readings.

    ``per_year``: the median distance a year. ``spread``: standard deviation of
    the logarithm of the distance a year between units.
    """

    model: str | None = None
    per_year: Annotated[float, Field(gt=0, le=365_000)]
    spread: Annotated[float, Field(gt=0, le=3)]


class CoverageSettings(Section):
    """How long and how far a unit is covered, from its in-service date.

    ``late_report_days``: a failure inside the cover still counts when it is
    reported up to so many days after the end of cover. ``distance`` and the usage
    rates are in ``distance_unit``, which is also that of readings without one.
    ``usage_readings``: readings that a usage rate needs.
    """

    months: Months = 24
    late_report_days: Annotated[int, Field(ge=0, le=3650)] = 60
    distance: Distance = "none"
    distance_unit: Literal["km", "mi"] = "km"
    restart: Restart = "none"
    restart_months: LongerMonths | None = None
    terms: tuple[CoverageTerm, ...] = ()
    extensions: tuple[CoverageExtension, ...] = ()
    usage: tuple[UsageRate, ...] = ()
    usage_readings: Annotated[int, Field(ge=10)] = 30

    @model_validator(mode="after")
    def _fits_together(self) -> CoverageSettings:
        _check_restart(self.restart, self.restart_months)
        named = [rate.model for rate in self.usage]
        for model in named:
            if named.count(model) > 1:
                raise ValueError(f"two usage rates are for {model or 'every model'}")
        return self

    @property
    def own_cover(self) -> frozenset[str]:
        """Return the components whose cover may differ from that of the unit."""
        terms = {term.component for term in self.terms}
        lasting = {
            rule.component for rule in self.extensions if not rule.follows_repairs
        }
        return frozenset(name for name in terms | lasting if name is not None)

    @property
    def km_per_unit(self) -> float:
        """Return kilometres in one ``distance_unit``."""
        return KM_PER_MILE if self.distance_unit == "mi" else 1.0


def _check_restart(restart: Restart | None, months: int | None) -> None:
    if months is not None and restart not in ("part", "repair"):
        raise ValueError('restart_months goes with restart = "part" or "repair"')
