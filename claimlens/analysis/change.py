"""Whether an engineering change helped."""

from __future__ import annotations

from datetime import date
from difflib import get_close_matches

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.change_counts import (
    Change,
    ChangeCounts,
    change_counts,
)
from claimlens.analysis.change_stretch import signalled_months, stretch_before
from claimlens.analysis.events import put_events
from claimlens.analysis.notes import joined
from claimlens.analysis.production import Production
from claimlens.analysis.reporting_classes import put_reporting_classes
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.settings import Settings
from claimlens.stats.change_effect import ChangeEffect, change_effect
from claimlens.stats.change_power import expected_needed, verdict_month
from claimlens.stats.control_ratio import ratio_of_ratios

__all__ = ["CHANGE_COLUMNS", "change", "find_change", "judge_change"]

CHANGE_COLUMNS = (
    "change_no",
    "component",
    "model",
    "starts_on",
    "at_months",
    "units_before",
    "claims_before",
    "units_after",
    "claims_after",
    "expected_after",
    "rate_ratio",
    "lower",
    "upper",
    "verdict",
    "at_least_halved",
    "reason",
    "ratio_without_bad_months",
    "upper_without_bad_months",
    "control",
    "control_ratio",
    "control_lower",
    "control_upper",
    "field_changes",
    "field_share",
    "claims_needed",
    "verdict_by",
    "note",
    "as_of",
)

# changes of one component closer than this cannot be told apart
_TOGETHER_DAYS = 90
# months ahead in which a verdict is looked for, and sales that are carried on
_AHEAD, _SALES_MONTHS = 36, 12
_OPEN = ("too early", "not shown")


def find_change(session: Session, change_no: str) -> tuple[Change, tuple[str, ...]]:
    """Return an engineering change, and others of its component close by.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables and ``component_words``.
    change_no : str
        Its number; capitals do not matter.

    Returns
    -------
    change : Change
    others : tuple of str
        Numbers of changes of the component that start within 90 days.

    Raises
    ------
    InputError
        If there is no such change, or nothing tells when it starts.
    """
    listed = session.frame("marts/changes_listed")
    numbers = {str(number).upper(): number for number in listed["change_no"]}
    key = change_no.strip().upper()
    if key not in numbers:
        near = get_close_matches(key, list(numbers), 3)
        known = ", ".join(str(numbers[n]) for n in near) or ", ".join(
            map(str, list(numbers.values())[:12])
        )
        raise InputError(
            f"There is no engineering change {change_no.strip()[:60]!r}.",
            remedy=f"did you mean {known}?"
            if known
            else "load a list of changes first: claimlens ingest FILE",
        )
    row = listed[listed["change_no"] == numbers[key]].iloc[0]
    if pd.isna(row["starts_on"]):
        serial = row["effective_serial"]
        raise InputError(
            f"The change {row['change_no']} has no build date to start from"
            + (
                f": its first serial {serial} is not in the register."
                if isinstance(serial, str)
                else "."
            ),
            remedy="add effective_build_date, or a serial that the register has, to "
            "the list of changes",
        )
    starts = pd.Timestamp(row["starts_on"])
    others = listed[
        (listed["component"] == row["component"])
        & (listed["change_no"] != row["change_no"])
        & ((listed["starts_on"] - starts).abs() <= pd.Timedelta(days=_TOGETHER_DAYS))
    ]
    change = Change(
        change_no=str(row["change_no"]),
        component=str(row["component"]),
        description=None if pd.isna(row["description"]) else str(row["description"]),
        model=None if pd.isna(row["model"]) else str(row["model"]),
        starts_on=date.fromisoformat(f"{starts:%Y-%m-%d}"),
    )
    return change, tuple(others["change_no"].astype(str))


