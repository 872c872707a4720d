"""What a run erases because the period for which it is kept is over."""

from __future__ import annotations

from claimlens import pipeline
from claimlens.analysis.question import Question
from claimlens.db import read_warehouse
from claimlens.erasing import RETENTION, Erasing, Work
from claimlens.runs import RunLog
from claimlens.upkeep.erasure import Named

__all__ = ["Retention"]


class Retention(Erasing):
    """Keep no text longer than ``[privacy] keep_months`` allows."""

    def _past_retention(
        self, loaded: pipeline.Loaded, question: Question, log: RunLog, wait: float
    ) -> int:
        """Erase what is past its time, under the lock of a run; say how many claims.

        Exports of the inbox that bring erased rows once more are written again too,
        even if no further claim came past its time.
        """
        months = self.settings.privacy.keep_months
        if months is None:
            return 0
        before = self._kept_since(question.as_of, Named())
        with read_warehouse(self.warehouse, limits=self._limits) as session:
            past = session.frame("marts/claims_past_retention", {"before": before})
        work = Work(named=Named(), reason=RETENTION, dry_run=False, before=before)
        placed = []
        if len(past) or any(one.erased for one in loaded.accounts):
            placed = self._erase(work, wait)
        log.write(
            "retention",
            keep_months=months,
            before=str(before),
            claims=work.n_claims,
            files=sum(one.what != "left" for one in placed),
            left=[one.path for one in placed if one.what == "left"],
        )
        return work.n_claims
