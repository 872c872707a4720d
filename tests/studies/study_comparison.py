"""Do limits of ratios, shrunk ratios, ranks and lists keep their word?"""

from __future__ import annotations

from typing import Any

import numpy as np
from fleets import report
from numpy.typing import NDArray

from claimlens.stats.comparison import adjusted_for_many, compare_segments
from claimlens.stats.conditional_ratio import ratio_limits
from claimlens.stats.intervals import poisson_exact, rate_ratio_exact

Floats = NDArray[np.float64]

MONTHS = 24
# failures per unit and month of age: many early ones, then a rise
HAZARD = 0.004 * (0.3 + np.exp(-np.arange(MONTHS) / 3) + (np.arange(MONTHS) / 24) ** 3)


def _watched(kind: str) -> Floats:
    """Return the share of a segment's units that were watched through each month."""
    month = np.arange(MONTHS)
    return {
        "young": np.clip(1 - month / 8, 0.0, 1.0),
        "growing": np.clip(1 - month / 26, 0.0, 1.0),
        "old": np.ones(MONTHS),
    }[kind]


def study_ratio(repeats: int = 20_000, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return how often limits of the ratio of two rates hold the truth."""
    rows = []
    for before, after in ((5.0, 5.0), (20.0, 10.0), (50.0, 25.0), (6.0, 2.0)):
        rng = np.random.default_rng([seed, int(before), int(after)])
        x1, x2 = rng.poisson(before, repeats), rng.poisson(after, repeats)
        some = x1 + x2 > 0
        row: dict[str, Any] = {"claims": f"{before:g} v {after:g}"}
        for name, mid_p in (("mid-p", True), ("exact", False)):
            lower, upper = rate_ratio_exact(x1[some], 1.0, x2[some], 1.0, mid_p=mid_p)
            truth = before / after
            row[f"{name} holds"] = float(((lower <= truth) & (truth <= upper)).mean())
        rows.append(row)
    return rows


def study_ages(repeats: int = 4000, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return how often limits of the ratio of hazards hold, with unlike ages."""
    rows = []
    for kinds in (("growing", "growing"), ("young", "old"), ("old", "young")):
        for claims in (3.0, 10.0, 50.0):
            for truth in (1.0, 2.0):
                rng = np.random.default_rng([seed, len(rows)])
                rows.append(_ages_row(rng, kinds, claims, truth, repeats))
    return rows


def _ages_row(
    rng: np.random.Generator,
    kinds: tuple[str, str],
    claims: float,
    truth: float,
    repeats: int,
) -> dict[str, Any]:
    """Return one row: one segment with ``claims`` expected, others with 60."""
    one, rest = (_watched(kind) for kind in kinds)
    one = one * claims / (truth * HAZARD @ one)
    rest = rest * 60.0 / (HAZARD @ rest)
    mine = rng.poisson(truth * HAZARD * one, (repeats, MONTHS)).astype(float)
    others = rng.poisson(HAZARD * rest, (repeats, MONTHS)).astype(float)
    both = np.where((one > 0) & (rest > 0), mine + others, 0.0)
    odds = np.divide(one, rest, out=np.ones(MONTHS), where=rest > 0)
    met = (one > 0) & (rest > 0)
    found = ratio_limits(
        both,
        np.broadcast_to(odds, both.shape),
        mine[:, met].sum(axis=1),
        others[:, met].sum(axis=1),
        0.025,
    )
    held = (found.lower <= truth) & (truth <= found.upper)
    # observed over what all units together let expect, with Garwood's limits
    share = np.divide(one, one + rest, out=np.zeros(MONTHS), where=one + rest > 0)
    pooled = (both * share).sum(axis=1)
    low, high = (
        limit / np.maximum(pooled, 1e-9)
        for limit in poisson_exact(mine[:, met].sum(axis=1))
    )
    # claims per unit-month, as if ages did not matter
    plain = rate_ratio_exact(
        mine.sum(axis=1), one.sum(), others.sum(axis=1), rest.sum()
    )
    known = np.isfinite(found.ratio) & (found.ratio > 0)
    return {
        "ages": f"{kinds[0]} v {kinds[1]}",
        "claims": claims,
        "true ratio": truth,
        "limits hold": float(held.mean()),
        "above": float((found.lower > truth).mean()),
        "below": float((found.upper < truth).mean()),
        "median ratio": float(np.median(found.ratio[known])),
        "p < 0.05": float((found.p_value < 0.05).mean()),
        "O/E pooled holds": float(((low <= truth) & (truth <= high)).mean()),
        "claims per unit-month holds": float(
            ((plain[0] <= truth) & (truth <= plain[1])).mean()
        ),
    }


def _fleet(
    rng: np.random.Generator, segments: int, spread: Floats, claims: float
) -> tuple[Floats, Floats]:
    """Return failures and exposure of segments of unlike size and age."""
    kinds = rng.choice(["young", "growing", "old"], segments)
    size = rng.lognormal(np.log(claims), 1.0, segments)
    watched = np.array([_watched(str(kind)) for kind in kinds])
    exposed = watched * (size / (watched @ HAZARD))[:, None]
    failed = rng.poisson(HAZARD * exposed * spread[:, None]).astype(float)
    return failed, exposed


def study_ranking(repeats: int = 150, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return error and coverage of shrunk ratios, and how well ranks are bracketed."""
    rows = []
    for segments, alpha in ((40, 4.0), (40, 20.0), (12, 4.0), (3, 4.0)):
        rng = np.random.default_rng([seed, segments, int(alpha)])
        error, held, ranked, small_first = [], [], [], []
        for i in range(repeats):
            truth = rng.gamma(alpha, 1 / alpha, segments)
            failed, exposed = _fleet(rng, segments, truth, 2.5)
            found = compare_segments(failed, exposed, seed=i, draws=1000)
            # against the others: what they have on the whole at the segment's ages
            others = _against(exposed, truth)
            known = np.isfinite(found.ratio)
            error.append(
                [
                    np.mean((one[known] - others[known]) ** 2)
                    for one in (found.ratio, found.shrunk)
                ]
            )
            held.append(
                np.mean(
                    (found.shrunk_lower[known] <= others[known])
                    & (others[known] <= found.shrunk_upper[known])
                )
            )
            place = (-truth).argsort().argsort() + 1
            ranked.append(
                np.mean((found.rank_lower <= place) & (place <= found.rank_upper))
            )
            by_raw, by_shrunk = (
                int(np.nanargmax(np.where(np.isfinite(one), one, -1.0)))
                for one in (found.ratio, found.shrunk)
            )
            small_first.append(
                [
                    place[by_raw] <= max(1, segments // 8),
                    place[by_shrunk] <= max(1, segments // 8),
                ]
            )
        raw, shrunk = np.mean(error, axis=0)
        first_raw, first_shrunk = np.mean(small_first, axis=0)
        rows.append(
            {
                "segments": segments,
                "alpha": alpha,
                "squared error raw": float(raw),
                "shrunk": float(shrunk),
                "90 % limits hold": float(np.mean(held)),
                "90 % rank limits hold": float(np.mean(ranked)),
                "first by raw is of the worst eighth": float(first_raw),
                "first by shrunk": float(first_shrunk),
            }
        )
    return rows


def _against(exposed: Floats, truth: Floats) -> Floats:
    """Return the true hazard of each segment over that of all the others."""
    weighted = truth[:, None] * exposed
    rest, rest_exposed = weighted.sum(axis=0) - weighted, exposed.sum(axis=0) - exposed
    typical = np.divide(
        rest, rest_exposed, out=np.ones(rest.shape), where=rest_exposed > 0
    )
    weight = exposed * HAZARD * (rest_exposed > 0)
    return np.asarray(truth * weight.sum(axis=1) / (weight * typical).sum(axis=1))


def study_lists(repeats: int = 100, seed: int = 20240607) -> list[dict[str, Any]]:
    """Return the share of false ones among listed differences.

    Where a few segments are much worse, all others do lie below the rest of the fleet:
    a row is false where it names the wrong direction, or any where all are alike.
    """
    rows = []
    for worse, ratio in ((0, 1.0), (6, 2.0), (6, 3.0)):
        rng = np.random.default_rng([seed, worse, int(ratio)])
        truth = np.ones(60)
        truth[:worse] = ratio
        shares: dict[str, list[float]] = {"adjusted": [], "p < 0.05": []}
        found_share = []
        for i in range(repeats):
            failed, exposed = _fleet(rng, 60, truth, 12.0)
            found = compare_segments(failed, exposed, seed=i, draws=1)
            others = _against(exposed, truth)
            right = (found.ratio > 1) == (others > 1)
            wrong = ~right | np.isclose(others, 1.0)
            listed = {
                "adjusted": adjusted_for_many(found.p_value) <= 0.10,
                "p < 0.05": found.p_value < 0.05,
            }
            for name, chosen in listed.items():
                shares[name].append((chosen & wrong).sum() / max(chosen.sum(), 1))
            found_share.append(listed["adjusted"][:worse].mean() if worse else np.nan)
        rows.append(
            {
                "worse of 60": worse,
                "ratio": ratio,
                "false share, adjusted": float(np.mean(shares["adjusted"])),
                "false share, p < 0.05": float(np.mean(shares["p < 0.05"])),
                "worse ones listed": float(np.mean(found_share)) if worse else None,
            }
        )
    return rows


if __name__ == "__main__":
    report("Ratio of two rates", study_ratio)
    report("Ratio of hazards at equal ages, others with 60 claims", study_ages)
    report("Shrunk ratios and ranks", study_ranking)
    report("Lists of differences, Benjamini-Hochberg at 0.10", study_lists)