def change(
    session: Session, settings: Settings, scope: Scope, change_no: str
) -> pd.DataFrame:
    """Judge an engineering change by failures before and after it at equal ages.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting rules, covers, seed.
    scope : Scope
        Cut-off and filters in force.
    change_no : str
        Which change.

    Returns
    -------
    pandas.DataFrame
        One row of ``CHANGE_COLUMNS``. ``rate_ratio`` is the rate after over that
        before, up to ``at_months`` in service. An improvement must also hold without
        the bad months that may have led to the change: those of the bad stretch seen
        today, and those that a signal of the component spoke of before the change.
        The control is the other models or, where the change is for all of them, the
        other components of the same units: its ratio is that of the change over what
        happened to the control meanwhile.

    Raises
    ------
    InputError
        See `find_change`; or if no unit was built after the change, or before it.
    """
    row, _ = judge_change(session, settings, scope, change_no)
    return pd.DataFrame([row])[list(CHANGE_COLUMNS)]


def judge_change(
    session: Session,
    settings: Settings,
    scope: Scope,
    change_no: str,
    *,
    production: Production | None = None,
) -> tuple[dict[str, object], ChangeCounts]:
    """Return what `change` says as a record, and the counts that it rests on.

    Parameters
    ----------
    session, settings, scope, change_no
        As for `change`.
    production : Production, optional
        Counted by month for the same question, where it is at hand already.

    Returns
    -------
    record : dict
        ``CHANGE_COLUMNS``.
    counts : ChangeCounts
        Of both sides.

    Raises
    ------
    InputError
        As `change`.
    """
    found, others = find_change(session, change_no)
    put_events(session, settings)
    put_reporting_classes(session, scope)
    session.run("intermediate/int_built")
    counts = change_counts(session, settings, scope, found)
    _refuse_one_sided(found, counts)
    effect, left_out = _judged(
        session, settings, scope, found, counts, production=production
    )
    row: dict[str, object] = {
        "change_no": found.change_no,
        "component": found.component,
        "model": found.model,
        "starts_on": pd.Timestamp(found.starts_on),
        "at_months": effect.ages,
        "units_before": round(counts.before.units),
        "claims_before": round(effect.effect.claims_before),
        "units_after": round(counts.after.units),
        "claims_after": round(effect.effect.claims_after),
        "expected_after": effect.effect.expected_after,
        "rate_ratio": effect.effect.ratio,
        "lower": effect.effect.lower,
        "upper": effect.effect.upper,
        "verdict": effect.verdict,
        "at_least_halved": effect.at_least_halved,
        "reason": effect.reason,
        "as_of": pd.Timestamp(scope.as_of),
    }
    without = effect.without_signal
    row["ratio_without_bad_months"] = np.nan if without is None else without.ratio
    row["upper_without_bad_months"] = np.nan if without is None else without.upper
    field = session.frame(
        "marts/field_changes",
        {
            "change_no": found.change_no,
            "model": found.model,
            "starts_on": found.starts_on,
            "as_of": scope.as_of,
        },
    ).iloc[0]
    row["field_changes"] = int(field["n_done"])
    row["field_share"] = float(field["n_done"]) / max(int(field["n_older"]), 1)
    row |= _control(session, settings, scope, found, effect)
    row |= _pending(effect, counts, scope)
    row["note"] = joined(_notes(found, others, effect, left_out))
    return row, counts


def _refuse_one_sided(found: Change, counts: ChangeCounts) -> None:
    for side, word in ((counts.after, "after"), (counts.before, "before")):
        if side.units < 0.5:
            raise InputError(
                f"No unit that was built {word} the change {found.change_no} "
                f"({found.starts_on}) is in service yet"
                if word == "after"
                else f"No unit in service was built in the year before the change "
                f"{found.change_no} ({found.starts_on}).",
                remedy="ask again when some are, or check the date of the change",
            )


