"""What made an earlier report."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

__all__ = ["MadeBy"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeBy:
    """What an earlier report was made with.

    Parameters
    ----------
    as_of : date
        Its cut-off.
    version : str
        Version of claimlens.
    settings, terms : str
        First digits of the digests.
    """

    as_of: date
    version: str
    settings: str
    terms: str
