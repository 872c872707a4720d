"""The settings on cover as the tables that the counting queries read, and in words."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

import pandas as pd

from claimlens.analysis.component_names import known_components, nearest_component
from claimlens.classify.taxonomy import Taxonomy
from claimlens.db import Session
from claimlens.errors import SettingsError
from claimlens.settings import CoverageSettings, Settings
from claimlens.settings.coverage import KM_PER_MILE, CoverageExtension

__all__ = ["cover_words", "put_cover"]

_FIRST_DAY, _LAST_DAY = date.min, date(9999, 12, 31)

# how exports write units of distance; common practice, no source
_KM_WORDS = (
    "km kms kilometer kilometers kilometre kilometres kilomètre kilomètres kilómetro "
    "kilómetros kilometro kilometros chilometri chilometro quilómetros quilometros"
)
_MILE_WORDS = "mi mile miles mls mille milles meile meilen mijl mijlen milla millas"

_RESTARTS = {
    "none": "no cover of its own for a replaced part",
    "part": "a replaced part has its own cover",
    "repair": "every repair starts the component's cover anew",
}


def put_cover(session: Session, settings: Settings, taxonomy: Taxonomy) -> None:
    """Hand over the terms of cover; the more exact a term, the higher it counts.

    Parameters
    ----------
    session : Session
        On the warehouse.
    settings : Settings
        Terms and extensions.
    taxonomy : Taxonomy
        The components that a term may name.

    Raises
    ------
    SettingsError
        If a term or an extension names a component that there is not.
    """
    cover = settings.coverage
    named = [("terms", term.component) for term in cover.terms]
    named += [("extensions", rule.component) for rule in cover.extensions]
    for table, component in named:
        if component is not None and component not in known_components(taxonomy):
            raise SettingsError(
                f"coverage.{table} is for {component!r}, which is no component.",
                source="claimlens.toml",
                remedy=nearest_component(component, taxonomy),
            )
    session.put("cover_terms", _terms(cover))
    session.put(
        "cover_classes",
        pd.DataFrame({"cover_class": sorted(cover.own_cover)}, dtype="str"),
    )
    calendar = [rule for rule in cover.extensions if not rule.follows_repairs]
    session.put("calendar_extensions", _rules(calendar))
    session.put(
        "repair_extensions",
        _rules(rule for rule in cover.extensions if rule.follows_repairs),
    )
    session.put("cover_periods", _periods(calendar))
    session.put("distance_units", _distance_units(cover))


def _terms(cover: CoverageSettings) -> pd.DataFrame:
    """Return the terms as a table, the default first."""
    default: dict[str, object] = {
        "months": cover.months,
        "distance_km": _kilometres(cover, cover.distance),
        "restart": cover.restart,
        "restart_months": cover.restart_months,
        "exactness": -1,
    }
    rows: list[dict[str, object]] = [default]
    for number, term in enumerate(cover.terms):
        exactness = (
            8 * (term.component is not None)
            + 4 * (term.model is not None)
            + 2 * (term.model_year is not None)
            + (term.region is not None)
        )
        rows.append(
            {
                "component": term.component,
                "model": term.model,
                "model_year": term.model_year,
                "region": term.region,
                "months": term.months,
                "distance_km": _kilometres(cover, term.distance),
                "restart": term.restart,
                "restart_months": term.restart_months,
                "exactness": exactness * 1000 + number,
            }
        )
    types = {
        **dict.fromkeys(("component", "model", "region", "restart"), "str"),
        **dict.fromkeys(("model_year", "months", "restart_months"), "Int32"),
        "distance_km": "Float64",
        "exactness": "int64",
    }
    return pd.DataFrame(rows, columns=list(types)).astype(types)


def _kilometres(cover: CoverageSettings, distance: float | str | None) -> float | None:
    """Return a limit in kilometres; -1 for none, None where nothing is said."""
    if distance is None or isinstance(distance, str):
        return None if distance is None else -1.0
    return distance * cover.km_per_unit


def _rules(rules: Iterable[CoverageExtension]) -> pd.DataFrame:
    """Return extensions as a table."""
    types = {
        **dict.fromkeys(("component", "model", "region"), "str"),
        **dict.fromkeys(("model_year", "at_least_months", "more_months"), "Int32"),
        "after_repair_months": "Int32",
        "from_date": "datetime64[us]",
        "to_date": "datetime64[us]",
        "whole_unit": "bool",
    }
    rows = [
        {
            "component": rule.component,
            "model": rule.model,
            "region": rule.region,
            "model_year": rule.model_year,
            "at_least_months": rule.at_least_months,
            "more_months": rule.more_months,
            "after_repair_months": rule.after_repair_months,
            "from_date": rule.in_service_from or _FIRST_DAY,
            "to_date": rule.in_service_to or _LAST_DAY,
            "whole_unit": rule.whole_unit,
        }
        for rule in rules
    ]
    return pd.DataFrame(rows, columns=list(types)).astype(types)


def _periods(rules: Iterable[CoverageExtension]) -> pd.DataFrame:
    """Return the stretches of in-service dates within which no rule begins or ends."""
    starts = {_FIRST_DAY}
    for rule in rules:
        if rule.in_service_from is not None:
            starts.add(rule.in_service_from)
        if rule.in_service_to is not None and rule.in_service_to < _LAST_DAY:
            starts.add(rule.in_service_to + timedelta(days=1))
    ordered = sorted(starts)
    ends = [day - timedelta(days=1) for day in ordered[1:]] + [_LAST_DAY]
    return pd.DataFrame({"from_date": ordered, "to_date": ends}).astype(
        "datetime64[us]"
    )


def _distance_units(cover: CoverageSettings) -> pd.DataFrame:
    """Return the words for units of distance; '' is a reading without its unit."""
    rows = [("", cover.km_per_unit)]
    rows += [(word, 1.0) for word in _KM_WORDS.split()]
    rows += [(word, KM_PER_MILE) for word in _MILE_WORDS.split()]
    return pd.DataFrame(rows, columns=["word", "km"])


def cover_words(cover: CoverageSettings) -> str:
    """Return the cover in words, for the definitions of a report.

    Parameters
    ----------
    cover : CoverageSettings
        Terms and extensions.

    Returns
    -------
    str
        Such as "24 months from the in-service date, last day included".
    """
    unit = cover.distance_unit
    words = f"{cover.months} months from the in-service date, last day included"
    if cover.distance != "none":
        words += f", or {cover.distance:,.0f} {unit}, whichever comes first"
    for term in cover.terms:
        said = []
        if term.months is not None:
            said.append(f"{term.months} months")
        if isinstance(term.distance, float):
            said.append(f"{term.distance:,.0f} {unit}")
        elif term.distance is not None:
            said.append("no limit by distance")
        if term.restart is not None:
            said.append(_RESTARTS[term.restart])
        words += f"; {term.whose}: {', '.join(said)}"
    if cover.restart != "none":
        words += f"; {_RESTARTS[cover.restart]}"
    for rule in cover.extensions:
        words += f"; {rule.name or rule.whose}: {_effect(rule)}"
    return words


def _effect(rule: CoverageExtension) -> str:
    """Return what an extension does, in words."""
    whose = " of the whole unit" if rule.whole_unit else ""
    if rule.at_least_months is not None:
        effect = f"at least {rule.at_least_months} months"
    elif rule.more_months is not None:
        effect = f"{rule.more_months} months longer"
    elif rule.after_repair_months is not None:
        effect = f"cover{whose} at least {rule.after_repair_months} months from repair"
    else:
        effect = f"cover{whose} longer by the days in repair"
    if rule.in_service_from is not None:
        effect += f", in service from {rule.in_service_from}"
    if rule.in_service_to is not None:
        effect += f", in service to {rule.in_service_to}"
    return effect
