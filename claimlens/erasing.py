"""The erasure of a person's data from a workspace."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, date, datetime

import pandas as pd

from claimlens import pipeline
from claimlens.analysis.kept_readings import KEPT_COLUMNS, readings_to_keep
from claimlens.analysis.learning import keep_model, pruned_model
from claimlens.analysis.question import Day, as_day
from claimlens.answers import Answers
from claimlens.db import Session, read_warehouse, write_warehouse
from claimlens.errors import InputError, WarehouseError
from claimlens.ingest.erased import Erased, read_erased
from claimlens.ingest.traces import Phrases, Traces
from claimlens.runs import remove_drafts, run_lock
from claimlens.settings import SETTINGS_FILE
from claimlens.upkeep.erasing_again import remembered
from claimlens.upkeep.erasure import (
    Done,
    Named,
    Plan,
    erase_from,
    make_plan,
    name_known,
    plan_for,
)
from claimlens.upkeep.erasure_copies import Copies
from claimlens.upkeep.erasure_files import (
    FileWork,
    digest_of_bytes,
    folders_of,
    plan_files,
)
from claimlens.upkeep.erasure_journal import Journal, Placed, note_work, read_journal
from claimlens.upkeep.erasure_proof import append_proof

__all__ = ["ERASED_COLUMNS", "RETENTION", "Erasing", "Work"]

ERASED_COLUMNS = ("place", "touched", "unit", "what", "note")
_KEPT_ANSWERS = "cache"


RETENTION = "claims past their retention period"
"""What such claims are called in a proof."""


class _OnlyTriedError(Exception):
    """Takes back what was only tried."""


@dataclass(slots=True, kw_only=True)
class Work:
    """What an erasure was asked, and what it knows so far."""

    named: Named
    reason: str
    dry_run: bool
    done: Done | None = None
    before: date | None = None
    n_claims: int = 0
    files: list[FileWork] = field(default_factory=list)
    journal: Journal | None = None
    left: list[Placed] = field(default_factory=list)
    n_pruned: int = 0
    again: int = 0


class Erasing(Answers):
    """Take a person's data out of a workspace."""

    def erase(
        self,
        *,
        serials: str | Sequence[str] = (),
        claims: str | Sequence[str] = (),
        past_retention: bool = False,
        as_of: Day = None,
        reason: str = "",
        dry_run: bool = False,
        wait: float = 0.0,
    ) -> pd.DataFrame:
        """Erase what the workspace holds of units or claims, for good.

        Texts and identifiers go: out of every version in the warehouse, the kept
        answers, the learned model, the exports and reports in the folder, and the
        log. What is needed for the counts stays under a stand-in. A later load of an
        old export brings nothing back. Repeat the call where a file had to be left.

        Parameters
        ----------
        serials : str or sequence of str, optional
            Units: with all their claims.
        claims : str or sequence of str, optional
            Claims: number and texts; the unit stays.
        past_retention : bool, default False
            Instead: all claims reported longer ago than ``[privacy] keep_months``.
        as_of : date, optional
            From when that is counted back; today, and never later than today.
        reason : str, optional
            Why, for the proof.
        dry_run : bool, default False
            Tell what would be touched, and change nothing.
        wait : float, default 0
            Seconds to wait for another run or writer.

        Returns
        -------
        pandas.DataFrame
            ``place, touched, unit, what, note``, one row a place; ``what`` is
            ``left`` where a person has to see to a file.

        Raises
        ------
        InputError
            If a serial or claim is not known, or no retention period is set.
        """
        work = Work(
            named=Named(serials=_listed(serials), claims=_listed(claims)),
            reason=reason,
            dry_run=dry_run,
        )
        if past_retention:
            work.before = self._kept_since(as_of, work.named)
        if not self.warehouse.exists():
            raise WarehouseError(
                "There is no warehouse yet.",
                source=str(self.warehouse),
                remedy="load some exports first: claimlens ingest FILE",
            )
        with run_lock(self.folder, wait):
            return _table(work, self._erase(work, wait))

    def _erase(self, work: Work, wait: float) -> list[Placed]:
        """Erase under the run's lock; return what became of the files."""
        # what was half-written when an erasure was killed holds the person
        remove_drafts(*folders_of(self.folder))
        placed = [] if work.dry_run else self._finish_earlier()
        self._erase_rows(work, wait)
        if work.journal is not None:
            placed += self._finish(work.journal)
        return [*placed, *work.left]

    def _kept_since(self, as_of: Day, named: Named) -> date:
        """Return the day from which on the claims' texts are kept."""
        months = self.settings.privacy.keep_months
        if months is None:
            raise InputError(
                "No retention period is set.",
                source=str(self.folder / SETTINGS_FILE),
                remedy="set keep_months under [privacy], or name a serial or claim",
            )
        if named.pairs():
            raise InputError(
                "Serials or claims are named together with the retention period.",
                remedy="erase what is named first, then what is past its time",
            )
        today = datetime.now(UTC).date()
        # a date typed wrong must not erase what is not due
        day = min(as_day(as_of) or today, today)
        kept_since: date = (pd.Timestamp(day) - pd.DateOffset(months=months)).date()
        return kept_since

    def _finish_earlier(self) -> list[Placed]:
        """Complete, or take back, what a killed erasure had begun."""
        journal = read_journal(self.folder)
        if journal is None:
            return []
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            known = session.frame("marts/erasures")["erasure"].tolist()
        if journal.erasure in known:
            return self._finish(journal)
        journal.give_up()
        return []

    def _erase_rows(self, work: Work, wait: float) -> None:
        """Change the warehouse, everything about the files prepared before."""
        try:
            with write_warehouse(
                self.warehouse, wait=wait, limits=self._limits
            ) as session:
                erased = read_erased(session)
                plan = make_plan(session, self._named_plan(session, work, erased))
                work.n_claims = len(plan.claims)
                self._try_plan(session, plan, erased, work)
        except BaseException:
            if work.journal is not None:
                work.journal.give_up()
            raise

    def _named_plan(self, session: Session, work: Work, erased: Erased) -> Plan:
        if work.before is None:
            return name_known(session, work.named, erased)
        past = session.frame("marts/claims_past_retention", {"before": work.before})
        held = [("claim", str(number)) for number in past["claim_no"]]
        work.reason = work.reason or RETENTION
        return plan_for(session, held, erased, what=RETENTION)

    def _try_plan(
        self, session: Session, plan: Plan, erased: Erased, work: Work
    ) -> None:
        readings = self._readings(plan)
        with suppress(_OnlyTriedError), session.transaction():
            work.again = len(plan.again)
            work.done = erase_from(
                session, plan, erased, readings=readings, reason=work.reason
            )
            self._look_at_files(session, plan, erased, work)
            if work.dry_run:
                raise _OnlyTriedError
            self._prepare_files(session, work)
            self._prune(session, plan, work)
            pipeline.read_again(session, self.settings, self._terms, self._learned)
            if work.journal is not None:
                work.journal.keep()
        if work.dry_run or (plan.targets.empty and not work.files):
            session.changed = session.compact = False

    def _look_at_files(
        self, session: Session, plan: Plan, erased: Erased, work: Work
    ) -> None:
        """Find the files that show what goes."""
        phrases = Phrases(plan.texts)
        phrases.keep_own(session.frame("marts/texts_left")["text"].tolist())
        traces = Traces(
            erased.with_keys(plan.keys()),
            phrases,
            plain=plan.identifiers()
            if work.before is None and not plan.again
            else None,
            rejected=plan.rejected,
        )
        work.files = plan_files(self.folder, self.settings, traces)
        known = remembered(session)
        if plan.targets.empty and work.done is not None:
            # nothing new that an older state could lack
            known = known.without(work.done.erasure)
        copies = Copies(folder=self.folder, known=known, limits=self._limits)
        work.files += copies.plan()

    def _prepare_files(self, session: Session, work: Work) -> None:
        """Write what files will hold beside them, and tell the warehouse."""
        done = work.done
        if done is None:
            return
        work.journal, work.left = note_work(self.folder, done.erasure, work.files)
        work.journal.proof = done.proof
        bytes_of = [
            (step["before"], step["after"])
            for step in work.journal.steps
            if step["draft"] is not None
        ]
        if bytes_of:
            frame = pd.DataFrame(bytes_of, columns=["before", "after"], dtype="str")
            session.put("files_rewritten", frame)
            session.run("staging/rewrite_files")
            session.changed = True

    def _prune(self, session: Session, plan: Plan, work: Work) -> None:
        """Take the words that nobody else used out of the learned model."""
        if self._learned is None or not plan.texts:
            return
        left = session.frame("marts/texts_left")["text"].tolist()
        pruned, work.n_pruned = pruned_model(self._learned, plan.texts, left)
        if work.n_pruned:
            self._learned = keep_model(pruned, self.folder)

    def _finish(self, journal: Journal) -> list[Placed]:
        """Put files in their new state, drop kept answers, write the proof."""
        placed = journal.finish()
        cache = self.folder / _KEPT_ANSWERS
        n_kept = sum(1 for path in cache.glob("*")) if cache.is_dir() else 0
        shutil.rmtree(cache, ignore_errors=True)
        if n_kept:
            placed.append(
                Placed(
                    path=f"{_KEPT_ANSWERS}/",
                    what="removed",
                    rows=n_kept,
                    note="kept answers, found again when asked",
                )
            )
        counted: dict[str, int] = {}
        for one in placed:
            counted[one.what] = counted.get(one.what, 0) + 1
        append_proof(
            self.folder / "log" / "erasures.jsonl",
            {
                **journal.proof,
                "files": counted,
                "warehouse_sha256": digest_of_bytes(self.warehouse),
            },
        )
        return placed

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


def _table(work: Work, placed: Sequence[Placed]) -> pd.DataFrame:
    """Return what was touched, place by place."""
    touched = work.done.touched if work.done is not None else {}
    rows: list[tuple[str, int, str, str, str]] = [
        (f"warehouse: {name}", count, "rows", "masked", "")
        for name, count in touched.items()
    ]
    if work.n_pruned:
        note = "words that nobody else used; claimlens learn trains anew without them"
        rows.append(("learned model", work.n_pruned, "names", "removed", note))
    if work.dry_run:
        rows += [
            (
                one.path.name,
                one.rows,
                "rows",
                "left" if one.what == "left" else f"would {one.what}",
                one.note,
            )
            for one in work.files
        ]
    rows += [(one.path, one.rows, "rows", one.what, one.note) for one in placed]
    return pd.DataFrame(rows, columns=list(ERASED_COLUMNS))
