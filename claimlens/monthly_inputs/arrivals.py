"""What arrived for a report: each source's newest files, and what is amiss."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import pandas as pd

from claimlens.monthly_inputs.frames import ARRIVAL_COLUMNS, settle

__all__ = ["Amiss", "Arrivals", "Finding"]

#: What can be amiss with a source or a file.
Amiss = Literal[
    "missing",
    "empty",
    "unreadable",
    "small",
    "large",
    "column",
    "word",
    "currency",
    "nothing new",
    "rhythm unknown",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that is amiss with what arrived.

    Parameters
    ----------
    amiss : str
        What kind of thing.
    source : str
        Name of the source, or the kind and pattern of files without one.
    file : str
        The file; empty where one is missing.
    text : str
        As a sentence without source and file.
    short : str
        The same without any word that came from the data.
    is_grave : bool
        Whether figures may be wrong for it.
    """

    amiss: Amiss
    source: str
    file: str
    text: str
    short: str
    is_grave: bool

    @property
    def sentence(self) -> str:
        """Return it with source and file before it."""
        return f"{self.place}: {self.text}"

    @property
    def place(self) -> str:
        """Return source and file in words."""
        if not self.file or self.file == self.source:
            return self.source
        return f"{self.source}, {self.file}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrivals:
    """What arrived, judged on the dates that the files themselves carry.

    Parameters
    ----------
    findings : tuple of Finding
        The grave ones first, then in the order of the sources.
    sources : DataFrame
        One row a source: ``source``, ``kind``, number of ``files``, its
        ``newest_file``, by when that was known (``known_on``), its ``rows``, the
        ``usual_rows`` and what tells them (``usual_from``), its rhythm (``every``)
        and its ``state`` (as expected, look, missing).

    Raises
    ------
    ReportError
        If the frame lacks a column.
    """

    findings: tuple[Finding, ...]
    sources: pd.DataFrame

    def __post_init__(self) -> None:
        """Check the columns of the frame and settle their types."""
        settle(self, ARRIVAL_COLUMNS)

    @property
    def grave(self) -> tuple[Finding, ...]:
        """Return what may make figures wrong."""
        return tuple(finding for finding in self.findings if finding.is_grave)
