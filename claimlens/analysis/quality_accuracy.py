"""Accuracy of all claims, of each version, of failure modes and of danger."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.quality_audit import NOT_MEASURED, Audit
from claimlens.analysis.quality_records import Fields, Record, record, share_records
from claimlens.classify.taxonomy import UNCLASSIFIED
from claimlens.stats.accuracy import effective_size, weighted_shares
from claimlens.stats.stratified import stratified_share

__all__ = [
    "Accuracy",
    "accuracy_records",
    "measured",
    "mode_records",
    "safety_records",
    "series_records",
]

Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """A share of all claims with its limits, from queue and audit.

    Parameters
    ----------
    value, lower, upper : float
        0 to 1.
    n_audit, n_queue : int
        Reviewed claims of either kind.
    n_eff : float
        Effective number of the audited ones.
    note : str
        What the figure does not cover; empty where it covers all.
    """

    value: float
    lower: float
    upper: float
    n_audit: int
    n_queue: int
    n_eff: float
    note: str


def measured(audit: Audit, hits: Bools, confidence: float) -> Accuracy | None:
    """Estimate for all claims the share that has a property.

    Parameters
    ----------
    audit : Audit
        Reviewed claims.
    hits : ndarray of bool
        Whether each of ``audit.rows`` has the property.
    confidence : float
        Two-sided level.

    Returns
    -------
    Accuracy or None
        None where no randomly drawn claim was reviewed.
    """
    strata = audit.rows["stratum"].to_numpy(dtype=object)
    seen = [name for name in ("audit", "queue") if (strata == name).any()]
    if "audit" not in seen:
        return None
    drawn = audit.sizes.groupby("stratum")["claims"].sum()
    n, hit, size, n_eff = [], [], [], []
    for name in seen:
        own = strata == name
        weights = audit.weights[own]
        n.append(int(own.sum()))
        hit.append(n[-1] * float(np.average(hits[own], weights=weights)))
        size.append(max(float(drawn[name]), n[-1]))
        n_eff.append(min(effective_size(weights), n[-1]))
    found = stratified_share(hit, n, size, confidence, effective=n_eff)
    left_out = drawn.drop(labels=seen).sum()
    return Accuracy(
        value=float(found.value),
        lower=float(found.lower),
        upper=float(found.upper),
        n_audit=n[0],
        n_queue=sum(n[1:]),
        n_eff=n_eff[0],
        note=f"without the {left_out:.0f} claims of the review queue, none of which "
        "has been reviewed"
        if left_out
        else "",
    )


def accuracy_records(audit: Audit, confidence: float) -> Iterator[Record]:
    """Yield the shares right, wrong and left open, of all claims.

    Parameters
    ----------
    audit : Audit
        Reviewed claims.
    confidence : float
        Two-sided level.
    """
    told, true = _told_and_true(audit)
    named = told != UNCLASSIFIED
    shares = {
        "right": told == true,
        "wrong": named & (told != true),
        "unclassified": ~named & (told != true),
    }
    for measure, hits in shares.items():
        found = measured(audit, hits, confidence)
        if found is None:
            yield record("accuracy", measure, n=0, note=_not_measured(audit))
            continue
        yield _share_of_all("accuracy", measure, found, _versions(audit))
    yield from share_records(
        "accuracy",
        "right_where_named",
        weighted_shares(
            (told == true)[named],
            np.zeros(int(named.sum()), dtype=int),
            1,
            audit.weights[named],
            confidence,
            random=audit.by_chance[named],
        ),
        [{}],
        note="of the claims with a component",
    )
    drawn = audit.sizes.loc[audit.sizes["stratum"] == "audit", "drawn"].sum()
    if drawn:
        yield record(
            "accuracy",
            "audit_reviewed",
            value=audit.n_audit / drawn,
            n=audit.n_audit,
            note=f"{audit.n_audit} of {drawn} randomly drawn claims reviewed",
        )


def _not_measured(audit: Audit) -> str:
    queued = len(audit.rows)
    if not queued:
        return NOT_MEASURED
    return (
        f"{NOT_MEASURED}; the {queued} reviewed claims of the queue are the hardest "
        "ones and say nothing of the others"
    )


def _versions(audit: Audit) -> str:
    n = len(audit.digests)
    if n < 2:
        return ""
    return f"read by {n} versions of terms and model, see series"


def _share_of_all(section: str, measure: str, found: Accuracy, said: str) -> Record:
    return record(
        section,
        measure,
        value=found.value,
        lower=found.lower,
        upper=found.upper,
        n=found.n_audit + found.n_queue,
        n_eff=found.n_eff,
        note="; ".join(filter(None, (said, found.note))),
    )


def series_records(audit: Audit, confidence: float) -> Iterator[Record]:
    """Yield the share right of each version of terms and model, oldest first.

    Parameters
    ----------
    audit : Audit
        Reviewed claims.
    confidence : float
        Two-sided level.
    """
    for digest in audit.digests:
        own = audit.of_version(digest)
        told, true = _told_and_true(own)
        samples = own.rows["sample"]
        drawn = f"samples {samples.min()} to {samples.max()}"
        found = measured(own, told == true, confidence)
        if found is None:
            record_ = record("series", "right", n=0, note=f"not measured; {drawn}")
        else:
            record_ = _share_of_all("series", "right", found, drawn)
        record_["group"] = digest[:12]
        yield record_


def mode_records(audit: Audit, confidence: float) -> Iterator[Record]:
    """Yield the share with the right failure mode, overall and by component.

    Parameters
    ----------
    audit : Audit
        Reviewed claims; those without a reviewed failure mode are passed over.
    confidence : float
        Two-sided level.
    """
    rows, told, true = audit.rows, *_told_and_true(audit)
    asked = (told == true) & (told != UNCLASSIFIED) & rows["true_mode"].notna()
    some = rows[asked.astype(bool)]
    right = (some["told_mode"] == some["true_mode"]).to_numpy(dtype=bool)
    weights = some["weight"].to_numpy(dtype=np.float64)
    by_chance = np.asarray(some["stratum"] == "audit", dtype=bool)
    components, codes = np.unique(some["true"].astype(object), return_inverse=True)
    whole = weighted_shares(
        right, np.zeros(len(some), int), 1, weights, confidence, random=by_chance
    )
    yield from share_records("failure_modes", "mode_right", whole, [{}])
    parts = weighted_shares(
        right, codes, components.size, weights, confidence, random=by_chance
    )
    yield from share_records(
        "failure_modes",
        "mode_right",
        parts,
        [Fields(component=str(name)) for name in components],
    )


def safety_records(audit: Audit, confidence: float) -> Iterator[Record]:
    """Yield the share of dangerous claims found, and of calls that were right.

    Parameters
    ----------
    audit : Audit
        Reviewed claims.
    confidence : float
        Two-sided level.
    """
    rows = audit.rows
    told = rows["told_danger"].to_numpy(dtype=bool)
    true = rows["true_danger"].to_numpy(dtype=bool)
    judged = rows["danger_judged"].to_numpy(dtype=bool)
    for measure, asked in (("recall", true), ("precision", told & judged)):
        hits = told & true
        found = weighted_shares(
            hits[asked],
            np.zeros(int(asked.sum()), dtype=int),
            1,
            audit.weights[asked],
            confidence,
            random=audit.by_chance[asked],
        )
        seen = f"{int(hits[asked].sum())} of {int(asked.sum())} reviewed claims"
        if not asked.any():
            yield record("safety", measure, n=0, note=_UNJUDGED[measure])
        for one in share_records("safety", measure, found, [{}]):
            one["note"] = "; ".join(filter(None, (one["note"], seen)))
            yield one


_UNJUDGED = {
    "recall": "not measured: no reviewed claim is dangerous",
    "precision": "not measured: no reviewer said of a claim called dangerous whether "
    "it is; the review workbook asks it in its column dangerous",
}


def _told_and_true(audit: Audit) -> tuple[pd.Series, pd.Series]:
    return audit.rows["told"].astype(object), audit.rows["true"].astype(object)
