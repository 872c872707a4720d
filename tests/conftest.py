"""The order in which files of tests are handed to the cores."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from xdist.remote import Producer
from xdist.scheduler import LoadFileScheduling
from xdist.workermanage import WorkerController

# Files that keep a core busy for long, longest first. pytest-xdist begins with the
# files of most tests; these have few, and would end on one core while the others
# idle. What takes the demo made by the first stands well behind it.
LONG = (
    "end_to_end/test_demo_pipeline.py",
    "end_to_end/test_crash_safety.py",
    "end_to_end/test_regressions.py",
    "end_to_end/test_shipments_only.py",
    "unit/analysis/test_analysis_repeats.py",
    "unit/analysis/test_analysis_late.py",
    "unit/analysis/test_analysis_invariants.py",
    "unit/classify/test_classify_learned.py",
    "unit/analysis/test_analysis_brute_force.py",
    "unit/analysis/test_analysis_learning.py",
    "architecture/test_gates.py",
    "property/test_property_weibull.py",
    "unit/charts/test_charts_drawing.py",
    "end_to_end/test_review_round_trip.py",
    "browser/test_browser_monthly.py",
    "unit/analysis/test_analysis_undated.py",
    "end_to_end/test_cli_lag.py",
)


@pytest.fixture(autouse=True, scope="session")
def alone() -> Iterator[None]:
    """Make reports in one process: the other cores have tests of their own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("claimlens.months.usable_cores", lambda: 1)
        yield


def place_of(path: str) -> int:
    """Return the place of a file among the long ones, behind them for all others."""
    places = (place for place, end in enumerate(LONG) if path.endswith(end))
    return next(places, len(LONG))


class LongFilesFirst(LoadFileScheduling):
    """Hands out the longest file that waits, then that of most tests."""

    def _assign_work_unit(self, node: WorkerController) -> None:
        waiting = self.workqueue
        first = min(waiting, key=lambda path: (place_of(path), -len(waiting[path])))
        waiting.move_to_end(first, last=False)
        super()._assign_work_unit(node)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(
    config: pytest.Config, log: Producer
) -> LoadFileScheduling | None:
    """Order the files where each is to stay on one core."""
    if config.getoption("dist") == "loadfile":
        return LongFilesFirst(config, log)
    return None
