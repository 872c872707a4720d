"""The erasure of a person's data from a workspace."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

import pandas as pd

from claimlens import pipeline
from claimlens.analysis.kept_readings import KEPT_COLUMNS, readings_to_keep
from claimlens.answers import Answers
from claimlens.db import read_warehouse, write_warehouse
from claimlens.errors import WarehouseError
from claimlens.ingest.erased import read_erased
from claimlens.runs import run_lock
from claimlens.upkeep.erasure import Named, Plan, erase_from, make_plan, name_known

__all__ = ["ERASED_COLUMNS", "Erasing"]

ERASED_COLUMNS = ("place", "touched", "unit", "what", "note")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """What was done at one place."""

    place: str
    touched: int
    unit: str
    what: str
    note: str = ""


class _OnlyTriedError(Exception):
    """Takes back what was only tried."""


class Erasing(Answers):
    """Take a person's data out of a workspace."""

    def erase(
        self,
        *,
        serials: str | Sequence[str] = (),
        claims: str | Sequence[str] = (),
        reason: str = "",
        dry_run: bool = False,
        wait: float = 0.0,
    ) -> pd.DataFrame:
        """Erase what the workspace holds of units or claims, for good.

        Texts and identifiers go, out of every version; what is needed for the counts
        stays under a stand-in. A later load of an old export brings nothing back.

        Parameters
        ----------
        serials : str or sequence of str, optional
            Units: with all their claims.
        claims : str or sequence of str, optional
            Claims: number and texts; the unit stays.
        reason : str, optional
            Why, for the proof.
        dry_run : bool, default False
            Tell what would be touched, and change nothing.
        wait : float, default 0
            Seconds to wait for another run or writer.

        Returns
        -------
        pandas.DataFrame
            ``place, touched, unit, what, note``, one row a place.

        Raises
        ------
        InputError
            If a serial or claim is not known.
        """
        named = Named(serials=_listed(serials), claims=_listed(claims))
        if not self.warehouse.exists():
            raise WarehouseError(
                "There is no warehouse yet.",
                source=str(self.warehouse),
                remedy="load some exports first: claimlens ingest FILE",
            )
        with run_lock(self.folder, wait):
            return _table(self._erase(named, reason, dry_run=dry_run, wait=wait))

    def _erase(
        self, named: Named, reason: str, *, dry_run: bool, wait: float
    ) -> list[_Line]:
        with write_warehouse(self.warehouse, wait=wait, limits=self._limits) as session:
            erased = read_erased(session)
            plan = make_plan(session, name_known(session, named, erased))
            readings = self._readings(plan)
            with suppress(_OnlyTriedError), session.transaction():
                done = erase_from(
                    session, plan, erased, readings=readings, reason=reason
                )
                pipeline.read_again(session, self.settings, self._terms, self._learned)
                if dry_run:
                    raise _OnlyTriedError
            if dry_run:
                session.changed = session.compact = False
        return [
            _Line(place=f"warehouse {name}", touched=n, unit="rows", what="masked")
            for name, n in done.touched.items()
        ]

    def _readings(self, plan: Plan) -> pd.DataFrame:
        """Read the claims that lose their texts, at every state of the past."""
        if not plan.claims:
            return pd.DataFrame(columns=list(KEPT_COLUMNS))
        with read_warehouse(self.warehouse, limits=self._limits) as known:
            return readings_to_keep(
                known,
                self.settings,
                self._terms,
                plan.claims,
                learned=self._learned,
            )


def _listed(given: str | Sequence[str]) -> tuple[str, ...]:
    return (given,) if isinstance(given, str) else tuple(given)


def _table(lines: Sequence[_Line]) -> pd.DataFrame:
    return pd.DataFrame(
        [(one.place, one.touched, one.unit, one.what, one.note) for one in lines],
        columns=list(ERASED_COLUMNS),
    )
