"""Hand claims out for review: draw, keep the sample, write the workbook."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from claimlens.analysis.evidence import read_claims
from claimlens.analysis.question import Question
from claimlens.analysis.scope import cut_off, open_known
from claimlens.classify.learned import Learned
from claimlens.classify.terms import Terms
from claimlens.db import Session
from claimlens.review.sample import Sample, Sizes, keep_sample
from claimlens.review.workbook import workbook_bytes
from claimlens.settings import Settings

__all__ = ["Exported", "export_review"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """A workbook handed out.

    Parameters
    ----------
    path : Path
        The workbook.
    sample : str
        Name of the sample.
    as_of : date
        Cut-off.
    reasons : dict of str to int
        Claims by the reason for which they are asked, in the order of the rows.
    is_new : bool
        Whether the sample was drawn now, or stood in the warehouse already.
    waiting : int
        Dangerous claims that nobody has reviewed and that are not in it.
    notes : tuple of str
        What else is to be known.
    """

    path: Path
    sample: str
    as_of: date
    reasons: dict[str, int]
    is_new: bool
    waiting: int
    notes: tuple[str, ...]

    def text(self) -> str:
        """Return what was handed out, in a few lines."""
        counts = ", ".join(f"{n} {reason}" for reason, n in self.reasons.items())
        drawn = "drawn now" if self.is_new else "as it was drawn before"
        lines = [
            f"review: {self.path}",
            f"sample {self.sample}, {drawn}: {_claims(sum(self.reasons.values()))} "
            f"({counts})",
        ]
        if self.waiting:
            claims = "claim is" if self.waiting == 1 else "claims are"
            lines.append(
                f"{self.waiting} more dangerous {claims} not reviewed yet: a larger "
                "--queue takes in more of them"
            )
        return "\n".join([*lines, *self.notes]) + "\n"


def export_review(
    session: Session,
    settings: Settings,
    terms: Terms,
    *,
    path: Path,
    as_of: date | None,
    sizes: Sizes,
    redraw: bool,
    learned: Learned | None = None,
) -> tuple[bytes, Exported]:
    """Draw or find the sample of a cut-off and make its workbook.

    Parameters
    ----------
    session : Session
        Open for writing.
    settings : Settings
        The workspace's.
    terms : Terms
        What classifies.
    path : Path
        Where the workbook will stand.
    as_of : date or None
        Cut-off; by default the last month-end not after the newest report.
    sizes : Sizes
        How many claims.
    redraw : bool
        Whether a kept sample is to be replaced.
    learned : Learned, optional
        Answers what the terms leave open.

    Returns
    -------
    bytes
        The workbook.
    Exported
        What is in it.

    Raises
    ------
    InputError
        If there is no claim, or the sizes do not go.
    """
    open_known(session, None)
    day, notes = cut_off(session, Question(as_of=as_of))
    if read_claims(session, settings, terms, learned=learned):
        session.run("staging/store_classifications")
        session.changed = True
    sample = keep_sample(
        session, as_of=day, sizes=sizes, digest=terms.digest, redraw=redraw
    )
    session.put("review_asked", sample.rows[["claim_no"]])
    facts = session.frame("marts/review_facts")
    book = workbook_bytes(sample, facts, terms.taxonomy)
    return book, _told(sample, set(facts["claim_no"]), path, notes)


def _told(
    sample: Sample, there: set[str], path: Path, notes: tuple[str, ...]
) -> Exported:
    """Return what was handed out."""
    rows = sample.rows[sample.rows["claim_no"].isin(there)]
    gone = len(sample.rows) - len(rows)
    if gone:
        notes += (
            f"{_claims(gone)} of the sample left out: no longer in the warehouse",
        )
    reasons = rows["reason"].value_counts(sort=False)
    return Exported(
        path=path,
        sample=sample.name,
        as_of=sample.as_of,
        reasons={str(reason): int(n) for reason, n in reasons.items()},
        is_new=sample.is_new,
        waiting=sample.waiting,
        notes=notes,
    )


def _claims(n: int) -> str:
    return f"{n} claim{'' if n == 1 else 's'}"
