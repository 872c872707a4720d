"""Mean cumulative function against R on random clustered sets.

The numbers, and the R lines that made them, stand in ``r_recurrence.toml``; so they
are checked where R is not installed as well. Point values are compared with the
reliability library live.
"""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest
from reference_rows import assert_row, rows

from claimlens.stats.exposure import Chances
from claimlens.stats.mean_events import mean_by_segment
from claimlens.stats.recurrence import mean_cumulative
from claimlens.stats.watches import Occurrences, Watches

with warnings.catch_warnings():
    # the library lags behind numpy and pandas; its warnings are not ours to fix
    warnings.simplefilter("ignore")
    from reliability.Repairable_systems import MCF_nonparametric

ROWS = rows("r_recurrence")


def _flat(row: dict[str, Any]) -> tuple[np.ndarray, np.ndarray]:
    ages = [age for events in row["events"] for age in events]
    units = [unit for unit, events in enumerate(row["events"]) for _ in events]
    return np.array(ages), np.array(units)


@pytest.mark.parametrize("name", sorted(ROWS))
def test_random_clustered_sets_agree_with_r(name: str) -> None:
    row = ROWS[name]
    ages, units = _flat(row)
    curve = mean_cumulative(ages, units, row["end"], unit_entries=row["entry"])
    np.testing.assert_allclose(curve.ages, row["ages"])
    assert_row(row, curve.mean, row["mean"])
    assert_row(row, curve.standard_error, row["standard_error"])


@pytest.mark.parametrize("name", sorted(ROWS))
def test_segments_counted_by_days_agree_with_r(name: str) -> None:
    """Tenths of R's unit are our days: an event at age a falls on day 10 a - 1."""
    row = ROWS[name]
    ages, units = _flat(row)
    entry, last = (np.rint(10 * np.array(row[key])).astype(int) for key in _ENDS)
    zeros = np.zeros(entry.size, dtype=int)

    def watches(chosen: np.ndarray) -> Watches:
        return Watches(
            row=zeros[chosen],
            entry_day=entry[chosen],
            last_day=last[chosen] - 1,
            seen_after=zeros[chosen],
            reporting=zeros[chosen],
            distance=zeros[chosen],
            n=np.ones(chosen.size),
        )

    found = mean_by_segment(
        Occurrences(
            segment=np.zeros(ages.size, dtype=int),
            unit=units,
            day=np.rint(10 * ages).astype(int) - 1,
            watch=watches(units),
            amount=np.ones(ages.size),
        ),
        watches(np.arange(entry.size)),
        Chances(reported=np.ones((1, 1)), covered=np.ones((1, int(last.max()) + 1))),
        np.rint(10 * np.array(row["ages"])),
        row_of_segment=[0],
    )
    assert_row(row, found.mean[0], row["mean"])
    assert_row(row, found.standard_error[0], row["standard_error"])


_ENDS = ("entry", "end")


@pytest.mark.parametrize("name", ["R01", "R02", "R03", "R04", "R05"])
def test_point_values_agree_with_the_reliability_library(name: str) -> None:
    row = ROWS[name]
    ages, units = _flat(row)
    # a system is its repairs and, last, the age at which it was left
    systems = [
        [*events, end] for events, end in zip(row["events"], row["end"], strict=True)
    ]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = MCF_nonparametric(data=systems, print_results=False, show_plot=False)
    # several events at one age stand in as many steps; the last holds them all
    stepped = dict(zip(theirs.time, theirs.MCF, strict=True))
    curve = mean_cumulative(ages, units, row["end"])
    ours = dict(zip(curve.ages, curve.mean, strict=True))
    assert len(stepped) > 3
    for age, mean in stepped.items():
        assert ours[age] == pytest.approx(float(mean), rel=1e-5)
