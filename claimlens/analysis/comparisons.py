"""Where the intervals keep apart: model years and build months that stand out.

Only mature figures are compared, and only intervals that do not overlap count.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pandas as pd

from claimlens.monthly_inputs import UNCLASSIFIED, MonthlyInputs

__all__ = ["BuildRun", "HighYears", "high_build_runs", "high_model_years"]

# a run this long of months above all units is hardly chance: at 2.5 % a month
# three in a row begin once in 64,000 months
_RUN = 3


@dataclass(frozen=True, slots=True)
class HighYears:
    """Model years of a component that fail more than all its others.

    Parameters
    ----------
    component : str
        The component.
    years : tuple of int
        The high years, rising.
    rows : DataFrame
        The component's mature rows.
    gap : float
        Between the lowest lower limit of these and the highest upper limit
        of the others, 0 to 1.
    """

    component: str
    years: tuple[int, ...]
    rows: pd.DataFrame
    gap: float


def high_model_years(rates: pd.DataFrame) -> list[HighYears]:
    """Find components of which some model years fail more than all the others.

    Parameters
    ----------
    rates : DataFrame
        Columns of ``rates`` by component and model year, at one age.

    Returns
    -------
    list of HighYears
        For each such component the smallest group of years, at most half of
        the mature ones, whose every lower limit lies above every upper limit
        of the others; widest gap first.
    """
    found = []
    mature = rates[rates["mature"].astype(bool) & (rates["component"] != UNCLASSIFIED)]
    mature = mature.dropna(subset=["model_year", "rate"])
    for component, rows in mature.groupby("component", sort=True):
        ordered = rows.sort_values(["rate", "model_year"], ascending=[False, True])
        for size in range(1, len(ordered) // 2 + 1):
            gap = float(ordered["lower"].iloc[:size].min()) - float(
                ordered["upper"].iloc[size:].max()
            )
            if gap > 0:
                years = sorted(int(year) for year in ordered["model_year"][:size])
                found.append(HighYears(str(component), tuple(years), ordered, gap))
                break
    return sorted(found, key=lambda item: (-item.gap, item.component))


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildRun:
    """Build months in a row that fail more than all units of the component.

    Parameters
    ----------
    component : str
        The component.
    first, last : date
        First days of the first and the last month.
    months, units, claims : int
        Length of the run, units built in it, units with a failure.
    lowest, pooled : float
        Lowest share failed of its months, and that of all units, 0 to 1.
    at_months : float
        Age at which the shares are compared.
    """

    component: str
    first: date
    last: date
    months: int
    units: int
    claims: int
    lowest: float
    pooled: float
    at_months: float


def high_build_runs(inputs: MonthlyInputs) -> list[BuildRun]:
    """Find runs of build months that lie above all units of the component.

    Parameters
    ----------
    inputs : MonthlyInputs
        ``build_months`` and, at the same age, ``rates_by_component``.

    Returns
    -------
    list of BuildRun
        Three or more mature months, one after the other, whose lower limits
        lie above the upper limit of all units; longest first.
    """
    found = []
    pooled = inputs.rates_by_component
    built = inputs.build_months[inputs.build_months["component"] != UNCLASSIFIED]
    for component, rows in built.groupby("component", sort=True):
        same = pooled[
            (pooled["component"] == component)
            & (pooled["at_months"] == rows["at_months"].iloc[0])
        ].dropna(subset=["upper"])
        if len(same):
            found += _runs_above(str(component), rows, same.iloc[0])
    return sorted(found, key=lambda run: (-run.months, run.component, run.first))


def _runs_above(
    component: str, rows: pd.DataFrame, pooled: pd.Series
) -> list[BuildRun]:
    """Find the runs of one component above its pooled upper limit."""
    dated = rows.assign(month=pd.to_datetime(rows["build_month"])).sort_values("month")
    high = dated["mature"].astype(bool) & (
        dated["lower"].astype(float) > float(pooled["upper"])
    )
    picked = dated[high]
    place = picked["month"].dt.year * 12 + picked["month"].dt.month
    # months in a row share the difference between place and rank
    steps = (place - pd.Series(range(len(picked)), index=picked.index)).to_numpy()
    return [
        BuildRun(
            component=component,
            first=run["month"].iloc[0].date(),
            last=run["month"].iloc[-1].date(),
            months=len(run),
            units=int(run["units"].sum()),
            claims=int(run["claims"].sum()),
            lowest=float(run["rate"].min()),
            pooled=float(pooled["rate"]),
            at_months=float(pooled["at_months"]),
        )
        for _, run in picked.groupby(steps, sort=True)
        if len(run) >= _RUN
    ]
