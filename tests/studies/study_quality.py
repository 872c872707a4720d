"""Do measured accuracy, precision, recall, class counts and drift keep their word?

Claims of twelve components with unequal shares, read by a classifier that is sure of
what it knows; a review takes the least sure ones and a random audit of the rest.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from fleets import report
from numpy.typing import NDArray

from claimlens.stats.accuracy import class_scores
from claimlens.stats.drift import class_divergence, share_chart, unseen_chart
from claimlens.stats.misclassified import audited_counts, bounded_counts
from claimlens.stats.stratified import stratified_share

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CLAIMS = 9_000
SHARES = np.array(
    [0.22, 0.16, 0.12, 0.1, 0.09, 0.08, 0.07, 0.05, 0.04, 0.03, 0.025, 0.015]
)
SEED = 20240607


def _read_claims(rng: np.random.Generator) -> tuple[Ints, Ints, Floats]:
    """Return truth, what was read (-1 for none) and the margin of each claim."""
    true = rng.choice(SHARES.size, CLAIMS, p=SHARES)
    margin = rng.beta(2.2, 1.0, CLAIMS)
    right = rng.random(CLAIMS) < 0.35 + 0.63 * margin
    other = (true + rng.integers(1, SHARES.size, CLAIMS)) % SHARES.size
    told = np.where(right, true, np.where(rng.random(CLAIMS) < 0.5, -1, other))
    return true, told, margin


def _sampled(
    rng: np.random.Generator, margin: Floats, queue: int, audit: int
) -> tuple[Ints, Floats]:
    """Return the claims reviewed and 1 / chance of being drawn: queue first."""
    order = np.argsort(margin, kind="stable")
    rest = order[queue:]
    picked = rng.choice(rest, audit, replace=False)
    weights = np.r_[np.ones(queue), np.full(audit, rest.size / audit)]
    return np.r_[order[:queue], picked], weights


def study_accuracy(repeats: int = 2000, seed: int = SEED) -> list[dict[str, Any]]:
    """Return bias and coverage of the accuracy from queue and audit."""
    rows = []
    for queue, audit in ((60, 40), (60, 120), (200, 150), (720, 480)):
        rng = np.random.default_rng([seed, 1, queue, audit])
        found, truth, alone, pooled, held = [], [], [], [], []
        for _ in range(repeats):
            true, told, margin = _read_claims(rng)
            seen, _ = _sampled(rng, margin, queue, audit)
            right = true[seen] == told[seen]
            hits = [right[:queue].sum(), right[queue:].sum()]
            estimate = stratified_share(hits, [queue, audit], [queue, CLAIMS - queue])
            truth.append((true == told).mean())
            found.append(float(estimate.value))
            alone.append(right[:queue].mean())
            pooled.append(right.mean())
            held.append(estimate.lower <= truth[-1] <= estimate.upper)
        off = np.array(found) - truth
        rows.append(
            {
                "queue + audit": f"{queue} + {audit}",
                "bias": float(off.mean()),
                "sd": float(off.std()),
                "limits hold": float(np.mean(held)),
                "queue alone, bias": float(np.mean(np.array(alone) - truth)),
                "reviewed as a whole, bias": float(np.mean(np.array(pooled) - truth)),
            }
        )
    return rows


def study_scores(repeats: int = 2000, seed: int = SEED) -> list[dict[str, Any]]:
    """Return coverage of precision, recall and F1 where they are measured."""
    rows = []
    for queue, audit in ((60, 120), (200, 300), (720, 480)):
        rng = np.random.default_rng([seed, 2, queue, audit])
        held: dict[str, list[bool]] = {"precision": [], "recall": [], "f1": []}
        off: dict[str, list[float]] = {"precision": [], "recall": [], "f1": []}
        measured = 0
        for _ in range(repeats):
            true, told, margin = _read_claims(rng)
            seen, weights = _sampled(rng, margin, queue, audit)
            ours = class_scores(
                true[seen], told[seen], SHARES.size, weights, random=weights > 1
            )
            whole = class_scores(true, told, SHARES.size)
            for name in held:
                one, truth = getattr(ours, name), getattr(whole, name).value
                some = one.is_measured
                measured += int(some.sum())
                held[name] += (
                    ((one.lower <= truth) & (truth <= one.upper))[some]
                ).tolist()
                off[name] += (one.value - truth)[some].tolist()
        row: dict[str, Any] = {
            "queue + audit": f"{queue} + {audit}",
            "classes measured": measured / (3 * repeats),
        }
        for name, kept in held.items():
            row[f"{name} holds"] = float(np.mean(kept))
            row[f"{name} bias"] = float(np.mean(off[name]))
        rows.append(row)
    return rows


def study_counts(repeats: int = 1500, seed: int = SEED) -> list[dict[str, Any]]:
    """Return coverage and width of the true count of a class of 12 %."""
    rows = []
    for audit in (100, 200, 300, 600):
        rng = np.random.default_rng([seed, 3, audit])
        true = rng.random((repeats, CLAIMS)) < 0.12
        chance = np.where(true, 0.85, 0.02)  # recall 85 %; 2 % of the others taken in
        told = rng.random((repeats, CLAIMS)) < chance
        seen = rng.random((repeats, CLAIMS)).argpartition(audit, axis=1)[:, :audit]
        audited = np.take_along_axis(told, seen, axis=1)
        truly = np.take_along_axis(true, seen, axis=1)
        inside, outside = told.sum(axis=1), (~told).sum(axis=1)
        n_in, n_out = audited.sum(axis=1), (~audited).sum(axis=1)
        hit, missed = (truly & audited).sum(axis=1), (truly & ~audited).sum(axis=1)
        with np.errstate(invalid="ignore"):
            found = audited_counts(
                inside,
                outside,
                share_in=hit / n_in,
                audited_in=n_in,
                share_out=missed / n_out,
                audited_out=n_out,
            )
        count = true.sum(axis=1)
        scores = [
            class_scores(~truly[i] * 1, ~audited[i] * 1, 2) for i in range(repeats)
        ]
        bounds = bounded_counts(
            inside,
            0,
            precision_lower=[s.precision.lower[0] for s in scores],
            precision_upper=[s.precision.upper[0] for s in scores],
            recall_lower=[s.recall.lower[0] for s in scores],
        )
        rows.append(
            {
                "audit rows": audit,
                "limits hold": float(_held(found.lower, count, found.upper)),
                "width / truth": float(np.mean((found.upper - found.lower) / count)),
                "bias / truth": float(np.nanmean(found.value / count) - 1),
                "bounds hold": float(_held(bounds.lower, count, bounds.upper)),
                "their width / truth": float(
                    np.mean((bounds.upper - bounds.lower) / count)
                ),
            }
        )
    return rows


def _held(lower: Floats, truth: Ints, upper: Floats) -> float:
    return float(((lower <= truth) & (truth <= upper)).mean())


def study_drift(repeats: int = 500, seed: int = SEED) -> list[dict[str, Any]]:
    """Return false alarms a month where nothing changes, and alarms where it does."""
    rows = []
    for claims in (40, 300, 3000):
        for phi in (1.0, 1.5):
            rng = np.random.default_rng([seed, 4, claims, int(10 * phi)])
            false, plain, found = [], [], []
            for _ in range(repeats):
                n = rng.poisson(claims, 36)
                x = _overdispersed(rng, n, 0.1, phi)
                chart = share_chart(x, n)
                false.append(chart.alarm[12:].mean())
                p = (
                    np.convolve(x, np.ones(12))[11:35]
                    / np.convolve(n, np.ones(12))[11:35]
                )
                reach = 3 * np.sqrt(p * (1 - p) / n[12:])
                plain.append((np.abs(x[12:] / n[12:] - p) > reach).mean())
                x[-1] = _overdispersed(rng, n[-1:], 0.2, phi)[0]
                found.append(share_chart(x, n).alarm[-1])
            rows.append(
                {
                    "claims a month": claims,
                    "dispersion": phi,
                    "false alarms": float(np.mean(false)),
                    "without dispersion": float(np.mean(plain)),
                    "twice the share found": float(np.mean(found)),
                }
            )
    return rows


def _overdispersed(rng: np.random.Generator, n: Ints, share: float, phi: float) -> Ints:
    """Draw counts whose variance is ``phi`` times the binomial one."""
    if phi == 1.0:
        return rng.binomial(n, share)
    # beta-binomial: phi = 1 + (n - 1) / (size + 1)
    size = (n - 1) / (phi - 1) - 1
    return rng.binomial(n, rng.beta(share * size, (1 - share) * size))


def study_shares(repeats: int = 2000, seed: int = SEED) -> list[dict[str, Any]]:
    """Return how often class shares alarm: equal ones, and one class tripled."""
    moved = SHARES * np.where(np.arange(SHARES.size) == 3, 3.0, 1.0)
    rows = []
    for claims in (30, 100, 300, 3000):
        rng = np.random.default_rng([seed, 5, claims])
        alarms: dict[str, list[bool]] = {"equal": [], "tripled": [], "0.05 alone": []}
        for _ in range(repeats):
            before = rng.multinomial(12 * claims, SHARES)
            for name, shares in (("equal", SHARES), ("tripled", moved / moved.sum())):
                found = class_divergence(rng.multinomial(claims, shares), before)
                alarms[name].append(found.value > max(0.05, found.by_chance))
                if name == "equal":
                    alarms["0.05 alone"].append(found.value > 0.05)
        rows.append(
            {
                "claims a month": claims,
                "equal shares alarm": float(np.mean(alarms["equal"])),
                "above 0.05 alone": float(np.mean(alarms["0.05 alone"])),
                "one class of 10 % tripled": float(np.mean(alarms["tripled"])),
            }
        )
    return rows


def study_words(repeats: int = 300, seed: int = SEED) -> list[dict[str, Any]]:
    """Return how often new words alarm: a stable vocabulary, and 3 % new words.

    Words follow the law that the k-th most frequent one has a share of 1 / k
    (Zipf 1949), so that every month holds rare words that the year before had not.
    """
    kinds = 30_000
    law = 1 / np.arange(1, kinds + 1)
    law /= law.sum()
    rows = []
    for words in (1_000, 10_000, 60_000):
        rng = np.random.default_rng([seed, 6, words])
        false, found = [], []
        for _ in range(max(repeats * 1_000 // words, 12)):
            months = rng.multinomial(words, law, size=36)
            unseen = np.zeros(36)
            for month in range(12, 36):
                new = months[month - 12 : month].sum(axis=0) == 0
                unseen[month] = months[month][new].sum()
            total = np.where(np.arange(36) < 12, 0, words)
            false.append(unseen_chart(unseen, total).alarm[15:].mean())
            unseen[-1] += rng.binomial(words, 0.03)
            found.append(unseen_chart(unseen, total).alarm[-1])
        rows.append(
            {
                "words a month": words,
                "stable vocabulary alarms": float(np.mean(false)),
                "3 % of new words found": float(np.mean(found)),
            }
        )
    return rows


if __name__ == "__main__":
    report("Accuracy from queue and audit", study_accuracy)
    report("Precision, recall and F1 by class, where measured", study_scores)
    report("True count of a class", study_counts)
    report("Share unclassified by month", study_drift)
    report("Class shares of a month", study_shares)
    report("Words unseen in the year before", study_words)
