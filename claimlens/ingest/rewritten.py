"""What became of a file that was written again without something erased."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["BY_HAND", "Rewritten"]

BY_HAND = "take the person's rows out with the program that wrote it, or remove it"
"""What a person does where claimlens cannot write a file again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rewritten:
    """What a file is without the rows of something erased.

    Parameters
    ----------
    contents : bytes or None
        The whole new file; None where it stays as it is.
    rows : int
        Rows taken out, and places where an identifier was masked.
    why : str
        Why a file that shows something erased cannot be written again; else empty.
    note : str
        What is different about the file now, apart from the rows.
    """

    contents: bytes | None = None
    rows: int = 0
    why: str = ""
    note: str = ""
