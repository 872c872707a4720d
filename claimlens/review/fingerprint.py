"""The check word of a row: whether its key is still the one that was handed out."""

from __future__ import annotations

import hashlib

__all__ = ["check_word"]

# letters only: a spreadsheet would read 12e45678 as a number
_LETTERS = "bcdfghjkmnpqrstv"


def check_word(sample: str, claim_no: str) -> str:
    """Return the word that goes with a claim in a sample.

    It guards against slips (a key typed over, a cell dragged down, rows of two
    workbooks mixed up), not against somebody who wants to cheat.

    Parameters
    ----------
    sample : str
        Name of the sample.
    claim_no : str
        The claim.

    Returns
    -------
    str
        Ten letters.
    """
    # the length keeps ("ab", "c") apart from ("a", "bc")
    text = f"{len(sample)}:{sample}{claim_no}"
    digest = hashlib.sha256(text.encode()).hexdigest()[:10]
    return "".join(_LETTERS[int(digit, 16)] for digit in digest)
