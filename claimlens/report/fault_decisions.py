"""Decisions about faults: a component whose units of some time fail more often.

Signals, production windows, build months in a row and model years may tell of the
same fault. They are told together, the strongest witness first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

import pandas as pd

from claimlens.analysis.comparisons import high_build_runs, high_model_years
from claimlens.language import N_, _, ngettext
from claimlens.monthly_inputs import MonthlyInputs
from claimlens.report import formats
from claimlens.report.findings import chained, join_words, opened
from claimlens.report.rising_sentences import chance_of_an_alarm, standing
from claimlens.report.view import DecisionView
from claimlens.report.waiting import (
    component_to_come,
    cost_of_a_claim,
    left_to_fail,
    role,
)

__all__ = ["fault_decisions"]

# above it, looking at every component makes a window likely by chance
_LEVEL = 0.05
_RAREST = 0.001
_DAYS_A_MONTH = 30.4375
# sold, on the average, within so many months of being built; common practice
_SOLD_WITHIN = 6
_SPEAKS = {"new": N_("a new alarm"), "growing": N_("an alarm that grows")}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fault:
    """One witness of a fault, or several of the same."""

    component: str
    model: str = ""
    first: date
    stop: date
    what: str
    sure: str
    waiting: tuple[str, ...]
    is_alarm: bool = False
    where: str
    witness: str
    also: tuple[str, ...] = field(default=())

    def meets(self, other: _Fault) -> bool:
        """Tell whether both may speak of the same units."""
        same = self.component == other.component
        return same and self.first < other.stop and other.first < self.stop


def fault_decisions(
    inputs: MonthlyInputs,
) -> tuple[tuple[DecisionView, ...], tuple[DecisionView, ...]]:
    """Return decisions about faults: urgent ones, and of units that left their cover.

    Parameters
    ----------
    inputs : MonthlyInputs
        Signals, windows, rates by build month and model year.
    """
    urgent: list[DecisionView] = []
    past: list[DecisionView] = []
    for fault in _together(inputs):
        (past if _is_past(inputs, fault) else urgent).append(_decision(inputs, fault))
    return tuple(urgent), tuple(past)


def _together(inputs: MonthlyInputs) -> list[_Fault]:
    """Join the witnesses of one fault under the first of them."""
    faults: list[_Fault] = []
    for source in (_alarms, _windows, _build_runs, _model_years):
        for fault in source(inputs):
            place = next(
                (n for n, known in enumerate(faults) if known.meets(fault)), None
            )
            if place is None:
                faults.append(fault)
            else:
                told = (*faults[place].also, fault.witness)
                faults[place] = replace(faults[place], also=told)
    return faults


def _decision(inputs: MonthlyInputs, fault: _Fault) -> DecisionView:
    quality = role(inputs, "quality")
    who = (
        _(
            "{quality}: hold or check these units and what is being built, or "
            "acknowledge the alarm with a reason."
        )
        if fault.is_alarm
        else _("{quality}: find what these units share, and what to do with them.")
    )
    waiting = (*fault.waiting, component_to_come(inputs, fault.component))
    if _is_past(inputs, fault):
        waiting = (
            _("Little under cover: most of these units have left it."),
            *fault.waiting,
        )
    return DecisionView(
        sign="▲" if fault.is_alarm else "◇",
        what=fault.what,
        sure=" ".join([fault.sure, *_agreeing(fault)]),
        waiting=" ".join(waiting),
        who=who.format(quality=quality),
        where=fault.where,
    )


def _agreeing(fault: _Fault) -> Iterator[str]:
    """Say which other ways of looking find the same units."""
    others = list(dict.fromkeys(fault.also))
    if others:
        said = ngettext(
            "{witnesses} finds the same.", "{witnesses} find the same.", len(others)
        )
        yield said.format(witnesses=opened(join_words(others)))


def _is_past(inputs: MonthlyInputs, fault: _Fault) -> bool:
    """Tell whether most units of a fault have left their cover."""
    months = inputs.meta.cover_months
    if months is None or fault.is_alarm:
        return False
    days = timedelta(days=(months + _SOLD_WITHIN) * _DAYS_A_MONTH)
    return fault.stop + days < inputs.meta.as_of


def _day(value: object) -> date:
    stamp = pd.Timestamp(str(value))
    return date(stamp.year, stamp.month, stamp.day)


def _built(first: date, stop: date) -> str:
    """Write when units were built; the second date is not inside."""
    last = stop - timedelta(days=1)
    opening, closing = formats.month_name(first), formats.month_name(last)
    if first.year == last.year:
        opening = opening[: -len(f" {first.year}")]
    if first.month == last.month and first.year == last.year:
        return _("built in {month}").format(month=closing)
    return _("built {first} to {last}").format(first=opening, last=closing)


def _opened(component: str, model: str = "") -> str:
    name = opened(component)
    return f"{name}, {model}" if model else name


def _alarms(inputs: MonthlyInputs) -> Iterator[_Fault]:
    frame = standing(inputs)
    alarms = frame[(frame["level"] == "alarm") & (frame["state"] != "acknowledged")]
    moving = alarms["state"].isin([*_SPEAKS])
    for row in pd.concat([alarms[moving], alarms[~moving]]).to_dict("records"):
        first, stop = _day(row["from_date"]), _day(row["to_date"])
        word = _(
            _SPEAKS.get(
                str(row["state"]),
                N_("an alarm that nobody has acknowledged, seen since {month}"),
            )
        ).format(month=formats.month_name(_day(row["since"])))
        yield _Fault(
            component=str(row["component"]),
            model=str(row["model"]),
            first=first,
            stop=stop,
            what=_(
                "{whose}: units {built} fail {times} times as often as older "
                "ones did at their age: {alarm}."
            ).format(**_named(row), built=_built(first, stop), alarm=word),
            sure=_("{limits} Chance alone brings {often}.").format(
                limits=_limits(inputs, row), often=chance_of_an_alarm(inputs)
            ),
            waiting=(_left(row), *filter(None, [cost_of_a_claim(row)])),
            is_alarm=True,
            where="rising",
            witness=_("the watch on rising faults"),
        )


def _named(row: Mapping[Any, Any]) -> dict[str, str]:
    """Return whose units fail how many times as often."""
    return {
        "whose": _opened(str(row["component"]), str(row["model"])),
        "times": formats.ratio(row["rate_ratio"]),
    }


def _limits(inputs: MonthlyInputs, row: Mapping[Any, Any]) -> str:
    return _(
        "{lower} to {upper} times with {confidence} confidence ({claims} failures, "
        "{expected} expected)."
    ).format(
        lower=formats.ratio(row["lower"], "lower"),
        upper=formats.ratio(row["upper"], "upper"),
        confidence=f"{100 * inputs.meta.confidence:.0f}{formats.PER_CENT.suffix}",
        claims=formats.count(row["claims"]),
        expected=formats.decimal_text(row["expected"]),
    )


def _left(row: Mapping[Any, Any]) -> str:
    return left_to_fail(float(row["units"]), float(row["claims"]))


def _windows(inputs: MonthlyInputs) -> Iterator[_Fault]:
    frame = inputs.rising.windows
    for row in frame[frame["adjusted_p"] <= _LEVEL].to_dict("records"):
        first, stop = _day(row["from_date"]), _day(row["to_date"])
        yield _Fault(
            component=str(row["component"]),
            model=str(row["model"]),
            first=first,
            stop=stop,
            what=_(
                "{whose}: units {built} fail {times} times as often as other "
                "production."
            ).format(**_named(row), built=_built(first, stop)),
            sure=f"{_limits(inputs, row)} {_rare(float(row['adjusted_p']))}",
            waiting=(_left(row),),
            where="windows",
            witness=_("the search for production windows"),
        )


def _rare(p_value: float) -> str:
    """Say in words how often chance alone does that."""
    if p_value < _RAREST:
        return _("Chance does so less than once in {number} such searches.").format(
            number=formats.count(1 / _RAREST)
        )
    # to two digits: the p-value is found by drawing
    often = float(f"{1 / p_value:.2g}")
    return _("Chance does so about once in {number} such searches.").format(
        number=formats.count(often)
    )


def _build_runs(inputs: MonthlyInputs) -> Iterator[_Fault]:
    for run in high_build_runs(inputs):
        unit = formats.rate_unit([run.lowest, run.pooled])
        stop = (run.last.replace(day=1) + timedelta(days=32)).replace(day=1)
        yield _Fault(
            component=run.component,
            first=run.first,
            stop=stop,
            what=_(
                "{component}: units {built} stand out, {months} months in a row."
            ).format(
                component=opened(run.component),
                built=_built(run.first, stop),
                months=run.months,
            ),
            sure=_(
                "In each of {months} build months in a row {lowest} or more failed by "
                "{age} months in service ({claims} of {units} units), of all units "
                "{pooled}; the intervals keep apart."
            ).format(
                months=run.months,
                lowest=f"{formats.rate(run.lowest, unit)}{unit.suffix}",
                age=formats.count(run.at_months),
                claims=formats.count(run.claims),
                units=formats.count(run.units),
                pooled=f"{formats.rate(run.pooled, unit)}{unit.suffix}",
            ),
            waiting=(left_to_fail(run.units, run.claims),),
            where="build-months",
            witness=_("the rate by month of build"),
        )


def _model_years(inputs: MonthlyInputs) -> Iterator[_Fault]:
    for item in high_model_years(inputs.rates_by_model_year):
        is_high = item.rows["model_year"].isin(item.years)
        high = item.rows[is_high].sort_values("model_year")
        top = float(item.rows[~is_high]["upper"].max())
        unit = formats.telling_unit(float(high["lower"].min()), top)
        rates = chained([_rated(row, unit) for row in high.to_dict("records")])
        years = chained([str(year) for year in item.years])
        months = formats.count(float(item.rows["at_months"].iloc[0]))
        yield _Fault(
            component=item.component,
            # a model year is built from the autumn before it on
            first=date(min(item.years) - 1, 9, 1),
            stop=date(max(item.years) + 1, 1, 1),
            what=_(
                "{component}: model year {years} fails more than every other mature "
                "model year."
            ).format(component=opened(item.component), years=years),
            sure=_(
                "Model year {years}: {rates} failed by {months} months in service; no "
                "other mature year's interval reaches above {top}."
            ).format(
                years=years,
                rates=rates,
                months=months,
                top=f"{formats.rate(top, unit, 'upper')}{unit.suffix}",
            ),
            waiting=(
                left_to_fail(float(high["units"].sum()), float(high["claims"].sum())),
            ),
            where="model-years",
            witness=_("the rate by model year"),
        )


def _rated(row: Mapping[Any, Any], unit: formats.RateUnit) -> str:
    """Write a rate with its interval and its counts."""
    return _("{rate} ({interval}; {claims} of {units} units)").format(
        rate=f"{formats.rate(row['rate'], unit)}{unit.suffix}",
        interval=formats.interval(row["lower"], row["upper"], unit),
        claims=formats.count(row["claims"]),
        units=formats.count(row["units"]),
    )
