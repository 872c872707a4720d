"""What classification error leaves open in the counts behind the rates."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.quality_audit import Audit
from claimlens.analysis.quality_records import Record, record
from claimlens.analysis.quality_scores import scores_of
from claimlens.classify.taxonomy import UNCLASSIFIED
from claimlens.stats.accuracy import weighted_shares
from claimlens.stats.misclassified import TrueCounts, audited_counts, bounded_counts

__all__ = ["bound_records"]

Floats = NDArray[np.float64]

#: Randomly drawn claims that an estimate of the true count takes.
_ENOUGH = 100
#: Limits closer together than this share of the count are not worth words.
_WIDE = 0.10


@dataclass(frozen=True, slots=True, kw_only=True)
class _Counted:
    """Claims that the rates count, by component.

    Parameters
    ----------
    labelled, read : ndarray
        Decided by a reviewed label, and by anything else.
    whole, left_open : int
        All claims without a label, and those of them left unclassified.
    """

    labelled: Floats
    read: Floats
    whole: int
    left_open: int


def bound_records(
    months: pd.DataFrame, audit: Audit, components: Sequence[str], confidence: float
) -> Iterator[Record]:
    """Yield, by component, the counted claims and what they may truly be.

    Claims decided by a reviewed label are taken as they are; the error measured on
    the audit is that of all the others.

    Parameters
    ----------
    months : DataFrame
        Of ``marts/quality_months``.
    audit : Audit
        Reviewed claims.
    components : sequence of str
        The classes.
    confidence : float
        Two-sided level.
    """
    counted = _counted(months, components)
    if not audit.n_audit:
        how = "classification error not measured"
        found = None
    elif audit.n_audit >= _ENOUGH:
        how = f"from {audit.n_audit} randomly drawn claims, as read when drawn"
        found = _from_both_sides(audit, components, confidence, counted)
    else:
        how = f"from precision and recall, for want of {_ENOUGH} randomly drawn claims"
        found = _from_scores(audit, components, confidence, counted)
    total = counted.labelled + counted.read
    for i in np.argsort(-total, kind="stable"):
        if not total[i]:
            continue
        name = components[i]
        if found is None or np.isnan(found.lower[i]):
            said = how if found is None else "precision not measured"
            yield record(
                "bounds", "claims", component=name, value=float(total[i]), note=said
            )
            continue
        known = float(counted.labelled[i])
        limits = known + float(found.lower[i]), known + float(found.upper[i])
        yield from _records(name, float(total[i]), limits, how)
        if not np.isnan(found.value[i]):
            yield record(
                "bounds",
                "claims_estimated",
                component=name,
                value=known + float(found.value[i]),
                lower=limits[0],
                upper=limits[1],
            )


def _records(
    component: str, count: float, limits: tuple[float, float], how: str
) -> Iterator[Record]:
    lower, upper = limits
    said = how
    if (upper - lower) / count > _WIDE:
        said = (
            f"between {lower:,.0f} and {upper:,.0f} after classification error; {how}"
        )
    yield record(
        "bounds",
        "claims",
        component=component,
        value=count,
        lower=lower,
        upper=upper,
        note=said,
    )
    yield record(
        "bounds",
        "rate_factor",
        component=component,
        value=1.0,
        lower=lower / count,
        upper=upper / count,
        note="any rate of this component times these limits",
    )


def _counted(months: pd.DataFrame, components: Sequence[str]) -> _Counted:
    counted = months[months["is_counted"].astype(bool)]
    by_label = counted["source"] == "label"
    read = counted[~by_label]
    is_open = read["component"] == UNCLASSIFIED
    return _Counted(
        labelled=_by_component(counted[by_label], components),
        read=_by_component(read, components),
        whole=int(read["n_claims"].sum()),
        left_open=int(read.loc[is_open, "n_claims"].sum()),
    )


def _by_component(rows: pd.DataFrame, components: Sequence[str]) -> Floats:
    counts = rows.groupby("component")["n_claims"].sum().reindex(components)
    return np.asarray(counts.fillna(0), dtype=np.float64)


def _from_scores(
    audit: Audit, components: Sequence[str], confidence: float, counted: _Counted
) -> TrueCounts:
    """Bound by what precision and recall allow, where these are measured."""
    scores = scores_of(audit, components, confidence)
    precision, recall = scores.precision, scores.recall
    precise, recalled = precision.is_measured, recall.is_measured
    return bounded_counts(
        counted.read,
        counted.left_open,
        precision_lower=np.where(precise, precision.lower, np.nan),
        precision_upper=np.where(precise, precision.upper, np.nan),
        recall_lower=np.where(recalled, recall.lower, np.nan),
    )


def _from_both_sides(
    audit: Audit, components: Sequence[str], confidence: float, counted: _Counted
) -> TrueCounts:
    """Estimate by class from the audited claims read as it and read as another."""
    chance = audit.randomly_drawn()
    weights = chance["weight"].to_numpy(dtype=np.float64)
    told = chance["told"].to_numpy(dtype=object)
    true = chance["true"].to_numpy(dtype=object)
    shares = [
        weighted_shares(true == name, np.where(told == name, 0, 1), 2, weights)
        for name in components
    ]
    p = np.array([one.value for one in shares])
    n = np.array([one.n_eff for one in shares])
    return audited_counts(
        counted.read,
        counted.whole - counted.read,
        share_in=p[:, 0],
        audited_in=n[:, 0],
        share_out=p[:, 1],
        audited_out=n[:, 1],
        confidence=confidence,
    )
