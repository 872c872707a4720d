"""The scheduled job: load the inbox, say what is amiss, write the reports."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from claimlens import pipeline, printing
from claimlens.analysis.alarms import (
    ARRIVAL,
    Alarms,
    Standing,
    arrival_alarms,
    keep_alarms,
    read_alarms,
    rising_alarms,
)
from claimlens.analysis.question import Day, Question, as_day, ask
from claimlens.analysis.run_arrivals import judge_arrivals
from claimlens.analysis.signals import SIGNAL_COLUMNS, Judged, judge
from claimlens.db import Session, read_warehouse, write_warehouse
from claimlens.errors import ClaimlensError, InputError
from claimlens.handover import make_private, placing_all
from claimlens.kept import kept_key
from claimlens.monthly_inputs import Arrivals
from claimlens.reports import Reports
from claimlens.retention import Retention
from claimlens.runs import (
    RunLog,
    mail_bytes,
    remember,
    remove_drafts,
    remove_older,
    run_lock,
    safe_reason,
    summary_of_failure,
    summary_of_run,
)
from claimlens.settings import digest
from claimlens.upkeep.checking import check_warehouse, refuse_broken
from claimlens.version import __version__

__all__ = ["ALARM_EXIT", "Scheduled", "Teller"]

#: Exit code of a run that was done and found an alarm no run had told before.
ALARM_EXIT = 3

# a first run may tell of a thousand; the list of claims has them all
_LOGGED_ALARMS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Teller:
    """Whom a run tells what it found, as soon as it knows it.

    Parameters
    ----------
    on_arrivals : callable
        What arrived, before any number.
    on_loaded : callable
        The accounts.
    on_alarms : callable
        The alarms, before the report is tried, so that a report that fails holds
        back no danger.
    """

    on_arrivals: Callable[[Arrivals], None] = lambda arrivals: None
    on_loaded: Callable[[pipeline.Loaded], None] = lambda loaded: None
    on_alarms: Callable[[Alarms], None] = lambda alarms: None


@dataclass(slots=True, kw_only=True)
class _Work:
    """What a run was asked, and what it knows so far, also if it fails."""

    question: Question
    wait: float
    fail_on_alarm: bool
    teller: Teller
    log: RunLog
    arrivals: Arrivals | None = None
    alarms: Alarms | None = None
    standing: Standing | None = None


class Scheduled(Reports, Retention):
    """The unattended run of a workspace.

    Parameters
    ----------
    folder : Path
        Holds the warehouse.
    settings : Settings
        Rules and limits.
    """

    @property
    def inbox(self) -> Path:
        """Return the folder that ``run`` loads from."""
        return self.folder / "inbox"

    def load(
        self,
        paths: Iterable[str | Path] | None = None,
        *,
        known_on: Day = None,
        wait: float = 0.0,
        on_seen: Callable[[Session, pipeline.Seen], None] | None = None,
    ) -> pipeline.Loaded:
        """Load exports; the inbox where no path is given.

        Parameters
        ----------
        paths : iterable of str or Path, optional
            Files, folders, patterns.
        known_on : date, optional
            By when the facts were known; by default each file's newest date.
        wait : float, default 0
            Seconds to wait for another writer.
        on_seen : callable, optional
            Called when every file was looked at and before a refusal is raised.

        Returns
        -------
        pipeline.Loaded
            Row accounts and skipped files.
        """
        with write_warehouse(self.warehouse, wait=wait, limits=self._limits) as session:
            return pipeline.load(
                session,
                self.settings,
                self._terms,
                [self.inbox] if paths is None else paths,
                known_on=as_day(known_on),
                learned=self._learned,
                on_seen=on_seen,
            )

    def _state(self) -> str:
        """Return what answers about the usual cut-off rest on."""
        return kept_key(self.warehouse, self.settings, self._terms.digest, Question())

    def _judged_if_any(self) -> Judged | None:
        """Judge what was built by the usual cut-off, None where no register tells."""
        try:
            with self._reading(Question()) as (session, scope):
                return judge(session, self.settings, scope)
        except InputError:
            return None

    def run(
        self,
        *,
        as_of: Day = None,
        wait: float = 0.0,
        fail_on_alarm: bool = False,
        teller: Teller | None = None,
    ) -> pipeline.RunOutcome:
        """Load the inbox and write the monthly report; safe to repeat.

        One run at a time: a second one is refused, or waits. What it does stands in
        ``log/run.jsonl``; a summary ready to be mailed in ``out/summary.txt`` and
        ``out/summary.eml``, also where the run fails.

        Parameters
        ----------
        as_of : date, optional
            Cut-off of the report.
        wait : float, default 0
            Seconds to wait for another run, and for another writer.
        fail_on_alarm : bool, default False
            Whether a new alarm is to be told by the exit code.
        teller : Teller, optional
            Whom to tell what is found, as soon as it is known.

        Returns
        -------
        pipeline.RunOutcome
            Row accounts, what arrived, the paths written, and the alarms that are
            new since the last run that came to its end.
        """
        question = ask(as_of=as_of)
        with run_lock(self.folder, wait):
            log = RunLog(self.folder / "log" / "run.jsonl")
            log.write(
                "start",
                version=__version__,
                settings=digest(self.settings)[:12],
                as_of=None if question.as_of is None else str(question.as_of),
                earlier_run_was_cut_off=log.was_cut_off,
            )
            work = _Work(
                question=question,
                wait=wait,
                fail_on_alarm=fail_on_alarm,
                teller=teller or Teller(),
                log=log,
            )
            try:
                outcome = self._run(work)
            except BaseException as error:
                reason = safe_reason(error)
                code = error.exit_code if isinstance(error, ClaimlensError) else 1
                log.write("end", exit_code=code, reason=reason)
                self._tell_failure(reason, work)
                raise
            reason = "a new alarm" if outcome.exit_code else "done"
            log.write("end", exit_code=outcome.exit_code, reason=reason)
            return outcome

    def _run(self, work: _Work) -> pipeline.RunOutcome:
        """Do the work of a run that holds the lock."""
        made = (self.out, *(self.folder / name for name in ("cache", "log", "model")))
        remove_drafts(*made)
        self._finish_earlier()
        loaded = self._load_and_judge(work)
        state = self._state()
        judged = self._judged_if_any()
        self._find_alarms(judged, work)
        arrivals, alarms, standing = work.arrivals, work.alarms, work.standing
        if arrivals is None or alarms is None or standing is None:
            raise InputError("The run lost what it found.")
        expired = self._past_retention(loaded, work.question, work.log, work.wait)
        # another writer may have come between: then the page judges for itself
        judged = judged if self._state() == state else None
        self._refuse_broken(work)
        report, page = self._make_report(work.question, judged=judged)
        summary = self._place_all(page, report, work)
        for path in (page, page.with_suffix(".xlsx")):
            work.log.write(
                "report",
                file=path.name,
                sha256=hashlib.sha256(path.read_bytes()).hexdigest(),
                cut_off=str(report.news.as_of),
            )
        if not alarms.is_settled:
            limits = self._limits
            with write_warehouse(
                self.warehouse, wait=work.wait, limits=limits
            ) as session:
                keep_alarms(session, alarms.new, standing)
        spared = (page, page.with_suffix(".xlsx"))
        removed = remove_older(self.out, self.settings.report.keep, spared)
        if removed:
            work.log.write("removed", files=list(removed))
        return pipeline.RunOutcome(
            loaded=loaded,
            arrivals=arrivals,
            report=page,
            summary=summary,
            removed=removed,
            alarms=alarms.new,
            exit_code=ALARM_EXIT if alarms.new and work.fail_on_alarm else 0,
            expired=expired,
        )

    def _refuse_broken(self, work: _Work) -> None:
        """Make no report from a warehouse that does not hold together."""
        identities = check_warehouse(
            self.warehouse,
            (self.settings, self._terms, self._learned),
            question=work.question,
            limits=self._limits,
            refold=False,
        )
        broken = [one.name for one in identities if not one.is_held]
        work.log.write("check", judged=len(identities), broken=broken)
        refuse_broken(identities, self.warehouse)

    def _load_and_judge(self, work: _Work) -> pipeline.Loaded:
        """Load the inbox; tell what is amiss with it before anything else."""

        def judge_seen(session: Session, seen: pipeline.Seen) -> None:
            arrivals = judge_arrivals(
                session,
                self.settings,
                work.question,
                newest_batch=seen.newest_batch,
                accounts=seen.accounts,
                skipped=seen.skipped,
                refused=seen.refused,
            )
            work.arrivals = arrivals
            for finding in arrivals.findings:
                work.log.write(
                    "arrival",
                    amiss=finding.amiss,
                    source=finding.source,
                    file=finding.file,
                    grave=finding.is_grave,
                    text=finding.short,
                )
            work.teller.on_arrivals(arrivals)

        loaded = self.load(wait=work.wait, on_seen=judge_seen)
        for row in loaded.frame().to_dict("records"):
            counts = {
                str(name): int(value)
                for name, value in row.items()
                if name not in ("file", "kind") and not pd.isna(value)
            }
            work.log.write("file", file=row["file"], kind=row["kind"], rows=counts)
        for name, _ in loaded.skipped:
            work.log.write("skipped", file=name)
        work.teller.on_loaded(loaded)
        return loaded

    def _find_alarms(self, judged: Judged | None, work: _Work) -> None:
        """Find the alarms that no run has told, and tell them."""
        signals = (
            pd.DataFrame(columns=list(SIGNAL_COLUMNS))
            if judged is None
            else judged.signals
        )
        work.standing = Standing(
            rising=rising_alarms(signals), arrived=arrival_alarms(work.arrivals)
        )
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            work.alarms = read_alarms(session, work.standing)
        # what arrived stands in the log already
        told = [alarm for alarm in work.alarms.new if alarm.kind != ARRIVAL]
        for alarm in told[:_LOGGED_ALARMS]:
            work.log.write(
                "alarm",
                kind=alarm.kind,
                subject=alarm.subject,
                raised_on=str(alarm.raised_on),
                component=alarm.component,
            )
        if len(told) > _LOGGED_ALARMS:
            work.log.write("more alarms", number=len(told) - _LOGGED_ALARMS)
        work.teller.on_alarms(work.alarms)

    def _place_all(
        self, page: Path, report: printing.MonthlyReport, work: _Work
    ) -> Path:
        """Put page, workbook and summary in their place, all or none."""
        news, mail = report.news, self.settings.mail
        contents = report.page.encode("utf-8")
        files = (page.name, page.with_suffix(".xlsx").name)
        summary = summary_of_run(
            title=news.title,
            about=(*self._about(), f"cut-off {news.as_of}"),
            arrivals=work.arrivals or news.arrivals,
            alarms=work.alarms.new if work.alarms is not None else (),
            decisions=news.decisions,
            files=tuple(f"out/{name}" for name in files),
        )
        text = self.out / "summary.txt"
        message = mail_bytes(
            summary,
            mail,
            day=news.as_of,
            page=(page.name, contents) if mail.attach else None,
        )
        parts = {
            text: summary.text().encode("utf-8"),
            text.with_suffix(".eml"): message,
            page.with_suffix(".xlsx"): report.workbook or b"",
            page: contents,
        }
        make_private(self.out)
        with placing_all(list(parts), overwrite=True) as write:
            for path, written in parts.items():
                write(path, written)
        remember(self.out, (page, page.with_suffix(".xlsx")))
        return text

    def _about(self) -> tuple[str, ...]:
        return (f"claimlens {__version__}, settings {digest(self.settings)[:12]}",)

    def _tell_failure(self, reason: str, work: _Work) -> None:
        """Leave no summary of an earlier run to be taken for that of this one."""
        summary = summary_of_failure(
            workspace=self.settings.workspace.name,
            about=self._about(),
            reason=reason,
            arrivals=work.arrivals,
            alarms=work.alarms.new if work.alarms is not None else (),
        )
        text = self.out / "summary.txt"
        parts = {
            text: summary.text().encode("utf-8"),
            text.with_suffix(".eml"): mail_bytes(summary, self.settings.mail, day=None),
        }
        # the fault itself is what the caller must see, not one of telling it
        with suppress(ClaimlensError, OSError):
            make_private(self.out)
            with placing_all(list(parts), overwrite=True) as write:
                for path, written in parts.items():
                    write(path, written)
