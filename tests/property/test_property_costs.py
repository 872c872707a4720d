"""Laws that amounts of money must keep, whatever they are."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from claimlens.analysis.cost_claims import amounts, cents_of
from claimlens.settings import CurrencySettings
from claimlens.stats.compound import compound_sums

quick = settings(max_examples=80, deadline=None, derandomize=True)
costs = st.lists(st.integers(-(10**9), 10**12), min_size=1, max_size=20)
SEED = 20240607


@quick
@given(costs, st.decimals(Decimal("0.0001"), 1000, places=4), st.data())
def test_amounts_are_turned_to_the_nearest_cent_and_never_mixed(
    costs: list[int], rate: Decimal, data: st.DataObject
) -> None:
    names = data.draw(
        st.lists(
            st.sampled_from(["EUR", "CHF", ""]),
            min_size=len(costs),
            max_size=len(costs),
        )
    )
    rates = CurrencySettings(report="EUR", rates={"2025-06": {"CHF": rate}})
    claims = pd.DataFrame(
        {"cost_e4": pd.array(costs, dtype="Int64"), "currency": names}
    )
    found = cents_of(claims, rates, date(2025, 6, 30))
    for cost, name, cents in zip(costs, names, found, strict=True):
        exact = Decimal(cost) / 100 * (rate if name == "CHF" else 1)
        assert abs(exact - int(cents)) <= Decimal("0.5")
    # without a report currency nothing is turned
    bare = cents_of(claims, CurrencySettings(), date(2025, 6, 30))
    assert all(
        abs(Decimal(cost) / 100 - int(cents)) <= Decimal("0.5")
        for cost, cents in zip(costs, bare, strict=True)
    )


@quick
@given(st.lists(st.integers(-(10**15), 10**15), max_size=20))
def test_cents_and_amounts_are_the_same_money(cents: list[int]) -> None:
    told = amounts(cents)
    assert sum(told, Decimal(0)) * 100 == sum(cents)
    assert all(value is not None and value.as_tuple().exponent == -2 for value in told)


@quick
@given(
    st.lists(st.integers(0, 1500), min_size=1, max_size=12),
    st.lists(st.floats(0, 1e5), min_size=1, max_size=12),
    st.floats(0.01, 1e5),
)
def test_sums_scale_with_the_mean_and_lie_within_the_costs(
    counts: list[int], sample: list[float], mean: float
) -> None:
    def drawn(level: float, values: list[float]) -> np.ndarray:
        means = np.full(len(counts), level)
        rng = np.random.default_rng(SEED)
        return compound_sums(counts, means, values, rng=rng)

    once, twice = drawn(mean, sample), drawn(2 * mean, sample)
    centre = float(np.mean(sample))
    if centre > 0:
        np.testing.assert_allclose(twice, 2 * once, rtol=1e-9, atol=1e-6)
        few = np.array(counts) <= 1000
        least, most = min(sample) * mean / centre, max(sample) * mean / centre
        slack = 1e-6 * (1 + most) * (1 + np.array(counts))
        assert np.all(once[few] >= (np.array(counts) * least - slack)[few])
        assert np.all(once[few] <= (np.array(counts) * most + slack)[few])
    # a cost that never differs leaves nothing to chance
    np.testing.assert_allclose(
        drawn(mean, [mean]), np.array(counts) * mean, rtol=1e-9, atol=1e-9
    )
