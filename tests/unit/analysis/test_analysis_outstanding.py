"""Claims to come, split by what has failed and by who has been sold."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from cost_maker import cost_fleet
from fleet_maker import workspace_of

from claimlens.analysis.forecast_counts import count_ahead
from claimlens.analysis.forecast_draws import Prospects, prospects
from claimlens.analysis.forecast_rates import fit_fleet
from claimlens.analysis.question import ask
from claimlens.workspace import Workspace

MONTH_END, MID_MONTH = date(2025, 6, 30), date(2025, 6, 12)


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    return workspace_of(cost_fleet(), tmp_path_factory.mktemp("outstanding") / "ws")


@contextmanager
def looking(workspace: Workspace, as_of: date, *, again: bool = False) -> Iterator:
    """Stand ready to look ahead, a second time in the same session if asked."""
    with workspace._reading(ask(as_of=as_of)) as (session, scope):
        for _ in range(1 + again):
            ahead = count_ahead(
                session, workspace.settings, scope, by=["model"], months=30
            )
        ahead = replace(ahead, unit_keys=("model", "is_to_come"))
        rates = fit_fleet(ahead, workspace.settings)
        yield prospects(ahead, rates, workspace.settings, n_draws=50)


@pytest.mark.parametrize("as_of", [MONTH_END, MID_MONTH])
def test_failed_and_failing_claims_are_all_that_come(
    as_of: date, workspace: Workspace
) -> None:
    with looking(workspace, as_of) as found:
        looks, whole = list(found.each_by_failure()), list(found.each())
    assert [look.component for look in looks] == [one.component for one in whole]
    to_come = found.rates.places.rows["is_to_come"].to_numpy(dtype=bool)
    for look, one in zip(looks, whole, strict=True):
        before, after = (outlook.mean for outlook in look.outlooks)
        np.testing.assert_allclose(before + after, one.mean, rtol=1e-9, atol=1e-12)
        assert (before >= 0).all()
        assert (after >= 0).all()
        # what is not in service yet has not failed; of a month that is not over, days
        # gone and days to come share what it brings, whoever it falls on
        if as_of == MONTH_END:
            assert before[to_come].sum() == 0.0
        # the longest lag is over: nothing that failed before is left to come
        lag = found.rates.lag.share.size
        assert before[:, lag:].sum() == 0.0
        assert before[~to_come, :2].sum() > 0.0


def test_of_a_month_that_is_not_over_what_failed_is_that_of_the_days_gone(
    workspace: Workspace,
) -> None:
    """Simulated: failure and report anywhere in a month, the report behind."""
    rng = np.random.default_rng(20240607)
    failed, reported = np.sort(rng.random((2, 400_000)), axis=0)
    part = 12 / 30
    came = reported > part
    expected = (came & (failed <= part)).sum() / came.sum()
    assert 2 * part / (1 + part) == pytest.approx(expected, abs=0.005)
    with looking(workspace, MID_MONTH) as found:
        assert found.ahead.part_gone == pytest.approx(part)


def test_rows_drawn_in_parts_are_drawn_as_together(workspace: Workspace) -> None:
    with looking(workspace, MONTH_END) as found:
        look = next(iter(found.each_by_failure()))
    outlook = look.outlooks[1]
    together = look.drawn(outlook)
    for row in range(len(outlook.mean)):
        [alone] = look.drawn(outlook.rows(np.array([row])))
        np.testing.assert_allclose(alone, together[row], rtol=2e-4, atol=1e-9)


def test_rows_put_together_keep_their_mean_and_slope(workspace: Workspace) -> None:
    with looking(workspace, MONTH_END) as found:
        look = next(iter(found.each_by_failure()))
    outlook = look.outlooks[1]
    size = len(outlook.mean)
    one = outlook.gathered(np.zeros(size, dtype=np.intp), 1)
    np.testing.assert_allclose(one.mean[0], outlook.mean.sum(axis=0))
    moved = (outlook.mean[:, :, None] * outlook.slope).sum(axis=0)
    np.testing.assert_allclose(one.mean[0][:, None] * one.slope[0], moved, atol=1e-12)


def test_a_second_look_ahead_counts_nobody_twice(workspace: Workspace) -> None:
    def to_come(found: Prospects) -> float:
        units = found.ahead.units
        return float(units.loc[units["is_to_come"].astype(bool), "n_units"].sum())

    with looking(workspace, MONTH_END) as once:
        pass
    with looking(workspace, MONTH_END, again=True) as twice:
        pass
    assert to_come(once) > 0
    assert to_come(twice) == pytest.approx(to_come(once))
