"""Late reports, cut-offs within a month and the fitted rates behind a forecast."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fleet_maker import workspace_of
from forecast_maker import AS_OF, PLAIN, ahead_of, small_fleet

from claimlens.analysis.forecast_counts import Ahead, count_ahead
from claimlens.analysis.forecast_draws import Prospects, prospects
from claimlens.analysis.forecast_rates import Rates, _known, _lag, fit_fleet
from claimlens.analysis.months import month_no
from claimlens.analysis.question import ask
from claimlens.workspace import Workspace

END = month_no(date(2023, 6, 1))
MIDDLE = date(2023, 7, 16)  # 16 of 31 days have gone
GONE = 16 / 31


def claims_of(*rows: tuple[int, int, float]) -> pd.DataFrame:
    """Return claims by months back, months of delay and number."""
    return pd.DataFrame(
        {
            "component": "motor",
            "service_month": END - 40,
            "failed_month": [END - back for back, _, _ in rows],
            "reported_month": [END - back + delay for back, delay, _ in rows],
            "n_claims": [number for _, _, number in rows],
        }
    )


# of a month's failures half come at once, a quarter each a month and two later: of
# June only the first are seen, and so on
TRIANGLE = claims_of(
    (0, 0, 10.0), (1, 0, 10.0), (1, 1, 5.0), (2, 0, 10.0), (2, 1, 5.0), (2, 2, 5.0)
)


def test_shares_reported_are_those_of_the_triangle_by_hand() -> None:
    """Hazards backwards: 5 of 20 at 2, 10 of 30 at 1; G = 0.75 x 2/3, 0.75, 1."""
    lag = _lag(ahead_of(claims=TRIANGLE))
    np.testing.assert_allclose(lag.share[:3], [0.5, 0.75, 1.0])
    np.testing.assert_allclose(lag.share[3:], 1.0)


def test_only_whole_months_tell_the_lag() -> None:
    """Reports of July, of which half has passed, would show too few delays of one."""
    july = claims_of((0, 1, 2.0), (-1, 0, 7.0))
    claims = pd.concat([TRIANGLE, july], ignore_index=True)
    lag = _lag(ahead_of(claims=claims, as_of=MIDDLE))
    np.testing.assert_allclose(lag.share[:3], [0.5, 0.75, 1.0])


def test_claims_without_a_failure_month_or_with_a_later_one_do_no_harm() -> None:
    """One reported in June that says it failed in July counts as reported at once."""
    odd = claims_of((-1, -1, 10.0))
    nowhere = claims_of((0, 0, 500.0)).assign(failed_month=-1)
    both = pd.concat([TRIANGLE, odd, nowhere], ignore_index=True)
    at_once = pd.concat([TRIANGLE, claims_of((0, 0, 10.0))], ignore_index=True)
    np.testing.assert_allclose(
        _lag(ahead_of(claims=both, as_of=MIDDLE)).share,
        _lag(ahead_of(claims=at_once, as_of=MIDDLE)).share,
    )


def test_without_a_claim_in_a_whole_month_all_is_taken_as_reported_at_once() -> None:
    lag = _lag(ahead_of(claims=claims_of((-1, 0, 3.0)), as_of=MIDDLE))
    np.testing.assert_allclose(lag.share, 1.0)


def test_at_a_month_end_a_month_is_known_as_far_as_its_reports_have_come() -> None:
    ahead = ahead_of(claims=TRIANGLE)
    months = END - np.array([0, 1, 2, 3, 11, 12, 13, 60])
    np.testing.assert_allclose(
        _known(ahead, _lag(ahead), months), [0.5, 0.75, 1, 1, 1, 1, 1, 1]
    )


def test_within_a_month_its_own_failures_are_known_by_the_square_of_what_has_gone() -> (
    None
):
    """Failure and report must both lie in the part gone; older ones: the report."""
    ahead = ahead_of(claims=TRIANGLE, as_of=MIDDLE)
    months = END + 1 - np.array([0, 1, 2, 3, 60])
    np.testing.assert_allclose(
        _known(ahead, _lag(ahead), months),
        [0.5 * GONE**2, 0.5 + 0.25 * GONE, 0.75 + 0.25 * GONE, 1.0, 1.0],
    )


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    return workspace_of(small_fleet(), tmp_path_factory.mktemp("rates") / "ws", PLAIN)


def looked(
    workspace: Workspace, as_of: date, *, months: int = 36
) -> tuple[Ahead, Rates, Prospects]:
    """Return what a forecast of all claims rests on."""
    with workspace._reading(ask(as_of=as_of)) as (session, scope):
        ahead = count_ahead(session, workspace.settings, scope, by=(), months=months)
    rates = fit_fleet(ahead, workspace.settings)
    return ahead, rates, prospects(ahead, rates, workspace.settings, n_draws=200)


@pytest.mark.parametrize("as_of", [AS_OF, date(2023, 6, 12), date(2023, 5, 1)])
def test_what_is_to_be_reported_is_what_is_not_known(
    as_of: date, workspace: Workspace
) -> None:
    """Of the failures of each month; also where the cut-off lies within one."""
    ahead, rates, found = looked(workspace, as_of)
    longest = rates.lag.share.size
    months = range(ahead.now - longest - 3, ahead.last - longest)
    share = found._reported_in(months)
    assert share.shape == (len(months), 36)
    assert (share >= 0).all()
    known = _known(ahead, rates.lag, np.minimum(np.array(months), ahead.now))
    known[np.array(months) > ahead.now] = 0.0
    np.testing.assert_allclose(share.sum(axis=1), 1 - known, atol=1e-12)
    assert known[0] == 1.0
    assert 0 < known[months.index(ahead.now)] < 1


def test_a_cut_off_within_a_month_begins_with_the_rest_of_it(
    workspace: Workspace,
) -> None:
    whole = workspace.forecast(as_of="2023-05-31", months=3)
    rest = workspace.forecast(as_of="2023-06-12", months=3)
    assert list(whole["month"].dt.month) == list(rest["month"].dt.month) == [6, 7, 8]
    assert rest["note"].str.contains("the rest of the month of the cut-off").all()
    assert not whole["note"].str.contains("the rest of the month").any()
    # 18 of 30 days are left
    part = rest["claims"] / whole["claims"]
    assert 0.45 < part[0] < 0.85
    assert part[1:].between(0.75, 1.35).all()


def test_all_claims_placed_are_in_the_counts_and_rates_fit_them(
    workspace: Workspace,
) -> None:
    ahead, rates, _ = looked(workspace, AS_OF, months=6)
    placed = ahead.claims[ahead.claims["service_month"] >= 0]
    by_component = placed.groupby("component")["n_claims"].sum()
    recent = placed["failed_month"] > rates.cells.month.max()
    assert rates.components == tuple(sorted(by_component.index))
    assert rates.counts.sum() == pytest.approx(
        placed.loc[~recent, "n_claims"].sum(), abs=1e-6
    )
    for number, component in enumerate(rates.components):
        expected = rates.expected(number).sum()
        assert expected == pytest.approx(by_component[component], rel=0.15, abs=2)
    # every claim of this fleet is of a unit with a date
    np.testing.assert_allclose(rates.unplaced, 1.0, atol=0.01)


def test_draws_of_the_product_have_the_means_that_it_tells(
    workspace: Workspace,
) -> None:
    _, _, found = looked(workspace, AS_OF, months=6)
    for one in found.each():
        error = one.draws.std(axis=2) / np.sqrt(one.draws.shape[2])
        assert (np.abs(one.draws.mean(axis=2) - one.mean) < 5 * error + 1e-6).all()


def test_a_claim_that_nobody_can_be_named_for_is_forecast_with_the_others(
    tmp_path: Path, workspace: Workspace
) -> None:
    """A fifth of the claims without a serial: about as many come as before."""
    fleet = small_fleet()
    for claim in fleet.claims[::5]:
        claim["serial"] = None
    other = workspace_of(fleet, tmp_path / "ws", PLAIN)
    whole = workspace.forecast(as_of=AS_OF, months=6, total=True)
    found = other.forecast(as_of=AS_OF, months=6, total=True)
    assert found["claims"][0] == pytest.approx(whole["claims"][0], rel=0.1)
    ahead, rates, _ = looked(other, AS_OF, months=6)
    assert ahead.claims["n_claims"].sum() == pytest.approx(len(fleet.claims))
    assert (rates.unplaced > 1.1).all()
