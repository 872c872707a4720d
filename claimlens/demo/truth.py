"""The written truth behind the demo, read from ``demo_data/truth.toml``."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from claimlens.errors import InputError, SettingsError
from claimlens.resources import find

__all__ = [
    "ChangeTruth",
    "ComponentTruth",
    "ExtraTruth",
    "ModelEffectTruth",
    "ModelTruth",
    "RegionTruth",
    "SupplierTruth",
    "Truth",
    "WindowTruth",
    "load_truth",
]

DAYS_PER_MONTH = 30.4375


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelTruth:
    """An invented model, its share of production and its years."""

    name: str
    code: str
    family: str
    share: float
    years: tuple[int, int]
    coverage_months: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionTruth:
    """A country: share of units, language, currency, wages and dealers."""

    code: str
    share: float
    language: str
    currency: str
    in_euro: float
    labour_per_hour: float
    dealers: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ComponentTruth:
    """A component's Weibull law in time in service, and its texts and parts.

    Parameters
    ----------
    name : str
        Component of the default taxonomy.
    shape : float
        Weibull shape (beta of IEC 61649), dimensionless.
    scale_months : float
        Weibull scale (eta), in months of 30.4375 days.
    no_fault_share : float
        No-fault-found claims among all claims of the component, 0 to 1.
    repeat_share : float
        Share of repairs after which the same fault comes back.
    modes : mapping of str to float
        Failure modes with their weights.
    models : tuple of str
        Models that carry it; empty for all.
    """

    name: str
    shape: float
    scale_months: float
    no_fault_share: float
    repeat_share: float
    labour_minutes: float
    part_cost: float
    part_group: int
    part_description: str
    part_per_model: bool
    supplier: str
    modes: Mapping[str, float]
    models: tuple[str, ...] = ()

    @property
    def scale_days(self) -> float:
        """Return the scale in days."""
        return self.scale_months * DAYS_PER_MONTH

    def share_failed(self, months: float) -> float:
        """Return the share of units failed by that many months in service."""
        return 1.0 - math.exp(-((months / self.scale_months) ** self.shape))


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowTruth:
    """A bad production window: hazard times ``ratio`` for builds inside."""

    component: str
    from_date: date
    to_date: date
    ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeTruth:
    """An engineering change: hazard times ``ratio`` for builds from its date."""

    change_no: str
    component: str
    description: str
    effective_build_date: date
    ratio: float
    retrofits: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplierTruth:
    """Suppliers of one component, with shares of units and hazard ratios."""

    component: str
    suppliers: tuple[str, ...]
    shares: tuple[float, ...]
    ratios: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelEffectTruth:
    """A component that fails more often on one model."""

    component: str
    model: str
    ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraTruth:
    """Shares of the claims that are no counted failure."""

    after_coverage_reported: float
    goodwill_share: float
    denied: float
    cancelled: float
    misuse: float
    transport: float
    before_delivery: float
    unknown_serial: float
    part_named: float
    inspected: float
    no_fault_inspected: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """Everything the demo world is drawn from.

    Dates are calendar dates, shares lie between 0 and 1, durations carry
    their unit in the name. ``agreements`` are blocks of ``claimlens.toml``,
    ``responses`` rows of the list of what suppliers answered.
    """

    maker: str
    units: int
    currency: str
    first_model_year: int
    model_years: int
    growth: tuple[float, ...]
    data_end: date
    cut_off: date
    coverage_months: int
    grace_days: int
    sales_lag_months: float
    undated_share: float
    retired_per_year: float
    reporting: tuple[float, ...]
    failure_date_missing: float
    decision_days: float
    repair_days: float
    repeat_days: float
    extra: ExtraTruth
    models: tuple[ModelTruth, ...]
    regions: tuple[RegionTruth, ...]
    components: tuple[ComponentTruth, ...]
    windows: tuple[WindowTruth, ...]
    changes: tuple[ChangeTruth, ...]
    suppliers: tuple[SupplierTruth, ...]
    model_effects: tuple[ModelEffectTruth, ...]
    agreements: tuple[Mapping[str, Any], ...] = ()
    responses: tuple[Mapping[str, Any], ...] = ()

    def component(self, name: str) -> ComponentTruth:
        """Return the component of that name; ``KeyError`` if there is none."""
        for component in self.components:
            if component.name == name:
                return component
        raise KeyError(name)

    @property
    def planted_components(self) -> tuple[str, ...]:
        """Return the components whose hazard some planted effect changes."""
        planted = {window.component for window in self.windows}
        planted |= {change.component for change in self.changes if change.ratio != 1}
        planted |= {supplier.component for supplier in self.suppliers}
        planted |= {effect.component for effect in self.model_effects}
        return tuple(c.name for c in self.components if c.name in planted)

    @property
    def plain_components(self) -> tuple[str, ...]:
        """Return the components that follow one Weibull law in all models."""
        planted = set(self.planted_components)
        return tuple(
            c.name for c in self.components if c.name not in planted and not c.models
        )


def load_truth(path: Path | None = None) -> Truth:
    """Read the written truth.

    Parameters
    ----------
    path : Path, optional
        The file; by default the truth shipped with claimlens.

    Returns
    -------
    Truth
        Checked: shares in range, every planted component exists.

    Raises
    ------
    SettingsError
        If the file is missing, is not TOML, lacks a value or contradicts
        itself.
    """
    place = path if path is not None else find("demo_data/truth.toml")
    try:
        document = tomllib.loads(place.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingsError(
            f"The demo's truth cannot be read: {error}.",
            source=place.name,
            remedy="name a readable TOML file, or leave the path out",
        ) from error
    try:
        truth = _truth(document)
        _check(truth)
    except (KeyError, TypeError, ValueError) as error:
        raise SettingsError(
            f"The demo's truth is not complete: {error}.",
            source=place.name,
            remedy="compare it with the file shipped in demo_data",
        ) from error
    return truth


def shrink(truth: Truth, units: int | None) -> Truth:
    """Return the same truth for another number of units.

    Raises
    ------
    InputError
        If ``units`` is below 1.
    """
    if units is None:
        return truth
    if units < 1:
        raise InputError(f"units must be at least 1; got {units}.")
    return replace(truth, units=units)


def _truth(document: Mapping[str, Any]) -> Truth:
    maker, sales = document["maker"], document["sales"]
    coverage, reporting = document["coverage"], document["reporting"]
    planted = document["planted"]
    return Truth(
        maker=maker["name"],
        units=maker["units"],
        currency=maker["currency"],
        first_model_year=maker["first_model_year"],
        model_years=maker["model_years"],
        growth=tuple(maker["growth"]),
        data_end=maker["data_end"],
        cut_off=maker["cut_off"],
        coverage_months=coverage["months"],
        grace_days=coverage["grace_days"],
        sales_lag_months=sales["lag_months"],
        undated_share=sales["undated_share"],
        retired_per_year=sales["retired_per_year"],
        reporting=tuple(reporting["cumulative"]),
        failure_date_missing=reporting["failure_date_missing"],
        decision_days=reporting["decision_days"],
        repair_days=reporting["repair_days"],
        repeat_days=document["repairs"]["repeat_days"],
        extra=ExtraTruth(**document["extra"]),
        models=tuple(_model(m, coverage["months"]) for m in document["models"]),
        regions=tuple(RegionTruth(**region) for region in document["regions"]),
        components=tuple(_component(c) for c in document["components"]),
        windows=tuple(_window(w) for w in planted.get("windows", [])),
        changes=tuple(ChangeTruth(**c) for c in planted.get("changes", [])),
        suppliers=tuple(_supplier(s) for s in planted.get("suppliers", [])),
        model_effects=tuple(
            ModelEffectTruth(**effect) for effect in planted.get("model_effects", [])
        ),
        agreements=tuple(document.get("agreements", [])),
        responses=tuple(document.get("responses", [])),
    )


def _model(item: Mapping[str, Any], months: int) -> ModelTruth:
    first, last = item["years"]
    values = {"coverage_months": months, **item, "years": (first, last)}
    return ModelTruth(**values)


def _component(item: Mapping[str, Any]) -> ComponentTruth:
    return ComponentTruth(**{**item, "models": tuple(item.get("models", ()))})


def _window(item: Mapping[str, Any]) -> WindowTruth:
    return WindowTruth(
        component=item["component"],
        from_date=item["from"],
        to_date=item["to"],
        ratio=item["ratio"],
    )


def _supplier(item: Mapping[str, Any]) -> SupplierTruth:
    return SupplierTruth(
        component=item["component"],
        suppliers=tuple(item["suppliers"]),
        shares=tuple(item["shares"]),
        ratios=tuple(item["ratios"]),
    )


def _check(truth: Truth) -> None:
    """Raise ``ValueError`` where the truth contradicts itself."""
    names = {component.name for component in truth.components}
    models = {model.name for model in truth.models}
    planted = {
        *(window.component for window in truth.windows),
        *(change.component for change in truth.changes),
        *(supplier.component for supplier in truth.suppliers),
        *(effect.component for effect in truth.model_effects),
    }
    if planted - names:
        raise ValueError(f"planted on unknown components {sorted(planted - names)}")
    for component in truth.components:
        if component.shape <= 0 or component.scale_months <= 0:
            raise ValueError(f"shape and scale of {component.name} must be above 0")
        if not 0 <= component.no_fault_share < 1:
            raise ValueError(f"no_fault_share of {component.name} must be in [0, 1)")
        if set(component.models) - models:
            raise ValueError(f"{component.name} is on an unknown model")
    if len(truth.growth) != truth.model_years:
        raise ValueError("growth needs one value a model year")
    if list(truth.reporting) != sorted(truth.reporting) or truth.reporting[-1] != 1:
        raise ValueError("reporting must rise to 1")
