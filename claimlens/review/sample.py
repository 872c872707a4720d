"""Samples kept in the warehouse: drawn once, and the same ever after."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import pandas as pd

from claimlens.db import Session
from claimlens.errors import InputError
from claimlens.review.draw import (
    AUDIT_SIZE,
    QUEUE_SIZE,
    check_size,
    draw_repeats,
    draw_sample,
    waiting_dangers,
)

__all__ = ["Sample", "Sizes", "keep_sample"]

_KEPT = (
    "claim_no", "stratum", "probability", "reason", "component", "failure_mode",
    "source", "confidence", "safety", "evidence",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """How many claims were asked for; None where nothing was said.

    Parameters
    ----------
    queue, audit : int or None
        Of the usual sample.
    again : int or None
        Of a second review, which goes without the other two.
    """

    queue: int | None = None
    audit: int | None = None
    again: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """The claims of one workbook.

    Parameters
    ----------
    name : str
        The cut-off, with ``again`` behind it for a second review.
    as_of : date
        Cut-off.
    rows : DataFrame
        ``claim_no, reason`` and, but for a second review, what was read in the
        claim when it was drawn; in the order of the workbook.
    is_new : bool
        Whether it was drawn now.
    waiting : int
        Dangerous claims that nobody has reviewed and that are not in it; not counted
        for a second review.
    """

    name: str
    as_of: date
    rows: pd.DataFrame
    is_new: bool
    waiting: int


def keep_sample(
    session: Session, *, as_of: date, sizes: Sizes, digest: str, redraw: bool
) -> Sample:
    """Return the sample of a cut-off: the one kept, or one drawn now and kept.

    Parameters
    ----------
    session : Session
        Open for writing, with ``classified_known``.
    as_of : date
        Cut-off.
    sizes : Sizes
        As asked.
    digest : str
        Of the terms that classified.
    redraw : bool
        Whether a kept sample is to be replaced.

    Returns
    -------
    Sample

    Raises
    ------
    InputError
        If sizes go against each other or against the sample that is kept, if
        there is nothing to review, or if a sample that came back is to be redrawn.
    """
    if sizes.again is not None and (sizes.queue, sizes.audit) != (None, None):
        raise InputError(
            "A second review has a workbook of its own, without queue and audit.",
            remedy="give --again alone, and export queue and audit apart",
        )
    for option, size in (
        ("queue", sizes.queue),
        ("audit", sizes.audit),
        ("again", sizes.again),
    ):
        check_size(option, size or 0)
    name = f"{as_of} again" if sizes.again is not None else str(as_of)
    pool = session.frame("marts/review_pool", {"as_of": as_of})
    query = "review_repeat" if sizes.again is not None else "review_sample"
    kept = session.frame(f"marts/{query}", {"sample": name})
    if redraw and len(kept):
        _refuse_answered(kept, pool, name, sizes)
        session.run("staging/drop_sample", {"sample": name})
        session.changed = True
        kept = kept.iloc[:0]
    is_new = kept.empty
    if is_new:
        drawn = _draw(pool, as_of, sizes, digest).assign(sample=name)
        table = "review_samples" if sizes.again is None else "review_repeats"
        session.append(table, drawn)
        session.changed = True
    else:
        _refuse_other_sizes(kept, name, sizes)
        drawn = kept
    if sizes.again is not None:
        drawn = drawn[["claim_no"]].assign(reason="second review")
    return Sample(
        name=name,
        as_of=as_of,
        rows=drawn,
        is_new=is_new,
        waiting=0 if sizes.again is not None else waiting_dangers(pool, drawn),
    )


def _draw(pool: pd.DataFrame, as_of: date, sizes: Sizes, digest: str) -> pd.DataFrame:
    """Draw a sample, or say why there is none."""
    if sizes.again is not None:
        drawn = draw_repeats(pool, as_of=as_of, again=sizes.again)[["claim_no"]]
        told: dict[str, object] = {"repeat_size": sizes.again}
        nothing = "No claim has been reviewed by exactly one person so far."
    else:
        queue = QUEUE_SIZE if sizes.queue is None else sizes.queue
        audit = AUDIT_SIZE if sizes.audit is None else sizes.audit
        drawn = draw_sample(pool, as_of=as_of, queue=queue, audit=audit)[list(_KEPT)]
        told = {"queue_size": queue, "audit_size": audit, "terms_digest": digest}
        nothing = f"Every claim reported by {as_of} has been reviewed."
    if drawn.empty:
        raise InputError(
            nothing,
            remedy="apply a filled workbook first: claimlens review apply FILE"
            if sizes.again is not None
            else "load newer claims, choose a later --as-of, or let a second person "
            "review some with --again",
        )
    return drawn.assign(
        place=range(1, len(drawn) + 1), as_of=pd.Timestamp(as_of), **told
    )


def _refuse_other_sizes(kept: pd.DataFrame, name: str, sizes: Sizes) -> None:
    """Refuse sizes that are not those with which the kept sample was drawn."""
    asked = {"queue": sizes.queue, "audit": sizes.audit, "again": sizes.again}
    columns = {"queue": "queue_size", "audit": "audit_size", "again": "repeat_size"}
    for option, size in asked.items():
        column = columns[option]
        if size is None or column not in kept.columns:
            continue
        drawn = int(kept[column].iloc[0])
        if size != drawn:
            raise InputError(
                f"The sample {name} was drawn with --{option} {drawn}; "
                f"got --{option} {size}.",
                remedy=f"give --{option} {drawn} to have that sample again, choose "
                "another --as-of, or give --redraw to replace it",
            )


def _refuse_answered(
    kept: pd.DataFrame, pool: pd.DataFrame, name: str, sizes: Sizes
) -> None:
    """Refuse to forget a sample that answers have come back for."""
    before = 0 if sizes.again is None else 1
    asked = pool[pool["claim_no"].isin(kept["claim_no"])]
    n = int(asked["n_reviewers"].gt(before).sum())
    if n:
        what = "quality" if sizes.again is None else "agreement"
        raise InputError(
            f"The sample {name} cannot be drawn anew: {n} of its {len(kept)} claims "
            f"{'has' if n == 1 else 'have'} been reviewed, and {what} is measured on "
            "it.",
            remedy="leave --redraw out to have that sample again, or choose another "
            "--as-of",
        )
