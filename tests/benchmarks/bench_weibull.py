"""Time the Weibull fit: 2,000 segments with all their likelihood-ratio limits."""

from __future__ import annotations

import time
from typing import Any

import numpy as np

from claimlens.stats import survival, weibull


def fleets(segments: int, width: int, seed: int = 20240607) -> tuple[Any, Any, Any]:
    """Draw ages, failures and survivors of segments of 400 units."""
    rng = np.random.default_rng(seed)
    fails, left = np.zeros((2, segments, width))
    for segment in range(segments):
        shape, share = rng.uniform(0.5, 2.5), rng.uniform(0.02, 0.3)
        scale = width / (-np.log1p(-share)) ** (1 / shape)
        life, end = scale * rng.weibull(shape, 400), rng.integers(1, width + 1, 400)
        failed = life <= end
        np.add.at(fails[segment], np.ceil(life[failed]).astype(int).clip(1) - 1, 1)
        np.add.at(left[segment], end[~failed] - 1, 1)
    return np.arange(1.0, width + 1), fails, left


def seconds(width: int, *, grouped: bool, repeats: int = 3) -> float:
    """Return the best of several times for fit, shape, scale and B10 limits."""
    ages, fails, left = fleets(2000, width)
    best = np.inf
    for _ in range(repeats):
        start = time.perf_counter()
        fit = weibull.fit(ages, fails, left, lower=ages - 1 if grouped else None)
        fit.quantile_interval(0.1)
        best = min(best, time.perf_counter() - start)
    return best


def main() -> None:
    """Print the times as a markdown table."""
    print("| what | seconds |\n|---|---|")
    for width in (60, 96, 365):
        for grouped in (True, False):
            kind = "grouped" if grouped else "exact"
            taken = seconds(width, grouped=grouped)
            print(f"| Weibull, 2,000 segments x {width} ages, {kind} | {taken:.2f} |")
    rng = np.random.default_rng(1)
    fails = rng.poisson(0.02, (2500, 1500)).astype(float)
    left = rng.poisson(0.5, (2500, 1500)).astype(float)
    start = time.perf_counter()
    survival.share_failed(np.arange(1500.0), fails, left, [30, 91, 183, 365, 548, 730])
    taken = time.perf_counter() - start
    print(f"| share failed, 2,500 segments x 1,500 daily ages | {taken:.2f} |")


if __name__ == "__main__":
    main()
