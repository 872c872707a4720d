"""What persons say of signals: who knows of which one, and why it may stay silent."""

from __future__ import annotations

from datetime import date

import pandas as pd

from claimlens.db import Session
from claimlens.errors import InputError

__all__ = ["acknowledgement_of", "keep_acknowledgement"]


def acknowledgement_of(
    standing: pd.DataFrame,
    component: str,
    *,
    model: str | None,
    by: str,
    reason: str,
    until: date | None,
) -> pd.DataFrame:
    """Return what is to be remembered of a signal.

    Parameters
    ----------
    standing : DataFrame
        The signals that stand.
    component : str
        Of the signal; capitals do not matter.
    model : str or None
        Of a signal of one model; None for all models.
    by, reason : str
        Who says so, and why.
    until : date or None
        Day up to which it holds.

    Returns
    -------
    DataFrame
        One row of ``signal_acknowledgements``.

    Raises
    ------
    InputError
        If no such signal stands, a name or a reason is empty, or the day lies before
        the cut-off.
    """
    for name, text in (("--by", by), ("--reason", reason)):
        if not text.strip():
            raise InputError(
                f"An acknowledgement needs {name}.",
                remedy="say who knows of the signal, and why it need not speak",
            )
    wanted = component.strip().casefold()
    own = standing[standing["component"].str.casefold() == wanted]
    own = own[own["model"].fillna("") == (model or "")]
    if own.empty:
        listed = [
            str(row.component)
            + (f" ({row.model})" if isinstance(row.model, str) else "")
            for row in standing.itertuples()
        ]
        raise InputError(
            f"No signal stands for {component!r}"
            + (f" of {model}." if model else " of all models."),
            remedy="signals stand for " + ", ".join(listed)
            if listed
            else "no signal stands at all; see claimlens signals",
        )
    as_of = pd.Timestamp(own.iloc[0]["as_of"])
    if until is not None and pd.Timestamp(until) < as_of:
        raise InputError(
            f"An acknowledgement until {until} would be over: the cut-off is "
            f"{as_of:%Y-%m-%d}.",
            remedy="give a later day with --until, or none",
        )
    return pd.DataFrame(
        {
            "component": pd.array([str(own.iloc[0]["component"])], dtype="str"),
            "model": pd.array([model or ""], dtype="str"),
            "as_of": [as_of],
            "acknowledged_by": pd.array([by.strip()], dtype="str"),
            "reason": pd.array([reason.strip()], dtype="str"),
            "until": pd.Series(
                [pd.NaT if until is None else pd.Timestamp(until)]
            ).astype("datetime64[s]"),
        }
    )


def keep_acknowledgement(session: Session, row: pd.DataFrame) -> None:
    """Remember what a person said of a signal.

    Parameters
    ----------
    session : Session
        Open for writing.
    row : DataFrame
        From `acknowledgement_of`.
    """
    session.put("acknowledged_now", row)
    session.run("staging/acknowledge")
    session.changed = True
