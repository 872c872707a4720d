"""Are planted faults and changes found through files, and is the rest left alone?

Run ``python tests/studies/study_rising_fleets.py [SEEDS]``: for each seed (2 by
default) worlds of the demo maker with another truth go through canonical files into
a workspace: bad production windows of five times the usual rate, changes that cut a
rate to 0.4, and worlds in which nothing happens. Components are told by labels, so
that the counting and judging are tried and not the reading of texts.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from claimlens.analysis.question import ask
from claimlens.analysis.rising import judge_production
from claimlens.demo import (
    Truth,
    load_truth,
    make_world,
    write_canonical,
    write_settings,
)
from claimlens.demo.truth import ChangeTruth, WindowTruth
from claimlens.start import make_folders, open_workspace
from claimlens.workspace import Workspace

ALARM = 2
# month-ends over which alarms are counted
LAST = 12
TEXTS = ("narrative", "technician_note", "resolution")
TIMES, CUT = 5.0, 0.4


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A world: its size, what is planted, and its end of data where not the demo's."""

    name: str
    units: int
    models: int | None = None
    window: tuple[str, date, date] | None = None
    change: tuple[str, date] | None = None
    end: date | None = None


WORLDS = (
    Plan(name="quiet, 24,000 units", units=24_000),
    Plan(name="quiet, 12,000 units of 3 models", units=12_000, models=3),
    Plan(
        name="production that goes on, 24,000 units",
        units=24_000,
        window=("charger", date(2024, 6, 1), date(2024, 9, 1)),
        change=("connector", date(2022, 10, 1)),
        end=date(2025, 8, 31),
    ),
    Plan(
        name="production that has ended, 16,000 units",
        units=16_000,
        window=("connector", date(2025, 1, 1), date(2025, 4, 1)),
        change=("battery pack", date(2022, 4, 1)),
    ),
    Plan(
        name="wear-out, 20,000 units of 4 models",
        units=20_000,
        models=4,
        window=("drivetrain", date(2024, 11, 1), date(2025, 2, 1)),
        change=("charger", date(2023, 3, 1)),
    ),
)


def truth_of(plan: Plan) -> Truth:
    """Return the demo's truth without its planted effects, and with those of a plan."""
    truth = load_truth()
    windows, changes = (), ()
    if plan.window:
        name, first, last = plan.window
        windows = (
            WindowTruth(component=name, from_date=first, to_date=last, ratio=TIMES),
        )
    if plan.change:
        name, day = plan.change
        changes = (
            ChangeTruth(
                change_no="EC-1",
                component=name,
                description="Another make of it",
                effective_build_date=day,
                ratio=CUT,
                retrofits=0,
            ),
        )
    end = plan.end or truth.cut_off
    models = truth.models[: plan.models]
    kept = {model.name for model in models}
    components = [
        replace(one, models=tuple(m for m in one.models if m in kept))
        for one in truth.components
        if not one.models or kept & set(one.models)
    ]
    return replace(
        truth,
        units=plan.units,
        models=models,
        components=tuple(components),
        windows=windows,
        changes=changes,
        suppliers=(),
        model_effects=(),
        cut_off=end,
        data_end=plan.end or truth.data_end,
    )


@contextmanager
def loaded(truth: Truth, seed: int) -> Iterator[Workspace]:
    """Make a world, write it as canonical files without texts, and load them."""
    world = make_world(truth, seed)
    world = replace(world, claims=world.claims.drop(columns=list(TEXTS)))
    with tempfile.TemporaryDirectory() as folder:
        place = make_folders(Path(folder) / "study")
        write_settings(world, place, sources=False)
        write_canonical(world, place / "inbox", labels=True)
        workspace = open_workspace(place)
        workspace.ingest()
        yield workspace


def overlap(
    row: pd.Series, truth: WindowTruth, *, names: tuple[str, str] = ("from", "to")
) -> float:
    """Return build months in common over months in either."""

    def months(first: date, last: date) -> set[int]:
        start, stop = (day.year * 12 + day.month for day in (first, last))
        return set(range(start, stop))

    found = months(*(row[f"{name}_date"] for name in names))
    true = months(truth.from_date, truth.to_date)
    return len(found & true) / len(found | true)


