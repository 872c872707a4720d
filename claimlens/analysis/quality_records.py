"""The rows that the quality of the classification is told in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from typing import TypedDict, Unpack

import numpy as np
import pandas as pd

from claimlens.stats.accuracy import Shares

__all__ = [
    "COLUMNS",
    "SECTIONS",
    "Fields",
    "Record",
    "record",
    "records_frame",
    "share_records",
]

#: The sections in their order, each with what it tells.
SECTIONS = {
    "accuracy": "How often the classification is right, from claims that a person "
    "reviewed: the review queue and a random audit of all the others.",
    "series": "The same for each version of terms and model that claims were read by.",
    "components": "Precision: of the claims read as a component, those that are. "
    "Recall: of the claims that are, those read as it.",
    "confusion": "What claims were read as and what the reviewer says, as an estimate "
    "for all claims; confused ones first.",
    "calibration": "Stated confidence against the share right.",
    "failure_modes": "Failure mode right, of the claims with the right component.",
    "safety": "Dangerous claims found, and claims called dangerous that are.",
    "unclassified": "Share left without a component, by month of report and language; "
    "a month outside its limits is an alarm.",
    "vocabulary": "Share of words that the twelve months before did not use.",
    "class_shares": "How far the components' shares of a month lie from those of the "
    "twelve months before.",
    "sources": "What decided the claims.",
    "reviewers": "Claims that two reviewers judged.",
    "bounds": "Claims counted in the rates, as classified, and what they may be after "
    "classification error. Rates are never corrected for it.",
}

COLUMNS = (
    "section",
    "measure",
    "component",
    "reviewed_as",
    "month",
    "language",
    "group",
    "value",
    "lower",
    "upper",
    "n",
    "n_eff",
    "alarm",
    "note",
    "as_of",
)


class Fields(TypedDict, total=False):
    """What a figure may have beside its section and its measure."""

    component: str
    reviewed_as: str
    month: pd.Timestamp
    language: str
    group: str
    value: float
    lower: float
    upper: float
    n: int
    n_eff: float
    alarm: bool
    note: str


class Record(Fields):
    """One figure; what it does not have is left out."""

    section: str
    measure: str


def record(section: str, measure: str, **fields: Unpack[Fields]) -> Record:
    """Return one figure.

    Parameters
    ----------
    section, measure : str
        A key of ``SECTIONS`` and the figure's own word.
    **fields
        Any of ``COLUMNS`` but the cut-off.
    """
    return Record(section=section, measure=measure, **fields)


def share_records(
    section: str,
    measure: str,
    shares: Shares,
    labels: Iterable[Fields],
    *,
    note: str = "",
) -> Iterator[Record]:
    """Yield a record for each group that has rows; few rows are no measurement.

    Parameters
    ----------
    section, measure : str
        As for ``record``.
    shares : Shares
        One group a label.
    labels : iterable of dict
        What names each group, in its order.
    note : str
        Said of each share that is measured.
    """
    for i, label in enumerate(labels):
        n, n_eff = int(shares.n[i]), float(shares.n_eff[i])
        if not n:
            continue
        if shares.is_measured[i]:
            figures = Fields(
                value=float(shares.value[i]),
                lower=float(shares.lower[i]),
                upper=float(shares.upper[i]),
            )
            said = note
        else:
            figures, said = Fields(), "not measured: too few randomly drawn claims"
        yield Record(
            section=section,
            measure=measure,
            n=n,
            n_eff=n_eff,
            note=said,
            **label,
            **figures,
        )


def records_frame(records: Iterable[Record], as_of: date) -> pd.DataFrame:
    """Return the records as a table with the columns of ``COLUMNS``."""
    rows = list(records)
    table = pd.DataFrame(
        {name: [row.get(name) for row in rows] for name in COLUMNS},
        columns=list(COLUMNS),
    )
    texts = ("section", "measure", "component", "reviewed_as", "language", "group")
    kinds: dict[str, str] = {
        **dict.fromkeys(texts, "str"),
        **dict.fromkeys(("value", "lower", "upper", "n_eff"), "float64"),
        "n": "Int64",
        "alarm": "boolean",
        "month": "datetime64[us]",
    }
    table = table.astype(kinds)
    table["note"] = table["note"].fillna("").astype("str")
    table["as_of"] = pd.Timestamp(as_of)
    return table.replace({np.inf: np.nan})
