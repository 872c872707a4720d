"""Do the intervals hold the demo's written truth?

Run ``python tests/studies/study_demo_truth.py [SEEDS]``: that many worlds of the
demo maker (20 by default) go through the whole pipeline, the classifier too. Looked
at: components without a planted effect and with at least five failures.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import pandas as pd

from claimlens.demo import load_truth, make_world, write_canonical, write_settings
from claimlens.start import make_folders, open_workspace

AT_MONTHS = 12.0
FEWEST_FAILURES = 5


def one_world(seed: int, *, units: int | None = None) -> pd.DataFrame:
    """Return, for each plain component, whether its limits hold the truth."""
    truth = load_truth()
    world = make_world(truth, seed, units=units)
    with tempfile.TemporaryDirectory() as folder:
        place = make_folders(Path(folder) / "study")
        write_settings(world, place, sources=False)
        write_canonical(world, place / "inbox")
        workspace = open_workspace(place)
        workspace.ingest()
        rates = workspace.rates(at=AT_MONTHS).set_index("component")
        lives = workspace.life().set_index("component")
    rows = []
    for name in truth.plain_components:
        component = truth.component(name)
        if name not in lives.index or lives.loc[name, "failures"] < FEWEST_FAILURES:
            continue
        share = float(component.share_failed(AT_MONTHS))
        rate, life = rates.loc[name], lives.loc[name]
        upper = life["shape_upper"] if pd.notna(life["shape_upper"]) else float("inf")
        rows.append(
            {
                "seed": seed,
                "component": name,
                "failures": life["failures"],
                "shape_held": life["shape_lower"] <= component.shape <= upper,
                "share_held": rate["lower"] <= share <= rate["upper"],
                "shape_ratio": life["shape"] / component.shape,
                "share_ratio": rate["rate"] / share,
            }
        )
    return pd.DataFrame(rows)


def main() -> None:
    """Print the table."""
    n_seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    worlds = pd.concat([one_world(seed) for seed in range(1, n_seeds + 1)])
    print("| figure | worlds | intervals | hold the truth | mean estimate / truth |")
    print("|---|---|---|---|---|")
    for figure, words in (("shape", "Weibull shape"), ("share", "12-month share")):
        held, ratio = worlds[f"{figure}_held"], worlds[f"{figure}_ratio"]
        print(
            f"| {words} | {n_seeds} | {len(held)} | {held.mean():.1%} | "
            f"{ratio.mean():.3f} |"
        )


if __name__ == "__main__":
    main()
