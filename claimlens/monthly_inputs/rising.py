"""What the monthly report says of rising faults, windows, changes and words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pandas as pd

from claimlens.monthly_inputs.frames import RISING_COLUMNS, settle

__all__ = ["Rising"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rising:
    """Whether something rises beyond chance, and what is known of it.

    Parameters
    ----------
    judged_on : date or None
        Month-end up to which signals were judged; None where they could not be.
    not_judged : str
        Why nothing could be judged, as a sentence; else empty.
    components : int
        Components that were judged.
    chance_signals, chance_alarms : float
        New signals, and new alarms among them, that chance alone brings a month.
    signals : DataFrame
        Columns of ``signals``, in their order: alarms first, a row of one model
        (``detail_of``) behind that of all models.
    signal_months : DataFrame
        For the signals that are drawn, one row a month-end since the first build
        month of the run: ``month`` (its first day), ``observed`` and ``expected``
        failures of the run known then, and its ``level`` then.
    blind_spots : DataFrame
        One row a component, and a component and ``model``: failures ``expected`` in
        the first year of three build months, and the ``multiple`` of it that would
        be seen with 80 % chance within that year.
    windows : DataFrame
        Columns of ``windows``, the most unlikely first.
    window_months : DataFrame
        One row a component with a window and build month: ``units`` in service,
        ``observed`` failures and those ``expected`` at the rate of all production
        outside its windows; ``inside`` tells the months of a window.
    design_changes : DataFrame
        Columns of ``change`` for every change in the list, the newest first; where
        it could not be judged the verdict is empty and ``reason`` says why.
    change_curves : DataFrame
        One row a judged change, ``side`` (before, after) and age in ``months``:
        cumulative ``share`` failed.
    no_changes : str
        Why there is no change to tell of, as a sentence; else empty.
    rising_words : DataFrame
        Columns of ``words``.

    Raises
    ------
    ReportError
        If a frame lacks a column.
    """

    judged_on: date | None
    not_judged: str
    components: int
    chance_signals: float
    chance_alarms: float
    signals: pd.DataFrame
    signal_months: pd.DataFrame
    blind_spots: pd.DataFrame
    windows: pd.DataFrame
    window_months: pd.DataFrame
    design_changes: pd.DataFrame
    change_curves: pd.DataFrame
    no_changes: str
    rising_words: pd.DataFrame

    def __post_init__(self) -> None:
        """Check the columns of every frame and settle their types."""
        settle(self, RISING_COLUMNS)
