"""Everything that the dossier of one component shows, counted and estimated."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from claimlens.analysis.component_money import Paid, paid_so_far, still_to_pay
from claimlens.analysis.component_texts import examples_of
from claimlens.analysis.component_told import Told, dangers_of, told_of
from claimlens.analysis.count_tables import DAYS_PER_MONTH
from claimlens.analysis.counts import count_failures
from claimlens.analysis.figures import figures, no_figures
from claimlens.analysis.monthly_rising import rising_of
from claimlens.analysis.monthly_to_come import Past, to_come_inputs
from claimlens.analysis.rates import RATE_COLUMNS, rates
from claimlens.analysis.repeat_units import repeat_units
from claimlens.analysis.repeats import REPEAT_COLUMNS, repeats
from claimlens.analysis.report_meta import read_batches, report_meta
from claimlens.analysis.scope import Scope
from claimlens.analysis.tally import tally
from claimlens.analysis.windows import LEVEL, unit_list
from claimlens.classify.taxonomy import NO_FAULT
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.monthly_inputs import UNCLASSIFIED, Rising
from claimlens.report_inputs.component import ComponentInputs, Place
from claimlens.settings import Settings
from claimlens.stats.intervals import poisson_exact

__all__ = ["Fleet", "component_inputs", "fleet_of"]

#: Ages at which repairs and cost per unit are told.
_REPEAT_AGES = (12.0, 24.0)
#: Events of the component from which on a unit is listed.
_CAME_BACK = 2
_RISK_COLUMNS = (
    "serial", "model", "model_year", "build_date", "build_lot", "in_service_date",
    "state", "cover_days_left", "window",
)  # fmt: skip
_BY_UNIT = 1_000.0


@dataclass(frozen=True, kw_only=True)
class Fleet:
    """What only a look at all components tells of one.

    Parameters
    ----------
    place : Place
        Among all components.
    rising : Rising
        Its signals, windows and changes.
    at_risk : DataFrame
        Units of its windows that have not failed yet.
    told : Told
        Symptoms and causes.
    """

    place: Place
    rising: Rising
    at_risk: pd.DataFrame
    told: Told


def fleet_of(
    session: Session, settings: Settings, scope: Scope, component: str
) -> Fleet:
    """Set a component against all others.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare`` for all components.
    settings : Settings
        The workspace's.
    scope : Scope
        Cut-off in force, without a filter.
    component : str
        Its name in the taxonomy.

    Returns
    -------
    Fleet
    """
    place = _place(session, settings, scope, component)
    told = told_of(session, settings, scope, component)
    rising = rising_of(session, settings, scope, component)
    return Fleet(
        place=place,
        told=told,
        rising=rising,
        at_risk=_at_risk(session, settings, scope, component, rising.windows),
    )


def component_inputs(
    session: Session,
    settings: Settings,
    scope: Scope,
    fleet: Fleet,
    *,
    terms: Terms,
    version: str,
    internal: bool = False,
) -> ComponentInputs:
    """Gather the inputs of the dossier of one component.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare`` for that component.
    settings : Settings
        The workspace's.
    scope : Scope
        Cut-off in force; its filter is the component.
    fleet : Fleet
        From `fleet_of` at the same cut-off.
    terms : Terms
        Tell the language of a text.
    version : str
        Version of claimlens, for the foot of the page.
    internal : bool, default False
        Whether the page stays inside the company.

    Returns
    -------
    ComponentInputs
        Frames and scalars, the same for the same warehouse and settings.
    """
    [component] = scope.wanted["component"]
    has_units = bool(session.count("int_units"))
    numbers = figures(session, settings, scope) if has_units else no_figures()
    costs = session.frame("marts/component_costs")
    own = costs[costs["component"] == component]
    ages = settings.rates.at_months
    at = [settings.report.rate_at_months]
    paid = paid_so_far(session, settings, scope, own, component)
    suppliers, no_suppliers = _by_supplier(session, settings, scope, at)
    inputs = {
        "claims_by_month": _by_month(own, scope),
        "classes": tally(session, scope, by=("claim_class",)),
        "modes": tally(session, scope, by=("failure_mode",)),
        "rates": _rates(session, settings, scope, (), ages),
        "by_year": _rates(session, settings, scope, ("model_year",), at),
        "by_model": _rates(session, settings, scope, ("model",), at),
        "ages": _by_age(session, settings, scope) if has_units else _no_ages(),
        "repeats": repeats(session, settings, scope, by=("component",), at=_REPEAT_AGES)
        if has_units
        else pd.DataFrame(columns=["component", *REPEAT_COLUMNS]),
        "repeat_units": repeat_units(session, settings, scope, least=_CAME_BACK),
    }
    batches = read_batches(session, scope)
    # last: they make the tables of units anew, to the end of the forecast
    to_come = to_come_inputs(session, settings, scope, Past(made=(), not_made=""))
    reserve, no_reserve = still_to_pay(session, settings, scope)
    return ComponentInputs(
        meta=report_meta(settings, scope, batches, terms=terms, version=version),
        component=component,
        internal=internal,
        place=fleet.place,
        causes=fleet.told.causes,
        symptoms=fleet.told.symptoms,
        cause_claims=fleet.told.claims,
        unread=fleet.told.unread,
        by_supplier=suppliers,
        no_suppliers=no_suppliers,
        build_months=numbers.by_build_month,
        curves=numbers.curves,
        life=numbers.lives,
        life_points=numbers.points,
        life_line=numbers.line,
        rising=fleet.rising,
        at_risk=fleet.at_risk,
        **_money(paid),
        no_cost=paid.why_not,
        to_come=to_come,
        reserve=reserve,
        no_reserve=no_reserve,
        dangers=dangers_of(session, scope, component),
        examples=examples_of(session, component, terms),
        **inputs,
    )


def _money(paid: Paid) -> dict[str, pd.DataFrame]:
    return {
        "costs": paid.by_month,
        "cost_parts": paid.parts,
        "severity": paid.per_claim,
    }


def _place(session: Session, settings: Settings, scope: Scope, component: str) -> Place:
    """Rank the component by claims and by rate among all of them."""
    costs = session.frame("marts/component_costs")
    sums = costs.groupby("component")[["n_claims", "n_counted"]].sum()
    named = sums.drop([UNCLASSIFIED, NO_FAULT], errors="ignore")
    ranks = named["n_claims"].rank(method="min", ascending=False)
    at, by_rate, rated, median = _rank_by_rate(session, settings, scope, component)
    return Place(
        claims=int(sums["n_claims"].get(component, 0)),
        all_claims=int(sums["n_claims"].sum()),
        counted=int(sums["n_counted"].get(component, 0)),
        by_claims=int(ranks[component]) if component in ranks.index else None,
        by_rate=by_rate,
        components=len(named),
        rated=rated,
        at_months=at,
        median_rate=median,
    )


def _rank_by_rate(
    session: Session, settings: Settings, scope: Scope, component: str
) -> tuple[float | None, int | None, int, float | None]:
    """Return the age, the place at it, how many have one, and the middle rate."""
    if not session.count("int_units"):
        return None, None, 0, None
    usual = float(settings.report.rate_at_months)
    ages = sorted({usual, *map(float, settings.rates.at_months)})
    table = rates(session, settings, scope, by=("component",), at=ages)
    table = table[~table["component"].isin([UNCLASSIFIED, NO_FAULT])]
    known = table[table["rate"].notna()]
    own = known[known["component"] == component]
    if own.empty:
        return None, None, 0, None
    mature = own[own["mature"].astype(bool)]
    oldest = float((mature if len(mature) else own)["at_months"].max())
    at = min(usual, oldest)
    # an age that is asked for, in case the usual one was never reached
    at = max(age for age in ages if age <= at)
    here = known[known["at_months"] == at].set_index("component")["rate"]
    place = here.rank(method="min", ascending=False)
    return at, int(place[component]), len(here), float(here.median())


def _at_risk(
    session: Session,
    settings: Settings,
    scope: Scope,
    component: str,
    windows: pd.DataFrame,
) -> pd.DataFrame:
    """List the units of the windows that are shown and have not failed."""
    shown = windows[windows["p_value"] <= LEVEL]
    parts = []
    for number, row in enumerate(shown.to_dict("records"), start=1):
        units = unit_list(
            session,
            settings,
            scope,
            component=component,
            from_date=pd.Timestamp(row["from_date"]).date(),
            to_date=pd.Timestamp(row["to_date"]).date(),
            model=row["model"] or None,
        )
        parts.append(units[units["state"] != "failed"].assign(window=number))
    if not parts:
        return pd.DataFrame(columns=list(_RISK_COLUMNS))
    # windows may overlap: a unit stands under the most unlikely one
    found = pd.concat(parts, ignore_index=True).drop_duplicates("serial")
    return found[list(_RISK_COLUMNS)].reset_index(drop=True)


def _by_month(costs: pd.DataFrame, scope: Scope) -> pd.DataFrame:
    """Return the claims by month of report, gapless up to the cut-off."""
    sums = costs.groupby("month")[["n_claims", "n_counted"]].sum()
    if sums.empty:
        return pd.DataFrame(columns=["month", "claims", "counted"])
    months = pd.date_range(sums.index.min(), pd.Timestamp(scope.as_of), freq="MS")
    table = sums.reindex(months, fill_value=0)
    return pd.DataFrame(
        {
            "month": months,
            "claims": table["n_claims"].to_numpy(),
            "counted": table["n_counted"].to_numpy(),
        }
    )


def _rates(
    session: Session,
    settings: Settings,
    scope: Scope,
    by: tuple[str, ...],
    at: tuple[float, ...] | list[float],
) -> pd.DataFrame:
    """Return the rates of the component by further keys, or none without units."""
    keys = ("component", *by)
    if not session.count("int_units"):
        return pd.DataFrame(columns=[*keys, *RATE_COLUMNS])
    return rates(session, settings, scope, by=keys, at=list(at))


def _by_supplier(
    session: Session, settings: Settings, scope: Scope, at: list[float]
) -> tuple[pd.DataFrame, str]:
    """Return the rates by supplier where it is known whose part a unit carries."""
    table = _rates(session, settings, scope, ("supplier",), at)
    told = table[table["units"] > 0]
    if told["supplier"].nunique() < 2:
        return told.iloc[:0], (
            "It is not known which units carry whose part, so suppliers cannot be told "
            "apart."
        )
    return told.sort_values(["units", "supplier"], ascending=[False, True]), ""


def _no_ages() -> pd.DataFrame:
    return pd.DataFrame(
        columns=["month", "failures", "unit_months", "rate", "lower", "upper"]
    )


def _by_age(session: Session, settings: Settings, scope: Scope) -> pd.DataFrame:
    """Count first failures and unit-months by month in service."""
    counts = count_failures(session, settings, scope, ("component",))
    if counts.segments.empty or not len(counts.ages):
        return _no_ages()
    month = ((counts.ages - 1.0) // DAYS_PER_MONTH).astype(np.intp)
    failures = np.zeros(int(month.max()) + 1)
    days = np.zeros_like(failures)
    for chunk in counts.chunks():
        np.add.at(failures, month, chunk.failures.sum(axis=0))
        np.add.at(days, month, (chunk.exposed + chunk.failures).sum(axis=0))
    passed = days / DAYS_PER_MONTH
    reached = passed >= settings.rates.mature_units
    lower, upper = poisson_exact(
        np.where(reached, failures, 0.0),
        np.where(reached, passed, 1.0) / _BY_UNIT,
        settings.rates.confidence,
    )
    table = pd.DataFrame(
        {
            "month": np.arange(1, len(failures) + 1),
            "failures": failures,
            "unit_months": passed,
            "rate": np.divide(
                _BY_UNIT * failures, passed, out=np.zeros_like(passed), where=passed > 0
            ),
            "lower": lower,
            "upper": upper,
        }
    )
    return table[reached].reset_index(drop=True)
