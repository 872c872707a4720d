"""Whose part each unit carries."""

from __future__ import annotations

from datetime import date

from claimlens.db import Session

__all__ = ["put_carriers"]


def put_carriers(
    session: Session, as_of: date, *, part_column: str = "supplier"
) -> None:
    """Make the tables of the parts that units carry, and of those replaced.

    Parameters
    ----------
    session : Session
        With the ``*_known`` tables and ``int_claims``.
    as_of : date
        Cut-off.
    part_column : str, default "supplier"
        What is told of a part: its supplier, or another column of it.
    """
    told = {"part_column": part_column}
    session.run("intermediate/int_carriers", {"as_of": as_of, **told})
    session.run("intermediate/int_part_suppliers", told)
