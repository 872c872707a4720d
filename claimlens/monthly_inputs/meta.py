"""Where the monthly report comes from, and what it is made with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from claimlens.monthly_inputs.made import InputDigest, MadeBy, input_digest

__all__ = ["InputFile", "Meta"]


@dataclass(frozen=True, slots=True)
class InputFile:
    """One file that was read; ``sha256`` is the first 12 digits."""

    file: str
    kind: str
    sha256: str
    rows_read: int
    rejected: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Meta:
    """Where the report comes from.

    Parameters
    ----------
    workspace : str
        Name of the workspace, printed in the title.
    as_of : date
        Cut-off: failures and reports after it are hidden.
    as_known : date or None
        Only facts known by then were used; None for all that was loaded.
    version : str
        Version of claimlens.
    settings_digest : str
        First digits of the digest of the settings.
    inputs : tuple of InputFile
        Files in the order of loading.
    report_currency : str or None
        Currency that all costs were turned into; None keeps each currency.
    coverage : str
        The cover in words, such as "24 months from the in-service date".
    confidence : float
        Level of every interval, 0 to 1.
    cover_months : float or None
        Months of cover that every unit has, whatever the component; None where
        that is not told.
    roles : mapping of str to str
        How the workspace names those who act: quality, service, purchasing,
        management, records; what is left out keeps its common name.
    terms_digest : str
        First digits of the digest of the terms that read texts.
    model_digest : str
        First digits of the digest of the learned model; empty where none answered.
    loaded : InputDigest
        Of all batches that were known.
    figures : str
        First digits of the digest of all figures of the report's tables.
    last_made : MadeBy or None
        What the newest report before this one was made with; None where none lies
        in the folder of reports.
    """

    workspace: str
    as_of: date
    as_known: date | None
    version: str
    settings_digest: str
    inputs: tuple[InputFile, ...]
    report_currency: str | None
    coverage: str
    confidence: float = 0.95
    cover_months: float | None = None
    roles: Mapping[str, str] = field(default_factory=dict)
    terms_digest: str = ""
    model_digest: str = ""
    loaded: InputDigest = field(default_factory=lambda: input_digest(()))
    figures: str = ""
    last_made: MadeBy | None = None
