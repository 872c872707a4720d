"""How far two reviewers of the same claim agree: it caps every accuracy."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np
import pandas as pd

from claimlens.analysis.quality_records import Record, record
from claimlens.stats.agreement import Agreement, cohen_kappa
from claimlens.stats.intervals import wilson

__all__ = ["reviewer_records"]


def reviewer_records(labels: pd.DataFrame, confidence: float) -> Iterator[Record]:
    """Yield disagreement and Cohen's kappa, over all and by pair of reviewers.

    Parameters
    ----------
    labels : DataFrame
        Of ``read_labels``: one row a claim and reviewer.
    confidence : float
        Two-sided level.
    """
    ranked = labels.sort_values(["claim_no", "reviewer"], kind="stable")
    listed = ranked.groupby("claim_no")[["reviewer", "true"]].agg(list)
    twice = listed[listed["true"].map(len) > 1]
    pairs = pd.DataFrame(
        [
            (*one, *other)
            for names, classes in zip(twice["reviewer"], twice["true"], strict=True)
            for one, other in combinations(zip(names, classes, strict=True), 2)
        ],
        columns=["first", "first_says", "second", "second_says"],
    )
    if pairs.empty:
        yield record(
            "reviewers",
            "disagreement",
            n=0,
            note="not measured: no claim has been reviewed by two people; let a second "
            "person review some with claimlens review export FILE --again 10",
        )
        return
    differ = twice["true"].map(lambda said: len(set(said)) > 1)
    apart, n = int(differ.sum()), len(twice)
    lower, upper = wilson(apart, n, confidence)
    yield record(
        "reviewers",
        "disagreement",
        value=apart / n,
        lower=lower,
        upper=upper,
        n=n,
        note=f"{apart} of {n} claims; no accuracy can be told more closely",
    )
    if len(pairs.groupby(["first", "second"])) > 1:
        yield _kappa(pairs, confidence, "all pairs")
    for (first, second), part in pairs.groupby(["first", "second"]):
        yield _kappa(part, confidence, f"{first}, {second}")


def _kappa(pairs: pd.DataFrame, confidence: float, group: str) -> Record:
    says = [pairs["first_says"].astype(object), pairs["second_says"].astype(object)]
    names = np.unique(np.concatenate(says))
    first, second = (np.searchsorted(names, one) for one in says)
    table = np.zeros((names.size, names.size))
    np.add.at(table, (first, second), 1)
    found: Agreement = cohen_kappa(table, confidence)
    result = record("reviewers", "kappa", group=group, n=int(found.n), note=found.note)
    if not np.isnan(found.kappa):
        result["value"] = found.kappa
        result["lower"], result["upper"] = found.interval
    return result
