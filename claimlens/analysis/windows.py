"""Production windows with an elevated rate, and the units that they hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from claimlens.analysis.notes import joined
from claimlens.analysis.production import Grain, Production, Standing, count_production
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.comparison import adjusted_for_many
from claimlens.stats.production_counts import ProductionCounts, counts_by_age
from claimlens.stats.unit_months import exposed_where_failed
from claimlens.stats.window_search import ScanRules, Window
from claimlens.stats.windows import WindowScan, scan_components

__all__ = ["LEVEL", "WINDOW_COLUMNS", "unit_list", "windows"]

WINDOW_COLUMNS = (
    "component",
    "model",
    "from_date",
    "to_date",
    "rate_ratio",
    "lower",
    "upper",
    "p_value",
    "p_error",
    "adjusted_p",
    "units",
    "claims",
    "expected",
    "not_yet_failed",
    "shrunk_ratio",
    "plausible_from",
    "plausible_to",
    "core_from",
    "core_to",
    "note",
    "as_of",
)

LEVEL = 0.05
"""The p-value up to which a window is shown."""
# months (or weeks) of the longest window; a lot is a window by itself
_LONGEST = {"month": 6, "week": 12, "day": 31, "lot": 1}
_YOUNG_MONTHS = 6


@dataclass(frozen=True, slots=True)
class _Cell:
    """One component, over all models or in one."""

    component: int
    model: int | None


def windows(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    by_model: bool = False,
    grain: Grain = "month",
    production: Production | None = None,
) -> pd.DataFrame:
    """Look for build windows whose units fail more than others at equal ages.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting rules, seed.
    scope : Scope
        Cut-off and filters in force.
    by_model : bool, default False
        Look in every model by itself.
    grain : {"month", "week", "day", "lot"}, default "month"
        What windows are made of; lots are looked at one by one.
    production : Production, optional
        Counted by that grain for the same cut-off, where it is at hand already.

    Returns
    -------
    pandas.DataFrame
        ``WINDOW_COLUMNS``, the most unlikely first: windows with a p-value of at
        most 0.05, and, where the question is for one component, its best window
        whatever the p-value. ``rate_ratio`` is the rate of the window over that of
        all other production at equal ages; ``plausible`` dates hold the true window
        as far as it can be told, ``core`` what all plausible windows share.
    """
    if production is None:
        production = count_production(session, settings, scope, grain=grain)
    if not len(production.built):
        return pd.DataFrame(columns=list(WINDOW_COLUMNS))
    standing = production.at(production.as_of)
    cells = _cells(production, by_model=by_model)
    counted = {key: _counts(standing, cell) for key, cell in cells.items()}
    scans = scan_components(
        counted,
        base_seed=settings.life.seed,
        rules=ScanRules(max_length=_LONGEST[grain]),
    )
    asked = len(scope.wanted.get("component", ())) == 1
    rows = []
    for key, scan in scans.items():
        rows += _rows(
            production, standing, cells[key], scan, grain=grain, everything=asked
        )
    if not rows:
        return pd.DataFrame(columns=list(WINDOW_COLUMNS))
    table = pd.DataFrame(rows)
    first = [scan.windows[0].p_value for scan in scans.values() if scan.windows]
    table["adjusted_p"] = _adjusted(table["p_value"], first)
    table["as_of"] = pd.Timestamp(scope.as_of)
    table = table.sort_values(
        ["p_value", "shrunk_ratio", "component"], ascending=[True, False, True]
    )
    return table[list(WINDOW_COLUMNS)].reset_index(drop=True)


def _adjusted(p_values: pd.Series, first: Sequence[float]) -> list[float]:
    """Adjust for looking at every component: over the best window of each."""
    p = p_values.to_numpy(dtype=np.float64)
    if not first:
        return [float("nan")] * p.size
    raw = np.sort(np.asarray(first, dtype=np.float64))
    adjusted = np.asarray(adjusted_for_many(raw), dtype=np.float64)
    place = np.minimum(np.searchsorted(raw, p, side="left"), raw.size - 1)
    return [float(value) for value in np.where(np.isnan(p), p, adjusted[place])]


def _cells(production: Production, *, by_model: bool) -> dict[str, _Cell]:
    found = {}
    for c, component in enumerate(production.components):
        if not by_model:
            found[component] = _Cell(c, None)
            continue
        for m, model in enumerate(production.models):
            found[f"{component}\x1f{model}"] = _Cell(c, m)
    return found


def _counts(standing: Standing, cell: _Cell) -> ProductionCounts:
    failures = standing.failures[cell.component]
    exposure = standing.unit_months[cell.component]
    if cell.model is not None:
        failures, exposure = failures[[cell.model]], exposure[[cell.model]]
    return counts_by_age(failures, exposed_where_failed(exposure, failures))[0]


def _rows(
    production: Production,
    standing: Standing,
    cell: _Cell,
    scan: WindowScan,
    *,
    grain: Grain,
    everything: bool,
) -> list[dict[str, object]]:
    found = []
    for number, window in enumerate(scan.windows):
        if window.p_value > LEVEL and not (everything and number == 0):
            continue
        found.append(_row(production, standing, cell, window, grain=grain, scan=scan))
    if not found and everything and scan.reason:
        found.append(_too_few(production, standing, cell, scan))
    return [{name: row.get(name) for name in WINDOW_COLUMNS[:-1]} for row in found]


def _too_few(
    production: Production, standing: Standing, cell: _Cell, scan: WindowScan
) -> dict[str, object]:
    """Tell why no window was looked for, and of how many units and failures."""
    models = slice(None) if cell.model is None else [cell.model]
    units = float(production.n_units[models].sum())
    failed = float(standing.failures[cell.component][models].sum())
    return {
        "component": production.components[cell.component],
        "model": None,
        "p_value": np.nan,
        "units": round(units),
        "claims": round(failed),
        "not_yet_failed": round(units - failed),
        "shrunk_ratio": np.nan,
        "note": scan.reason,
    }


def _row(
    production: Production,
    standing: Standing,
    cell: _Cell,
    window: Window,
    *,
    grain: Grain,
    scan: WindowScan,
) -> dict[str, object]:
    models = slice(None) if cell.model is None else [cell.model]
    inside = slice(window.start, window.stop)
    units = float(production.n_units[models, inside].sum())
    failed = float(standing.failures[cell.component][models, inside].sum())
    oldest = _oldest(standing, cell, inside)
    notes = [
        f"oldest unit inside: {oldest:.0f} months in service"
        if oldest < _YOUNG_MONTHS
        else "",
        f"rates vary from month to month ({scan.phi:.1f} times chance); allowed for"
        if scan.phi > 1.2
        else "",
        "not shown: no more than chance can give" if window.p_value > LEVEL else "",
    ]
    core = window.core
    return {
        "component": production.components[cell.component],
        "model": None if cell.model is None else production.models[cell.model],
        "from_date": _start(production, window.start),
        "to_date": _end(production, window.stop, grain),
        "rate_ratio": window.ratio,
        "lower": window.lower,
        "upper": window.upper,
        "p_value": window.p_value,
        "p_error": window.p_error,
        "units": round(units),
        "claims": round(window.observed),
        "expected": window.expected_of_rest,
        "not_yet_failed": round(units - failed),
        "shrunk_ratio": window.shrunk,
        "plausible_from": _start(production, window.union[0]),
        "plausible_to": _end(production, window.union[1], grain),
        "core_from": None if core is None else _start(production, core[0]),
        "core_to": None if core is None else _end(production, core[1], grain),
        "note": joined(notes),
    }


def _oldest(standing: Standing, cell: _Cell, inside: slice) -> float:
    models = slice(None) if cell.model is None else [cell.model]
    passed = standing.unit_months[cell.component][models, inside].sum(axis=(0, 1))
    reached = np.flatnonzero(passed > 0)
    return float(reached.max() + 1) if reached.size else 0.0


def _start(production: Production, place: int) -> pd.Timestamp:
    return pd.Timestamp(production.built[place])


def _end(production: Production, place: int, grain: Grain) -> pd.Timestamp:
    """Return the first build date after a window."""
    if grain == "lot":
        # a lot ends before the next one starts
        last = production.built[min(place, len(production.built) - 1)]
        return pd.Timestamp(
            last
            if place < len(production.built)
            else production.built[-1] + pd.Timedelta(days=31)
        )
    steps = {
        "month": pd.DateOffset(months=1),
        "week": pd.Timedelta(weeks=1),
        "day": pd.Timedelta(days=1),
    }
    return pd.Timestamp(production.built[place - 1] + steps[grain])


def unit_list(
    session: Session,
    settings: Settings,
    scope: Scope,
    *,
    component: str,
    from_date: date,
    to_date: date,
    model: str | None = None,
) -> pd.DataFrame:
    """List every unit built in a window: failed, not yet failed, and where it is.

    Parameters
    ----------
    session : Session
        After `windows`, with its events and build dates.
    settings : Settings
        For the cover of the component.
    scope : Scope
        Cut-off in force.
    component : str
        Whose first failures count.
    from_date, to_date : date
        Build dates; the second is not inside.
    model : str, optional
        Of this model only.

    Returns
    -------
    pandas.DataFrame
        One row a unit by build date and serial. It is an input to a decision by
        people, and says nothing on a recall.

    Raises
    ------
    InputError
        If the dates are in the wrong order, or no unit was built in the window.
    """
    if from_date >= to_date:
        raise InputError(
            f"The window from {from_date} to {to_date} holds no day.",
            remedy="give the first build date and the first one after the window",
        )
    own = component in set(settings.coverage.own_cover)
    found = session.frame(
        "marts/window_units",
        {
            "component": component,
            "from_date": from_date,
            "to_date": to_date,
            "model": model,
            "cover_class": component if own else "",
            "as_of": scope.as_of,
        },
    )
    if found.empty:
        raise InputError(
            f"No unit was built from {from_date} up to {to_date}.",
            remedy="check the build dates in the unit register",
        )
    return found
