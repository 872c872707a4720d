"""Rates, curves and lives of the monthly page: all that needs a denominator."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from claimlens.analysis.counts import DAYS_PER_MONTH, Counts, count_failures
from claimlens.analysis.life import LIFE_COLUMNS, life, life_counts
from claimlens.analysis.life_terms import BEYOND
from claimlens.analysis.rates import RATE_COLUMNS, rates
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.settings import Settings
from claimlens.stats import weibull
from claimlens.stats.survival import share_failed

__all__ = ["Figures", "figures", "no_figures"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What needs a number of units to divide by."""

    events: pd.DataFrame
    by_model_year: pd.DataFrame
    by_component: pd.DataFrame
    by_build_month: pd.DataFrame
    curves: pd.DataFrame
    lives: pd.DataFrame
    points: pd.DataFrame
    line: pd.DataFrame


def no_figures() -> Figures:
    """Return empty frames: claims without a unit register have no rate.

    Returns
    -------
    Figures
        The documented columns and no row.
    """
    share = ["component", "months", "share", "lower", "upper"]
    return Figures(
        events=pd.DataFrame(columns=["component", "is_first", "n"]),
        by_model_year=pd.DataFrame(columns=["component", "model_year", *RATE_COLUMNS]),
        by_component=pd.DataFrame(columns=["component", *RATE_COLUMNS]),
        by_build_month=pd.DataFrame(
            columns=["component", "build_month", *RATE_COLUMNS]
        ),
        curves=pd.DataFrame(columns=[*share, "at_risk", "mature"]),
        lives=pd.DataFrame(columns=["component", *LIFE_COLUMNS]),
        points=pd.DataFrame(columns=share),
        line=pd.DataFrame(columns=[*share, "beyond"]),
    )


def figures(session: Session, settings: Settings, scope: Scope) -> Figures:
    """Count and estimate everything that has a denominator.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Ages of the tables.
    scope : Scope
        Cut-off in force.

    Returns
    -------
    Figures
        The frames of the monthly page.
    """
    at_build = settings.report.build_rate_at_months
    by_year = rates(
        session,
        settings,
        scope,
        by=("component", "model_year"),
        at=[settings.report.rate_at_months],
    )
    by_build = rates(
        session, settings, scope, by=("component", "build_month"), at=[at_build]
    )
    by_component = rates(
        session,
        settings,
        scope,
        by=("component",),
        at=[*settings.report.table_at_months, at_build],
    )
    lives = life(session, settings, scope, by=("component",))
    counts = count_failures(session, settings, scope, ("component",))
    curves = _curves(counts, settings)
    fitted = life_counts(session, settings, scope, ("component",))
    points, line = _probability(fitted, lives, settings)
    names = counts.segments["component"].to_numpy()
    return Figures(
        events=counts.events.assign(component=names[counts.events["segment"]]),
        by_model_year=by_year,
        by_component=by_component,
        by_build_month=by_build[by_build["build_month"].notna()],
        curves=curves,
        lives=lives,
        points=points,
        line=line,
    )


def _curves(counts: Counts, settings: Settings) -> pd.DataFrame:
    """Return the cumulative share failed at each month, while 30 are at risk."""
    n_months = int(counts.ages[-1] / DAYS_PER_MONTH) if len(counts.ages) else 0
    if n_months == 0 or counts.segments.empty:
        return pd.DataFrame(
            columns=[
                "component",
                "months",
                "share",
                "lower",
                "upper",
                "at_risk",
                "mature",
            ]
        )
    months = np.arange(1, n_months + 1)
    fewest = settings.rates.mature_units
    tables = []
    for chunk in counts.chunks():
        share = share_failed(
            counts.ages,
            chunk.failures,
            None,
            np.ceil(months * DAYS_PER_MONTH),
            exposed=chunk.exposed,
            units=chunk.planned.sum(axis=1),
            confidence=settings.rates.confidence,
        )
        names = counts.segments["component"].iloc[chunk.rows].to_numpy()
        tables.append(
            pd.DataFrame(
                {
                    "component": np.repeat(names, n_months),
                    "months": np.tile(months, len(names)),
                    "share": share.share.reshape(-1),
                    "lower": share.lower.reshape(-1),
                    "upper": share.upper.reshape(-1),
                    "at_risk": np.rint(share.at_risk_last.reshape(-1)),
                    "mature": (np.nan_to_num(share.effective_n) >= fewest).reshape(-1),
                    "reached": share.reached.reshape(-1),
                }
            )
        )
    table = pd.concat(tables, ignore_index=True)
    shown = table["reached"] & (table["at_risk"] >= fewest)
    return table[shown].drop(columns="reached").reset_index(drop=True)


def _probability(
    counts: Counts, lives: pd.DataFrame, settings: Settings
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return Kaplan-Meier points and the fitted line of each fitted component."""
    fitted = np.flatnonzero(lives["shape"].notna().to_numpy())
    names = counts.segments["component"].to_numpy()
    curves = _curves(counts, settings)
    points = curves[curves["component"].isin(names[fitted]) & (curves["share"] > 0)]
    points = points[["component", "months", "share", "lower", "upper"]]
    columns = ["component", "months", "share", "lower", "upper", "beyond"]
    if not fitted.size:
        return points, pd.DataFrame(columns=columns)
    fitted_counts = counts.take(fitted)
    fit = weibull.fit(
        counts.ages,
        fitted_counts.failures,
        None,
        exposed=fitted_counts.exposed,
        lower=counts.ages - 1.0,
        confidence=settings.rates.confidence,
    )
    oldest = fitted_counts.oldest(counts.ages) / DAYS_PER_MONTH
    months = np.geomspace(0.25, BEYOND * oldest.max(), 48)
    lower, upper = fit.cdf_interval(months * DAYS_PER_MONTH)
    share = np.asarray(fit.cdf(months * DAYS_PER_MONTH))
    line = pd.DataFrame(
        {
            "component": np.repeat(names[fitted], len(months)),
            "months": np.tile(months, len(fitted)),
            "share": share.reshape(-1),
            "lower": np.asarray(lower).reshape(-1),
            "upper": np.asarray(upper).reshape(-1),
            "beyond": (months[None, :] > oldest[:, None]).reshape(-1),
        }
    )
    within = line["months"] <= BEYOND * np.repeat(oldest, len(months))
    return points, line[within].reset_index(drop=True)
