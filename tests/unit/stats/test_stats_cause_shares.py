"""Shares of causes: against scipy, against simulation, and the cases without answer."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from claimlens.errors import InputError
from claimlens.stats.cause_shares import cause_shares

BASE = np.array([0.4, 0.3, 0.15, 0.1, 0.05])


def test_limits_are_those_of_the_beta_posterior() -> None:
    counts = np.array([12.0, 5.0, 2.0, 1.0, 0.0])
    found = cause_shares(counts, BASE)
    posterior = stats.beta(counts + 10 * BASE, 30 - counts - 10 * BASE)
    assert found.share == pytest.approx(posterior.mean(), rel=1e-12)
    assert found.lower == pytest.approx(posterior.ppf(0.025), rel=1e-9)
    assert found.upper == pytest.approx(posterior.ppf(0.975), rel=1e-9)


@pytest.mark.parametrize("n", [8, 30, 200])
def test_the_leader_s_limits_cover_its_share(n: int) -> None:
    """Shares are drawn from the prior, so the cover is exact but for chance."""
    rng = np.random.default_rng([20240607, n])
    held = []
    for _ in range(600):
        truth = rng.dirichlet(10 * BASE)
        found = cause_shares(rng.multinomial(n, truth), BASE)
        first = int(found.share.argmax())
        held.append(found.lower[first] <= truth[first] <= found.upper[first])
    assert 0.92 <= np.mean(held) <= 0.975


def test_words_that_tell_nothing_seldom_get_a_leader() -> None:
    rng = np.random.default_rng(20240607)
    led = [
        cause_shares(rng.multinomial(30, BASE), BASE).leader is not None
        for _ in range(500)
    ]
    assert np.mean(led) <= 0.10


def test_a_symptom_that_tells_has_its_leader() -> None:
    found = cause_shares([2, 2, 25, 1, 0], BASE)
    assert found.leader == 2
    assert found.note == ""


def test_too_few_claims_and_two_equal_causes_have_none() -> None:
    few = cause_shares([0, 0, 7, 0, 0], BASE)
    assert few.leader is None
    assert few.note == "too few to say: 7 claims, 8 needed"
    equal = cause_shares([0, 0, 20, 20, 0], BASE)
    assert equal.leader is None
    assert "as frequent" in equal.note


def test_the_chance_to_be_ahead_is_that_of_drawn_shares() -> None:
    """At the edge of 80 % the closed form and draws agree on which side it lies."""
    rng = np.random.default_rng(20240607)
    for first in range(20, 30):
        counts = np.array([0.0, 0.0, first, 20.0, 0.0])
        drawn = rng.dirichlet(counts + 10 * BASE, 20_000)
        ahead = (drawn[:, 2] > drawn[:, 3]).mean()
        if abs(ahead - 0.8) > 0.015:
            assert (cause_shares(counts, BASE).leader == 2) == (ahead > 0.8)


def test_a_narrow_kind_leans_on_the_wider_but_is_held_to_the_usual_share() -> None:
    wider = np.array([0.05, 0.05, 0.8, 0.05, 0.05])
    found = cause_shares([0, 1, 7, 0, 0], wider, usual=BASE)
    assert found.leader == 2
    assert found.share[2] == pytest.approx((7 + 8) / 18)


def test_no_claims_and_one_cause_are_answered() -> None:
    none = cause_shares([0, 0, 0, 0, 0], BASE)
    assert none.leader is None
    assert none.share == pytest.approx(BASE)
    one = cause_shares([9], [1.0])
    assert (one.share[0], one.lower[0], one.upper[0]) == (1.0, 1.0, 1.0)


@pytest.mark.parametrize(
    ("counts", "base", "usual"),
    [
        ([1, 2], [0.5], None),
        ([-1, 2], [0.5, 0.5], None),
        ([1, 2], [0.9, 0.5], None),
        ([1, 2], [0.5, 0.5], [1.0]),
    ],
)
def test_impossible_counts_are_refused(
    counts: list[float], base: list[float], usual: list[float] | None
) -> None:
    with pytest.raises(InputError):
        cause_shares(counts, base, usual=usual)
