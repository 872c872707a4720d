"""A further variance widens the limits of a share, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from claimlens.stats.survival import share_failed
from claimlens.stats.widened import widened

AGES = [10.0, 20.0, 30.0]


def test_variances_add_up_in_the_effective_number_of_units() -> None:
    share = share_failed(AGES, [5, 0, 3], [0, 40, 52], [30.0])
    p, n = share.share[0], share.effective_n[0]
    extra = 0.5 * p * (1 - p) / n
    found = widened(share, np.array([extra]), confidence=0.95)
    assert found.share[0] == p
    assert found.effective_n[0] == pytest.approx(n / 1.5)
    z = stats.norm.ppf(0.975)
    m = n / 1.5
    centre = (p + z**2 / (2 * m)) / (1 + z**2 / m)
    half = z * np.sqrt(p * (1 - p) / m + z**2 / (4 * m**2)) / (1 + z**2 / m)
    assert found.lower[0] == pytest.approx(centre - half)
    assert found.upper[0] == pytest.approx(centre + half)


def test_nothing_changes_without_a_variance_a_failure_or_a_share() -> None:
    quiet = share_failed(AGES, [0, 0, 0], [0, 40, 60], [20.0, 30.0, 40.0])
    same = widened(quiet, np.full(3, 0.01), confidence=0.95)
    np.testing.assert_array_equal(same.upper, quiet.upper)
    np.testing.assert_array_equal(same.effective_n, quiet.effective_n)
    some = share_failed(AGES, [5, 0, 3], [0, 40, 52], AGES)
    same = widened(some, np.zeros(3), confidence=0.95)
    np.testing.assert_array_equal(same.lower, some.lower)


def test_limits_never_narrow() -> None:
    share = share_failed(AGES, [5, 0, 3], [0, 40, 52], AGES)
    for extra in (1e-9, 1e-4, 1.0):
        found = widened(share, np.full(3, extra), confidence=0.9)
        assert (found.lower <= share.lower).all()
        assert (found.upper >= share.upper).all()
