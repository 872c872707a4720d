"""Faults that a whole production is known for: rising ones, and build windows."""

from __future__ import annotations

import pandas as pd

from claimlens.analysis.scope import Scope
from claimlens.analysis.signals import judge
from claimlens.analysis.unit import KNOWN_FAULT_COLUMNS
from claimlens.analysis.windows import windows
from claimlens.db import Session
from claimlens.settings import Settings

__all__ = ["known_faults"]

# windows that looking at all components makes likely by chance are left out
_ADJUSTED = 0.05


def known_faults(session: Session, settings: Settings, scope: Scope) -> pd.DataFrame:
    """List the build windows that a unit can belong to.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    settings : Settings
        Counting rules.
    scope : Scope
        Cut-off in force.

    Returns
    -------
    pandas.DataFrame
        ``KNOWN_FAULT_COLUMNS``: signals that stand, at their level, and production
        windows of any age, at the level ``window``; empty without a register.
    """
    if session.count("int_units") == 0:
        return pd.DataFrame(columns=list(KNOWN_FAULT_COLUMNS))
    judged = judge(session, settings, scope)
    rising = judged.signals
    rising = rising[rising["state"] != "cleared"]
    found = windows(session, settings, scope, production=judged.production)
    found = found[found["adjusted_p"].astype(float) <= _ADJUSTED]
    found = found.assign(level="window", since=found["from_date"])
    # a window that is signalled is told once
    told = set(rising["component"])
    found = found[~found["component"].isin(told)]
    parts = [
        frame[list(KNOWN_FAULT_COLUMNS)].assign(model=frame["model"].fillna(""))
        for frame in (rising, found)
        if len(frame)
    ]
    if not parts:
        return pd.DataFrame(columns=list(KNOWN_FAULT_COLUMNS))
    return pd.concat(parts, ignore_index=True)
