"""Tails, cumulative sums, likelihood ratios and control charts against sources.

Sources, row by row in ``monitoring.toml``: Lucas 1985 (as quoted in the documentation
of R packages), NIST/SEMATECH e-Handbook 6.3.3.1 and 6.3.3.2 (counts from memory). The
charts of the handbook and the run lengths are witnesses that live here and among the
studies: the package itself has the tails, the ratio and the centre of the p-chart.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from reference_rows import assert_published, assert_row, dataset, rows

from claimlens.stats import drift, intervals, rising
from claimlens.stats.tails import rate_limits

ROWS = rows("monitoring")
STUDIES = Path(__file__).parents[1] / "studies"


def _three_sigma(centre: float, variance: float) -> tuple[float, float]:
    spread = 3.0 * np.sqrt(variance)
    return max(centre - spread, 0.0), centre + spread


def test_the_lower_limit_is_the_mean_at_which_the_tail_has_its_weight() -> None:
    row = ROWS["E01"]
    pairs = np.array(row["inputs"]["pairs"], dtype=float)
    found = [
        intervals.poisson_exact(count, 1.0, 1.0 - 2.0 * tail)[0]
        for (count, _), tail in zip(pairs, row["expected"], strict=True)
    ]
    assert_row(row, found, pairs[:, 1])


def test_the_mid_p_limit_counts_half_of_what_was_seen() -> None:
    row = ROWS["E02"]
    count = np.array([float(row["inputs"]["observed"])])
    lower, _ = rate_limits(count, np.ones(1), row["expected"], mid_p=True)
    assert_row(row, lower[0], row["inputs"]["expected"])


@pytest.mark.parametrize("key", ["E03", "E04", "E05", "E06", "E07", "E08"])
def test_run_lengths_agree_with_lucas(
    key: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(str(STUDIES))
    from poisson_cusum import average_run_length  # noqa: PLC0415 - path set above

    row = ROWS[key]
    inputs = row["inputs"]
    found = average_run_length(
        inputs["mean"], inputs["k"], inputs["h"], inputs["start"]
    )
    assert_row(row, found, row["expected"])
    # Table values round to three digits
    assert found == pytest.approx(row["published"], rel=2e-3)


def test_a_chart_that_signals_beyond_the_limit_runs_one_step_longer(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.syspath_prepend(str(STUDIES))
    from poisson_cusum import average_run_length  # noqa: PLC0415 - path set above

    row = ROWS["E09"]
    found = [
        average_run_length(case["mean"], case["k"], case["h"] + step)
        for case, step in zip(row["inputs"]["cases"], (0.25, 1.0), strict=True)
    ]
    assert_row(row, found, row["expected"])


def test_the_likelihood_ratio_agrees() -> None:
    row = ROWS["E10"]
    observed, expected = np.array(row["inputs"]["pairs"], dtype=float).T
    assert_row(row, rising.log_likelihood_ratio(observed, expected), row["expected"])


def test_the_c_chart_of_the_handbook() -> None:
    row = ROWS["E11"]
    counts = np.array(dataset("nist_c")["defects"])
    centre = counts.mean()
    lower, upper = _three_sigma(centre, centre)
    wanted = row["expected"]
    assert_row(
        row,
        [centre, upper, lower],
        [wanted["centre"], wanted["upper"], wanted["lower"]],
    )
    out = np.flatnonzero((counts < lower) | (counts > upper)) + 1
    assert out.tolist() == wanted["out"]


def test_the_p_chart_of_the_handbook() -> None:
    """The package draws each month's limits from the months before."""
    row = ROWS["E12"]
    data = dataset("nist_p")
    counts, size = np.array(data["defective"]), data["n"]
    chart = drift.share_chart(
        np.append(counts, 12), np.full(31, size), window=counts.size
    )
    assert_published(row, [chart.centre[-1]])
    wanted = row["expected"]
    centre = counts.sum() / (size * counts.size)
    lower, upper = _three_sigma(centre, centre * (1 - centre) / size)
    assert_row(
        row,
        [chart.centre[-1], upper, lower],
        [wanted["centre"], wanted["upper"], wanted["lower"]],
    )
    share = counts / size
    out = np.flatnonzero((share < lower) | (share > upper)) + 1
    assert out.tolist() == wanted["out"]
    # wider: the months before are themselves a sample, and vary by more than chance
    assert chart.lower[-1] < lower
    assert chart.upper[-1] > upper


def test_three_sigma_of_counts_leave_more_above_than_below() -> None:
    row = ROWS["E13"]
    above, below = row["expected"]
    lower, _ = intervals.poisson_exact(29.0, 1.0, 1.0 - 2.0 * above)
    _, upper = intervals.poisson_exact(3.0, 1.0, 1.0 - 2.0 * below)
    assert_row(row, [lower, upper], [16.0, 16.0])


def test_the_u_chart_of_the_handbook() -> None:
    row = ROWS["E14"]
    inputs = row["inputs"]
    centre = inputs["total_claims"] / inputs["total_exposure"]
    lower, upper = _three_sigma(centre, centre / inputs["exposure"])
    rate = inputs["claims"] / inputs["exposure"]
    wanted = row["expected"]
    assert_row(
        row,
        [rate, centre, upper, lower],
        [wanted[name] for name in ("rate", "centre", "upper", "lower")],
    )
