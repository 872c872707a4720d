"""Time the Weibull fit with all its likelihood-ratio limits, and set it in proportion.

2,000 segments of 400 units x 96 monthly ages, exact and grouped: fit and the limits
of shape, scale and B10. A sample of the same segments goes to lifelines and to R
survreg in the same run, whose times are scaled up; neither gives these limits, so
their time is that of the fit alone (lifelines with its standard errors).
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import time
import warnings
from pathlib import Path
from typing import Any

import numpy as np

from claimlens.stats import survival, weibull

SEGMENTS = 2000
WIDTH = 96
SAMPLE = 20

_R_LINES = """
library(survival)
table <- read.csv("{path}")
started <- proc.time()[["elapsed"]]
for (rows in split(table, table$segment)) {{
  survreg({surv} ~ 1, data = rows, weights = n, dist = "weibull")
}}
cat(proc.time()[["elapsed"]] - started)
"""


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


def seconds(
    segments: int = SEGMENTS,
    width: int = WIDTH,
    *,
    grouped: bool,
    exposure: bool = False,
    repeats: int = 3,
) -> float:
    """Return the best of several times for fit, shape, scale and B10 limits."""
    ages, fails, left = fleets(segments, width)
    exposed = np.cumsum((fails + left)[:, ::-1], axis=1)[:, ::-1] - fails
    best = np.inf
    for _ in range(repeats):
        start = time.perf_counter()
        if exposure:
            fit = weibull.fit(ages, fails, None, lower=ages - 1, exposed=exposed)
        else:
            fit = weibull.fit(ages, fails, left, lower=ages - 1 if grouped else None)
        fit.quantile_interval(0.1)
        best = min(best, time.perf_counter() - start)
    return best


def lifelines_seconds(*, grouped: bool) -> float:
    """Return the time of lifelines for a sample, scaled to all segments."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import lifelines  # noqa: PLC0415 - its import is slow, and not timed

        ages, fails, left = fleets(SAMPLE, WIDTH)
        start = time.perf_counter()
        for segment in range(SAMPLE):
            f, c = fails[segment] > 0, left[segment] > 0
            if grouped:
                lifelines.WeibullFitter().fit_interval_censoring(
                    np.r_[ages[f] - 1 + 1e-9, ages[c]],
                    np.r_[ages[f], np.full(c.sum(), np.inf)],
                    weights=np.r_[fails[segment][f], left[segment][c]],
                )
            else:
                lifelines.WeibullFitter().fit(
                    np.r_[ages[f], ages[c]],
                    np.r_[np.ones(f.sum()), np.zeros(c.sum())],
                    weights=np.r_[fails[segment][f], left[segment][c]],
                )
        return (time.perf_counter() - start) * SEGMENTS / SAMPLE


def survreg_seconds(*, grouped: bool) -> float | None:
    """Return the time of R survreg for a sample, scaled; None without R."""
    if shutil.which("Rscript") is None:
        return None
    size = 10 * SAMPLE
    ages, fails, left = fleets(size, WIDTH)
    lines = ["segment,low,high,event,n"]
    for segment, k in zip(*np.nonzero(fails), strict=True):
        low = f"{ages[k] - 1:g}" if k else "NA"
        lines.append(f"{segment},{low},{ages[k]:g},1,{fails[segment, k]:g}")
    for segment, k in zip(*np.nonzero(left), strict=True):
        lines.append(f"{segment},{ages[k]:g},NA,0,{left[segment, k]:g}")
    surv = 'Surv(low, high, type = "interval2")'
    if not grouped:
        surv = "Surv(ifelse(event == 1, high, low), event)"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "segments.csv"
        path.write_text("\n".join(lines), encoding="utf-8")
        script = Path(folder) / "time.R"
        script.write_text(_R_LINES.format(path=path, surv=surv), encoding="utf-8")
        done = subprocess.run(
            ["Rscript", "--vanilla", str(script)],
            capture_output=True,
            text=True,
            check=True,
        )
    return float(done.stdout) * SEGMENTS / size


def main() -> None:
    """Print the times as markdown tables."""
    print("| 2,000 segments x 96 ages | seconds | lifelines | R survreg |")
    print("|---|---|---|---|")
    for grouped in (False, True):
        ours = seconds(grouped=grouped)
        theirs = lifelines_seconds(grouped=grouped), survreg_seconds(grouped=grouped)
        cells = [
            "not installed" if value is None else f"{value:.1f} (x {value / ours:.0f})"
            for value in theirs
        ]
        kind = "grouped" if grouped else "exact"
        print(f"| {kind} | {ours:.2f} | {cells[0]} | {cells[1]} |")
    print("\n| segments, grouped by month | seconds | milliseconds a segment |")
    print("|---|---|---|")
    for segments in (500, 1000, 2000, 4000):
        taken = seconds(segments, grouped=True)
        print(f"| {segments:,} | {taken:.2f} | {1000 * taken / segments:.3f} |")
    print("\n| what | seconds |\n|---|---|")
    print(
        f"| weighted exposure, 96 ages | {seconds(grouped=True, exposure=True):.2f} |"
    )
    for width in (60, 365):
        taken = seconds(width=width, grouped=True)
        print(f"| grouped, 2,000 segments x {width} ages | {taken:.2f} |")
    rng = np.random.default_rng(1)
    fails = rng.poisson(0.02, (2500, 1500)).astype(float)
    left = rng.poisson(0.5, (2500, 1500)).astype(float)
    start = time.perf_counter()
    survival.share_failed(np.arange(1500.0), fails, left, [30, 91, 183, 365, 548, 730])
    taken = time.perf_counter() - start
    print(f"| share failed, 2,500 segments x 1,500 daily ages | {taken:.2f} |")


if __name__ == "__main__":
    main()
