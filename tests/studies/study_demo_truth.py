"""Do the intervals hold the demo's written truth? One row per kind of figure.

Run ``python tests/studies/study_demo_truth.py [SEEDS] [labels]``: SEEDS worlds of
the demo maker (20 by default) go through the whole pipeline as canonical files;
with ``labels`` the true components are loaded as reviewed labels, which takes
the classifier out of the question.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

from claimlens.demo import load_truth, make_world, write_canonical
from claimlens.demo.truth import Truth
from claimlens.start import create

AT_MONTHS = 12.0


def unplanted(truth: Truth) -> dict[str, tuple[float, float]]:
    """Return shape and scale of the components without a planted effect."""
    planted = {effect.component for effect in truth.windows}
    planted |= {effect.component for effect in truth.changes}
    planted |= {effect.component for effect in truth.suppliers}
    planted |= {effect.component for effect in truth.model_effects}
    return {
        component.name: (component.shape, component.scale_months)
        for component in truth.components
        if component.name not in planted and not component.models
    }


def one_world(seed: int, *, labels: bool, units: int | None = None) -> pd.DataFrame:
    """Return, for each unplanted component, whether the limits hold the truth."""
    truth = load_truth()
    world = make_world(truth, seed, units=units)
    with tempfile.TemporaryDirectory() as folder:
        workspace = create(Path(folder) / "study")
        settings = workspace.folder / "claimlens.toml"
        terms = "".join(
            f'\n[[coverage.terms]]\nmodel = "{model.name}"\n'
            f"months = {model.coverage_months}\n"
            for model in truth.models
            if model.coverage_months
        )
        settings.write_text(settings.read_text() + terms)
        workspace = type(workspace)(workspace.folder, read(settings))
        write_canonical(world, workspace.inbox, labels=labels)
        workspace.ingest()
        rates = workspace.rates(at=AT_MONTHS).set_index("component")
        lives = workspace.life().set_index("component")
    rows = []
    for name, (shape, scale) in unplanted(truth).items():
        if name not in lives.index or lives.loc[name, "failures"] < 5:
            continue
        share = -np.expm1(-((AT_MONTHS / scale) ** shape))
        rate, life = rates.loc[name], lives.loc[name]
        upper = life["shape_upper"] if pd.notna(life["shape_upper"]) else np.inf
        rows.append(
            {
                "seed": seed,
                "component": name,
                "failures": life["failures"],
                "shape_held": life["shape_lower"] <= shape <= upper,
                "share_held": rate["lower"] <= share <= rate["upper"],
                "shape_ratio": life["shape"] / shape,
                "share_ratio": rate["rate"] / share,
            }
        )
    return pd.DataFrame(rows)


def read(settings: Path):
    """Read the settings again after they were written."""
    from claimlens.settings import read_settings

    return read_settings(settings)


def main() -> None:
    """Print the table."""
    n_seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    labels = "labels" in sys.argv
    worlds = pd.concat(
        [one_world(seed, labels=labels) for seed in range(1, n_seeds + 1)]
    )
    print("| figure | intervals | hold the truth | mean estimate / truth |")
    print("|---|---|---|---|")
    for figure in ("shape", "share"):
        held, ratio = worlds[f"{figure}_held"], worlds[f"{figure}_ratio"]
        print(
            f"| {figure} | {len(held)} | {held.mean():.1%} | {ratio.mean():.3f} |"
        )


if __name__ == "__main__":
    main()
