"""A share that a person's review measured."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["AuditedShare"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditedShare:
    """Share of all claims whose component is right, from a random audit.

    Parameters
    ----------
    share, lower, upper : float
        Estimate and its limits, 0 to 1.
    audited : int
        Randomly drawn claims that were reviewed.
    note : str
        What the figure does not cover; empty where it covers all claims.
    """

    share: float
    lower: float
    upper: float
    audited: int
    note: str = ""
