"""Names of files that differ only in their date or number."""

from __future__ import annotations

import re

__all__ = ["name_shape"]

# months as people put them into names of files, in the five languages of the texts
_MONTHS = (
    "january|february|march|april|may|june|july|august|september|october|november|"
    "december|januar|februar|märz|maerz|mai|juni|juli|oktober|dezember|janvier|"
    "février|fevrier|mars|avril|juin|juillet|août|aout|septembre|octobre|novembre|"
    "décembre|decembre|januari|februari|maart|mei|augustus|enero|febrero|marzo|abril|"
    "mayo|junio|julio|agosto|septiembre|octubre|noviembre|diciembre|"
    "jan|feb|mar|apr|jun|jul|aug|sep|sept|oct|okt|nov|dec|dez"
)
_DATED = re.compile(rf"(?<![^\W\d_])(?:{_MONTHS})(?![^\W\d_])|\d+")


def name_shape(file: str) -> str:
    """Return the name of a file with what differs from month to month taken out.

    Parameters
    ----------
    file : str
        Name of a file; ``.gz`` at its end does not matter.

    Returns
    -------
    str
        In small letters, ``*`` for numbers and for names of months:
        ``claims_de_*.csv``.
    """
    plain = file.casefold().removesuffix(".gz")
    return re.sub(r"\*(?:[-_. ]?\*)+", "*", _DATED.sub("*", plain))