def _judged(
    session: Session,
    settings: Settings,
    scope: Scope,
    found: Change,
    counts: ChangeCounts,
    *,
    production: Production | None,
) -> tuple[ChangeEffect, int]:
    """Return the effect, and how many bad build months it was judged without too."""
    stretch = stretch_before(settings, found, counts.before)
    effect = _effect(counts, stretch)
    if effect.verdict == "improved":
        # to tell what was signalled then takes seconds, and nothing else needs it
        built = counts.before.built
        stretch = stretch | signalled_months(
            session, settings, scope, found, built, production=production
        )
        effect = _effect(counts, stretch)
    return effect, int(stretch.sum())


def _effect(counts: ChangeCounts, bad: NDArray[np.bool_]) -> ChangeEffect:
    return change_effect(
        counts.before.by_age(),
        counts.after.by_age(),
        before_without_signal=counts.before.by_age(bad) if bad.any() else None,
        units_after=counts.after.reached,
    )


def _control(
    session: Session,
    settings: Settings,
    scope: Scope,
    found: Change,
    effect: ChangeEffect,
) -> dict[str, object]:
    """Return what happened meanwhile where nothing was changed."""
    by_model = found.model is not None
    counts = change_counts(
        session,
        settings,
        scope,
        found,
        other_models=by_model,
        other_components=not by_model,
    )
    nothing: dict[str, object] = {
        "control": None,
        "control_ratio": np.nan,
        "control_lower": np.nan,
        "control_upper": np.nan,
    }
    if min(counts.before.units, counts.after.units) < 0.5:
        return nothing
    control = change_effect(
        counts.before.by_age(), counts.after.by_age(), units_after=counts.after.reached
    )
    ratio = ratio_of_ratios(effect.effect, control.effect)
    if ratio.reason:
        return nothing
    return {
        "control": "other models" if by_model else "other components",
        "control_ratio": ratio.ratio,
        "control_lower": ratio.lower,
        "control_upper": ratio.upper,
    }


def _pending(
    effect: ChangeEffect, counts: ChangeCounts, scope: Scope
) -> dict[str, object]:
    """Return what an open verdict still needs, and by when it is likely."""
    nothing: dict[str, object] = {"claims_needed": np.nan, "verdict_by": pd.NaT}
    before, expected = effect.effect.claims_before, effect.effect.expected_after
    if effect.verdict not in _OPEN or before <= 0:
        return nothing
    needed = expected_needed(before)
    if needed is not None and needed <= expected:
        # a halving would have been shown by now
        return {"claims_needed": 0.0, "verdict_by": pd.NaT}
    exposed = counts.after.unit_months.sum()
    per_unit_month = expected / exposed if exposed > 0 else 0.0
    newest = counts.after.built > pd.Timestamp(scope.as_of) - pd.DateOffset(
        months=_SALES_MONTHS
    )
    # production goes on as it came into service over the newest year
    rate = float(counts.after.units_built[newest].sum()) / _SALES_MONTHS
    ahead = np.arange(1, _AHEAD + 1)
    more = per_unit_month * (counts.after.units * ahead + rate * ahead**2 / 2)
    month = verdict_month(np.full(_AHEAD, before), expected + more)
    return {
        "claims_needed": np.nan if needed is None else max(needed - expected, 0.0),
        "verdict_by": pd.NaT
        if month is None
        else pd.Timestamp(scope.as_of) + pd.DateOffset(months=int(ahead[month])),
    }


def _notes(
    found: Change, others: tuple[str, ...], effect: ChangeEffect, left_out: int
) -> list[str]:
    told = []
    if others:
        told.append(
            f"{', '.join(others)} changed the {found.component} within 90 days: judged "
            "together"
        )
    if left_out and effect.without_signal is not None:
        told.append(
            f"{left_out} bad build months before it may have led to the change; "
            f"without them the ratio is {effect.without_signal.ratio:.2g}"
        )
    told.append(
        "not told apart: season, a supplier or a way of reporting that changed at the "
        "same time, mixed stock"
    )
    return told
