"""Weighted exposure against sums written out unit by unit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claimlens.errors import InputError
from claimlens.stats.exposure import Chances, Stays, passed, passed_after

N_AGES = 40


def random_stays(rng: np.random.Generator, size: int) -> Stays:
    return Stays(
        row=rng.integers(0, 3, size),
        last_day=rng.integers(-1, N_AGES, size),
        seen_after=rng.integers(0, 30, size),
        reporting=rng.integers(0, 2, size),
        distance=rng.integers(0, 2, size),
        n=rng.uniform(-1, 2, size),
    )


@pytest.fixture
def chances() -> Chances:
    return Chances(
        reported=np.array([np.linspace(0, 1, 12), np.linspace(0.5, 1, 12)]),
        covered=np.array([np.ones(N_AGES), np.linspace(1, 0.2, N_AGES)]),
    )


def by_hand(stays: Stays, chances: Chances, since: np.ndarray) -> np.ndarray:
    total = np.zeros((3, N_AGES))
    for i in range(stays.n.size):
        for day in range(since[i], stays.last_day[i] + 1):
            left = stays.last_day[i] + stays.seen_after[i] - day
            total[stays.row[i], day] += (
                stays.n[i]
                * chances.reported[stays.reporting[i], min(left, 11)]
                * chances.covered[stays.distance[i], day]
            )
    return total


@pytest.mark.parametrize("seed", range(3))
def test_units_count_for_each_day_as_the_chance_to_see_a_failure(
    seed: int, chances: Chances
) -> None:
    rng = np.random.default_rng(seed)
    stays = random_stays(rng, 400)
    whole = by_hand(stays, chances, np.zeros(400, dtype=int))
    np.testing.assert_allclose(passed(stays, chances, 3), whole, atol=1e-10)
    since = rng.integers(0, N_AGES, 400)
    # a known failure stands for those of its day that are not known, from then on
    left = np.clip(stays.last_day + stays.seen_after - since, 0, 11)
    then = chances.reported[stays.reporting, left]
    then = then * chances.covered[stays.distance, since]
    then = np.where((then > 0) & (since <= stays.last_day), then, 1.0)
    rest = by_hand(stays, chances, since) - by_hand(stays, chances, since + 1)
    rest += by_hand(replace(stays, n=stays.n / then), chances, since + 1)
    np.testing.assert_allclose(passed_after(stays, since, chances, 3), rest, atol=1e-9)


def test_without_weights_exposure_is_a_count(chances: Chances) -> None:
    at_once = Chances(reported=np.ones((2, 1)), covered=np.ones((2, N_AGES)))
    stays = Stays(
        row=np.zeros(3, dtype=np.intp),
        last_day=np.array([0, 4, 4]),
        seen_after=np.array([0, 0, 99]),
        reporting=np.zeros(3, dtype=np.intp),
        distance=np.zeros(3, dtype=np.intp),
        n=np.array([1.0, 2.0, 3.0]),
    )
    found = passed(stays, at_once, 1)[0]
    assert found[:6].tolist() == [6, 5, 5, 5, 5, 0]


def test_no_stays_are_no_exposure(chances: Chances) -> None:
    none = random_stays(np.random.default_rng(0), 0)
    assert passed(none, chances, 2).tolist() == np.zeros((2, N_AGES)).tolist()


@pytest.mark.parametrize(
    ("field", "value"), [("row", 3), ("row", -1), ("last_day", 40)]
)
def test_a_stay_outside_the_table_is_refused(
    field: str, value: int, chances: Chances
) -> None:
    stays = random_stays(np.random.default_rng(0), 4)
    getattr(stays, field)[0] = value
    with pytest.raises(InputError, match=r"rows must lie|stays must be shorter"):
        passed(stays, chances, 3)


def test_hidden_failures_leave_the_exposure_of_a_limit_by_distance_unbiased() -> None:
    """Half fail by the last day; exposure is the units covered that did not."""
    rng = np.random.default_rng(20240607)
    n = 20_000
    day = np.minimum(rng.exponential(N_AGES / np.log(2), n).astype(int), N_AGES)
    end = rng.integers(5, 80, n)  # first day on which the limit is passed
    covered = np.array([np.mean(end > a) for a in range(N_AGES)])
    chances = Chances(
        reported=np.ones((1, 1)), covered=np.stack([np.ones(N_AGES), covered])
    )
    last = np.full(n, N_AGES - 1)
    units = Stays(
        row=np.zeros(n, dtype=np.intp),
        last_day=last,
        seen_after=np.zeros(n, dtype=np.intp),
        reporting=np.zeros(n, dtype=np.intp),
        distance=np.ones(n, dtype=np.intp),
        n=np.ones(n),
    )
    seen = (day < end) & (day < N_AGES)
    exposed = passed(units, chances, 1) - passed_after(
        units.take(seen), day[seen], chances, 1
    )
    for a in (10, 25, 39):
        truth = np.sum((day > a) & (end > a))
        assert exposed[0, a] == pytest.approx(truth, rel=0.03)
