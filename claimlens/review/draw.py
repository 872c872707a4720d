"""Which claims are worth a person's time, and which are drawn to measure by."""

from __future__ import annotations

import hashlib
from datetime import date, timedelta

import numpy as np
import pandas as pd

from claimlens.classify.decide import DISAGREES
from claimlens.errors import InputError

__all__ = [
    "AUDIT",
    "AUDIT_SIZE",
    "QUEUE",
    "QUEUE_SIZE",
    "by_chance",
    "check_size",
    "draw_repeats",
    "draw_sample",
    "waiting_dangers",
]

QUEUE_SIZE = 60
AUDIT_SIZE = 40
QUEUE, AUDIT = "queue", "audit"

# A danger reported so recently always has a place in the queue.
_FRESH_DAYS = 31
# Of the queue: what older dangers, and what dear claims may take where more wait.
_DANGER_SHARE = 0.5
_COST_SHARE = 1 / 6
_DISPUTED_SHARE = 1 / 4
# Of the claims with a cost in one currency: the dearest twentieth.
_DEAR_QUANTILE = 0.95
_MOST = 100_000


def draw_sample(
    pool: pd.DataFrame,
    *,
    as_of: date,
    queue: int = QUEUE_SIZE,
    audit: int = AUDIT_SIZE,
) -> pd.DataFrame:
    """Draw the claims of one review: a queue by worth, an audit by chance.

    The queue holds dangerous claims (open or fresh ones all, older ones up to
    half of the queue; first what no inspection has settled, then the newest), then
    the dearest of their currency (up to a sixth), those whose inspection, part and
    technician name different components (up to a quarter), then the least sure,
    claims without any text last. A dangerous claim stands among the dangerous ones
    whatever brought it in. The audit is a simple random sample of all the rest: the
    claims with the smallest SHA-256 of month and claim number, so that anyone can
    draw it again.

    Parameters
    ----------
    pool : DataFrame
        The rows of ``marts/review_pool``; those with a reviewer are passed over.
    as_of : date
        Cut-off; its month is the seed of the audit.
    queue, audit : int
        Sizes, 0 or more; fewer where the pool holds no more.

    Returns
    -------
    DataFrame
        The drawn rows of the pool in the order of the workbook, with ``reason``
        (dangerous, large cost, sources disagree, unsure, audit), ``stratum``
        (queue, audit) and ``probability`` of being drawn: 1 in the queue, size of
        the audit over that of all the rest in the audit.

    Raises
    ------
    InputError
        If a size is negative or beyond 100,000, or both are 0.

    References
    ----------
    .. [1] Horvitz & Thompson (1952), J. Am. Stat. Assoc. 47, 663-685: what the
       probabilities are kept for.
    """
    for name, size in (("queue", queue), ("audit", audit)):
        check_size(name, size)
    if queue + audit == 0:
        raise InputError(
            "A review of no claims was asked for.",
            remedy="give --queue or --audit a number above 0",
        )
    waiting = pool[pool["n_reviewers"] == 0]
    waiting = waiting.set_index("claim_no", drop=False).rename_axis(None)
    reasons = _queue(waiting, as_of, queue)
    rest = waiting.drop(index=list(reasons))
    chosen = by_chance(rest["claim_no"], f"{as_of:%Y-%m}", audit)
    reasons |= dict.fromkeys(chosen, AUDIT)
    drawn = waiting.loc[list(reasons)].reset_index(drop=True)
    drawn["reason"] = pd.Series(list(reasons.values()), dtype="str")
    is_audit = drawn["reason"].eq(AUDIT)
    drawn["stratum"] = is_audit.map({True: AUDIT, False: QUEUE}).astype("str")
    share = len(chosen) / len(rest) if len(rest) else 1.0
    drawn["probability"] = np.where(is_audit, share, 1.0)
    return drawn


def draw_repeats(pool: pd.DataFrame, *, as_of: date, again: int) -> pd.DataFrame:
    """Draw reviewed claims at random for a second reviewer.

    Parameters
    ----------
    pool : DataFrame
        The rows of ``marts/review_pool``.
    as_of : date
        Cut-off; its month is the seed.
    again : int
        How many; fewer where no more have exactly one reviewer.

    Returns
    -------
    DataFrame
        The drawn rows of the pool, by claim number.

    Raises
    ------
    InputError
        If the number is below 1 or beyond 100,000.
    """
    check_size("again", again)
    if again == 0:
        raise InputError(
            "A second review of no claims was asked for.",
            remedy="give --again a number above 0",
        )
    once = pool[pool["n_reviewers"] == 1]
    chosen = by_chance(once["claim_no"], f"{as_of:%Y-%m} again", again)
    return once[once["claim_no"].isin(chosen)].reset_index(drop=True)


