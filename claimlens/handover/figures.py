"""All figures of a report in one digest: equal figures, whatever is said with them."""

from __future__ import annotations

import hashlib

from claimlens.handover.cells import to_csv
from claimlens.handover.sheets import ReportTables, typed

__all__ = ["figures_digest"]

_WORDS = frozenset({"text", "note"})
# what was loaded, not what it says
_LOADED = "files"
_DIGITS = 9


def figures_digest(tables: ReportTables) -> str:
    """Return the first digits of a digest of all figures of a report.

    Parameters
    ----------
    tables : ReportTables
        The report. Numbers count to nine digits, dates, flags and keys in full;
        words and the list of files read do not count.

    Returns
    -------
    str
        12 hexadecimal digits of the SHA-256.
    """
    digest = hashlib.sha256()
    for sheet in tables.sheets:
        if sheet.id == _LOADED:
            continue
        frame = typed(sheet)
        kept = [name for name in frame if sheet.kinds[str(name)] not in _WORDS]
        shown = frame[kept].apply(
            lambda column: (
                column.map(lambda value: f"{value:.{_DIGITS}g}", na_action="ignore")
                if column.dtype == "float64"
                else column
            )
        )
        digest.update(f"{sheet.id}\n{to_csv(shown)}".encode())
    return digest.hexdigest()[:12]
