"""What the monthly report says of rising faults, windows, changes and words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd

from claimlens.analysis.monthly_changes import changes_judged
from claimlens.analysis.months import first_of, last_month_end, month_no
from claimlens.analysis.production import Production
from claimlens.analysis.rising import LEVELS, expected_by_chance
from claimlens.analysis.rising import Rising as RisingRows
from claimlens.analysis.rising_tables import views_of
from claimlens.analysis.scope import Scope
from claimlens.analysis.signals import Judged, judge
from claimlens.analysis.window_months import window_months
from claimlens.analysis.windows import LEVEL, windows
from claimlens.analysis.words import words
from claimlens.classify.taxonomy import NO_FAULT
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.monthly_inputs import RISING_COLUMNS, UNCLASSIFIED, Rising
from claimlens.settings import Settings
from claimlens.stats.rising import (
    BuildRun,
    courses_of,
    first_year_expected,
    smallest_multiple,
)

__all__ = ["DRAWN", "rising_inputs", "rising_of"]

#: Signals that get a chart.
DRAWN = 6

# verdicts that stand where a component could
_NO_COMPONENTS = (UNCLASSIFIED, NO_FAULT)
_NO_REGISTER = (
    "No unit register is loaded, so it is not known when units were built, and nothing "
    "can be said of rising faults, production windows and engineering changes."
)
_NO_CHANGES = "No list of engineering changes is loaded, so none is judged."


def rising_inputs(
    session: Session,
    settings: Settings,
    scope: Scope,
    terms: Terms,
    judged: Judged | None = None,
) -> Rising:
    """Gather what rises, what was built worse, what changes did, and new words.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting rules, covers, seed.
    scope : Scope
        Cut-off in force.
    terms : Terms
        For the words.
    judged : Judged, optional
        The production at that cut-off, where it was judged already.

    Returns
    -------
    Rising
        Frames and scalars, the same for the same warehouse and settings.
    """
    spoken = words(session, scope, terms)
    if session.count("int_units") == 0:
        return _nothing(_NO_REGISTER, spoken)
    known = judged or judge(session, settings, scope)
    found = windows(session, settings, scope, production=known.production)
    judged_changes = changes_judged(session, settings, scope, known.production)
    return _told(scope, known, found, judged_changes, spoken)


def rising_of(
    session: Session, settings: Settings, scope: Scope, component: str
) -> Rising:
    """Gather what `rising_inputs` says of one component, set against all others.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``, for all components.
    settings : Settings
        Counting rules, covers, seed.
    scope : Scope
        Cut-off in force.
    component : str
        Its name in the taxonomy.

    Returns
    -------
    Rising
        Without words. Where no window of the component has a p-value of at most
        0.05, its best one is there, with a note that it is not shown.
    """
    silent = pd.DataFrame(columns=list(RISING_COLUMNS["rising_words"]))
    if session.count("int_units") == 0:
        return _nothing(_NO_REGISTER, silent)
    known = judge(session, settings, scope)
    standing = known.signals[known.signals["component"] == component]
    found = windows(session, settings, scope, production=known.production)
    found = found[found["component"] == component]
    if found.empty and component in known.production.components:
        asked = replace(scope, wanted={**scope.wanted, "component": (component,)})
        own = _only(known.production, component)
        found = windows(session, settings, asked, production=own)
    changes = changes_judged(
        session, settings, scope, known.production, component=component
    )
    return _told(scope, replace(known, signals=standing), found, changes, silent)


def _only(production: Production, component: str) -> Production:
    """Return the production with the failures of one component."""
    place = production.components.index(component)
    own = production.failures[production.failures["c"] == place]
    return replace(
        production,
        components=(component,),
        failures=own.assign(c=0),
        cover_of=production.cover_of[[place]],
    )


def _told(
    scope: Scope,
    known: Judged,
    found: pd.DataFrame,
    judged_changes: tuple[pd.DataFrame, pd.DataFrame],
    spoken: pd.DataFrame,
) -> Rising:
    """Put together what was found."""
    production, kinds, standing = known.production, known.rising, known.signals
    changes, curves = judged_changes
    watch, alarm = expected_by_chance(kinds)
    able = [kind for kind in kinds if not kind.months[-1].note]
    return Rising(
        judged_on=last_month_end(scope.as_of) if able else None,
        not_judged="" if able else _why_not(kinds),
        components=sum(
            production.components[int(place)] not in _NO_COMPONENTS
            for kind in able
            for place in kind.places
        ),
        chance_signals=watch,
        chance_alarms=alarm,
        signals=standing,
        signal_months=_signal_months(able, standing),
        blind_spots=_blind_spots(able),
        windows=found,
        window_months=window_months(production, _shown(found)),
        design_changes=changes,
        change_curves=curves,
        no_changes="" if len(changes) else _NO_CHANGES,
        rising_words=_without_lists(spoken),
    )


def _shown(found: pd.DataFrame) -> pd.DataFrame:
    """Empty the windows that are no more than chance: their months are not marked."""
    scanned = found[found["p_value"].notna()]
    ends = scanned["to_date"].where(scanned["p_value"] <= LEVEL, scanned["from_date"])
    return scanned.assign(to_date=ends)


def _nothing(why: str, spoken: pd.DataFrame) -> Rising:
    """Return that nothing but words could be looked at."""
    empty = {
        name: pd.DataFrame(columns=list(columns))
        for name, columns in RISING_COLUMNS.items()
    }
    return Rising(
        judged_on=None,
        not_judged=why,
        components=0,
        chance_signals=0.0,
        chance_alarms=0.0,
        no_changes=why,
        **empty | {"rising_words": _without_lists(spoken)},
    )


def _why_not(kinds: Sequence[RisingRows]) -> str:
    if not kinds:
        return "No claim names a component of a unit whose build date is known."
    return (
        "There is no older production yet against which recent production could be "
        "set; six build months are needed at the least."
    )


def _signal_months(kinds: Sequence[RisingRows], standing: pd.DataFrame) -> pd.DataFrame:
    """Follow the signals that are drawn from their first build month on."""
    drawn = standing[
        standing["detail_of"].isna() & (standing["state"] != "cleared")
    ].head(DRAWN)
    parts = []
    for kind in kinds:
        rows = kind.row_of
        own = [
            (line, rows[key])
            for line in drawn.to_dict("records")
            if (key := (str(line["component"]), _model(line["model"]))) in rows
        ]
        runs = [
            BuildRun(
                component=int(np.flatnonzero(kind.places == kind.component_of[row])[0]),
                model=None if kind.model_of[row] < 0 else int(kind.model_of[row]),
                first=_month(line["from_date"]),
                last=_month(line["to_date"]) - 1,
            )
            for line, row in own
        ]
        if not runs:
            continue
        views = views_of(kind.production, kind.places)
        cutoff = kind.months[-1].cutoff
        for (line, row), course in zip(
            own, courses_of(views, cutoff, runs), strict=True
        ):
            parts.append(
                pd.DataFrame(
                    {
                        "component": line["component"],
                        "model": _model(line["model"]),
                        "month": [pd.Timestamp(first_of(m)) for m in course.months],
                        "observed": course.observed,
                        "expected": course.expected,
                        "level": _levels(
                            kind, row, course.months, _month(line["since"])
                        ),
                    }
                )
            )
    if not parts:
        return pd.DataFrame(columns=list(RISING_COLUMNS["signal_months"]))
    return pd.concat(parts, ignore_index=True)


def _levels(kind: RisingRows, row: int, months: Sequence[int], since: int) -> list[str]:
    """Return the level at each month-end of the present run of signals."""
    at = {month.cutoff: int(month.level[row]) for month in kind.months}
    return [LEVELS[at.get(month, 0)] if month >= since else "" for month in months]


def _model(value: object) -> str:
    return value if isinstance(value, str) else ""


def _month(value: object) -> int:
    return month_no(date.fromisoformat(f"{pd.Timestamp(str(value)):%Y-%m-%d}"))


def _blind_spots(kinds: Sequence[RisingRows]) -> pd.DataFrame:
    """Return by how many times each rate must rise to be seen within a year."""
    parts = []
    for kind in kinds:
        newest = kind.months[-1]
        views = views_of(kind.production, kind.places)
        expected = first_year_expected(views, newest.cutoff)
        multiple = smallest_multiple(
            expected,
            newest.recent,
            newest.uncertainty,
            one_model=kind.model_of >= 0,
        )
        parts.append(
            pd.DataFrame(
                {
                    "component": [component for component, _ in kind.names],
                    "model": [model for _, model in kind.names],
                    "expected": expected,
                    "multiple": multiple,
                }
            )
        )
    if not parts:
        return pd.DataFrame(columns=list(RISING_COLUMNS["blind_spots"]))
    spots = pd.concat(parts, ignore_index=True)
    return spots[~spots["component"].isin(_NO_COMPONENTS)]


def _without_lists(spoken: pd.DataFrame) -> pd.DataFrame:
    """Return the words with every column, also where none rises."""
    return spoken.reindex(columns=list(RISING_COLUMNS["rising_words"]))