def waiting_dangers(pool: pd.DataFrame, drawn: pd.DataFrame) -> int:
    """Return how many dangerous claims nobody has reviewed nor been asked about."""
    waits = pool["n_reviewers"].eq(0) & pool["safety"].eq("yes")
    return int((waits & ~pool["claim_no"].isin(drawn["claim_no"])).sum())


def _queue(waiting: pd.DataFrame, as_of: date, size: int) -> dict[str, str]:
    """Return the claims of the queue in order, each with its reason."""
    fresh_from = pd.Timestamp(as_of - timedelta(days=_FRESH_DAYS))
    # what an inspection has found already was in somebody's hands
    judged = waiting.assign(
        urgent=waiting["is_open"] | (waiting["reported_on"] > fresh_from),
        settled=waiting["source"].eq("finding"),
    )
    danger = judged[judged["safety"].eq("yes")].sort_values(
        ["urgent", "settled", "reported_on", "claim_no"],
        ascending=[False, True, False, True],
    )
    dear = _dear(waiting)
    unsure = waiting.sort_values(
        ["has_text", "confidence", "claim_no"], ascending=[False, True, True]
    )
    urgent = int(danger["urgent"].sum())
    disputed = unsure[unsure["evidence"].str.contains(DISAGREES, regex=False)]
    lists = {
        "dangerous": (list(danger.index), max(urgent, round(size * _DANGER_SHARE))),
        "large cost": (dear, round(size * _COST_SHARE)),
        "sources disagree": (list(disputed.index), round(size * _DISPUTED_SHARE)),
        "unsure": (list(unsure.index), size),
    }
    taken: dict[str, str] = {}
    for reason, (listed, most) in lists.items():
        new = [claim_no for claim_no in listed if claim_no not in taken]
        taken |= dict.fromkeys(new[: min(most, size - len(taken))], reason)
    taken |= {one: "dangerous" for one in taken if one in danger.index}
    order = list(lists)
    return dict(sorted(taken.items(), key=lambda item: order.index(item[1])))


def _dear(waiting: pd.DataFrame) -> list[str]:
    """Return the dearest claims, the dearest against its currency's median first.

    Costs in several currencies need no rates to be set against their own.
    """
    costly = waiting[waiting["cost"].gt(0)]
    by_currency = costly.groupby("currency")["cost"]
    limit = by_currency.transform(lambda costs: costs.quantile(_DEAR_QUANTILE))
    median = by_currency.transform("median")
    times = (costly["cost"] / median)[
        costly["cost"].ge(limit) & costly["cost"].gt(median)
    ]
    ranked = pd.DataFrame({"times": times, "claim_no": times.index.astype("str")})
    ranked = ranked.sort_values(["times", "claim_no"], ascending=[False, True])
    return [str(claim_no) for claim_no in ranked["claim_no"]]


def by_chance(claim_nos: pd.Series, seed: str, size: int) -> list[str]:
    """Return a simple random sample, by claim number.

    Digests order the claims as if at random, on every machine and under every
    version of every library, and whatever order the claims came in.

    Parameters
    ----------
    claim_nos : Series of str
        What is drawn from.
    seed : str
        Another seed draws another sample.
    size : int
        How many; all where there are no more.

    Returns
    -------
    list of str
        Sorted.
    """
    keyed = sorted(
        (hashlib.sha256(f"{seed}/{claim_no}".encode()).digest(), str(claim_no))
        for claim_no in claim_nos
    )
    return sorted(claim_no for _, claim_no in keyed[:size])


def check_size(name: str, size: int) -> None:
    """Raise ``InputError`` if a size is negative or beyond 100,000."""
    if not 0 <= size <= _MOST:
        raise InputError(
            f"--{name} must lie from 0 to {_MOST:,}; got {size}.",
            remedy=f"write it as in --{name} {QUEUE_SIZE}",
        )