def false_alarms(workspace: Workspace, truth: Truth) -> dict[str, object]:
    """Count components with an alarm in which nothing was planted.

    ``false_alarms`` are those newly raised over the last 12 month-ends, after six
    without one; ``standing_alarms`` those that stand at the cut-off.
    """
    planted = {window.component for window in truth.windows}
    with workspace._reading(ask(as_of=truth.cut_off)) as (session, scope):
        production, rising = judge_production(session, workspace.settings, scope)
    raised: set[tuple[int, str]] = set()
    standing: set[str] = set()
    for kind in rising:
        level = np.stack([month.level for month in kind.months])
        for at in range(len(level) - LAST, len(level)):
            fresh = (level[at] == ALARM) & ~(level[max(at - 6, 0) : at] == ALARM).any(0)
            # one line a component, whatever its models say with it
            raised |= {
                (at, production.components[int(kind.component_of[row])])
                for row in np.flatnonzero(fresh)
            }
        now = {
            production.components[int(kind.component_of[row])]
            for row in np.flatnonzero(level[-1] == ALARM)
        }
        standing |= now - planted
    return {
        "false_alarms": sum(name not in planted for _, name in raised),
        "standing_alarms": len(standing),
    }


def one_world(plan: Plan, seed: int) -> dict[str, object]:
    """Return what is found in one world."""
    truth = truth_of(plan)
    found: dict[str, object] = {"world": plan.name, "seed": seed}
    with loaded(truth, seed) as workspace:
        found |= false_alarms(workspace, truth)
        for window in truth.windows:
            signals = workspace.signals(as_of=truth.cut_off)
            windows = workspace.windows(as_of=truth.cut_off)
            found |= _window_found(window, signals, windows)
        for change in truth.changes:
            judged = workspace.change(change.change_no, as_of=truth.cut_off).iloc[0]
            found |= {
                "ratio": judged["rate_ratio"],
                "held": judged["lower"] <= change.ratio <= judged["upper"],
                "verdict": judged["verdict"],
            }
    return found


def _window_found(
    window: WindowTruth, signals: pd.DataFrame, windows: pd.DataFrame
) -> dict[str, object]:
    told = signals[
        (signals["component"] == window.component)
        & signals["model"].isna()
        & (signals["state"] != "cleared")
    ]
    seen = windows[windows["component"] == window.component].head(1)
    return {
        "level": told["level"].iloc[0] if len(told) else "",
        "signal_overlap": overlap(told.iloc[0], window) if len(told) else 0.0,
        "window_overlap": overlap(seen.iloc[0], window) if len(seen) else 0.0,
    }


def main() -> None:
    """Print the table."""
    n_seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 2
    # no two worlds share their draws
    rows = [
        one_world(plan, 100 * place + number)
        for place, plan in enumerate(WORLDS, start=1)
        for number in range(n_seeds)
    ]
    table = pd.DataFrame(rows)
    print(table.to_string(index=False))
    planted = table[table["level"].notna()]
    changed = table[table["verdict"].notna()]
    quiet = table[table["level"].isna()]
    print(
        f"\nplanted windows: {len(planted)}, signalled "
        f"{(planted['level'] != '').sum()}, overlap of 70 % or more: "
        f"{(planted['signal_overlap'] >= 0.7).sum()} by signals, "
        f"{(planted['window_overlap'] >= 0.7).sum()} by windows"
    )
    print(
        f"quiet worlds: {len(quiet)}, false alarms over {LAST} month-ends: "
        f"{quiet['false_alarms'].sum()} (at most {quiet['false_alarms'].max()} in "
        f"one), at the cut-off {quiet['standing_alarms'].sum()}; other worlds "
        f"{planted['false_alarms'].sum()} and {planted['standing_alarms'].sum()}"
    )
    print(
        f"changes to {CUT}: {len(changed)}, interval holds it "
        f"{changed['held'].astype(bool).sum()}, "
        f"improved {(changed['verdict'] == 'improved').sum()}, mean ratio "
        f"{changed['ratio'].mean():.2f}"
    )


if __name__ == "__main__":
    main()
