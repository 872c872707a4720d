"""Courses of runs and first-year expectations, against fleets of known truth."""

from __future__ import annotations

import numpy as np
import pytest

from claimlens.errors import InputError
from claimlens.stats.rising import (
    BuildRun,
    FailureTable,
    UnitTable,
    Views,
    courses_of,
    first_year_expected,
    rising_faults,
)

FIRST, LAST = 24_000, 24_047
PER_MONTH = 200.0
HAZARDS = (0.004, 0.001)


def fleet(*, bad: tuple[int, int] | None = None, factor: float = 6.0) -> Views:
    """Build two components in one model whose failures are their expectation.

    Units of every month enter service in it, and are watched for 24 months; every
    failure is reported in its month. Fractions of failures keep chance out.
    """
    rows = []
    for build in range(FIRST, LAST + 1):
        for component, hazard in enumerate(HAZARDS):
            worse = bad and component == 0 and bad[0] <= build <= bad[1]
            rate = hazard * (factor if worse else 1.0)
            rows += [
                (component, build, age, build + age, PER_MONTH * rate)
                for age in range(24)
                if build + age <= LAST
            ]
    c, b, age, failed, n = (np.array(column) for column in zip(*rows, strict=True))
    failures = FailureTable(
        component=c,
        model=np.zeros_like(c),
        build_month=b,
        age_month=age,
        failed_month=failed,
        reported_month=failed,
        n=n.astype(np.float64),
    )
    months = np.arange(FIRST, LAST + 1)
    units = UnitTable(
        model=np.zeros_like(months),
        build_month=months,
        service_month=months,
        months_watched=np.full_like(months, 24),
        n=np.full(months.size, PER_MONTH),
    )
    return Views(failures, units, [1.0], n_components=2, n_models=1)


def test_a_sound_run_follows_its_expectation() -> None:
    """Within 6 %: a unit of the first month has passed half of it on average."""
    views = fleet()
    run = BuildRun(component=0, model=None, first=LAST - 11, last=LAST - 9)
    [course] = courses_of(views, LAST, [run])
    assert course.months == tuple(range(LAST - 11, LAST + 1))
    assert course.observed[-1] == pytest.approx(
        PER_MONTH * HAZARDS[0] * (12 + 11 + 10), rel=1e-9
    )
    assert (np.diff(course.expected) > 0).all()
    assert course.expected[-1] == pytest.approx(course.observed[-1], rel=0.06)


def test_a_bad_run_leaves_its_expectation_and_ends_where_the_signal_does() -> None:
    bad = (LAST - 10, LAST - 8)
    views = fleet(bad=bad, factor=6.0)
    [newest] = rising_faults(views, [LAST])
    run = BuildRun(
        component=0, model=None, first=int(newest.first[0]), last=int(newest.last[0])
    )
    assert (run.first, run.last) == bad
    [course] = courses_of(views, LAST, [run])
    assert course.observed[-1] == pytest.approx(newest.observed[0])
    assert course.expected[-1] == pytest.approx(newest.expected[0])
    assert 4.5 < course.observed[-1] / course.expected[-1] < 7.5


def test_courses_keep_their_order_and_each_component_its_own_counts() -> None:
    runs = [
        BuildRun(component=1, model=0, first=LAST - 5, last=LAST - 5),
        BuildRun(component=0, model=0, first=LAST - 8, last=LAST - 8),
    ]
    second, first = courses_of(fleet(), LAST, runs)
    assert len(second.months) == 6
    assert len(first.months) == 9
    assert second.observed[-1] == pytest.approx(PER_MONTH * HAZARDS[1] * 6)
    assert first.observed[-1] == pytest.approx(PER_MONTH * HAZARDS[0] * 9)


def test_no_run_has_no_course() -> None:
    assert courses_of(fleet(), LAST, []) == ()


@pytest.mark.parametrize(("first", "last"), [(LAST, LAST - 1), (LAST + 1, LAST + 2)])
def test_a_run_outside_the_table_is_refused(first: int, last: int) -> None:
    run = BuildRun(component=0, model=None, first=first, last=last)
    with pytest.raises(InputError, match="run must lie"):
        courses_of(fleet(), LAST, [run])


def test_the_first_year_of_three_build_months_is_what_the_truth_brings() -> None:
    """600 units, 12 months at the hazard; one model has no rows of its own."""
    expected = first_year_expected(fleet(), LAST)
    assert expected.shape == (2,)
    truth = 3 * PER_MONTH * 12 * np.array(HAZARDS)
    np.testing.assert_allclose(expected, truth, rtol=0.01)
