"""Builders for the frames that the classify room takes."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest

from claimlens.classify.decide import classify, explain
from claimlens.classify.taxonomy import load_taxonomy
from claimlens.classify.terms import Terms, load_terms

PART_COLUMNS = [
    "claim_no",
    "part_no",
    "quantity",
    "description",
    "component",
    "unknown",
]
FINDING_COLUMNS = [
    "claim_no", "inspected_on", "part_no", "finding", "component", "failure_mode",
    "note",
]  # fmt: skip
LABEL_COLUMNS = ["claim_no", "component", "failure_mode", "reviewer", "reviewed_on"]

Row = dict[str, object]


@pytest.fixture(scope="session")
def terms() -> Terms:
    """The shipped terms, compiled once."""
    return load_terms(load_taxonomy())


def frames(
    narrative: str | None = None,
    note: str | None = None,
    resolution: str | None = None,
    *,
    parts: list[Row] | None = None,
    findings: list[Row] | None = None,
    labels: list[Row] | None = None,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Build the four frames of one claim, number C1."""
    claims = pd.DataFrame(
        {
            "claim_no": ["C1"],
            "narrative": [narrative],
            "technician_note": [note],
            "resolution": [resolution],
        }
    )
    tables = []
    for rows, columns in (
        (parts, PART_COLUMNS),
        (findings, FINDING_COLUMNS),
        (labels, LABEL_COLUMNS),
    ):
        whole = [{"claim_no": "C1", **row} for row in rows or []]
        tables.append(pd.DataFrame(whole, columns=columns))
    return claims, tables[0], tables[1], tables[2]


@pytest.fixture
def one(terms: Terms) -> Callable[..., pd.Series]:
    """Classify one claim given by texts, parts, findings and labels."""

    def run(*texts: str | None, threshold: float = 0.6, **rows: list[Row]) -> pd.Series:
        built = frames(*texts, **rows)
        return classify(*built, terms=terms, threshold=threshold).iloc[0]

    return run


@pytest.fixture
def told(terms: Terms) -> Callable[..., str]:
    """Explain one claim."""

    def run(*texts: str | None, threshold: float = 0.6, **rows: list[Row]) -> str:
        return explain(*frames(*texts, **rows), terms=terms, threshold=threshold)

    return run
