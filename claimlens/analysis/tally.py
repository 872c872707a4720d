"""Plain counts of claims by any column, where there is nothing to divide by."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches

import numpy as np
import pandas as pd

from claimlens.analysis.grouping import result_key, same_name
from claimlens.analysis.scope import Scope
from claimlens.db import Session
from claimlens.errors import InputError

__all__ = ["tally"]

_FIELDS = (
    "model",
    "model_year",
    "component",
    "failure_mode",
    "region",
    "generation",
    "build_month",
    "claim_class",
    "finding",
    "dealer",
    "status",
    "decision_reason",
    "part_no",
    "goodwill",
    "usage_unit",
)

_SLOTS = 4


def tally(session: Session, scope: Scope, *, by: Sequence[str]) -> pd.DataFrame:
    """Count claims by columns of the claims, whether or not the rates count them.

    Parameters
    ----------
    session : Session
        With the tables of ``prepare``.
    scope : Scope
        Cut-off in force.
    by : sequence of str
        One to four of the fields listed in the error, or columns of the claims
        that were kept as they came.

    Returns
    -------
    pandas.DataFrame
        The columns of ``by``, then ``claims`` (all known at the cut-off),
        ``claims_counted`` (those that the rates count), ``share`` (of all claims in
        the table), ``cost`` and ``currency`` (null where a row holds several),
        ``note``, ``as_of``; most claims first.

    Raises
    ------
    InputError
        If a column is not known, is named twice, or there are more than four.
    """
    kept = session.frame("marts/kept_columns")
    extra = kept.loc[kept["kind"] == "claims", "column_name"].tolist()
    names = [_named(name, [*_FIELDS, *extra]) for name in by]
    if not names or len(names) > _SLOTS or len(set(names)) != len(names):
        raise InputError(
            f"Claims are counted by one to {_SLOTS} different columns; got "
            f"{', '.join(by) or 'none'}.",
            remedy='write them as in --by "dealer,status"',
        )
    slots = dict.fromkeys((f"column_{k + 1}" for k in range(_SLOTS)), "")
    slots.update({f"column_{k + 1}": name for k, name in enumerate(names)})
    table = session.frame("marts/claim_tally", slots)
    keys = table[list(slots)[: len(names)]].set_axis(
        [name if name in _FIELDS else result_key(name) for name in names], axis=1
    )
    whole = table["claims"].sum()
    return keys.assign(
        claims=table["claims"],
        claims_counted=table["claims_counted"],
        share=table["claims"] / whole if whole else np.nan,
        cost=table["cost"],
        currency=table["currency"],
        note="; ".join(("counts of claims, not rates", *scope.notes)),
        as_of=pd.Timestamp(scope.as_of),
    )


def _named(name: str, known: Sequence[str]) -> str:
    """Return the column as it came in."""
    for column in known:
        if same_name(column, name):
            return column
    near = get_close_matches(name, known, 1)
    raise InputError(
        f"The claims have no column {name!r}.",
        remedy=(f"did you mean {near[0]!r}? " if near else "")
        + f"they have {', '.join(known)}",
    )
