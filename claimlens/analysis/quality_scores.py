"""Precision and recall by component, what is confused, and calibration."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from claimlens.analysis.quality_audit import Audit
from claimlens.analysis.quality_records import Fields, Record, record, share_records
from claimlens.classify.taxonomy import UNCLASSIFIED
from claimlens.stats.accuracy import (
    LEAST_EFFECTIVE,
    ClassScores,
    class_scores,
    confusion,
)
from claimlens.stats.calibration import (
    Reliability,
    brier,
    cross_fitted,
    refit,
    reliability,
)

__all__ = ["calibration_records", "confusion_records", "score_records", "scores_of"]

Ints = NDArray[np.int64]

_BINS = 10
# A mean gap above this, on so many reviewed claims, asks for another scale.
_GAP = 0.05
_REFIT_ROWS = 200
_FOLDS = 5


def scores_of(
    audit: Audit, components: Sequence[str], confidence: float
) -> ClassScores:
    """Return the scores of the components.

    Parameters
    ----------
    audit : Audit
        Reviewed claims.
    components : sequence of str
        The classes, in the order wanted.
    confidence : float
        Two-sided level.
    """
    true, told = _codes(audit, components)
    return class_scores(
        true,
        told,
        len(components),
        audit.weights,
        confidence,
        random=audit.by_chance,
    )


def _codes(audit: Audit, components: Sequence[str]) -> tuple[Ints, Ints]:
    """Return truth and reading as codes; -1 for unclassified."""
    index = pd.Index(components)
    return (
        index.get_indexer(audit.rows["true"]).astype(np.int64),
        index.get_indexer(audit.rows["told"]).astype(np.int64),
    )


def score_records(
    audit: Audit, components: Sequence[str], confidence: float
) -> Iterator[Record]:
    """Yield precision, recall and F1 by component, and their averages.

    Parameters
    ----------
    audit : Audit
        Reviewed claims with randomly drawn ones among them; without, the queue alone
        would tell neither.
    components : sequence of str
        The classes.
    confidence : float
        Two-sided level.
    """
    if not audit.n_audit:
        return
    scores = scores_of(audit, components, confidence)
    labels = [Fields(component=name) for name in components]
    for measure in ("precision", "recall", "f1"):
        shares = getattr(scores, measure)
        yield from share_records("components", measure, shares, labels)
    seen = int((scores.f1.n > 0).sum())
    solid = int(scores.f1.is_measured.sum())
    said = f"{solid} of {seen} components measured"
    n = len(audit.rows)
    for measure in ("macro_precision", "macro_recall", "macro_f1"):
        # a mean over components that are mostly not measured is not measured either
        if 2 * solid < seen:
            yield record("components", measure, n=n, note=f"not measured: {said}")
        else:
            value = float(getattr(scores, measure))
            yield record("components", measure, value=value, n=n, note=said)
    if not np.isnan(scores.micro_f1):
        yield record("components", "micro_f1", value=scores.micro_f1, n=n)


def confusion_records(audit: Audit, components: Sequence[str]) -> Iterator[Record]:
    """Yield what was read as what: confusions first, the largest first.

    Parameters
    ----------
    audit : Audit
        Reviewed claims with randomly drawn ones among them.
    components : sequence of str
        The classes.
    """
    if not audit.n_audit:
        return
    true, told = _codes(audit, components)
    claims = confusion(true, told, len(components), audit.weights)
    rows = confusion(true, told, len(components))
    names = [*components, UNCLASSIFIED]
    as_reviewed, as_read = np.nonzero(rows)
    by_size = np.lexsort(
        (as_reviewed, as_read, -claims[as_reviewed, as_read], as_reviewed == as_read)
    )
    whole = claims.sum()
    for i in by_size:
        cell = as_reviewed[i], as_read[i]
        yield record(
            "confusion",
            "right" if cell[0] == cell[1] else "confused",
            component=names[cell[1]],
            reviewed_as=names[cell[0]],
            value=float(claims[cell] / whole),
            n=int(rows[cell]),
        )


def calibration_records(audit: Audit, level: float) -> Iterator[Record]:
    """Yield stated confidence against the share right, and what would mend it.

    Parameters
    ----------
    audit : Audit
        Reviewed claims; those read as a component are looked at.
    level : float
        Two-sided level of limits.
    """
    rows = audit.rows[audit.rows["told"] != UNCLASSIFIED]
    by_chance = np.asarray(rows["stratum"] == "audit", dtype=bool)
    if by_chance.sum() < LEAST_EFFECTIVE:
        yield record(
            "calibration",
            "expected_error",
            n=len(rows),
            note="not measured: too few randomly drawn claims",
        )
        return
    stated = rows["confidence"].to_numpy(dtype=np.float64)
    right = (rows["told"].astype(object) == rows["true"]).to_numpy(dtype=bool)
    weights = rows["weight"].to_numpy(dtype=np.float64)
    bins = min(_BINS, int(by_chance.sum() // LEAST_EFFECTIVE))
    found = reliability(
        stated,
        right,
        weights,
        bins=bins,
        equal="count",
        level=level,
        random=by_chance,
    )
    n = len(rows)
    yield record(
        "calibration",
        "expected_error",
        value=found.expected_error,
        n=n,
        note=f"chance alone gives about {found.error_by_chance:.2f}",
    )
    yield record("calibration", "maximum_error", value=found.maximum_error, n=n)
    yield record("calibration", "brier_score", value=brier(stated, right, weights), n=n)
    yield from _bins(found)
    yield from _refitted(audit, found, bins)


def _bins(found: Reliability) -> Iterator[Record]:
    groups = [
        Fields(group=f"{low:.2f}" if low == high else f"{low:.2f} to {high:.2f}")
        for low, high in zip(found.low, found.high, strict=True)
    ]
    for i, (one, group) in enumerate(
        zip(share_records("calibration", "share_right", found.right, groups), groups,
            strict=True)
    ):  # fmt: skip
        yield record(
            "calibration",
            "stated_confidence",
            value=float(found.stated[i]),
            n=int(found.right.n[i]),
            group=group["group"],
        )
        yield one


def _refitted(audit: Audit, found: Reliability, bins: int) -> Iterator[Record]:
    """Yield the refitted scale where the stated one is off and rows are many."""
    chance = audit.randomly_drawn()
    chance = chance[chance["told"] != UNCLASSIFIED].sort_values("claim_no")
    if found.expected_error <= _GAP or len(audit.rows) < _REFIT_ROWS:
        return
    if len(chance) < 2 * _FOLDS:
        return
    stated = chance["confidence"].to_numpy(dtype=np.float64)
    right = (chance["told"].astype(object) == chance["true"]).to_numpy(dtype=bool)
    weights = chance["weight"].to_numpy(dtype=np.float64)
    mended = cross_fitted(stated, right, weights, folds=np.arange(len(chance)) % _FOLDS)
    after = reliability(mended, right, weights, bins=bins, equal="count")
    yield record(
        "calibration",
        "expected_error_refitted",
        value=after.expected_error,
        n=len(chance),
        note="isotonic regression on the randomly drawn claims, each refitted from "
        f"the others; chance alone gives about {after.error_by_chance:.2f}",
    )
    scale = refit(stated, right, weights)
    for confidence, value in zip(scale.stated, scale.refitted, strict=True):
        yield record(
            "calibration",
            "refitted_confidence",
            group=f"{confidence:.2f}",
            value=float(value),
            note="a proposal; no confidence is changed by it",
        )
