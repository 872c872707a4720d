"""Claims as they stood on an earlier day: exports are pulled now and then."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

__all__ = ["as_of"]

_CLOSED_FIELDS = (
    "resolution",
    "part_no",
    "quantity",
    "cost_parts",
    "cost_labour",
    "cost_freight",
    "cost_total",
)


def as_of(claims: pd.DataFrame, day: date) -> pd.DataFrame:
    """Return the claims as known at the end of a day.

    Parameters
    ----------
    claims : DataFrame
        Canonical claims as known later.
    day : date
        Claims reported after it are left out; decisions, closings and what
        came with them are taken back.

    Returns
    -------
    DataFrame
        The same columns; ``updated_at`` is the latest event by then.
    """
    limit = pd.Timestamp(day)
    known = claims[claims["reported_on"] <= limit].copy()
    decided = (known["decided_on"] <= limit).to_numpy()
    closed = (known["closed_on"] <= limit).to_numpy()
    final = known["status"]
    status = pd.Series("open", index=known.index, dtype=object)
    status[decided] = np.where(final[decided] == "denied", "denied", "approved")
    status[closed] = final[closed]
    known["status"] = status
    known["decided_on"] = known["decided_on"].where(decided)
    known["closed_on"] = known["closed_on"].where(closed)
    known["amount_approved"] = known["amount_approved"].where(decided)
    known["decision_reason"] = known["decision_reason"].where(decided | closed)
    sold = known["in_service_date"] <= limit
    known["in_service_date"] = known["in_service_date"].where(sold)
    known["technician_note"] = known["technician_note"].where(decided)
    known["goodwill"] = known["goodwill"].where(decided, "no")
    for name in _CLOSED_FIELDS:
        known[name] = known[name].where(closed)
    last = known["reported_on"].where(~decided, known["decided_on"])
    last = last.where(~closed, known["closed_on"])
    time_of_day = claims["updated_at"] - claims["updated_at"].dt.normalize()
    known["updated_at"] = last + time_of_day[known.index]
    return known
