"""What must not move the reserve, and what must move it in step."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
from cost_maker import AS_OF, cost_fleet
from fleet_maker import Fleet, shuffled, workspace_of

from claimlens import handover
from claimlens.analysis.outstanding import outstanding
from claimlens.analysis.question import ask
from claimlens.workspace import Workspace

AMOUNTS = ["amount", "lower80", "upper80", "lower95", "upper95"]


def changed(fleet: Fleet, cost: int = 1, currency: str = "EUR") -> Fleet:
    """Return a fleet with its costs times a number, in another currency."""
    other = Fleet(units=fleet.units, claims=[], labels=fleet.labels)
    for row in fleet.claims:
        known = row["cost_total"]
        money = None if known is None else str(Decimal(str(known)) * cost)
        other.claims.append(row | {"cost_total": money, "currency": currency})
    return other


def texts(workspace: Workspace) -> list[str]:
    """Return the answers about money as text."""
    frames = [
        workspace.reserve(by="model_year", as_of=AS_OF),
        workspace.severity(by="component,year", as_of=AS_OF),
        workspace.run_off(months=12, as_of=AS_OF),
    ]
    return [handover.to_csv(frame) for frame in frames]


def test_the_order_of_rows_moves_no_byte(tmp_path: Path) -> None:
    fleet = cost_fleet(8, n_units=120)
    first = texts(workspace_of(fleet, tmp_path / "first"))
    assert texts(workspace_of(shuffled(fleet, 2), tmp_path / "again")) == first


def test_costs_ten_times_as_high_make_a_reserve_ten_times_as_high(
    tmp_path: Path,
) -> None:
    """In another currency too, whose name is all that it changes."""
    fleet = cost_fleet(9, n_units=120)
    once = workspace_of(fleet, tmp_path / "once").reserve(as_of=AS_OF)
    more = workspace_of(changed(fleet, 10, "CHF"), tmp_path / "more").reserve(
        as_of=AS_OF
    )
    assert set(more["currency"]) == {"CHF"}
    assert more["claims"].tolist() == once["claims"].tolist()
    for name in ("amount", "lower80"):
        for small, large in zip(once[name], more[name], strict=True):
            # bands are those of other draws, as the seed knows the currency
            limit = Decimal("0.5") if name == "amount" else max(large / 10, 100)
            assert abs(large - 10 * small) <= limit


@pytest.mark.parametrize("seed", range(3))
def test_parts_of_every_draw_add_up_and_currencies_stay_apart(
    seed: int, tmp_path: Path
) -> None:
    currencies = ("EUR", "CHF", "GBP")[: 1 + seed % 3]
    fleet = cost_fleet(20 + seed, n_units=100, currencies=currencies)
    workspace = workspace_of(fleet, tmp_path / "ws")
    with workspace._reading(ask(as_of=AS_OF)) as (session, scope):
        found = outstanding(session, workspace.settings, scope, by=["model"])
        whole = outstanding(session, workspace.settings, scope, by=[])
    assert {currency for _, currency in found.sums} == set(currencies)
    for one in (*found.sums.values(), *whole.sums.values()):
        assert one.drawn.dtype == one.expected.dtype == np.int64
        total = one.drawn.sum(axis=0)
        assert (total == sum(part for part in one.drawn)).all()
    for currency in currencies:
        parts = sum(
            one.mean for (_, name), one in found.sums.items() if name == currency
        )
        np.testing.assert_allclose(
            parts, whole.sums[(), currency].mean, rtol=2e-3, atol=5.0
        )
    # claims are shared out among the currencies, none twice
    claims = sum(one.claims for one in found.sums.values())
    np.testing.assert_allclose(
        claims, sum(one.claims for one in whole.sums.values()), rtol=2e-3, atol=1e-6
    )
